//! `permil next`: which trials teach most about a match.

mod support;

use insta::assert_snapshot;
use permil::analysis::doubt::fidelity_deviation;
use permil::analysis::learn::Kind;
use permil::analysis::next::{Candidate, Effort, Known, Per, Wanted, next};
use permil::brief::{Basis, Match};
use permil::formula::Formula;
use permil::units::Ppt;
use support::program::permil;

/// Stopped by nodes, never by the clock.
const ROSE: [&str; 7] = [
    "next",
    "profiles/rose-otto/brief.toml",
    "profiles/rose-otto/trials.toml",
    "--node-limit",
    "2000",
    "--time-limit",
    "600",
];

/// Two materials, half and half by odour; the scores of the first are sure, those of
/// the second are not.
const PALETTE: &str = r#"
[descriptors]
a = ""
b = ""
[[material]]
name = "Sure"
strength = 10
strength_factor = 1.0
score_error = 0.01
scores = { a = 6, b = 2 }
[[material]]
name = "Unsure"
strength = 10
strength_factor = 1.0
score_error = 0.2
scores = { a = 3, b = 6 }
"#;
const BRIEF: &str = "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\na = 5\nb = 3\n";

/// So many trials, whatever they take.
fn trials(count: usize) -> Wanted {
    Wanted { count, per: Per::Trial, effort: Effort::default() }
}

fn half() -> Formula {
    Formula::from_doses(Basis::Neat, &[Ppt::from_ppt(500.0), Ppt::from_ppt(500.0)])
}

#[test]
fn a_single_smelling_of_what_is_unsure_is_worked_out_by_hand() {
    let problem = support::load(PALETTE, BRIEF);
    let known = Known { palette: &problem.palette, evidence: &[], matching: Match::Level };
    // The mod was weighed already, so that the single materials are left.
    let found = next(&problem, known, &[half()], &[true], trials(1)).unwrap();
    // The blend is a 4.5, b 4: too little a (slope -1), too much b (slope 1). Each score
    // counts half of 100 / 8 percent for a point.
    let slope = 0.5 * 100.0 / 8.0;
    let variance = slope * slope * 2.0 * (0.01_f64.powi(2) + 0.2_f64.powi(2));
    // Drawn: nothing lies near the target, where this would be no straight line.
    support::assert_close(found.deviation / variance.sqrt(), 1.0, 0.05, "deviation now");
    let doubt = fidelity_deviation(&problem, &half()).unwrap();
    support::assert_close(found.deviation / doubt, 1.0, 0.05, "the doubt of a proposal");
    // Judged give or take a point, a variance of 0.04 becomes 0.04 / 1.04.
    let lesson = &found.lessons[0];
    assert_eq!(lesson.candidate, Candidate::Single(1));
    let fall = slope * slope * 2.0 * (0.04 - 0.04 / 1.04);
    support::assert_close(lesson.fall_percent, 100.0 * fall / variance, 1e-9, "fall");
    support::assert_close(lesson.deviation_after / (variance - fall).sqrt(), 1.0, 0.05, "deviation then");
    assert!(matches!(lesson.about[0].kind, Kind::Score { material: 1, .. }));
    support::assert_close(lesson.about[0].taken_percent, 100.0 * (1.0 - 1.0 / 1.04), 1e-9, "taken");
}

#[test]
fn what_is_chosen_does_not_come_again_and_each_teaches_less() {
    let problem = support::load(PALETTE, BRIEF);
    let known = Known { palette: &problem.palette, evidence: &[], matching: Match::Level };
    let found = next(&problem, known, &[half()], &[false], trials(5)).unwrap();
    assert!(found.lessons.len() >= 2, "{found:?}");
    for pair in found.lessons.windows(2) {
        assert!(pair[1].fall_percent <= pair[0].fall_percent + 1e-9 && pair[0].candidate != pair[1].candidate);
        assert!(pair[1].deviation_after <= pair[0].deviation_after * 1.01);
    }
}

#[test]
fn a_match_of_dilutions_is_worked_out_by_hand() {
    // The scores are sure, the strengths are not. What the match of a blend hangs on is the
    // difference of their logarithms alone, of variance 2 s^2; smelled side by side it is known
    // give or take ln 1.5.
    let palette =
        PALETTE.replace("score_error = 0.01", "score_error = 0").replace("score_error = 0.2", "score_error = 0");
    let problem = support::load(&palette.replace("strength_factor = 1.0", "strength_factor = 1.3"), BRIEF);
    let known = Known { palette: &problem.palette, evidence: &[], matching: Match::Level };
    let found = next(&problem, known, &[half()], &[true], trials(1)).unwrap();
    let lesson = &found.lessons[0];
    assert_eq!(lesson.candidate, Candidate::Match(0, 1));
    let (open, error) = (2.0 * 1.3_f64.ln().powi(2), 1.5_f64.ln().powi(2));
    support::assert_close(lesson.fall_percent, 100.0 * open / (open + error), 1e-9, "fall");
    // Two rows of dilutions at five minutes, and a smelling at ten.
    assert_eq!((lesson.takes.minutes, lesson.takes.cost), (20.0, None));
}

#[test]
fn what_comes_first_hangs_on_what_it_takes() {
    let priced = PALETTE.replace("strength = 10", "price = 40\nstrength = 10");
    let problem = support::load(&priced, BRIEF);
    let known = Known { palette: &problem.palette, evidence: &[], matching: Match::Level };
    let by = |per, effort| next(&problem, known, &[half()], &[false], Wanted { count: 1, per, effort }).unwrap();
    let first = |per, effort| by(per, effort).lessons[0].clone();
    let usual = Effort::default();
    let alone = first(Per::Minute, usual);
    assert_eq!((alone.candidate.clone(), alone.takes.minutes), (Candidate::Single(1), 10.0));
    // A drop of 0.05 g at 40 for a kilo; ten grams of the mod.
    support::assert_close(alone.takes.cost.unwrap(), 40.0 * 0.05 / 1000.0, 1e-12, "a drop");
    // Where smelling takes long and the mod teaches nearly as much, nothing changes; where a
    // material alone were dear in minutes it would. Two weighings and a smelling:
    let all = next(&problem, known, &[half()], &[false], Wanted { count: 9, per: Per::Trial, effort: usual }).unwrap();
    if let Some(blend) = all.lessons.iter().find(|lesson| lesson.candidate == Candidate::Mod(0)) {
        assert_eq!(blend.takes.minutes, 2.0 * 2.0 + 10.0);
        support::assert_close(blend.takes.cost.unwrap(), 40.0 * 10.0 / 1000.0, 1e-12, "ten grams");
    }
    let fall = |lesson: &permil::analysis::next::Lesson| lesson.fall_percent;
    // Whatever it takes the most is taught, and for a minute the most for a minute.
    let most = first(Per::Trial, usual);
    assert!(fall(&most) >= fall(&alone));
    assert!(fall(&alone) / alone.takes.minutes >= fall(&most) / most.takes.minutes - 1e-12);
}

#[test]
fn text() {
    assert_snapshot!(permil(&ROSE).stdout);
}

#[test]
fn formats_and_refusals() {
    let mut json = ROSE.to_vec();
    json.extend(["--format", "json", "--quiet"]);
    let json = permil(&json).json();
    let lessons = json["next"].as_array().unwrap();
    assert_eq!(lessons.len(), 3);
    assert!(json["doubt"].as_f64().unwrap() > lessons[2]["doubt_after"].as_f64().unwrap());
    assert!(lessons.iter().all(|it| it["about"][0]["material"].is_string()));
    assert!(lessons.iter().all(|it| it["minutes"].as_f64().unwrap() > 0.0 && it["cost"].is_number()));
    assert_eq!((json["per"].as_str(), json["effort"]["is_assumed"].as_bool()), (Some("minute"), Some(true)));
    // Where weighing takes next to nothing what it takes is no longer assumed.
    let said = [&ROSE[..], &["--weighing", "0.1", "--per", "trial", "--format", "json", "--quiet"]].concat();
    let said = permil(&said).json();
    assert_eq!((said["per"].as_str(), said["effort"]["is_assumed"].as_bool()), (Some("trial"), Some(false)));
    assert_eq!(permil(&[&ROSE[..], &["--weighing", "0"]].concat()).status, 2);
    let other = permil(&["next", "profiles/six-materials/brief.toml", ROSE[2]]);
    assert!(other.status == 2 && other.stderr.contains("have to share one"), "{}", other.stderr);
}

#[test]
fn help() {
    assert_snapshot!(permil(&["next", "--help"]).stdout);
}

#[test]
fn at_a_perfect_match_there_is_something_left_to_learn() {
    // The blend is what is wanted: to first order its fidelity does not move with any number.
    let brief = BRIEF.replace("a = 5", "a = 4.5").replace("b = 3", "b = 4");
    let problem = support::load(PALETTE, &brief);
    let known = Known { palette: &problem.palette, evidence: &[], matching: Match::Level };
    let found = next(&problem, known, &[half()], &[true], trials(1)).unwrap();
    let doubt = fidelity_deviation(&problem, &half()).unwrap();
    assert!(doubt > 0.5);
    support::assert_close(found.deviation / doubt, 1.0, 0.05, "the doubt of a proposal");
    assert_eq!(found.lessons[0].candidate, Candidate::Single(1));
    assert!(found.lessons[0].deviation_after < found.deviation);
}

#[test]
fn the_terminal_names_blends_that_tell_the_laws_apart() {
    let about_law = [&ROSE[..], &["--about", "law", "-n", "2"]].concat();
    let told = permil(&[&about_law[..], &["--format", "json"]].concat()).ended(0).json();
    assert_eq!((told["command"].as_str(), told["about"].as_str()), (Some("next"), Some("law")));
    let blends = told["next"].as_array().expect("blends");
    assert_eq!(blends.len(), 2);
    for blend in blends {
        let parts = blend["mod_formula"]["formula"]["parts"].as_object().expect("parts");
        let sum: f64 = parts.values().map(|dose| dose.as_f64().expect("a dose")).sum();
        assert!((2..=5).contains(&parts.len()) && (sum - 1000.0).abs() < 1e-6, "{parts:?}");
        assert!(blend["deviations"].as_f64().is_some_and(|apart| apart > 1.0), "{blend}");
    }
    let text = permil(&about_law).ended(0).stdout;
    for words in ["tell the two laws apart", "standard deviations apart", "By the trials so far the exponent"] {
        assert!(text.contains(words), "{words}: {text}");
    }
    // There is nothing else to ask about.
    assert_eq!(permil(&[&ROSE[..], &["--about", "price"]].concat()).status, 2);
}
