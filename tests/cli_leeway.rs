//! `permil leeway` as a user meets it.

mod support;

use insta::assert_snapshot;
use support::program::{Folder, permil, reads_well, settled};

const ROSE: &str = "profiles/rose-otto/brief.toml";
const ROSE_MOD: &str = "profiles/rose-otto/mod-1.toml";
const SIX: &str = "profiles/six-materials/brief.toml";

#[test]
fn rose_in_text() {
    let ran = permil(&["leeway", ROSE, "--time-limit", "300"]).ended(0);
    reads_well(&ran.stdout);
    assert_eq!(ran.stderr, "");
    assert!(ran.stdout.contains("cannot be had together"));
    // Which ends are proven in time depends on the machine: those that are said to
    // be are listed in tests/curves.rs.
    assert!(ran.stdout.contains("a formula which keeps every rule"), "{}", ran.stdout);
}

#[test]
fn six_materials() {
    let ran = permil(&["leeway", SIX]).ended(0);
    reads_well(&ran.stdout);
    assert_snapshot!("six_in_text", ran.stdout);
    let ran = permil(&["leeway", SIX, "--format", "csv"]).ended(0);
    assert_eq!(ran.stdout.lines().count(), 7, "{}", ran.stdout);
    let json = permil(&["leeway", SIX, "--format", "json"]).ended(0).json();
    assert_eq!((&json["status"], &json["margin"]), (&"optimal".into(), &1.0.into()));
    assert_eq!(json["complete"], true);
    for line in json["materials"].as_array().unwrap() {
        let number = |key: &str| line[key].as_f64().unwrap();
        assert!(number("min") <= number("at") && number("at") <= number("max"), "{line}");
        let name = line["material"].as_str().unwrap();
        assert_eq!(json["proposal"]["formula"]["parts"][name].as_f64().unwrap_or(0.0), number("at"));
        for (key, blend) in [("min", "min_blend"), ("max", "max_blend")] {
            let end = &line[blend];
            assert_eq!(end["formula"]["parts"][name].as_f64().unwrap_or(0.0), number(key), "{name}");
            assert!(end["loss"].as_f64().unwrap() <= json["greatest_loss"].as_f64().unwrap() + 1e-7);
        }
    }
    assert!(settled(&ran.stdout).contains("indispensable"));
}

#[test]
fn a_formula_that_is_given() {
    let json = permil(&["leeway", ROSE, "--formula", ROSE_MOD, "--margin", "2", "--format", "json"]).ended(0).json();
    assert_eq!((&json["status"], &json["file"]), (&"feasible".into(), &ROSE_MOD.into()));
    let text = permil(&["leeway", ROSE, "--formula", ROSE_MOD]).ended(0).stdout;
    reads_well(&text);
    assert!(text.contains("mod 1"), "{text}");
    let folder = Folder::copy_of("profiles/six-materials");
    let (brief, formula) = (folder.path("brief.toml"), folder.path("formula.toml"));
    // A formula that breaks a rule lies outside of what keeps it.
    folder.change("brief.toml", "{ max = 500 }", "{ max = 400 }");
    let ran = permil(&["leeway", &brief, "--formula", &formula]).ended(0);
    reads_well(&ran.stdout);
    assert!(ran.stdout.contains("which breaks rules of the brief"), "{}", ran.stdout);
    folder.change("formula.toml", "\"Linalool\" = 40", "\"Linalool\" = 20");
    let ran = permil(&["leeway", &brief, "--formula", &formula]).ended(1);
    assert!(ran.stderr.contains("add up to 980"), "{}", ran.stderr);
    permil(&["leeway", &brief, "--formula", &formula, "--rescale"]).ended(0);
}

#[test]
fn no_formula_and_wrong_usage() {
    let cannot = "tests/reference/cases/17-infeasible-budget/brief.toml";
    let ran = permil(&["leeway", cannot]).ended(1);
    reads_well(&ran.stdout);
    assert!(ran.stdout.contains("No blend can meet this brief (proven)."));
    assert!(permil(&["leeway", cannot, "--format", "csv"]).ended(1).stderr.contains("no blend"));
    for arguments in [&["--margin", "-1"][..], &["--margin", "nan"], &["--margin", "101"], &["--rescale"]] {
        permil(&[&["leeway", SIX][..], arguments].concat()).ended(2);
    }
    permil(&["leeway", "nowhere.toml"]).ended(2);
    permil(&["leeway", SIX, "--formula", "nowhere.toml"]).ended(2);
    // No time at all is an honest no answer.
    permil(&["leeway", ROSE, "--time-limit", "1e-9"]).ended(3);
}

#[test]
fn help() {
    let ran = permil(&["leeway", "--help"]).ended(0);
    let help: Vec<&str> = ran.stdout.lines().map(str::trim_end).collect();
    assert_snapshot!("help", help.join("\n"));
}
