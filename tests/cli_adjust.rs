//! `permil adjust` as a user meets it.

mod support;

use insta::assert_snapshot;
use support::program::{Folder, permil, reads_well};

const ROSE: &str = "profiles/rose-otto/brief.toml";
const ROSE_MOD: &str = "profiles/rose-otto/mod-1.toml";
const SIX: &str = "profiles/six-materials/brief.toml";
const SIX_FORMULA: &str = "profiles/six-materials/formula.toml";

#[test]
fn rose_in_text() {
    let ran = permil(&["adjust", ROSE, ROSE_MOD, "--more", "rosy", "--less", "METALLIC"]).ended(0);
    reads_well(&ran.stdout);
    assert_eq!(ran.stderr, "");
    assert_snapshot!("rose_in_text", ran.stdout);
    let ran = permil(&["adjust", ROSE, ROSE_MOD, "--less", "metallic", "--by", "0.05", "--add-only", "--batch", "20"]);
    let ran = ran.ended(0);
    reads_well(&ran.stdout);
    assert_snapshot!("rose_by_adding", ran.stdout);
    // A strong material of which a part is a lot.
    let arguments =
        ["adjust", ROSE, ROSE_MOD, "--less", "spicy", "--most-change", "5", "--keep", "nerol", "--by", "parts"];
    let ran = permil(&arguments).ended(0);
    reads_well(&ran.stdout);
    assert!(ran.stdout.contains("leaves that out"), "{}", ran.stdout);
}

#[test]
fn json_and_csv() {
    let arguments = ["adjust", ROSE, ROSE_MOD, "--more", "rosy", "--less", "metallic", "--format"];
    let json = permil(&[&arguments[..], &["json"]].concat()).ended(0).json();
    assert_eq!((&json["status"], &json["by"]), (&"optimal".into(), &0.5.into()));
    let points = |side: &str, name: &str| {
        let lines = json[side]["profile"].as_array().unwrap();
        lines.iter().find(|line| line["descriptor"] == name).unwrap()["blend"].as_f64().unwrap()
    };
    assert!(points("after", "rosy") >= points("before", "rosy") + 0.5 - 1e-9);
    assert!(points("after", "metallic") <= points("before", "metallic") - 0.5 + 1e-9);
    assert_eq!(json["after"]["broken"], serde_json::json!([]));
    let changes = json["changes"].as_array().unwrap();
    let moved: f64 = changes.iter().map(|change| change["change"].as_f64().unwrap().abs()).sum();
    assert!((moved - json["moved"].as_f64().unwrap()).abs() < 1e-9);
    assert_eq!(json["parts_moved"].as_u64().unwrap() as usize, changes.len());
    let csv = permil(&[&arguments[..], &["csv"]].concat()).ended(0).stdout;
    assert!(csv.starts_with("material,cas,before,after,change,"), "{csv}");
    let json = permil(&[
        "adjust",
        ROSE,
        ROSE_MOD,
        "--less",
        "metallic",
        "--by",
        "0.05",
        "--add-only",
        "--batch",
        "20",
        "--format",
        "json",
    ]);
    let json = json.ended(0).json();
    let grams = json["add"]["grams"].as_object().unwrap();
    let added: f64 = grams.values().map(|grams| grams.as_f64().unwrap()).sum();
    assert!(added > 0.0 && (added - json["add"]["added"].as_f64().unwrap()).abs() < 1e-9);
    assert_eq!(json["batch"], 20.0);
}

#[test]
fn nothing_asked_changes_nothing() {
    for more in [&[][..], &["--keep", "nerol"], &["--add-only", "--batch", "5"]] {
        let arguments = [&["adjust", ROSE, ROSE_MOD][..], more].concat();
        let json = permil(&[&arguments[..], &["--format", "json"]].concat()).ended(0).json();
        assert_eq!(json["before"], json["after"]);
        assert_eq!((&json["changes"], &json["moved"]), (&serde_json::json!([]), &0.into()));
        let text = permil(&arguments).ended(0).stdout;
        reads_well(&text);
        assert!(text.contains("it stays as it is"), "{text}");
    }
}

#[test]
fn what_stands_in_the_way() {
    let ran = permil(&["adjust", ROSE, ROSE_MOD, "--more", "green", "--more", "rosy", "--by", "3"]).ended(1);
    reads_well(&ran.stdout);
    assert_snapshot!("too_much", ran.stdout);
    let arguments = ["adjust", ROSE, ROSE_MOD, "--less", "metallic", "--add-only", "--batch", "20"];
    let ran = permil(&arguments).ended(1);
    reads_well(&ran.stdout);
    assert!(!ran.stdout.contains("let Rose oxide be left out"), "{}", ran.stdout);
    let json = permil(&[&arguments[..], &["--format", "json"]].concat()).ended(1).json();
    assert!(json["after"].is_null() && json["add"].is_null() && json["status"] == "infeasible");
    let furthest = json["furthest"]["by"].as_f64().unwrap();
    assert!(furthest > 0.3 && furthest < 0.5, "{furthest}");
    let ran = permil(&[&arguments[..], &["--format", "csv"]].concat()).ended(1);
    assert!(ran.stderr.contains("no change does it"), "{}", ran.stderr);
}

#[test]
fn a_change_that_may_not_be_so_large() {
    let arguments = ["adjust", ROSE, ROSE_MOD, "--less", "metallic", "--by", "0.2", "--keep", "Rose oxide"];
    let arguments = [&arguments[..], &["--keep", "Skatole", "--most-change"]].concat();
    let ran = permil(&[&arguments[..], &["15"]].concat()).ended(1);
    reads_well(&ran.stdout);
    assert!(ran.stdout.contains("Rose oxide and Skatole stay;"), "{}", ran.stdout);
    let json = permil(&[&arguments[..], &["15", "--format", "json"]].concat()).ended(1).json();
    let needs = json["needs"].as_f64().unwrap();
    assert!(needs > 15.0, "{needs}");
    permil(&[&arguments[..], &[&needs.to_string()]].concat()).ended(0);
}

#[test]
fn saving() {
    let folder = Folder::copy_of("profiles/six-materials");
    let (brief, old, new) = (folder.path("brief.toml"), folder.path("formula.toml"), folder.path("new.toml"));
    let arguments = ["adjust", &brief, &old, "--less", "green", "--by", "0.2", "--save", &new];
    permil(&arguments).ended(0);
    permil(&arguments).ended(2);
    permil(&["compare", &brief, &new]).ended(0);
}

#[test]
fn wrong_usage() {
    for (arguments, said) in [
        (&["--more", "rosey"][..], "did you mean \"rosy\"?"),
        (&["--more", "rosy", "--less", "Rosy"], "both more and less"),
        (&["--more", "rosy", "--keep", "Nerool"], "no material is named"),
        (&["--more", "rosy", "--by", "0"], "a difference of scores above 0"),
        (&["--more", "rosy", "--by", "nan"], "a difference of scores above 0"),
        (&["--more", "rosy", "--most-change", "-3"], "above 0"),
        (&["--more", "rosy", "--add-only"], "--batch"),
        (&["--more", "rosy", "--batch", "3"], "--add-only"),
        (&["--more", "\u{1b}[31m"], "no descriptor is named"),
        (&["--more", "rosy", "--solver", "clarabel"], "by the search of permil alone"),
    ] {
        let ran = permil(&[&["adjust", SIX, SIX_FORMULA][..], arguments].concat()).ended(2);
        assert!(ran.stderr.contains(said), "{arguments:?}: {}", ran.stderr);
        assert!(ran.stdout.is_empty() && !ran.stderr.contains('\u{1b}'), "{arguments:?}");
    }
    permil(&["adjust", SIX, "nowhere.toml"]).ended(2);
}

#[test]
fn help() {
    let ran = permil(&["adjust", "--help"]).ended(0);
    let help: Vec<&str> = ran.stdout.lines().map(str::trim_end).collect();
    assert_snapshot!("help", help.join("\n"));
}
