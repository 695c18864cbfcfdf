//! `permil journal`: the tree, the way to a target and what is due, with answers
//! that a calendar and a pencil give.

mod support;

use std::fs;

use insta::assert_snapshot;
use permil::analysis::journal::{WhyDue, due, smelled, tree};
use permil::trials::{Date, Trial, Trials};
use support::program::permil;
use support::smelled::trial;

const ROSE: [&str; 4] = ["journal", "profiles/rose-otto/trials.toml", "--today", "2026-10-20"];

fn day(text: &str) -> Option<Date> {
    Some(Date::parse(text).unwrap())
}

/// Trials with their doses.
fn journal(trials: Vec<(Trial, [f64; 3])>) -> (Trials, Vec<Vec<f64>>) {
    let neat = trials.iter().map(|(_, doses)| doses.to_vec()).collect();
    let trials = trials.into_iter().map(|(trial, _)| trial).collect();
    let matching = permil::brief::Match::Level;
    (Trials { file: "made up".into(), matching, palette_fingerprint: None, trials, remarks: None }, neat)
}

fn one(code: &str, from: Option<usize>, doses: [f64; 3], scored: bool) -> (Trial, [f64; 3]) {
    let mut one = trial(code.to_owned(), &doses, if scored { vec![(0, 5.0)] } else { Vec::new() }, 1.0);
    one.from = from;
    (one, doses)
}

#[test]
fn a_tree_shows_only_what_changed() {
    let (trials, neat) = journal(vec![
        one("1", None, [500.0, 500.0, 0.0], true),
        one("3", Some(2), [400.0, 500.0, 100.0], true),
        one("2", Some(0), [400.0, 600.0, 0.0], true),
        one("2b", Some(2), [400.0, 600.0, 0.0], true),
        one("other", None, [0.0, 0.0, 1000.0], true),
    ]);
    let found = tree(&trials, &neat);
    let order: Vec<(&str, usize)> =
        found.iter().map(|entry| (trials.trials[entry.trial].code.as_str(), entry.depth)).collect();
    assert_eq!(order, [("1", 0), ("2", 1), ("3", 2), ("2b", 2), ("other", 0)]);
    assert_eq!(found[0].changes, [(0, 0.0, 500.0), (1, 0.0, 500.0)]);
    assert_eq!(found[2].changes, [(1, 600.0, 500.0), (2, 0.0, 100.0)]);
    assert!(found[3].is_again && found[3].changes.is_empty());
    assert!(!found[0].is_again);
}

#[test]
fn what_is_due_and_from_when_on() {
    let mut young = one("young", None, [500.0, 500.0, 0.0], true);
    (young.0.date, young.0.age_days, young.0.minutes) = (day("2026-11-02"), Some(3.0), Some(120.0));
    let mut again = one("young b", Some(0), [500.0, 500.0, 0.0], true);
    (again.0.date, again.0.age_days, again.0.minutes) = (day("2026-11-03"), Some(4.0), Some(10.0));
    let old = one("old", None, [400.0, 600.0, 0.0], true);
    let newer = one("newer", Some(2), [300.0, 700.0, 0.0], false);
    let mut once = one("once", None, [200.0, 800.0, 0.0], true);
    (once.0.date, once.0.minutes) = (day("2026-11-02"), Some(15.0));
    let single = one("single", None, [0.0, 0.0, 1000.0], true);
    let (trials, neat) = journal(vec![young, again, old, newer, once, single]);
    let codes = |today: &str| -> Vec<(String, bool, Option<Date>)> {
        let found = due(&trials, &neat, day(today).unwrap());
        found.iter().map(|due| (trials.trials[due.trial].code.clone(), due.is_now, due.on)).collect()
    };
    // Mixed on 30 October, a week old on 6 November.
    let expected = [
        ("newer".to_owned(), true, None),
        ("once".to_owned(), true, day("2026-11-02")),
        ("young b".to_owned(), false, day("2026-11-06")),
    ];
    assert_eq!(codes("2026-11-05"), expected);
    assert!(codes("2026-11-06").iter().all(|(_, now, _)| *now));
    let found = due(&trials, &neat, day("2026-11-05").unwrap());
    assert_eq!(found[0].why, [WhyDue::Never]);
    assert_eq!(found[1].why, [WhyDue::OpeningOnly, WhyDue::Once]);
    assert_eq!((&found[2].why[..], found[2].times), (&[WhyDue::YoungOnly][..], 2));
}

#[test]
fn smelled_scores_against_a_target() {
    let palette = "[descriptors]\na = \"\"\nb = \"\"\nc = \"\"\n[[material]]\nname = \"M\"\nstrength = 1\nscores = { a = 5, b = 5 }\n";
    let brief = |matching: &str| {
        format!(
            "palette = \"palette.toml\"\nmatch = \"{matching}\"\n[target]\na = 6\nb = {{ score = 2, weight = 2 }}\n"
        )
    };
    // Level: 6 - 5 below in a, 3 - 2 above in b at weight 2: 1 + 2 of 6 + 4.
    let level = smelled(&support::load(palette, &brief("level")), &[(0, 5.0), (1, 3.0)]).unwrap();
    assert!((level.loss - 3.0).abs() < 1e-12 && (level.fidelity_percent - 70.0).abs() < 1e-9);
    assert!((level.judged_percent - 100.0).abs() < 1e-9);
    // Balance: 4 and 0 at a total of 8 are 8 and 0: 2 above, 2 below at weight 2, of 2 x 10.
    let balance = smelled(&support::load(palette, &brief("balance")), &[(0, 4.0), (1, 0.0)]).unwrap();
    assert!((balance.loss - 6.0).abs() < 1e-12 && (balance.fidelity_percent - 70.0).abs() < 1e-9);
    // Half judged: b alone is 4 of 10.
    let half = smelled(&support::load(palette, &brief("level")), &[(1, 2.0)]).unwrap();
    assert!((half.judged_percent - 40.0).abs() < 1e-9 && half.loss == 0.0);
    assert!(smelled(&support::load(palette, &brief("level")), &[(2, 2.0)]).is_none());
}

#[test]
fn text() {
    let mut arguments = ROSE.to_vec();
    arguments.extend(["--brief", "profiles/rose-otto/brief.toml"]);
    assert_snapshot!(permil(&arguments).stdout);
}

#[test]
fn without_a_brief() {
    let ran = permil(&ROSE);
    assert!(ran.status == 0 && !ran.stdout.contains("How near to the target"), "{}", ran.stdout);
    assert!(ran.stdout.contains("Rose oxide 1.5 → 0.8"), "{}", ran.stdout);
    let mut json = ROSE.to_vec();
    json.extend(["--format", "json"]);
    let json = permil(&json).json();
    assert_eq!(json["entries"].as_array().unwrap().len(), 10);
    let due: Vec<&str> = json["due"].as_array().unwrap().iter().map(|line| line["code"].as_str().unwrap()).collect();
    assert_eq!(due, ["107", "106", "108"]);
    let mut csv = ROSE.to_vec();
    csv.extend(["--format", "csv"]);
    let csv = permil(&csv).stdout;
    let columns = csv.lines().next().unwrap().split(',').count();
    assert!(columns == 14 && csv.contains("102,101,2026-10-06,30,1,blotter,10,dose,Rose oxide,1.5,0.8,"), "{csv}");
}

/// A mod after eight hours is held against what is left of it then, and against what the
/// brief wants at that time.
#[test]
fn a_trial_on_a_blotter_is_computed_at_its_time() {
    let entries = |brief: &str| -> Vec<serde_json::Value> {
        let mut arguments = ROSE.to_vec();
        arguments.extend(["--brief", brief, "--format", "json"]);
        permil(&arguments).json()["entries"].as_array().unwrap().clone()
    };
    let of = |all: &[serde_json::Value], code: &str| all.iter().find(|entry| entry["code"] == code).unwrap().clone();
    let plain = entries("profiles/rose-otto/brief.toml");
    let (early, late) = (of(&plain, "104"), of(&plain, "104b"));
    let number = |entry: &serde_json::Value, key: &str| entry[key].as_f64().unwrap();
    assert!(number(&late, "film_left") < number(&early, "film_left"), "{late}");
    assert!((number(&late, "computed_fidelity") - number(&early, "computed_fidelity")).abs() > 2.0, "{early} {late}");
    assert!(late.get("stage").is_none() && of(&plain, "107").get("film_left").is_none());
    let staged = of(&entries("profiles/rose-otto/stages.toml"), "104b");
    assert_eq!(staged["stage"], "drydown");
    assert!(number(&staged, "smelled_fidelity") > number(&late, "smelled_fidelity"), "{staged} {late}");
}

#[test]
fn refusals() {
    let folder = tempfile::tempdir().unwrap();
    let chart = folder.path().join("way.svg");
    let chart = chart.to_str().unwrap();
    let mut plot = ROSE.to_vec();
    plot.extend(["--plot", chart]);
    let ran = permil(&plot);
    assert!(ran.status == 2 && ran.stderr.contains("name it with --brief"), "{}", ran.stderr);
    plot.extend(["--brief", "profiles/rose-otto/brief.toml"]);
    assert_eq!(permil(&plot).status, 0);
    let drawn = fs::read_to_string(chart).unwrap();
    assert!(drawn.contains("Trial 105 smelled nearest"), "no finding");
    let other = permil(&["journal", ROSE[1], "--brief", "profiles/six-materials/brief.toml"]);
    assert!(other.status == 2 && other.stderr.contains("have to share one"), "{}", other.stderr);
    assert_eq!(permil(&["journal", ROSE[1], "--today", "2026-02-30"]).status, 2);
}

#[test]
fn help() {
    assert_snapshot!(permil(&["journal", "--help"]).stdout);
}
