//! `permil starts` as a user meets it.

mod support;

use insta::assert_snapshot;
use support::program::{Folder, permil, reads_well};

const ROSE: &str = "profiles/rose-otto/brief.toml";
const SIX: &str = "profiles/six-materials/brief.toml";

#[test]
fn rose_in_text() {
    let ran = permil(&["starts", ROSE]).ended(0);
    reads_well(&ran.stdout);
    assert_eq!(ran.stderr, "");
    assert_snapshot!("rose_in_text", ran.stdout);
    let json = permil(&["starts", ROSE, "--format", "json"]).ended(0).json();
    let formulas = json["formulas"].as_array().unwrap();
    assert_eq!(formulas.len(), 6);
    assert!(json["least_distance"].as_f64().unwrap() >= 3.0);
    // The distance, worked out from the shares that are reported.
    let shares = |at: usize| formulas[at]["shares"].as_object().unwrap();
    let mut least = f64::INFINITY;
    for one in 0..6 {
        for other in 0..one {
            let names = shares(one).keys().chain(shares(other).keys().filter(|name| !shares(one).contains_key(*name)));
            let of = |at: usize, name: &String| shares(at).get(name).and_then(|share| share.as_f64()).unwrap_or(0.0);
            least = least.min(names.map(|name| (of(one, name) - of(other, name)).abs()).sum::<f64>() / 2.0);
        }
    }
    assert!((least - json["least_distance"].as_f64().unwrap()).abs() < 1e-9);
    let floor = json["least_fidelity"].as_f64().unwrap();
    assert!(formulas.iter().all(|formula| formula["fidelity"].as_f64().unwrap() >= floor - 1e-9));
}

#[test]
fn blind_codes_and_their_key() {
    let folder = Folder::copy_of("profiles/six-materials");
    let (brief, key, saved) = (folder.path("brief.toml"), folder.path("key.txt"), folder.path("blind"));
    let arguments = ["starts", &brief, "-n", "3", "--blind", "--key", &key, "--save", &saved, "--seed", "5"];
    let ran = permil(&arguments).ended(0);
    reads_well(&ran.stdout);
    assert!(!ran.stdout.contains("98.23"), "what they are worth is not told\n{}", ran.stdout);
    assert_snapshot!("blind", ran.stdout);
    let told = folder.read("key.txt");
    reads_well(&told);
    assert_snapshot!("key", told);
    let mut codes: Vec<String> = std::fs::read_dir(&saved)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap().replace(".toml", ""))
        .collect();
    codes.sort();
    assert_eq!(codes.len(), 3);
    for code in &codes {
        assert!(code.len() == 3 && code.parse::<u32>().is_ok() && told.contains(&format!("{code}: start")));
        permil(&["compare", &brief, &format!("{saved}/{code}.toml")]).ended(0);
    }
    // Nothing is overwritten unless that is said.
    let ran = permil(&arguments).ended(2);
    assert!(ran.stderr.contains("--force overwrites it"), "{}", ran.stderr);
    permil(&[&arguments[..], &["--force"]].concat()).ended(0);
    assert_eq!(folder.read("key.txt"), told, "the same seed, the same codes");
    let csv = permil(&["starts", &brief, "-n", "3", "--blind", "--key", &folder.path("other.txt"), "--format", "csv"]);
    assert!(csv.ended(0).stdout.lines().skip(1).all(|line| line.starts_with(',')), "no numbers beside codes");
}

#[test]
fn saved_formulas_keep_the_brief() {
    let folder = Folder::copy_of("profiles/six-materials");
    let (brief, saved) = (folder.path("brief.toml"), folder.path("starts"));
    permil(&["starts", &brief, "-n", "2", "--save", &saved]).ended(0);
    for at in 1..=2 {
        let file = format!("{saved}/start-{at}.toml");
        let json = permil(&["compare", &brief, &file, "--format", "json"]).ended(0).json();
        assert_eq!(json["formulas"][0]["status"], "feasible");
    }
}

#[test]
fn no_formula_and_wrong_usage() {
    let cannot = "tests/reference/cases/17-infeasible-budget/brief.toml";
    let ran = permil(&["starts", cannot]).ended(1);
    reads_well(&ran.stdout);
    assert!(permil(&["starts", cannot, "--format", "csv"]).ended(1).stderr.contains("no blend"));
    for arguments in
        [&["-n", "0"][..], &["-n", "51"], &["--margin", "-1"], &["--blind"], &["--key", "x"], &["--seed", "a"]]
    {
        permil(&[&["starts", SIX][..], arguments].concat()).ended(2);
    }
    let ran = permil(&["starts", SIX, "--blind", "--key", SIX, "--force"]).ended(2);
    assert!(ran.stderr.contains("which the brief needs"), "{}", ran.stderr);
    permil(&["starts", ROSE, "--time-limit", "1e-9"]).ended(3);
}

#[test]
fn help() {
    let ran = permil(&["starts", "--help"]).ended(0);
    let help: Vec<&str> = ran.stdout.lines().map(str::trim_end).collect();
    assert_snapshot!("help", help.join("\n"));
}
