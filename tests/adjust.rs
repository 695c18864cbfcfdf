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
use permil::problem::check::{Checker, REPORT_TOLERANCE, SEARCH_TOLERANCE};
use permil::solve::nearest::change;
use permil::solve::{Method, Status, propose};
use permil::units::Ppt;
use support::listing::{choice_count, choices, list};
use support::questions::{self, Case, assert_near};
use support::random::scenario;
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

/// The change that moves the fewest parts.
fn look(problem: &Problem, formula: &Formula, wish: &Wish) -> Adjust {
    let wish = Wish { by_parts: true, ..wish.clone() };
    adjust(problem, formula, &wish, &Control::default()).expect("no failure")
}

/// The addition of the fewest grams.
fn pour(problem: &Problem, formula: &Formula, wish: &Wish, batch: f64) -> Addition {
    let wish = Wish { by_parts: true, ..wish.clone() };
    add(problem, formula, &wish, batch, &Control::default()).expect("no failure")
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
        let smallest = found.smallest.unwrap_or(size.as_f64());
        assert_near(smallest, &expected["value"], 1e-5, &format!("{} {entry}", case.name));
        assert!(size.as_f64() <= (1.0 + FEWER_PARTS) * smallest + 1e-6);
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

/// How the odour of a formula changes, in arithmetic of its own: profile and
/// shares from the palette's numbers alone.
fn odour_points(problem: &Problem, before: &Formula, after: &Formula, asked: &[usize]) -> f64 {
    let materials = &problem.palette.materials;
    let total: f64 = problem.targets.iter().map(|target| target.score).sum();
    let counted = |at: usize| -> f64 {
        let scores: f64 = problem.targets.iter().map(|target| materials[at].scores[target.descriptor]).sum();
        match problem.matching {
            permil::brief::Match::Level => 1.0,
            permil::brief::Match::Balance => scores / total,
        }
    };
    let brings = |formula: &Formula| -> Vec<f64> {
        (0..materials.len()).map(|at| formula.dose(at).as_f64() * materials[at].strength * counted(at)).collect()
    };
    let profile = |formula: &Formula| -> Vec<f64> {
        let d: f64 = brings(formula).iter().sum();
        let of = |descriptor: usize| -> f64 {
            (0..materials.len())
                .map(|at| formula.dose(at).as_f64() * materials[at].strength * materials[at].scores[descriptor] / d)
                .sum()
        };
        problem.targets.iter().map(|target| of(target.descriptor)).collect()
    };
    let (was, now) = (profile(before), profile(after));
    let side: f64 = (0..was.len()).filter(|at| !asked.contains(at)).map(|at| (now[at] - was[at]).abs()).sum();
    let share = |formula: &Formula| {
        let all = brings(formula);
        let d: f64 = all.iter().sum();
        all.into_iter().map(|one| one / d).collect::<Vec<f64>>()
    };
    let moved: f64 = share(before).iter().zip(share(after)).map(|(was, now)| (now - was).abs()).sum();
    side + problem.palette.scale * moved
}

/// The least change of the odour and the fewest parts that such a change moves,
/// against listing every formula that the wish allows.
#[test]
fn the_least_change_of_the_odour_equals_listing() {
    let (mut feasible, mut infeasible, mut by_parts_differs) = (0, 0, 0);
    for seed in 0..400 {
        let (palette, brief) = scenario(seed);
        let problem = load(&palette, &brief);
        let Some(best) = propose(&problem, Method::Auto, &Control::default()).expect("a solution").answer else {
            continue;
        };
        let formula = best.formula;
        let (more, less) = (seed as usize % problem.targets.len(), (seed as usize / 3) % problem.targets.len());
        let wish = Wish {
            more: vec![more],
            less: if less == more { Vec::new() } else { vec![less] },
            by: [0.1, 0.3, 0.8][seed as usize % 3],
            ..Wish::default()
        };
        let asked = wish.asked();
        let found = adjust(&problem, &formula, &wish, &Control::default()).expect("no failure");
        let Some(count) = choice_count(&found.rules).filter(|&count| count <= 200_000) else { continue };
        assert!(count > 0);
        let checker = Checker::new(&found.rules);
        let mut all: Vec<(f64, f64)> = Vec::new();
        list(&choices(&found.rules), &mut |doses| {
            let after = Formula::from_doses(problem.basis, doses);
            if evaluate(&problem, &after).is_ok() && checker.breaches(&after, SEARCH_TOLERANCE).is_empty() {
                let points = odour_points(&problem, &formula, &after, &asked);
                all.push((points, change(&formula, &after).as_f64()));
            }
        });
        let Some(least) = all.iter().map(|(points, _)| *points).min_by(f64::total_cmp) else {
            infeasible += 1;
            assert_eq!(found.status, Status::Infeasible, "seed {seed}");
            continue;
        };
        feasible += 1;
        assert_eq!(found.status, Status::Optimal, "seed {seed}: listing finds {least}");
        let after = found.answer.expect("a formula").formula;
        let points = odour_points(&problem, &formula, &after, &asked);
        let smallest = found.smallest.unwrap_or(points);
        assert!((smallest - least).abs() <= 2e-6 * least.max(1.0), "seed {seed}: {smallest}, not {least}");
        assert!(points <= smallest * (1.0 + FEWER_PARTS) + 1e-6, "seed {seed}");
        assert!(found.bound <= least + 1e-9, "seed {seed}: the bound {} lies above {least}", found.bound);
        reaches(&problem, &formula, &wish, wish.by, &after);
        if found.smallest.is_none() {
            let tied = all.iter().filter(|(points, _)| *points <= least + 0.5e-7 * least.max(1.0));
            let fewest = tied.map(|(_, parts)| *parts).fold(f64::INFINITY, f64::min);
            let parts = change(&formula, &after).as_f64();
            assert!(parts <= fewest + 1e-6, "seed {seed}: {parts} parts where {fewest} do it");
        }
        let by_parts = look(&problem, &formula, &wish).answer.expect("a formula").formula;
        by_parts_differs += u32::from(odour_points(&problem, &formula, &by_parts, &asked) > least + 1e-3);
    }
    let seen = format!("{feasible} feasible, {infeasible} infeasible, {by_parts_differs} differ by parts");
    println!("{seen}");
    assert!(feasible >= 40 && infeasible >= 10 && by_parts_differs >= 5, "{seen}");
}

const JASMINE: &str = r#"
[descriptors]
floral = "made up"
green = "made up"
indolic = "made up"
fruity = "made up"
[[material]]
name = "Floral"
strength = 10
scores = { floral = 8, fruity = 1 }
[[material]]
name = "Fruit"
strength = 20
scores = { fruity = 7, floral = 1 }
[[material]]
name = "Indolic"
strength = 600
scores = { indolic = 9, floral = 1 }
[[material]]
name = "Green"
strength = 40
scores = { green = 8, floral = 1 }
[[material]]
name = "Solvent"
strength = 0
"#;

const JASMINE_BRIEF: &str = "palette = \"palette.toml\"\n[target]\nfloral = 6\ngreen = 1\nindolic = 3\nfruity = 2\n\
                             [formula]\nstep = 1\n[doses]\n\"Solvent\" = { max = 900 }\n";

/// More green and nothing else: five parts of a strong material are few, and a
/// fifth of all that is smelled.
#[test]
fn more_of_one_note_leaves_the_strong_material_alone() {
    let problem = load(JASMINE, JASMINE_BRIEF);
    let formula = Formula::from_doses(Basis::Neat, &[600.0, 100.0, 6.0, 20.0, 274.0].map(Ppt::from_ppt));
    let wish = Wish { more: vec![1], by: 0.5, ..Wish::default() };
    let of = |answer: permil::solve::Answer| {
        let (was, now) = (evaluate(&problem, &formula).unwrap().profile, answer.evaluation.profile);
        (now[2] - was[2], answer.formula)
    };
    let (indolic, after) = of(adjust(&problem, &formula, &wish, &Control::default()).unwrap().answer.unwrap());
    assert!(indolic.abs() < 0.3, "indolic by {indolic}");
    assert_eq!(after.dose(2), formula.dose(2));
    let (indolic, _) = of(look(&problem, &formula, &wish).answer.unwrap());
    assert!(indolic < -0.5, "by parts indolic moves by {indolic}");
}

/// What is added changes the odour by no more than a tenth more than the least
/// that adding as much as is there can do, and takes nothing out.
#[test]
fn an_addition_changes_the_odour_least() {
    let problem = load(JASMINE, JASMINE_BRIEF);
    let formula = Formula::from_doses(Basis::Neat, &[600.0, 100.0, 6.0, 20.0, 274.0].map(Ppt::from_ppt));
    let (mut seen, mut smaller) = (0, 0);
    for (more, less, by) in [(Some(1), None, 0.5), (None, Some(2), 0.5), (Some(3), Some(2), 0.2), (Some(0), None, 0.4)]
    {
        let wish = Wish { more: more.into_iter().collect(), less: less.into_iter().collect(), by, ..Wish::default() };
        let asked = wish.asked();
        let found = add(&problem, &formula, &wish, 10.0, &Control::default()).expect("no failure");
        let least_grams = pour(&problem, &formula, &wish, 10.0);
        let (answer, grams) = found.found.expect("an addition");
        let (other, other_grams) = least_grams.found.expect("an addition");
        seen += 1;
        reaches(&problem, &formula, &wish, by, &answer.formula);
        let points = |after: &Formula| odour_points(&problem, &formula, after, &asked);
        let smallest = found.smallest.unwrap_or(points(&answer.formula));
        assert!(points(&answer.formula) <= 1.1 * smallest + 1e-6);
        let sum = |grams: &[(usize, f64)]| grams.iter().map(|(_, grams)| grams).sum::<f64>();
        assert!(grams.iter().all(|(_, grams)| *grams > 0.0));
        assert!(sum(&grams) >= sum(&other_grams) - 1e-6, "the fewest grams are the fewest");
        if sum(&other_grams) <= 10.0 {
            assert!(smallest <= points(&other.formula) + 1e-6, "{smallest}, not {}", points(&other.formula));
            smaller += u32::from(points(&answer.formula) < points(&other.formula) - 1e-3);
        }
    }
    assert!(seen == 4 && smaller >= 1, "{seen}, {smaller}");
}
