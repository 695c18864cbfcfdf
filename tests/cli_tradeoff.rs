//! `permil tradeoff` as a user meets it.

mod support;

use insta::assert_snapshot;
use support::program::{Folder, permil, reads_well};

const ROSE: &str = "profiles/rose-otto/brief.toml";
const SIX: &str = "profiles/six-materials/brief.toml";

#[test]
fn rose_in_text() {
    let ran = permil(&["tradeoff", ROSE, "--time-limit", "300"]).ended(0);
    reads_well(&ran.stdout);
    assert_eq!(ran.stderr, "");
    assert_snapshot!("rose_in_text", ran.stdout);
}

#[test]
fn rose_by_count() {
    let ran = permil(&["tradeoff", ROSE, "--against", "count", "--time-limit", "120"]).ended(0);
    reads_well(&ran.stdout);
    assert_snapshot!("rose_by_count", ran.stdout);
}

#[test]
fn every_axis_in_json_and_csv() {
    let against =
        [("price", "price_limit"), ("effect", "effect_limit"), ("strength", "strength_limit"), ("LINALOOL", "dose")];
    for (against, key) in against {
        let arguments = ["tradeoff", SIX, "--against", against, "--formulas", "6", "--time-limit", "120"];
        reads_well(&permil(&arguments).ended(0).stdout);
        let json = permil(&[&arguments[..], &["--format", "json"]].concat()).ended(0).json();
        let points = json["points"].as_array().unwrap();
        assert!(points.len() >= 3, "{against}: {} points", points.len());
        for pair in points.windows(2) {
            assert!(pair[0][key].as_f64().unwrap() < pair[1][key].as_f64().unwrap(), "{against}");
        }
        for point in points {
            assert_eq!((&point["continuous"], &point["proven"]), (&false.into(), &true.into()));
            assert!(point["fidelity"].is_number() && point["loss"].is_number());
            let sum: f64 = point["parts"].as_object().unwrap().values().map(|dose| dose.as_f64().unwrap()).sum();
            assert!((sum - 1000.0).abs() < 1e-6, "{against}: {sum}");
        }
        assert_eq!((&json["status"], &json["ends"]["proven"]), (&"optimal".into(), &true.into()), "{against}");
        let formulas = json["formulas"].as_array().unwrap();
        assert!(formulas.len() == points.len() && formulas.iter().all(|line| line["status"] == "optimal"));
        let upper = json["upper_limit"].as_array().unwrap();
        assert!(upper.len() > 8 && upper.iter().all(|line| line["at"].is_number() && line["fidelity"].is_number()));
        let csv = permil(&[&arguments[..], &["--format", "csv"]].concat()).ended(0).stdout;
        assert_eq!(csv.lines().count(), 1 + points.len() + upper.len(), "{against}");
    }
    let json = permil(&["tradeoff", SIX, "--against", "count", "--format", "json"]).ended(0).json();
    let counts: Vec<u64> = json["points"].as_array().unwrap().iter().map(|p| p["count"].as_u64().unwrap()).collect();
    assert!(counts.len() >= 3 && counts.windows(2).all(|pair| pair[0] < pair[1]), "{counts:?}");
}

#[test]
fn a_point_is_what_propose_says_of_such_a_budget() {
    let json = permil(&["tradeoff", SIX, "--format", "json", "--formulas", "5"]).ended(0).json();
    let folder = Folder::copy_of("profiles/six-materials");
    let mut budget = "max_price = 19".to_owned();
    for line in json["formulas"].as_array().unwrap() {
        let next = format!("max_price = {}", line["price_limit"]);
        folder.change("brief.toml", &budget, &next);
        budget = next;
        let fresh = permil(&["propose", &folder.path("brief.toml"), "--no-worth", "--format", "json"]).ended(0).json();
        let (here, there) = (line["loss"].as_f64().unwrap(), fresh["loss"].as_f64().unwrap());
        assert!((here - there).abs() <= 2e-6 * there.max(1.0), "{budget}: {here} and {there}");
    }
}

#[test]
fn the_target_itself_is_let_in_and_that_is_said() {
    let folder = Folder::copy_of("profiles/rose-otto");
    folder.change("brief.toml", "\"Rose otto\" = { fixed = 5 }\n", "");
    let ran = permil(&["tradeoff", &folder.path("brief.toml"), "--against", "rose otto", "--formulas", "4"]).ended(0);
    reads_well(&ran.stdout);
    assert!(ran.stdout.contains("The target is Rose otto itself"), "{}", ran.stdout);
}

#[test]
fn no_blend_and_wrong_usage() {
    let cannot = "tests/reference/cases/18-infeasible-limit/brief.toml";
    let ran = permil(&["tradeoff", cannot]).ended(1);
    reads_well(&ran.stdout);
    assert!(ran.stdout.contains("No formula keeps the other rules"), "{}", ran.stdout);
    assert!(permil(&["tradeoff", cannot, "--format", "csv"]).ended(1).stderr.contains("no formula"));
    // Only the budget cannot be met: the curve says from where on it could.
    let ran = permil(&["tradeoff", "tests/reference/cases/17-infeasible-budget/brief.toml"]).ended(0);
    assert!(ran.stdout.contains("no formula keeps it"), "{}", ran.stdout);
    let ran = permil(&["tradeoff", SIX, "--against", "linalol"]).ended(2);
    assert!(ran.stderr.contains("did you mean \"Linalool\"?"), "{}", ran.stderr);
    permil(&["tradeoff", SIX, "--formulas", "201"]).ended(2);
    permil(&["tradeoff", "nowhere.toml"]).ended(2);
    let ran = permil(&["tradeoff", "tests/reference/cases/10-only-own/brief.toml"]).ended(2);
    assert!(ran.stderr.contains("no price"), "{}", ran.stderr);
    permil(&["tradeoff", ROSE, "--time-limit", "1e-9"]).ended(3);
}

/// By hand: three tenths of the dear one are best, for 10 + 0.3 * 90 = 37 a kg;
/// in steps of 500 ppt it is all of the cheap one, or half and half for 55. "More
/// buys nothing" from 37 on would be untrue of what can be weighed.
#[test]
fn in_coarse_doses_the_curve_ends_where_more_money_buys_nothing_that_can_be_weighed() {
    let palette = "[descriptors]\nrosy = \"x\"\ngreen = \"y\"\n\
        [[material]]\nname = \"Cheap\"\nstrength = 1\nprice = 10\nscores = { rosy = 10 }\n\
        [[material]]\nname = \"Dear\"\nstrength = 1\nprice = 100\nscores = { green = 10 }\n";
    let brief = "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\nrosy = 7\ngreen = 3\n[formula]\nstep = 500\n";
    let folder = Folder::of(&[("palette.toml", palette), ("brief.toml", brief)]);
    let brief = folder.path("brief.toml");
    let report = permil(&["tradeoff", &brief, "--formulas", "5", "--format", "json"]).ended(0).json();
    let near = |value: &serde_json::Value, wanted: f64| (value.as_f64().unwrap() - wanted).abs() < 1e-4;
    assert!(near(&report["ends"]["from"], 10.0) && near(&report["ends"]["to"], 55.0), "{}", report["ends"]);
    let steps = report["points"].as_array().unwrap();
    assert_eq!(steps.len(), 2);
    // The first one holds until half of the dear one can be paid for.
    assert!(near(&steps[0]["loss"], 6.0) && steps[0]["until"].as_f64().unwrap() > 54.999);
    assert!(near(&steps[1]["loss"], 4.0) && near(&steps[1]["price"], 55.0) && steps[1]["until"].is_null());
    // What could be had over any doses is told apart, and only when asked for.
    let upper = report["upper_limit"].as_array().unwrap();
    assert!(near(&upper[upper.len() - 1]["at"], 37.0) && near(&upper[upper.len() - 1]["fidelity"], 100.0));
    let name = "Upper limit, any doses and any number of materials";
    assert!(!permil(&["tradeoff", &brief]).ended(0).stdout.contains(name));
    let text = permil(&["tradeoff", &brief, "--upper-limit"]).ended(0).stdout;
    reads_well(&text);
    assert!(text.contains(name), "{text}");
}

#[cfg(unix)]
#[test]
fn interrupting_returns_what_is_done() {
    use std::process::Stdio;
    use std::time::{Duration, Instant};
    use support::program::{Ran, command};
    let arguments =
        ["tradeoff", ROSE, "--formulas", "200", "--threads", "1", "--time-limit", "120", "--format", "json"];
    let mut child = command(&arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    std::thread::sleep(Duration::from_millis(300));
    let begun = Instant::now();
    assert!(child.try_wait().unwrap().is_none(), "two hundred proofs take longer than that");
    std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    let ran = Ran::from(child.wait_with_output().unwrap());
    assert!(begun.elapsed() < Duration::from_secs(30));
    // Whatever was done by then: a curve, or nothing yet.
    let report = ran.json();
    assert!([0, 3].contains(&ran.status), "{}", ran.status);
    assert_eq!(ran.status == 3, report["points"].as_array().unwrap().is_empty());
    assert_eq!(report["complete"], false);
}

#[test]
fn help() {
    let ran = permil(&["tradeoff", "--help"]).ended(0);
    let help: Vec<&str> = ran.stdout.lines().map(str::trim_end).collect();
    assert_snapshot!("help", help.join("\n"));
}
