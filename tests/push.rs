//! How far one material can go: hand-solved cases, an independent reference,
//! and what holds on the rose scenario.

mod support;

use permil::analysis::caps::{Cap, Reason, caps, giving_way};
use permil::analysis::push::{Asked, Push, opened, push};
use permil::control::Control;
use permil::files::{Scenario, load_scenario};
use permil::problem::Problem;
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::solve::{Method, Status, propose};
use permil::units::Ppt;
use support::questions::{curves, rose};
use support::{assert_close, load};

fn look(problem: &Problem, caps: &[Cap], name: &str, many: bool) -> Push {
    let asked = Asked { material: material(problem, name), margin: 1.0, many, method: Method::Auto };
    push(problem, caps, asked, &Control::default(), &|_, _| {}).expect("no failure")
}

fn material(problem: &Problem, name: &str) -> usize {
    problem.palette.materials.iter().position(|material| material.name == name).expect("it is there")
}

fn fresh(problem: &Problem) -> Option<f64> {
    propose(problem, Method::Auto, &Control::default()).expect("it is taken").answer.map(|a| a.evaluation.loss)
}

fn rose_caps(name: &str, batch: Option<f64>) -> (Problem, Vec<Cap>) {
    let scenario = load_scenario("profiles/rose-otto/brief.toml".as_ref()).expect("no faults");
    let Scenario { palette, brief, limits, .. } = scenario;
    let problem = Problem::new(palette, &brief, &limits);
    let caps = caps(&problem, &brief, material(&problem, name), batch);
    (problem, caps)
}

/// A is ten times as strong as B.
const TWO: &str = r#"
[descriptors]
a = "one"
b = "other"
[[material]]
name = "A"
strength = 10
scores = { a = 10 }
[[material]]
name = "B"
strength = 1
scores = { b = 10 }
"#;
const BRIEF: &str = "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\na = 2\nb = 8\n";

#[test]
fn two_materials_by_hand() {
    // A share h of A misses by 20 |h - 1/5|; h = 10 x / (9 x + 1000) in ppt.
    let problem = load(TWO, BRIEF);
    let dose = |share: f64| 1000.0 * share / (10.0 - 9.0 * share);
    let found = look(&problem, &[], "A", false);
    let best = found.best.as_ref().expect("a blend");
    assert_close(best.dose_ppt, dose(0.2), 1e-6, "a fifth of the odour");
    assert_close(best.answer.evaluation.fidelity_percent, 100.0, 1e-6, "which is the target");
    // One point of fidelity is a tenth of a point of loss: half a share point.
    let (low, high) = found.window.expect("a window");
    assert_close(low, dose(0.195), 1e-6, "the window's low end");
    assert_close(high, dose(0.205), 1e-6, "the window's high end");
    let without = found.without.as_ref().expect("B alone");
    assert_close(without.answer.evaluation.loss, 4.0, 1e-6, "B alone misses a by 2 and has 2 of b too much");
    let (gone, beyond) = found.gone.expect("too much is no better");
    assert_close(gone, dose(0.4), 1e-6, "as far on the other side");
    assert!(!beyond && found.beyond.is_empty() && found.is_complete);
    let [Some(below), Some(above)] = &found.ends else { panic!("both ends") };
    assert_eq!((below.is_wall, above.is_wall), (false, false));
    for point in &found.points {
        let share = 10.0 * point.dose_ppt / (9.0 * point.dose_ppt + 1000.0);
        assert_close(point.answer.evaluation.loss, 20.0 * (share - 0.2).abs(), 1e-5, "the curve");
    }
    assert!(found.points.len() >= 60);
}

#[test]
fn a_cap_ends_the_curve_and_is_passed_to_look() {
    let folder = support::program::Folder::of(&[("palette.toml", TWO)]);
    folder.write("brief.toml", &format!("{BRIEF}[doses]\nA = {{ max = 15 }}\n"));
    let scenario = load_scenario(folder.path("brief.toml").as_ref()).expect("no faults");
    let problem = Problem::new(scenario.palette, &scenario.brief, &[]);
    let caps = caps(&problem, &scenario.brief, 0, None);
    assert_eq!(caps.iter().map(|cap| (cap.dose_ppt, cap.reason)).collect::<Vec<_>>(), [(15.0, Reason::Own)]);
    let found = look(&problem, &caps, "A", false);
    assert_close(found.best.as_ref().unwrap().dose_ppt, 15.0, 1e-9, "as far as it may");
    assert!(found.points.iter().all(|point| point.dose_ppt <= 15.0));
    assert!(found.beyond.len() >= 15, "{}", found.beyond.len());
    assert!(found.beyond.iter().all(|point| point.dose_ppt > 15.0 && point.dose_ppt <= 30.0 + 1e-9));
    let better = found.beyond.iter().map(|point| point.answer.evaluation.loss).fold(f64::INFINITY, f64::min);
    assert!(better < 0.2, "{better}: the target lies beyond the cap");
    let [_, Some(above)] = &found.ends else { panic!("an upper end") };
    assert!(above.is_wall && above.rules.iter().any(|rule| rule.id.to_string() == "dose:A.max"), "{above:?}");
}

#[test]
fn every_cap_has_its_reason() {
    let (problem, caps) = rose_caps("beta-Damascenone", Some(1000.0));
    let of = |reason: fn(&Reason) -> bool| caps.iter().filter(|cap| reason(&cap.reason)).count();
    assert_eq!(of(|reason| *reason == Reason::Palette), 1);
    assert_eq!(of(|reason| matches!(reason, Reason::Concentrate(_))), 2);
    assert_eq!(of(|reason| matches!(reason, Reason::Product(_))), 2);
    assert!(of(|reason| matches!(reason, Reason::Restriction(..))) >= 2);
    assert!(caps.windows(2).all(|pair| pair[0].dose_ppt <= pair[1].dose_ppt));
    // The lowest by hand: 0.02 % less the reserve of 0.008 %, at 18 % of 60 %.
    let lowest = caps.iter().find(|cap| matches!(cap.reason, Reason::Restriction(..))).expect("one");
    assert_close(lowest.dose_ppt, 10.0 * (0.02 - 0.008) / 0.18 / 0.6, 1e-9, "rose ketones");
    let stock = problem.material(material(&problem, "beta-Damascenone")).stock_grams;
    assert_eq!(of(|reason| matches!(reason, Reason::Stock(_))), usize::from(stock.is_some()));
}

#[test]
fn stock_caps_a_batch_alone() {
    let stocked = TWO.replace("name = \"A\"", "name = \"A\"\nstock = 3\nbottle = { percent = 10 }");
    let folder = support::program::Folder::of(&[("palette.toml", &stocked), ("brief.toml", BRIEF)]);
    let scenario = load_scenario(folder.path("brief.toml").as_ref()).expect("no faults");
    let problem = Problem::new(scenario.palette, &scenario.brief, &[]);
    assert!(caps(&problem, &scenario.brief, 0, None).is_empty());
    // 3 g of a 10 % dilution are 0.3 g: 10 ppt of 30 g.
    let caps = caps(&problem, &scenario.brief, 0, Some(30.0));
    assert_eq!(caps.iter().map(|cap| (cap.dose_ppt, cap.reason)).collect::<Vec<_>>(), [(10.0, Reason::Stock(3.0))]);
    let found = look(&problem, &caps, "A", false);
    assert_close(found.best.unwrap().dose_ppt, 10.0, 1e-9, "what is on hand");
    assert!(!found.beyond.is_empty());
}

#[test]
fn a_reference_finds_the_same_curve() {
    let mut compared = 0;
    for case in curves() {
        for (name, expected) in case.expected["push"].as_object().unwrap() {
            let what = format!("{}: {name}", case.name);
            let relaxed = opened(&case.problem, material(&case.problem, name), &[]).relaxed();
            // The reference speaks of any doses.
            let found = look(&case.problem.relaxed(), &[], name, false);
            let best = found.best.as_ref().expect(&what);
            assert_close(best.answer.evaluation.loss, expected["best"].as_f64().unwrap(), 2e-6, &what);
            for point in expected["points"].as_array().unwrap() {
                let at = point["at"].as_f64().unwrap();
                let here = fresh(&relaxed.with_dose(material(&case.problem, name), Ppt::from_ppt(at)));
                assert_eq!(here.is_some(), point["loss"].is_number(), "{what} at {at}");
                let Some((here, wanted)) = here.zip(point["loss"].as_f64()) else { continue };
                assert_close(here, wanted, 1e-5, &format!("{what} at {at}"));
                let heights: Vec<(f64, f64)> =
                    found.points.iter().map(|p| (p.dose_ppt, p.answer.evaluation.loss)).collect();
                if let Some(drawn) = permil::analysis::curve::height_at(&heights, at) {
                    let worst = case.expected["worst"].as_f64().unwrap();
                    assert!((drawn - wanted).abs() <= 2e-3 * worst, "{what} at {at}: {drawn} for {wanted}");
                }
                compared += 1;
            }
        }
    }
    assert!(compared > 150, "only {compared} points");
}

#[test]
fn points_are_fresh_solves_and_the_best_is_the_best_of_them() {
    let (problem, caps) = rose_caps("beta-Damascenone", None);
    let problem = problem.relaxed();
    let found = look(&problem, &caps, "beta-Damascenone", false);
    let index = material(&problem, "beta-Damascenone");
    let relaxed = opened(&problem, index, &caps).relaxed();
    let checker = Checker::new(&relaxed);
    let best = found.best.as_ref().unwrap();
    for point in &found.points {
        let loss = point.answer.evaluation.loss;
        let limited = relaxed.with_dose(index, Ppt::from_ppt(point.dose_ppt));
        assert_close(loss, fresh(&limited).expect("a blend"), 1e-6, &format!("at {}", point.dose_ppt));
        assert!(checker.breaches(&point.answer.formula, REPORT_TOLERANCE).is_empty() && point.proven);
        assert!(loss >= best.answer.evaluation.loss - 1e-6);
        let (low, high) = found.window.unwrap();
        let inside = low <= point.dose_ppt && point.dose_ppt <= high;
        let off = (loss - best.answer.evaluation.loss) / problem.worst_loss() * 100.0;
        assert_eq!(inside, off <= 1.0 + 1e-6, "{off} points at {}", point.dose_ppt);
    }
    // Beyond, only what caps this material is broken.
    let wall = found.points[found.points.len() - 1].dose_ppt;
    for point in &found.beyond {
        let given = giving_way(&relaxed, &caps, index, wall, point.dose_ppt);
        assert!(point.dose_ppt > wall);
        assert!(Checker::new(&given).breaches(&point.answer.formula, REPORT_TOLERANCE).is_empty());
        let broken = checker.breaches(&point.answer.formula, REPORT_TOLERANCE);
        assert!(!broken.is_empty());
        for breach in broken {
            let rule = &relaxed.rules[breach.rule];
            let is_cap = caps.iter().any(|cap| cap.rule.as_ref().is_some_and(|other| other.id == rule.id));
            assert!(is_cap, "{} is broken at {}", rule.id, point.dose_ppt);
        }
    }
    // The curve goes on without a leap.
    let (last, next) = (&found.points[found.points.len() - 1], &found.beyond[0]);
    let leap = (next.answer.evaluation.fidelity_percent - last.answer.evaluation.fidelity_percent).abs();
    assert!(leap < 0.5, "a leap of {leap} points at the cap");
}

#[test]
fn formulas_are_proven_at_doses_of_the_grid() {
    let (problem, caps) = rose_caps("beta-Damascenone", None);
    let found = look(&problem, &caps, "beta-Damascenone", true);
    let index = material(&problem, "beta-Damascenone");
    assert!(found.points.len() >= 20);
    for point in &found.points {
        let dose = point.dose_ppt;
        assert!(point.proven, "{dose}");
        assert_eq!(point.answer.formula.dose(index), Ppt::from_ppt(dose));
        assert!(Checker::new(&problem).breaches(&point.answer.formula, REPORT_TOLERANCE).is_empty(), "{dose}");
    }
    let best = found.points.iter().map(|point| point.answer.evaluation.loss).fold(f64::MAX, f64::min);
    assert_close(best, fresh(&problem).unwrap(), 1e-6, "the best of them is the proposal");
    assert!(found.window_proven == [true; 2] && found.is_complete);
}

/// What the rest of the concentrate brings is used up in a joint limit too, and
/// the accord is a share of the concentrate: both in every cap, by hand.
#[test]
fn a_joint_cap_counts_the_reserve_and_the_accords_share() {
    let palette = TWO
        .replace("name = \"A\"", "name = \"A\"\ncas = \"97-53-0\"\nmax_in_concentrate = 3\nmax_in_product = 0.5")
        .replace("name = \"B\"", "name = \"B\"\ncas = \"106-24-1\"");
    let limits = "[[restriction]]\nsubstance = \"One\"\ncas = [\"97-53-0\"]\nsource = \"made up\"\n\
                  limits = { \"4\" = 2 }\njoint = \"both\"\n\
                  [[restriction]]\nsubstance = \"Other\"\ncas = [\"106-24-1\"]\nsource = \"made up\"\n\
                  limits = { \"4\" = 40 }\njoint = \"both\"\n";
    let using = "limits = \"limits.toml\"\n";
    let product = "[use]\ncategory = \"4\"\ndosage = 20\naccord_share = 50\nreserve = { \"97-53-0\" = 0.5 }\n";
    let folder = support::program::Folder::of(&[("palette.toml", &palette), ("limits.toml", limits)]);
    folder.write("brief.toml", &format!("{using}{BRIEF}{product}"));
    let scenario = load_scenario(folder.path("brief.toml").as_ref()).expect("no faults");
    let problem = Problem::new(scenario.palette, &scenario.brief, &scenario.limits);
    let caps = caps(&problem, &scenario.brief, 0, None);
    let of = |reason: fn(&Reason) -> bool| caps.iter().find(|cap| reason(&cap.reason)).expect("it caps").dose_ppt;
    // 1000 ppt of A alone are 10 % of the product: 5 times its limit of 2, of
    // which the reserve of 0.5 % uses up a fourth.
    assert_close(of(|reason| *reason == Reason::Joint), 1000.0 * 0.75 / 5.0, 1e-9, "the joint limit");
    // Half of the concentrate is accord: 3 % of it are 60 ppt of the accord.
    assert_close(of(|reason| matches!(reason, Reason::Concentrate(_))), 60.0, 1e-9, "advice for the concentrate");
    assert_close(of(|reason| matches!(reason, Reason::Product(_))), 50.0, 1e-9, "advice for the product");
}

#[test]
fn what_the_brief_fixes_or_leaves_out_is_open_here() {
    let problem = rose();
    let found = look(&problem, &[], "Rose otto", false);
    assert!(found.points.len() >= 5 && found.points[0].dose_ppt == 0.0);
    let left_out = problem.leaving_out(material(&problem, "Nonanal"));
    assert!(look(&left_out, &[], "Nonanal", false).points.len() >= 5);
    // No blend whatever the dose.
    let impossible = load(TWO, &format!("{BRIEF}[formula]\nstrength = {{ min = 20 }}\n"));
    assert_eq!(look(&impossible, &[], "A", false).none, Some(Status::Infeasible));
}
