//! `permil push` as a user meets it.

mod support;

use insta::assert_snapshot;
use support::program::{Folder, permil, reads_well};

const ROSE: &str = "profiles/rose-otto/brief.toml";
const SIX: &str = "profiles/six-materials/brief.toml";

#[test]
fn rose_in_text() {
    let ran = permil(&["push", ROSE, "beta-Damascenone", "--whole", "--time-limit", "300"]).ended(0);
    reads_well(&ran.stdout);
    assert_eq!(ran.stderr, "");
    assert_snapshot!("rose_in_text", ran.stdout);
}

#[test]
fn six_in_json_and_csv() {
    let json = permil(&["push", SIX, "EUGENOL", "--whole", "--format", "json"]).ended(0).json();
    assert_eq!((&json["status"], &json["material"]), (&"optimal".into(), &"Eugenol".into()));
    let points = json["points"].as_array().unwrap();
    assert!(points.len() >= 20, "{} points", points.len());
    let number = |value: &serde_json::Value| value.as_f64().unwrap();
    let best = &json["best"];
    for pair in points.windows(2) {
        assert!(number(&pair[0]["dose"]) < number(&pair[1]["dose"]));
    }
    for point in points {
        assert!(number(&point["fidelity"]) <= number(&best["fidelity"]) + 1e-6);
        assert!(point["second_opinion"].is_number());
        let parts = point["parts"].as_object().unwrap();
        assert!((parts.get("Eugenol").map_or(0.0, number) - number(&point["dose"])).abs() < 1e-6);
    }
    let [low, high] = [0, 1].map(|at| number(&json["window"][at]));
    assert!(low <= number(&best["dose"]) && number(&best["dose"]) <= high);
    assert!(json["caps"].is_array());
    let (beyond, upper) = (json["beyond"].as_array().unwrap().len(), json["upper_limit"].as_array().unwrap().len());
    assert_eq!(json["formulas"].as_array().unwrap().len(), points.len());
    assert_eq!(json["window_proven"], serde_json::json!([true, true]));
    let csv = permil(&["push", SIX, "Eugenol", "--whole", "--format", "csv"]).ended(0).stdout;
    assert_eq!(csv.lines().count(), 1 + points.len() + beyond + upper);
}

#[test]
fn a_cap_is_named_with_its_line() {
    let ran = permil(&["push", SIX, "Phenylethyl alcohol", "--margin", "2"]).ended(0);
    reads_well(&ran.stdout);
    assert!(ran.stdout.contains("the brief's own cap (brief.toml:"), "{}", ran.stdout);
    assert!(ran.stdout.contains("within 2 % points of the"), "{}", ran.stdout);
    // A batch without stock in the palette caps nothing, and that is said.
    let ran = permil(&["push", SIX, "Linalool", "--batch", "20"]).ended(0);
    assert!(ran.stderr.contains("--batch caps nothing"), "{}", ran.stderr);
}

#[test]
fn names_cannot_steer_a_terminal_or_a_spreadsheet() {
    let folder = Folder::copy_of("profiles/six-materials");
    let name = "name = \"Linalool\"";
    folder.change("palette.toml", name, "name = \"=Lina\\u001b[31mlool\"");
    folder.write("brief.toml", &folder.read("brief.toml").replace("\"Linalool\"", "\"=Lina\\u001b[31mlool\""));
    let brief = folder.path("brief.toml");
    let name = "=Lina\u{1b}[31mlool";
    for command in [&["push", brief.as_str(), name][..], &["tradeoff", &brief, "--against", name]] {
        reads_well(&permil(command).ended(0).stdout);
        let csv = permil(&[command, &["--format", "csv"]].concat()).ended(0).stdout;
        assert!(!csv.contains('\u{1b}') && !csv.contains(",=Lina"), "{csv}");
    }
}

#[test]
fn no_blend_and_wrong_usage() {
    let cannot = "tests/reference/cases/17-infeasible-budget/brief.toml";
    let ran = permil(&["push", cannot, "Material 01"]).ended(1);
    reads_well(&ran.stdout);
    assert!(ran.stdout.contains("No formula keeps the rules"), "{}", ran.stdout);
    let ran = permil(&["push", SIX, "Linalol"]).ended(2);
    assert!(ran.stderr.contains("did you mean \"Linalool\"?"), "{}", ran.stderr);
    for arguments in [&["--margin", "-1"][..], &["--batch", "0"], &["--batch", "nan"]] {
        permil(&[&["push", SIX, "Linalool"][..], arguments].concat()).ended(2);
    }
    permil(&["push", "nowhere.toml", "Linalool"]).ended(2);
}

#[test]
fn help() {
    let ran = permil(&["push", "--help"]).ended(0);
    let help: Vec<&str> = ran.stdout.lines().map(str::trim_end).collect();
    assert_snapshot!("help", help.join("\n"));
}
