//! From a formula that was smelled to the smallest change: hand-solved cases,
//! an independent reference, and what holds for any wish.

mod support;

use permil::analysis::add::{Addition, add};
use permil::analysis::adjust::{Adjust, FEWER_PARTS, Wish, adjust, moved};
use permil::brief::Basis;
use permil::control::Control;
use permil::evaluate::evaluate;
use permil::files::load_formula;
use permil::formula::Formula;
use permil::problem::Problem;
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::solve::Status;
use permil::solve::nearest::change;
use permil::units::Ppt;
use support::questions::{self, Case, assert_near};
use support::{assert_close, load};

const THREE: &str = r#"
[descriptors]
a = "one"
b = "other"
[[material]]
name = "A"
strength = 1
scores = { a = 10 }
[[material]]
name = "B"
strength = 1
scores = { b = 10 }
[[material]]
name = "Strong A"
strength = 10
scores = { a = 10 }
"#;

const LEVEL: &str = "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\na = 5\nb = 5\n[formula]\nstep = 1\n";

fn halves(problem: &Problem) -> Formula {
    let doses = [500.0, 500.0, 0.0].map(Ppt::from_ppt);
    assert_eq!(problem.basis, Basis::Neat);
    Formula::from_doses(Basis::Neat, &doses)
}

fn look(problem: &Problem, formula: &Formula, wish: &Wish) -> Adjust {
    adjust(problem, formula, wish, &Control::default()).expect("no failure")
}

fn pour(problem: &Problem, formula: &Formula, wish: &Wish, batch: f64) -> Addition {
    add(problem, formula, wish, batch, &Control::default()).expect("no failure")
}

#[test]
fn two_materials_by_hand() {
    // One point more of a, without the strong one: from 500 to 600 of A.
    let problem = load(THREE, &format!("{LEVEL}[doses]\n\"Strong A\" = {{ use = \"never\" }}\n"));
    let formula = halves(&problem);
    let wish = Wish { more: vec![0], by: 1.0, ..Wish::default() };
    let found = look(&problem, &formula, &wish);
    let answer = found.answer.unwrap();
    assert_eq!(found.status, Status::Optimal);
    assert_eq!(change(&formula, &answer.formula), Ppt::from_ppt(200.0));
    assert_close(found.bound, 200.0, 1e-6, "the bound");
    assert_close(answer.evaluation.profile[0], 6.0, 1e-9, "a");
    // 50 g and 50 g, and 25 g of A: 75 of 125 is six tenths.
    let poured = pour(&problem, &formula, &wish, 100.0);
    let (answer, grams) = poured.found.unwrap();
    assert_eq!(poured.status, Status::Optimal);
    assert_eq!(grams.len(), 1);
    assert_close(grams[0].1, 25.0, 1e-5, "grams of A");
    assert_close(answer.evaluation.profile[0], 6.0, 1e-6, "a");
    // No dose by more than 60: 100 would be needed.
    let narrow = Wish { most_change: Some(Ppt::from_ppt(60.0)), ..wish.clone() };
    let found = look(&problem, &formula, &narrow);
    assert_eq!(found.status, Status::Infeasible);
    let furthest = found.furthest.unwrap();
    assert!((0.59..=0.6001).contains(&furthest.by), "{}", furthest.by);
    // With A kept nothing of it can be added.
    let kept = Wish { keep: vec![0], ..wish };
    assert_eq!(look(&problem, &formula, &kept).status, Status::Infeasible);
    assert_eq!(pour(&problem, &formula, &kept, 100.0).status, Status::Infeasible);
}

#[test]
fn a_strong_material_needs_fewer_parts() {
    // y of Strong A: (500 + 10 y) / (1000 + 9 y) with 500 - y of B, at 0.6.
    let problem = load(THREE, LEVEL);
    let formula = halves(&problem);
    let found = look(&problem, &formula, &Wish { more: vec![0], by: 1.0, ..Wish::default() });
    // From B: 10 (500 + 10 y) = 6 (1000 + 9 y): y = 21.7, so 22 and 44 in all.
    let answer = found.answer.unwrap();
    assert_eq!(change(&formula, &answer.formula), Ppt::from_ppt(44.0));
    assert_eq!(answer.formula.dose(2), Ppt::from_ppt(22.0));
}

#[test]
fn nothing_asked_changes_nothing() {
    for case in questions::cases() {
        let Some(formula) = formula_of(&case) else { continue };
        let found = look(&case.problem, &formula, &Wish { by: 0.5, ..Wish::default() });
        assert_eq!(found.answer.unwrap().formula, formula, "{}", case.name);
        let (answer, grams) = pour(&case.problem, &formula, &Wish::default(), 10.0).found.unwrap();
        assert_eq!((answer.formula, grams.len()), (formula, 0));
    }
}

/// The formula that a case is about.
fn formula_of(case: &Case) -> Option<Formula> {
    let file = case.expected["adjust"].get(0)?["formula"].as_str()?;
    load_formula(&case.folder.join(file), &case.problem.palette).ok()
}

/// Each wish of the reference with its case, the formula and what is expected.
fn wishes() -> Vec<(Case, Formula, Wish, serde_json::Value)> {
    let mut all = Vec::new();
    for case in questions::cases() {
        let Some(formula) = formula_of(&case) else { continue };
        for entry in case.expected["adjust"].as_array().unwrap() {
            let counted = |key: &str| {
                let name = entry[key].as_str().unwrap();
                let named =
                    |target: &permil::problem::Target| case.problem.palette.descriptors[target.descriptor].name == name;
                case.problem.targets.iter().position(named).unwrap()
            };
            let by = entry["by"].as_f64().unwrap();
            let wish = Wish { more: vec![counted("more")], less: vec![counted("less")], by, ..Wish::default() };
            let Case { name, folder, problem, expected } = &case;
            let same = Case {
                name: name.clone(),
                folder: folder.clone(),
                problem: problem.clone(),
                expected: expected.clone(),
            };
            all.push((same, formula.clone(), wish, entry.clone()));
        }
    }
    all
}

#[test]
fn a_reference_finds_the_same_smallest_change() {
    let mut seen = (0, 0);
    for (case, formula, wish, entry) in wishes() {
        let expected = &entry["change"];
        if !["optimal", "infeasible"].contains(&expected["status"].as_str().unwrap()) {
            continue;
        }
        let found = look(&case.problem, &formula, &wish);
        assert_eq!(found.status.word(), expected["status"].as_str().unwrap(), "{} {entry}", case.name);
        let Some(answer) = &found.answer else {
            seen.1 += 1;
            let Some(furthest) = found.furthest else { continue };
            assert!(furthest.by < wish.by);
            reaches(&case.problem, &formula, &wish, furthest.by, &furthest.answer.formula);
            continue;
        };
        seen.0 += 1;
        let size = change(&formula, &answer.formula);
        let smallest = found.smallest.unwrap_or(size);
        assert_near(smallest.as_f64(), &expected["value"], 1e-5, &format!("{} {entry}", case.name));
        assert!(size.as_f64() <= (1.0 + FEWER_PARTS) * smallest.as_f64() + 1e-6);
        assert!(Checker::new(&case.problem).breaches(&answer.formula, REPORT_TOLERANCE).is_empty());
        reaches(&case.problem, &formula, &wish, wish.by, &answer.formula);
    }
    assert!(seen.0 > 20 && seen.1 > 2, "{seen:?}");
}

/// Fails unless a formula is so many points further in the wanted direction.
#[track_caller]
fn reaches(problem: &Problem, before: &Formula, wish: &Wish, by: f64, after: &Formula) {
    let (was, now) = (evaluate(problem, before).unwrap().profile, evaluate(problem, after).unwrap().profile);
    assert!(wish.more.iter().all(|&at| now[at] >= was[at] + by - 1e-6));
    assert!(wish.less.iter().all(|&at| now[at] <= was[at] - by + 1e-6));
}

#[test]
fn a_reference_finds_the_same_least_addition() {
    let mut seen = (0, 0);
    for (case, formula, wish, entry) in wishes() {
        let expected = &entry["add"];
        if !["optimal", "infeasible"].contains(&expected["status"].as_str().unwrap()) {
            continue;
        }
        let found = pour(&case.problem, &formula, &wish, 20.0);
        assert_eq!(found.status.word(), expected["status"].as_str().unwrap(), "{} {entry}", case.name);
        let Some((answer, grams)) = &found.found else {
            seen.1 += 1;
            continue;
        };
        seen.0 += 1;
        let added: f64 = grams.iter().map(|(_, grams)| grams).sum();
        assert_near(added / 20.0, &expected["value"], 1e-4, &format!("{} {entry}", case.name));
        assert!(grams.iter().all(|(_, grams)| *grams > 0.0));
        // What is in the beaker and what is added make up the formula.
        let total = 20.0 + added;
        for (material, described) in case.problem.palette.materials.iter().enumerate() {
            let poured = grams.iter().find(|(it, _)| *it == material).map_or(0.0, |(_, grams)| *grams);
            let now = 1000.0 * (formula.dose(material).as_f64() * 20.0 / 1000.0 + poured) / total;
            assert_close(answer.formula.dose(material).as_f64(), now, 2e-4, &described.name);
        }
        reaches(&case.problem, &formula, &wish, wish.by, &answer.formula);
    }
    assert!(seen.0 > 10 && seen.1 > 10, "{seen:?}");
}

#[test]
fn what_is_kept_stays_and_no_dose_moves_further_than_it_may() {
    let case = questions::cases().into_iter().find(|case| case.name == "rose-otto").unwrap();
    let formula = formula_of(&case).unwrap();
    let material = |name: &str| case.problem.palette.materials.iter().position(|it| it.name == name).unwrap();
    let counted = |name: &str| {
        let named = |target: &permil::problem::Target| case.problem.palette.descriptors[target.descriptor].name == name;
        case.problem.targets.iter().position(named).unwrap()
    };
    let wish = Wish { less: vec![counted("metallic")], by: 0.05, ..Wish::default() };
    let free = look(&case.problem, &formula, &wish);
    assert_ne!(free.answer.unwrap().formula.dose(material("Rose oxide")), formula.dose(material("Rose oxide")));
    let most = Ppt::from_ppt(15.0);
    let wish = Wish { keep: vec![material("Rose oxide"), material("Skatole")], most_change: Some(most), ..wish };
    let found = look(&case.problem, &formula, &wish);
    let answer = found.answer.unwrap().formula;
    assert_eq!(answer.dose(material("Rose oxide")), formula.dose(material("Rose oxide")));
    assert!(answer.dose(material("Skatole")).is_zero());
    for at in 0..case.problem.columns.len() {
        let by = answer.dose(at) - formula.dose(at);
        assert!(by <= most && -by <= most);
    }
    reaches(&case.problem, &formula, &wish, 0.05, &answer);
    let (old, new) = moved(&formula, &answer);
    assert!(old + new >= 2);
}

#[test]
fn a_part_off_its_grid_may_stay_there() {
    let problem = load(THREE, LEVEL);
    let doses = [500.5, 499.5, 0.0].map(Ppt::from_ppt);
    let formula = Formula::from_doses(Basis::Neat, &doses);
    let found = look(&problem, &formula, &Wish { more: vec![0], by: 1.0, keep: vec![1], ..Wish::default() });
    // What is left for A and Strong A is on no grid, so both of them cannot move.
    assert_eq!(found.status, Status::Infeasible);
    let found = look(&problem, &formula, &Wish { more: vec![0], by: 1.0, ..Wish::default() });
    assert!(change(&formula, &found.answer.unwrap().formula) <= Ppt::from_ppt(45.0));
}
