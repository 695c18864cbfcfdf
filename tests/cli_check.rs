//! `permil check`, and what `propose` says beside the formula, as a user meets
//! them.

mod support;

use insta::assert_snapshot;
use support::program::{Folder, permil};

const ROSE: &str = "profiles/rose-otto/brief.toml";
const SIX: &str = "profiles/six-materials/brief.toml";

#[test]
fn the_shipped_scenarios() {
    let rose = permil(&["check", ROSE]).ended(0);
    assert!(rose.stdout.lines().all(|line| line.chars().count() <= 80));
    assert_eq!(rose.stderr, "");
    assert_snapshot!("rose", rose.stdout);
    let rounded = |value: &serde_json::Value| value.as_f64().map(|points| (points * 1e6).round() / 1e6);
    let mut json = permil(&["check", SIX, "--format", "json"]).ended(0).json();
    for range in json["ranges"].as_array_mut().expect("ranges") {
        for end in ["low", "high"] {
            range[end] = rounded(&range[end]).into();
        }
    }
    assert_snapshot!("six_in_json", serde_json::to_string_pretty(&json).expect("JSON"));
    let csv = permil(&["check", SIX, "--format", "csv"]).ended(0).stdout;
    assert!(csv.starts_with("descriptor,target,low,high,inside,proven\nrosy,6,0.5"), "{csv}");
    assert_snapshot!("help", permil(&["check", "--help"]).ended(0).stdout);
}

#[test]
fn contradictions_end_with_1_and_are_those_of_propose() {
    for case in [
        "17-infeasible-budget",
        "18-infeasible-limit",
        "19-infeasible-steps",
        "20-infeasible-count",
        "21-infeasible-must",
    ] {
        let brief = format!("tests/reference/cases/{case}/brief.toml");
        let ran = permil(&["check", &brief, "--format", "json"]).ended(1).json();
        assert_eq!(ran["status"], "contradictory", "{case}");
        let proposed = permil(&["propose", &brief, "--format", "json"]).ended(1).json();
        assert_eq!(ran["conflict"], proposed["conflict"], "{case}");
        assert_eq!(ran["repairs"], proposed["repairs"], "{case}");
        let text = permil(&["check", &brief]).ended(1).stdout;
        assert!(text.contains("These rules cannot stand together:"), "{text}");
    }
}

#[test]
fn stopping_early_is_no_verdict() {
    let ran = permil(&["check", ROSE, "--time-limit", "1e-9", "--format", "json"]);
    let status = ran.json()["status"].clone();
    assert!((ran.status, status.as_str()) == (3, Some("unknown")), "{} {status}", ran.status);
}

#[test]
fn faults_and_wrong_usage() {
    assert!(permil(&["check"]).ended(2).stdout.is_empty());
    assert!(permil(&["check", "nowhere.toml"]).ended(2).stderr.contains("nowhere.toml"));
    let folder = Folder::of(&[
        ("brief.toml", "palette = \"palette.toml\"\n[target]\nrosy = 1\n"),
        ("palette.toml", "scale = 0\n"),
    ]);
    let ran = permil(&["check", &folder.path("brief.toml")]).ended(2);
    assert!(ran.stdout.is_empty() && ran.stderr.contains("palette.toml"), "{}", ran.stderr);
}

#[test]
fn worth_is_left_out_on_request_and_never_lost_in_silence() {
    let without = permil(&["propose", SIX, "--no-worth", "--format", "json"]).ended(0).json();
    assert!(without.get("binding").is_none() && without.get("without").is_none());
    assert!(without["give_or_take"].as_f64().is_some_and(|doubt| doubt > 0.0));
    let with = permil(&["propose", SIX, "--format", "json"]).ended(0).json();
    assert_eq!(with["fidelity"], without["fidelity"]);
    assert_eq!(with["without"].as_array().map(Vec::len), with["formula"]["parts"].as_object().map(|parts| parts.len()));
    let text = permil(&["propose", SIX, "--no-worth"]).ended(0).stdout;
    assert!(!text.contains("What holds it back") && !text.contains("What could go"), "{text}");
}

#[test]
fn worth_is_the_same_on_any_number_of_threads() {
    let all = |threads: &str| permil(&["propose", ROSE, "--threads", threads, "--format", "json"]).ended(0).stdout;
    let one = all("1");
    assert_eq!(one, all("2"));
    assert_eq!(one, all("8"));
}
