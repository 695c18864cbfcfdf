//! Stages of a brief: an accord smelled on a blotter at several times.

mod support;

use permil::control::Control;
use permil::evaluate::{as_judged, evaluate};
use permil::files::load_scenario;
use permil::formula::Formula;
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::problem::{Problem, RuleId};
use permil::solve::clocks::{Holds, settle};
use permil::solve::{Method, Status};
use permil::units::Ppt;
use support::program::{Folder, permil};
use support::{assert_close, load};

/// Two materials of one molar mass: the first goes in 2 h alone, the other in 20 h. Of
/// halves 0.00097466 and 0.49990253 are left at 6 h, and the film is gone after 11 h (the
/// closed form, and the law followed step by step in src/film.rs).
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
const LEFT: [f64; 2] = [0.000_974_66, 0.499_902_53];

const BRIEF: &str = r#"
palette = "palette.toml"

[target]
light = 4
heavy = 4

[[stage]]
name = "opening"
minutes = 0

[[stage]]
name = "drydown"
minutes = 360
"#;

/// At the end of the brief: belongs to the drydown.
fn with(more: &str) -> Problem {
    load(PALETTE, &format!("{BRIEF}{more}"))
}

fn formula(problem: &Problem, doses: &[f64]) -> Formula {
    let doses: Vec<Ppt> = doses.iter().map(|dose| Ppt::from_ppt(*dose)).collect();
    Formula::from_doses(problem.basis, &doses)
}

/// What of the rules a formula breaks as its own film dries: (id, what it has).
fn broken(problem: &Problem, formula: &Formula) -> Vec<(String, f64)> {
    let own = problem.as_it_dries(formula);
    let breaches = Checker::new(&own).breaches(formula, REPORT_TOLERANCE);
    breaches.iter().map(|it| (own.rules[it.rule].id.to_string(), it.has)).collect()
}

#[test]
fn halves_by_hand() {
    let problem = with("");
    let half = formula(&problem, &[500.0, 500.0]);
    let own = problem.as_it_dries(&half);
    let paper = own.paper.as_ref().expect("stages");
    for (material, left) in LEFT.into_iter().enumerate() {
        assert!((paper.left(1, material) - left).abs() < 1e-8, "{}", paper.left(1, material));
    }
    assert_eq!((own.views.len(), own.views[1].stage), (2, Some(1)));
    let judged = evaluate(&own, &half).expect("an odour");
    // As much of the one as of the other at first: a match. In balance with the sum of the
    // wanted scores, 8, then all but what is left of the first in a thousand is heavy.
    assert_close(judged.views[0].fidelity_percent, 100.0, 1e-12, "at first");
    let light = 8.0 * LEFT[0] / (LEFT[0] + LEFT[1]);
    assert_close(judged.views[1].profile[0], light, 1e-6, "light at six hours");
    assert_close(judged.views[1].loss, 2.0 * (4.0 - light), 1e-6, "loss at six hours");
    assert_eq!(judged.worst, 1);
    assert_close(judged.fidelity_percent, judged.views[1].fidelity_percent, 1e-12, "the worst counts");
    assert_close(judged.views[1].strength, 5.0 * (LEFT[0] + LEFT[1]), 1e-7, "what is left of it");
    assert_eq!(judged.strength, 10.0);
}

#[test]
fn a_stage_wants_what_it_says_and_else_what_the_brief_says() {
    let problem = with("weight = 2\n[stage.target]\nlight = 0\nheavy = { weight = 3 }\n");
    let targets = |view: usize| -> Vec<(f64, f64)> {
        problem.views[view].targets.iter().map(|it| (it.score, it.weight)).collect()
    };
    assert_eq!(targets(0), [(4.0, 1.0), (4.0, 1.0)]);
    assert_eq!(targets(1), [(0.0, 1.0), (4.0, 3.0)]);
    assert_eq!([problem.views[0].weight, problem.views[1].weight], [1.0, 2.0]);
    // The drydown alone: 2 % of light are far less than what a weight of 2 makes of nothing.
    let slow = formula(&problem, &[0.0, 1000.0]);
    let judged = evaluate(&problem.as_it_dries(&slow), &slow).expect("an odour");
    assert_close(judged.views[1].loss, 0.0, 1e-12, "all that is wanted");
}

#[test]
fn rules_of_a_stage_go_by_the_own_film_of_a_formula() {
    let problem = with(
        "strength = { min = 3 }\nkept = { min = 40 }\n[[stage.share]]\ntag = \"top\"\nmin = 1\nmax = 5\n\
         [[stage.share]]\ntag = \"base\"\nmax = 90\n",
    );
    let half = formula(&problem, &[500.0, 500.0]);
    let [strength, share] = [5.0 * (LEFT[0] + LEFT[1]), 100.0 * LEFT[0] / (LEFT[0] + LEFT[1])];
    let expected = [
        ("stage:drydown.strength.min", strength),
        ("stage:drydown.kept.min", 10.0 * strength),
        ("share:drydown/top.min", share),
        ("share:drydown/base.max", 100.0 - share),
    ];
    let found = broken(&problem, &half);
    assert_eq!(found.len(), expected.len(), "{found:?}");
    for ((id, has), (wanted_id, wanted)) in found.iter().zip(expected) {
        assert_eq!(id, wanted_id);
        assert_close(*has, wanted, 1e-6, id);
    }
    // Nine tenths of the slow one: the film lasts 18.2 h, and more of both is left.
    let slow = formula(&problem, &[100.0, 900.0]);
    let paper = problem.as_it_dries(&slow).paper.expect("stages");
    assert!(paper.left(1, 0) > LEFT[0] && paper.left(1, 1) > LEFT[1]);
    let ids: Vec<String> = broken(&problem, &slow).into_iter().map(|(id, _)| id).collect();
    assert_eq!(ids, ["share:drydown/top.min", "share:drydown/base.max"]);
}

#[test]
fn a_film_that_is_gone_matches_nothing() {
    let problem = with("");
    let quick = formula(&problem, &[950.0, 50.0]);
    // 2.9 h, and 6.6 are asked for.
    assert_eq!(broken(&problem, &quick), [(RuleId::Film.to_string(), 2.9)]);
    let judged = evaluate(&problem.as_it_dries(&quick), &quick).expect("an odour at first");
    assert!(judged.views[0].fidelity_percent > 50.0);
    assert_eq!((judged.worst, judged.fidelity_percent, judged.views[1].strength), (1, 0.0, 0.0));
    // Twice as much on the paper lasts twice as long: tenacities were noted at half of it.
    let twice = load(&format!("lasting_percent = 50\n{PALETTE}"), &format!("{BRIEF}\n[blotter]\npercent = 100\n"));
    assert_eq!(broken(&twice, &quick), [(RuleId::Film.to_string(), 5.8)]);
    let diluted = load(&format!("lasting_percent = 50\n{PALETTE}"), &format!("{BRIEF}\n[blotter]\npercent = 50\n"));
    assert_eq!(broken(&diluted, &quick), [(RuleId::Film.to_string(), 2.9)]);
}

/// Trials teach how long a material lasts: over the learned palette the stages are those of
/// a brief that was read with it.
#[test]
fn stages_follow_how_long_a_palette_lasts() {
    let longer = PALETTE.replace("lasting = 2\n", "lasting = 7\n");
    assert_ne!(longer, PALETTE);
    let (before, read) = (with(""), load(&longer, BRIEF));
    let taught = before.with_palette(read.palette.clone());
    let half = formula(&taught, &[500.0, 500.0]);
    for (taught, read) in [taught.as_it_dries(&half), taught.with_clocks(&[0.0, 400.0])]
        .iter()
        .zip([read.as_it_dries(&half), read.with_clocks(&[0.0, 400.0])])
    {
        assert_eq!(taught.paper.as_ref().expect("stages").clocks, read.paper.as_ref().expect("stages").clocks);
        for (own, other) in taught.views.iter().zip(&read.views) {
            assert_eq!(own.targets, other.targets);
            for (own, other) in own.palette.materials.iter().zip(&other.palette.materials) {
                assert_eq!(own.strength, other.strength, "{}", own.name);
            }
        }
        assert!(
            evaluate(taught, &half).expect("an odour").loss
                < evaluate(&before.as_it_dries(&half), &half).expect("an odour").loss
        );
    }
}

#[test]
fn what_lasts_for_ever_is_smelled_as_it_is_mixed() {
    let last = PALETTE.replace("lasting = 20", "lasting = 1000000").replace("lasting = 2\n", "lasting = 1000000\n");
    let (staged, plain) = (load(&last, BRIEF), load(&last, &BRIEF[..BRIEF.find("[[stage]]").expect("stages")]));
    for doses in [[500.0, 500.0], [100.0, 900.0], [999.0, 1.0]] {
        let formula = formula(&plain, &doses);
        let judged = evaluate(&staged.as_it_dries(&formula), &formula).expect("an odour");
        let as_mixed = evaluate(&plain, &formula).expect("an odour");
        assert_close(judged.loss, as_mixed.loss, 1e-12, "loss");
        assert_close(judged.fidelity_percent, as_mixed.fidelity_percent, 1e-12, "fidelity");
        for view in &judged.views {
            assert_close(view.profile[0], as_mixed.profile[0], 1e-12, "profile");
        }
    }
}

#[test]
fn what_lasts_nobody_knows_how_long_has_the_median_of_its_note() {
    let more = r#"
[[material]]
name = "Unsaid"
strength = 10
scores = { heavy = 4 }
note = "drydown"
[[material]]
name = "Wood"
strength = 10
scores = { heavy = 4 }
note = "drydown"
lasting = 80
[[material]]
name = "Amber"
strength = 10
scores = { heavy = 4 }
note = "drydown"
lasting = 100
"#;
    let problem = load(&format!("{PALETTE}{more}"), BRIEF);
    let tenacities = &problem.paper.as_ref().expect("stages").tenacities;
    assert_eq!(tenacities[2].hours, 90.0);
    assert!(tenacities[2].is_assumed() && !tenacities[3].is_assumed());
}

#[test]
fn faults_stand_at_their_lines() {
    let briefs = [
        ("[[stage]]\nname = \"a\"\nminutes = 5\nkept = { min = 3 }\n", "`kept` compares with the first stage"),
        ("[[stage]]\nname = \"a\"\nminutes = 5\n[[stage]]\nname = \"a\"\nminutes = 6\n", "two stages are named \"a\""),
        ("[[stage]]\nname = \"a\"\nminutes = 5\n[[stage]]\nname = \"b\"\nminutes = 5\n", "5 minutes after one at 5"),
        ("[[stage]]\nminutes = 5\n", "`name` is missing in [[stage]]"),
        ("[[stage]]\nname = \"a\"\n", "`minutes` is missing in [[stage]]"),
        ("[[stage]]\nname = \"a\"\nminutes = 5\n[stage.target]\nlight = { min = 3 }\n", "unknown key `min`"),
        (
            "[[stage]]\nname = \"a\"\nminutes = 5\n[stage.target]\nlight = 0\nheavy = 0\n",
            "nothing is wanted at this stage",
        ),
        (
            "[[stage]]\nname = \"a\"\nminutes = 5\n[[stage.share]]\ntag = \"tip\"\nmax = 3\n",
            "no material has the tag \"tip\"",
        ),
        ("[[stage]]\nname = \"a\"\nminutes = 5\n[[stage.share]]\ntag = \"top\"\n", "neither `min` nor `max`"),
        ("[[stage]]\nname = \"a\"\nminutes = 5\nstrength = { min = 4, max = 3 }\n", "`min` is above `max`: 4 > 3"),
        ("[blotter]\npercent = 0\n", "above 0, up to 100"),
    ];
    for (text, wanted) in briefs {
        let folder = tempfile::tempdir().expect("a folder");
        let head = "palette = \"palette.toml\"\n[target]\nlight = 4\nheavy = 4\n";
        for (name, text) in [("palette.toml", PALETTE.to_owned()), ("brief.toml", format!("{head}{text}"))] {
            std::fs::write(folder.path().join(name), text).expect("written");
        }
        let faults = load_scenario(&folder.path().join("brief.toml")).expect_err(wanted).render(false);
        assert!(faults.contains(wanted), "{wanted}: {faults}");
        assert!(faults.contains("brief.toml:"), "{faults}");
    }
    // Nothing to go by.
    let silent = PALETTE.replace("lasting = 20\n", "").replace("lasting = 2\n", "");
    let folder = tempfile::tempdir().expect("a folder");
    for (name, text) in [("palette.toml", silent.as_str()), ("brief.toml", BRIEF)] {
        std::fs::write(folder.path().join(name), text).expect("written");
    }
    let faults = load_scenario(&folder.path().join("brief.toml")).expect_err("no tenacity").render(false);
    assert!(faults.contains("nothing in the palette says how long a material lasts"), "{faults}");
}

#[test]
fn compare_tells_every_stage_of_a_formula() {
    let half = "title = \"Half\"\npalette = \"palette.toml\"\n[parts]\nQuick = 500\nSlow = 500\n";
    let slow = "title = \"Slow\"\npalette = \"palette.toml\"\n[parts]\nQuick = 100\nSlow = 900\n";
    let brief = format!("{BRIEF}kept = {{ min = 40 }}\n");
    let folder =
        Folder::of(&[("palette.toml", PALETTE), ("brief.toml", &brief), ("half.toml", half), ("slow.toml", slow)]);
    let paths = ["brief.toml", "half.toml", "slow.toml"].map(|name| folder.path(name));
    let report = permil(&["compare", &paths[0], &paths[1], &paths[2], "--format", "json"]).json();
    let stages = &report["formulas"][0]["stages"];
    assert_eq!(stages.as_array().map(Vec::len), Some(2));
    let late = &stages[1];
    assert_eq!((late["name"].as_str(), late["minutes"].as_f64()), (Some("drydown"), Some(360.0)));
    let number = |value: &serde_json::Value| value.as_f64().expect("a number");
    assert_close(number(&late["left"]["Slow"]), 100.0 * LEFT[1], 1e-6, "left of the slow one");
    assert_close(number(&late["kept_of_first"]), 50.0 * (LEFT[0] + LEFT[1]), 1e-6, "kept");
    assert_close(number(&late["fidelity"]), number(&report["formulas"][0]["fidelity"]), 1e-12, "the worst counts");
    assert_eq!(report["formulas"][0]["blotter"]["worst"], "drydown");
    assert_eq!(report["formulas"][0]["blotter"]["broken"][0]["rule"], "stage:drydown.kept.min");
    assert_eq!(report["formulas"][1]["blotter"]["broken"], serde_json::json!([]));
    // Each dries by a clock of its own.
    assert_ne!(late["clock"], report["formulas"][1]["stages"][1]["clock"]);
    let text = permil(&["compare", &paths[0], &paths[1], &paths[2]]).stdout;
    assert!(text.contains("Match, worst stage, %") && text.contains("drydown, 6 h"), "{text}");
    // `strip` has the stages where no times are asked for.
    let strip = permil(&["strip", &paths[1], "--brief", &paths[0], "--format", "json"]).json();
    let times: Vec<f64> = strip["stages"].as_array().expect("times").iter().map(|it| number(&it["minutes"])).collect();
    assert_eq!(times, [0.0, 360.0]);
    assert_eq!(strip["stages"][1]["fidelity"], late["fidelity"]);
    assert_eq!(strip["stages"][1]["range"], late["range"]);
}

/// Four materials, of which no two go alike.
const SHELF: &str = r#"
[descriptors]
green = "leaf"
rosy = "petal"
woody = "dry wood"

[[material]]
name = "Leaf"
strength = 60
scores = { green = 8, rosy = 1 }
lasting = 2
molar_mass = 100
tags = ["top"]
price = 5
[[material]]
name = "Petal"
strength = 20
scores = { rosy = 8, green = 2 }
lasting = 9
molar_mass = 154
price = 20
[[material]]
name = "Bloom"
strength = 35
scores = { rosy = 7, woody = 2 }
lasting = 24
molar_mass = 164
price = 30
[[material]]
name = "Wood"
strength = 15
scores = { woody = 8, rosy = 1 }
lasting = 150
molar_mass = 222
tags = ["base"]
price = 40
"#;

const RULED: &str = r#"
palette = "palette.toml"
[target]
green = 2
rosy = 6
woody = 1
[formula]
STEP
[budget]
max_price = 32
[[stage]]
name = "opening"
minutes = 5
[[stage.share]]
tag = "top"
max = 15
[[stage]]
name = "drydown"
minutes = 300
weight = 1.5
strength = { min = 14 }
kept = { min = 72 }
[stage.target]
green = 0
woody = 3
[[stage.share]]
tag = "base"
min = 8
max = 60
"#;

/// Every formula of these steps.
fn all_formulas(problem: &Problem, step: usize) -> Vec<Formula> {
    let count = 1000 / step;
    let mut all = Vec::new();
    for a in 0..=count {
        for b in 0..=count - a {
            for c in 0..=count - a - b {
                let doses = [a, b, c, count - a - b - c].map(|it| (it * step) as f64);
                all.push(formula(problem, &doses));
            }
        }
    }
    all
}

/// The loss of a formula by the clocks of a problem; `None` where it breaks a rule by them.
fn loss_by(problem: &Problem, formula: &Formula) -> Option<f64> {
    let is_kept = Checker::new(problem).breaches(formula, 1e-9).is_empty();
    is_kept.then(|| evaluate(problem, formula).expect("an odour").loss)
}

#[test]
fn in_whole_parts_the_formula_is_the_best_for_what_its_own_film_leaves() {
    let problem = load(SHELF, &RULED.replace("STEP", "step = 25"));
    let settled = settle(&problem, Method::Auto, &Control::default()).expect("a solution");
    assert_eq!(settled.solution.status, Status::Optimal);
    assert_eq!(settled.holds, Holds::OwnAmounts);
    let answer = settled.solution.answer.as_ref().expect("a formula");
    // The clocks are those of its own film, and by them it keeps every rule.
    let clocks = &settled.problem.paper.as_ref().expect("stages").clocks;
    assert_eq!(*clocks, problem.clocks_of(&answer.formula));
    assert_eq!(broken(&problem, &answer.formula), []);
    let own = loss_by(&settled.problem, &answer.formula).expect("it keeps the rules");
    assert_close(own, answer.evaluation.loss, 1e-12, "its loss");
    // By these clocks no formula is nearer, of all there are.
    let all = all_formulas(&problem, 25);
    let best = all.iter().filter_map(|formula| loss_by(&settled.problem, formula)).fold(f64::INFINITY, f64::min);
    assert_close(own, best, 1e-9, "the least of all by these clocks");
    // And by the clock of its own film none passes what is told beside it.
    let most = settled.any_amounts.expect("a bound");
    let by_own = |formula: &Formula| loss_by(&problem.as_it_dries(formula), formula);
    let least = all.iter().filter_map(by_own).fold(f64::INFINITY, f64::min);
    assert!(0.5 * least < most && most <= least + 1e-9, "{most} and {least}");
    // Each rule of a stage keeps some out.
    for rule in
        ["share:opening/top.max", "stage:drydown.strength.min", "stage:drydown.kept.min", "share:drydown/base.min"]
    {
        let id: RuleId = rule.parse().expect("an id");
        let alone = settled.problem.with_rules(|at| settled.problem.rules[at].id == id);
        let kept = all.iter().filter(|formula| loss_by(&alone, formula).is_some()).count();
        assert!(alone.rules.len() == 1 && kept > 0 && kept < all.len(), "{rule}: {kept} of {}", all.len());
    }
}

#[test]
fn by_both_laws_the_formula_is_the_best_for_what_its_own_film_leaves() {
    for law in ["both", "compressive"] {
        let brief = RULED.replace("STEP", "step = 25");
        let problem = load(SHELF, &format!("law = \"{law}\"\n{brief}"));
        let settled = settle(&problem, Method::Auto, &Control::default()).expect("a solution");
        assert_eq!((settled.solution.status, settled.holds), (Status::Optimal, Holds::OwnAmounts), "{law}");
        let answer = settled.solution.answer.as_ref().expect("a formula");
        assert_eq!(broken(&problem, &answer.formula), []);
        assert_eq!(settled.problem.clocks_of(&answer.formula), settled.problem.paper.as_ref().expect("stages").clocks);
        assert_eq!(settled.problem.views.len(), if law == "both" { 4 } else { 2 });
        let all = all_formulas(&problem, 25);
        let best = all.iter().filter_map(|formula| loss_by(&settled.problem, formula)).fold(f64::INFINITY, f64::min);
        assert_close(answer.evaluation.loss, best, 1e-6, law);
    }
}

#[test]
fn formulas_by_the_film_of_one_are_said_to_be_so() {
    let brief = RULED.replace("STEP", "step = 25");
    let folder = Folder::of(&[("palette.toml", SHELF), ("brief.toml", &brief)]);
    let path = folder.path("brief.toml");
    for question in [&["tradeoff", &path][..], &["push", &path, "Wood"], &["leeway", &path]] {
        let said = permil(&[question, &["--format", "json"]].concat()).json();
        let warnings = said["warnings"].as_array().expect("warnings");
        let told =
            warnings.iter().filter(|it| it.as_str().is_some_and(|it| it.contains("by what its own film leaves")));
        assert_eq!(told.count(), 1, "{question:?}: {warnings:?}");
    }
    // What the most of them moves by is that of plain arithmetic.
    let said = permil(&["tradeoff", &path, "--format", "json"]).json();
    let warning = said["warnings"].to_string();
    let told = warning.split("by up to ").nth(1).and_then(|it| it.split(' ').next()).expect("points");
    let told: f64 = told.parse().expect("a number");
    let problem = load(SHELF, &brief);
    let settled = settle(&problem, Method::Auto, &Control::default()).expect("a solution").problem;
    let moves = |point: &serde_json::Value| {
        let parts = point["formula"]["parts"].as_object().expect("parts");
        let names = problem.palette.materials.iter().map(|it| it.name.as_str());
        let doses: Vec<f64> =
            names.map(|name| parts.get(name).map_or(0.0, |it| it.as_f64().expect("a dose"))).collect();
        let formula = formula(&problem, &doses);
        let fidelity = |problem: &Problem| evaluate(problem, &formula).expect("an odour").fidelity_percent;
        (fidelity(&settled) - fidelity(&problem.as_it_dries(&formula))).abs()
    };
    let points = said["formulas"].as_array().expect("formulas");
    let most = points.iter().map(moves).fold(0.0, f64::max);
    assert!(points.len() > 1 && told >= most && told < most + 0.011, "{told} and {most}");
}

#[test]
fn over_continuous_doses_no_formula_passes_the_bound_by_the_clock_of_its_own_film() {
    let problem = load(SHELF, &RULED.replace("STEP", ""));
    let settled = settle(&problem, Method::Auto, &Control::default()).expect("a solution");
    assert_eq!(settled.holds, Holds::AnyAmounts);
    let (bound, answer) = (settled.solution.bound.expect("a bound"), settled.solution.answer.expect("a formula"));
    let found = answer.evaluation.loss;
    assert!(bound <= found && found - bound <= 0.005 * found + 1e-9, "{bound} to {found}");
    assert_eq!(broken(&problem, &answer.formula), []);
    let own = |formula: &Formula| loss_by(&problem.as_it_dries(formula), formula);
    assert_close(own(&answer.formula).expect("it keeps the rules"), found, 1e-9, "its loss");
    let mut least = f64::INFINITY;
    for formula in all_formulas(&problem, 20) {
        if let Some(loss) = own(&formula) {
            assert!(loss >= bound - 1e-9, "{loss} below {bound}: {:?}", formula.parts);
            least = least.min(loss);
        }
    }
    // Steps of 20 cost something, and nothing is gained by them.
    assert!(least.is_finite() && found <= least + 1e-9, "{found} and {least}");
}

#[test]
fn where_nothing_lasts_it_is_proven_that_there_is_no_formula() {
    let late = RULED.replace("minutes = 300", "minutes = 60000");
    for step in ["", "step = 25"] {
        let problem = load(SHELF, &late.replace("STEP", step));
        let settled = settle(&problem, Method::Auto, &Control::default()).expect("an answer");
        assert_eq!((settled.solution.status, settled.holds), (Status::Infeasible, Holds::AnyAmounts), "{step}");
    }
}

#[test]
fn what_explains_a_formula_speaks_of_its_worst_stage_and_its_own_profile_of_each() {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, text) in [("palette.toml", SHELF.to_owned()), ("brief.toml", RULED.replace("STEP", "step = 25"))] {
        std::fs::write(folder.path().join(name), text).expect("written");
    }
    let scenario = load_scenario(&folder.path().join("brief.toml")).expect("no faults");
    let problem = Problem::new(scenario.palette, &scenario.brief, &[]);
    let formula = formula(&problem, &[50.0, 400.0, 350.0, 200.0]);
    let own = problem.as_it_dries(&formula);
    let judged = evaluate(&own, &formula).expect("an odour");
    // Alone, the worst stage says of itself what it says among others.
    let seen = as_judged(&problem, &formula);
    let alone = evaluate(&seen, &formula).expect("an odour");
    assert_eq!(seen.views[0].stage, own.views[judged.worst].stage);
    assert_eq!((seen.views.len(), &alone.profile), (1, &judged.profile));
    assert_close(alone.loss, judged.views[judged.worst].loss, 1e-12, "its loss");
    // Held against what it smells of itself at each stage, it keeps all of that, by any clocks.
    let itself = own.with_profile_of(&scenario.brief, &formula).expect("an odour");
    for problem in [&itself, &itself.as_it_dries(&formula)] {
        let kept = evaluate(problem, &formula).expect("an odour");
        for view in &kept.views {
            assert_close(view.fidelity_percent, 100.0, 1e-9, "its own profile");
        }
    }
}
