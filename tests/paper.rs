//! What a problem has of its stages: clocks to begin with, what is wanted and left at each,
//! the rules that hang on the clock and their words. Worked by hand.

mod support;

use permil::brief::Match;
use permil::formula::Formula;
use permil::model::Blend;
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::problem::{Change, Problem, Rule, RuleId, RuleKind};
use permil::units::Ppt;
use support::{assert_close, load};

/// Two materials of one molar mass: 2 and 20 hours alone, so that halves last 11 hours.
const PALETTE: &str = r#"
[descriptors]
light = "a light smell"
heavy = "a heavy smell"
[[material]]
name = "Quick"
strength = 10
scores = { light = 8 }
lasting = 2
molar_mass = 150
tags = ["top"]
[[material]]
name = "Slow"
strength = 10
scores = { heavy = 8 }
lasting = 20
molar_mass = 150
tags = ["base"]
"#;
const BRIEF: &str = "palette = \"palette.toml\"\n[target]\nlight = 4\nheavy = 4\n";

/// A brief with an opening at once and a drydown after so many minutes, to which what
/// `of_drydown` says belongs.
fn staged(minutes: f64, of_brief: &str, of_drydown: &str) -> Problem {
    let stages = format!(
        "[[stage]]\nname = \"opening\"\nminutes = 0\n[[stage]]\nname = \"drydown\"\nminutes = {minutes}\n{of_drydown}"
    );
    load(PALETTE, &format!("{BRIEF}{of_brief}{stages}"))
}

/// The rule that the film lasts.
fn film(problem: &Problem) -> Option<&Rule> {
    problem.rules.iter().find(|rule| rule.id == RuleId::Film)
}

fn scores(problem: &Problem) -> Vec<(f64, f64)> {
    problem.targets.iter().map(|target| (target.score, target.weight)).collect()
}

#[test]
fn clocks_begin_with_a_film_that_lasts() {
    let begins = |minutes: f64, of_brief: &str, neat: [f64; 2]| {
        let paper = staged(minutes, of_brief, "").paper.expect("stages");
        assert_eq!(paper.clocks, paper.clocks_of(&neat), "{minutes} {of_brief}");
        assert!(paper.clocks[1] > 0.0 && paper.clocks[1].is_finite(), "{:?}", paper.clocks);
    };
    // Of 11 hours 6.6 and 10.945 are asked for: equal parts of both last.
    begins(360.0, "", [1.0, 1.0]);
    begins(597.0, "", [1.0, 1.0]);
    // 11.55 and 13.2 hours: the slow one alone.
    begins(630.0, "", [0.0, 1.0]);
    begins(720.0, "", [0.0, 1.0]);
    // What may not be used is not in the film.
    begins(360.0, "[doses]\nQuick = { use = \"never\" }\n", [0.0, 1.0]);
    // 20.35 hours, and nothing lasts so long: there is no clock but the beginning.
    assert_eq!(staged(1110.0, "", "").paper.expect("stages").clocks, [0.0, 0.0]);
}

#[test]
fn a_film_has_to_last_a_tenth_longer_than_the_last_stage() {
    for (minutes, hours) in [(360.0, 6.6), (60.0, 1.1), (5.0, 5.5 / 60.0)] {
        assert_close(film(&staged(minutes, "", "")).expect("a rule").at, hours, 1e-12, "hours");
    }
    // At once nothing has to last.
    let at_once = load(PALETTE, &format!("{BRIEF}[[stage]]\nname = \"opening\"\nminutes = 0\n"));
    assert!(at_once.paper.is_some() && film(&at_once).is_none());
}

/// A film that lasts so long leaves the last stage a tenth less, in whole minutes: 1.1 hours
/// are 60 minutes, which binary numbers make a little less of.
#[test]
fn a_stage_is_brought_forward_in_whole_minutes() {
    let problem = staged(360.0, "", "");
    let order = |hours: f64| problem.order(film(&problem).expect("a rule"), Change::To(hours));
    assert_eq!(order(4.4), "bring drydown forward from 360 to 240 minutes, or dip more");
    assert_eq!(order(4.39), "bring drydown forward from 360 to 239 minutes, or dip more");
    for hours in 1..=48 {
        let wanted = format!("from 360 to {} minutes,", 60 * hours);
        assert!(order(1.1 * f64::from(hours)).contains(&wanted), "{wanted} {}", order(1.1 * f64::from(hours)));
    }
}

#[test]
fn stages_are_found_by_their_hours_and_have_names() {
    let problem = staged(360.0, "", "");
    assert_eq!([0.0, 6.0, 3.0].map(|hours| problem.stage_at(hours)), [Some(0), Some(1), None]);
    assert_eq!([0, 1].map(|stage| problem.stage_name(stage)), ["opening", "drydown"]);
    let plain = load(PALETTE, BRIEF);
    assert_eq!((plain.stage_at(0.0), plain.stage_name(0)), (None, ""));
}

#[test]
fn a_time_is_a_problem_of_what_is_left() {
    let problem = staged(360.0, "", "weight = 2\n[stage.target]\nlight = 0\nheavy = { weight = 3 }\n");
    let left = |material: usize| [0.5, 0.25][material];
    let late = problem.after(left, Some(1));
    assert_eq!((late.views.len(), late.paper.is_none()), (1, true));
    let strengths: Vec<f64> = late.palette.materials.iter().map(|material| material.strength).collect();
    assert_eq!((strengths.as_slice(), scores(&late)), (&[5.0, 2.5][..], vec![(0.0, 1.0), (4.0, 3.0)]));
    // At no stage of the brief the brief's own target is wanted.
    let between = problem.after(left, None);
    assert_eq!((between.material(1).strength, scores(&between)), (2.5, vec![(4.0, 1.0), (4.0, 1.0)]));
}

#[test]
fn a_problem_may_be_asked_without_its_stages() {
    let problem = staged(360.0, "", "weight = 2\n");
    assert_eq!(problem.views.len(), 2);
    let plain = problem.plain();
    assert_eq!((plain.views.len(), plain.views[0].stage, plain.views[0].weight), (1, None, 1.0));
    assert!(std::sync::Arc::ptr_eq(&plain.views[0].palette, &problem.palette));
}

#[test]
fn another_target_is_compared_in_another_way_at_every_stage() {
    let problem = staged(360.0, "", "");
    let mut targets = problem.targets.clone();
    targets[0].score = 7.0;
    let other = problem.with_targets(targets, Match::Level);
    assert_eq!((problem.matching, other.matching, other.targets[0].score), (Match::Balance, Match::Level, 7.0));
    for view in &other.views {
        assert_eq!((view.matching, view.targets[0].score), (Match::Level, 7.0));
    }
}

#[test]
fn rules_that_hang_on_the_clock_are_told_from_others() {
    let members: std::sync::Arc<[usize]> = [0].into();
    let of_stages = [
        RuleKind::StageStrengthMin(0),
        RuleKind::StageStrengthMax(0),
        RuleKind::StageKept(1),
        RuleKind::StageShareMin { stage: 1, members: members.clone() },
        RuleKind::StageShareMax { stage: 1, members: members.clone() },
        RuleKind::FilmLasts,
    ];
    let of_amounts = [
        RuleKind::Budget,
        RuleKind::StrengthMin,
        RuleKind::StrengthMax,
        RuleKind::DoseMax(0),
        RuleKind::GroupMin(members),
        RuleKind::MaxMaterials,
    ];
    assert!(of_stages.iter().all(RuleKind::is_of_stages) && !of_amounts.iter().any(RuleKind::is_of_stages));
}

/// A rule is passed by a share of both its sides.
#[test]
fn what_a_stage_lacks_is_a_share_of_what_is_compared() {
    let rules =
        "kept = { min = 40 }\n[[stage.share]]\ntag = \"top\"\nmin = 1\n[[stage.share]]\ntag = \"base\"\nmax = 90\n";
    let problem = staged(360.0, "", rules);
    let half = Formula::from_doses(problem.basis, &[500.0, 500.0].map(Ppt::from_ppt));
    let own = problem.as_it_dries(&half);
    let left = [0, 1].map(|material| 5.0 * own.paper.as_ref().expect("stages").left(1, material));
    let whole = left[0] + left[1];
    // (what the rule asks for or allows, what there is)
    let sides = [
        ("stage:drydown.kept.min", 0.4 * 10.0, whole),
        ("share:drydown/top.min", 0.01 * whole, left[0]),
        ("share:drydown/base.max", 0.9 * whole, left[1]),
    ];
    let found = Checker::new(&own).breaches(&half, REPORT_TOLERANCE);
    assert_eq!(found.len(), sides.len());
    for (breach, (id, right, left)) in found.iter().zip(sides) {
        assert_eq!(own.rules[breach.rule].id.to_string(), id);
        assert_close(breach.by, (right - left).abs() / (right + left), 1e-12, id);
    }
}

/// Bottles of a half whose carrier nobody names: of each part that is poured half dries, and
/// the film lasts as long as its neat parts do.
#[test]
fn a_film_is_of_what_is_neat() {
    let bottled = PALETTE.replace("molar_mass = 150\n", "molar_mass = 150\nbottle = { percent = 50 }\n");
    let stage = "[[stage]]\nname = \"drydown\"\nminutes = 360\n";
    let problem = load(&bottled, &format!("{BRIEF}[formula]\nbasis = \"bottle\"\n{stage}"));
    let rule = problem.rules.iter().position(|rule| rule.id == RuleId::Film).expect("a rule");
    let blend = Blend::new(&problem);
    let row = blend.rows.iter().find(|row| row.rule == rule).expect("a row");
    // 6.6 hours of half a part, less half of what each lasts alone.
    let wanted = [3.3 - 1.0, 3.3 - 10.0];
    assert_eq!(row.coefficients.len(), 2);
    for (&(column, found), wanted) in row.coefficients.iter().zip(wanted) {
        assert_close(found, wanted, 1e-12, &blend.columns[column].material.to_string());
    }
}
