//! What stands in for an ingredient: by hand, and against listing every
//! formula that the wish allows.

mod support;

use permil::analysis::replace::{ALTERNATIVES, Replace, Wish, replace};
use permil::brief::{Basis, Brief};
use permil::control::Control;
use permil::evaluate::evaluate;
use permil::files;
use permil::formula::Formula;
use permil::problem::check::{Checker, SEARCH_TOLERANCE};
use permil::problem::{Problem, RuleKind};
use permil::solve::backend::Backend;
use permil::solve::{Method, Status, propose};
use permil::units::Ppt;
use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use support::assert_close;
use support::listing::{choice_count, choices, list};
use support::random::scenario;

fn ppt(value: f64) -> Ppt {
    Ppt::from_ppt(value)
}

fn load(palette: &str, brief: &str) -> (Problem, Brief) {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("palette.toml"), palette).expect("written");
    std::fs::write(folder.path().join("brief.toml"), brief).expect("written");
    let scenario = files::load_scenario(&folder.path().join("brief.toml")).expect("no faults");
    (Problem::new(scenario.palette, &scenario.brief, &scenario.limits), scenario.brief)
}

fn formula(problem: &Problem, parts: &[(&str, f64)]) -> Formula {
    let mut doses = vec![Ppt::ZERO; problem.palette.materials.len()];
    for (name, dose) in parts {
        doses[material(problem, name)] = ppt(*dose);
    }
    Formula::from_doses(problem.basis, &doses)
}

fn material(problem: &Problem, name: &str) -> usize {
    problem.palette.materials.iter().position(|it| it.name == name).expect("a material")
}

fn ask(own: &Problem, before: &Formula, wish: &Wish) -> Replace {
    replace(own, before, &[], wish, Method::Auto, &Control::default(), &|_, _| {}).expect("an answer")
}

const PALETTE: &str = r#"
[descriptors]
rosy = "rose"
green = "leaf"
woody = "wood"
musky = "musk"

[[material]]
name = "Petal"
strength = 10
scores = { rosy = 8 }
price = 20

[[material]]
name = "Leaf"
strength = 10
scores = { green = 8 }
price = 40

[[material]]
name = "Cedar"
strength = 10
scores = { woody = 8 }
price = 30

[[material]]
name = "Musk"
strength = 10
scores = { musky = 8 }
price = 90

[[material]]
name = "Pine"
strength = 10
scores = { woody = 6, green = 2 }
price = 15

[[material]]
name = "Vetiver"
strength = 20
scores = { woody = 8 }
price = 80

[[material]]
name = "Water"
strength = 0
price = 1
"#;

/// In balance with all totals alike the profile is the shares of the odour.
/// Half rosy, 3/10 green and 2/10 woody; Cedar goes and leaves 200 parts.
///
/// - Pine in its place: woody 15, green 35 %: 5 points too few, 5 too many of
///   100: keeps 95 %.
/// - Vetiver, twice as strong: 500, 300 and 400 of 1200: rosy 41.7, green 25,
///   woody 33.3 %: 13.3 points moved: keeps 86.7 %.
/// - Musk: no wood, 20 % musk: keeps 80 %.
#[test]
fn the_nearest_of_a_few_worked_by_hand() {
    for matching in ["balance", "level"] {
        let brief = format!("palette = \"palette.toml\"\nmatch = \"{matching}\"\n[target]\nrosy = 8\n");
        let (problem, brief) = load(PALETTE, &brief);
        let before = formula(&problem, &[("Petal", 500.0), ("Leaf", 300.0), ("Cedar", 200.0)]);
        let own = problem.with_profile_of(&brief, &before).expect("an odour");
        let wish = Wish { out: vec![material(&problem, "Cedar")], new: 1, ..Wish::default() };
        let found = ask(&own, &before, &wish);
        assert_eq!(found.solution.status, Status::Optimal);
        let answer = found.solution.answer.expect("a formula");
        assert_eq!(
            answer.formula.parts,
            formula(&problem, &[("Petal", 500.0), ("Leaf", 300.0), ("Pine", 200.0)]).parts
        );
        let ranked: Vec<(&str, f64)> = found
            .alternatives
            .iter()
            .map(|it| (problem.material(it.material).name.as_str(), it.answer.evaluation.fidelity_percent))
            .collect();
        // By level nothing is shared twice: what is missing and what is too
        // much both count against the target's total.
        let kept = |moved: f64| if matching == "balance" { 100.0 - moved } else { 100.0 - 2.0 * moved };
        for ((name, fidelity), (wanted, moved)) in
            ranked.iter().zip([("Pine", 5.0), ("Vetiver", 100.0 / 7.5), ("Musk", 20.0)])
        {
            assert_eq!((*name, ranked.len()), (wanted, 3));
            assert_close(*fidelity, kept(moved), 1e-6, name);
        }

        // Two new ones do it without a trace: half the mass of Vetiver is as
        // strong as Cedar, but the doses of the others stay.
        let free = Wish { free: 2, ..wish.clone() };
        let found = ask(&own, &before, &free);
        let answer = found.solution.answer.expect("a formula");
        assert_close(answer.evaluation.fidelity_percent, 100.0, 1e-6, "Vetiver, the others moved");
        // Vetiver at 1000 / 9 parts does it as well as Pine at 800 / 3, which
        // costs less.
        let new = ["Vetiver", "Pine"].map(|name| answer.formula.dose(material(&problem, name)).as_f64());
        let one = |doses: [f64; 2]| new.iter().zip(doses).all(|(dose, wanted)| (dose - wanted).abs() < 1e-3);
        assert!(one([1000.0 / 9.0, 0.0]) || one([0.0, 800.0 / 3.0]), "{new:?}");
        // A carrier that the brief names fills up, and is not counted.
        let brief_with_water = format!(
            "palette = \"palette.toml\"\nmatch = \"{matching}\"\n[target]\nrosy = 8\n[doses]\n\"Water\" = {{ max = 900 }}\n"
        );
        let (problem, brief) = load(PALETTE, &brief_with_water);
        let own = problem.with_profile_of(&brief, &before).expect("an odour");
        let found = ask(&own, &before, &wish);
        let answer = found.solution.answer.expect("a formula");
        let wanted = [("Petal", 500.0), ("Leaf", 300.0), ("Vetiver", 100.0), ("Water", 100.0)];
        for (name, dose) in wanted {
            assert_close(answer.formula.dose(material(&problem, name)).as_f64(), dose, 1e-6, name);
        }
    }
}

/// A trace that stays is all or nothing, however little of it there is, and a
/// dose that the brief fixes off its grid leaves no sum of 1000 in whole steps.
#[test]
fn traces_and_fixed_doses_beside_ones_that_move() {
    let (problem, brief) = load(PALETTE, "palette = \"palette.toml\"\n[target]\nrosy = 8\n");
    let before = formula(&problem, &[("Petal", 0.000001), ("Leaf", 400.25), ("Cedar", 599.749999)]);
    let own = problem.with_profile_of(&brief, &before).expect("an odour");
    let wish = |free| Wish { out: vec![material(&problem, "Leaf")], new: 1, free, ..Wish::default() };
    // Pine for Leaf, and less of Cedar: 4/10 of the profile stay green at most
    // as far as Pine is green. Letting the trace move as well adds nothing.
    let losses = [0, 1, 2].map(|free| {
        let solution = ask(&own, &before, &wish(free)).solution;
        assert_eq!(solution.status, Status::Optimal, "{free} move");
        solution.answer.expect("a formula").evaluation.loss
    });
    assert!(losses[1] < losses[0] - 1e-3, "{losses:?}");
    assert_close(losses[2], losses[1], 1e-6, "a trace more or less");

    let fixed = "palette = \"palette.toml\"\n[target]\nrosy = 8\n[formula]\nstep = 1\n[doses]\n\"Petal\" = { fixed = 250.25 }\n\"Musk\" = { step = 0.5 }\n";
    let (problem, brief) = load(PALETTE, fixed);
    let before = formula(&problem, &[("Petal", 250.25), ("Leaf", 649.25), ("Musk", 100.5)]);
    let own = problem.with_profile_of(&brief, &before).expect("an odour");
    let wish = Wish { out: vec![material(&problem, "Musk")], new: 2, free: 1, ..Wish::default() };
    assert_eq!(ask(&own, &before, &wish).solution.status, Status::Infeasible);
    // Without the step of Musk nothing is out of reach: it may be lowered.
    let wish = Wish { lowered: vec![(material(&problem, "Musk"), ppt(80.0))], new: 1, free: 0, ..Wish::default() };
    let answer = ask(&own, &before, &wish).solution.answer.expect("a formula");
    assert_eq!(answer.formula.dose(material(&problem, "Musk")).units() % ppt(0.5).units(), 0);
}

#[test]
fn nothing_out_changes_nothing() {
    for (brief, old) in [("rose-otto", "mod-1.toml"), ("six-materials", "formula.toml")] {
        let folder = std::path::Path::new("profiles").join(brief);
        let scenario = files::load_scenario(&folder.join("brief.toml")).expect("no faults");
        let problem = Problem::new(scenario.palette, &scenario.brief, &scenario.limits);
        let before = files::load_formula(&folder.join(old), &problem.palette).expect("no faults");
        let own = problem.with_profile_of(&scenario.brief, &before).expect("an odour");
        let first = before.parts[0];
        for wish in [
            Wish { new: 1, ..Wish::default() },
            Wish { new: 3, free: 2, lowered: vec![(first.0, first.1)], ..Wish::default() },
        ] {
            let found = ask(&own, &before, &wish);
            let answer = found.solution.answer.expect("a formula");
            assert_eq!((found.solution.status, answer.formula), (Status::Optimal, before.clone()));
            assert_close(answer.evaluation.fidelity_percent, 100.0, 1e-9, "its own profile");
        }
    }
}

/// Rules on the profile count the brief's points, whatever the formula's own
/// profile adds up to.
#[test]
fn rules_on_the_profile_stay_the_briefs_own() {
    let brief = "palette = \"palette.toml\"\n[target]\nrosy = 4\ngreen = { score = 4, max = 1.5 }\nwoody = 2\n";
    let (problem, brief) = load(PALETTE, brief);
    // The target adds up to 10 in the brief and to 8 in the formula.
    let before = formula(&problem, &[("Petal", 600.0), ("Leaf", 200.0), ("Musk", 200.0)]);
    let own = problem.with_profile_of(&brief, &before).expect("an odour");
    let wish = Wish { out: vec![material(&problem, "Musk")], new: 1, free: 9, ..Wish::default() };
    let answer = ask(&own, &before, &wish).solution.answer.expect("a formula");
    // A fifth of it was green; 1.5 of the brief's 10 points are allowed.
    let judged = evaluate(&problem, &answer.formula).expect("an odour");
    assert_close(judged.profile[1], 1.5, 1e-6, "green, at its ceiling");
}

/// The least loss of all formulas that a wish allows, by listing. `None` where
/// there are too many.
fn by_listing(own: &Problem, before: &Formula, wish: &Wish, only: Option<usize>) -> Option<f64> {
    let mut choices = choices(own);
    for &(material, dose) in &before.parts {
        // What stays may lie beside every grid.
        if !choices[material].contains(&dose) {
            choices[material].push(dose);
            choices[material].sort();
        }
    }
    if choices.iter().map(Vec::len).try_fold(1usize, usize::checked_mul).is_none_or(|count| count > 3_000_000) {
        return None;
    }
    let mut open = own.clone();
    before.parts.iter().for_each(|(material, _)| open.named[*material] = true);
    let checker = Checker::new(&open);
    let is_new = |material: usize| before.dose(material).is_zero() && !own.material(material).is_carrier();
    let mut best = f64::INFINITY;
    list(&choices, &mut |doses| {
        let formula = Formula::from_doses(Basis::Neat, doses);
        let new: Vec<usize> = formula.parts.iter().map(|(it, _)| *it).filter(|&it| is_new(it)).collect();
        let asked = |material: usize| {
            let lowered = wish.lowered.iter().any(|&(it, most)| it == material && before.dose(it) > most);
            wish.out.contains(&material) || lowered
        };
        let moved = before.parts.iter().filter(|&&(it, dose)| !asked(it) && formula.dose(it) != dose).count();
        let keeps = wish.out.iter().all(|&it| formula.dose(it).is_zero())
            && wish.lowered.iter().all(|&(it, most)| formula.dose(it) <= most || !asked(it))
            && new.len() <= wish.new
            && moved <= wish.free
            && only.is_none_or(|only| new == [only]);
        // A dose that stays sets minimum and step aside.
        let stays = |material: usize| !asked(material) && formula.dose(material) == before.dose(material);
        let broken = |rule: &RuleKind| match rule {
            RuleKind::DoseMin(material) | RuleKind::DoseStep(material) => is_new(*material) || !stays(*material),
            _ => true,
        };
        if keeps
            && let Ok(evaluation) = evaluate(own, &formula)
            && evaluation.loss < best
            && !checker.breaches(&formula, SEARCH_TOLERANCE).iter().any(|it| broken(&open.rules[it.rule].kind))
        {
            best = evaluation.loss;
        }
    });
    Some(best)
}

#[test]
fn replacements_equal_listing() {
    let (mut feasible, mut infeasible, mut ranked) = (0, 0, 0);
    for seed in 0..400 {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let (palette, brief) = scenario(seed);
        let (problem, brief) = load(&palette, &brief);
        let Some(best) = propose(&problem, Method::Auto, &Control::default()).expect("a solution").answer else {
            continue;
        };
        let mut before = best.formula;
        // Now and then a formula that lies beside the grid.
        if seed % 3 == 0 && before.parts.len() > 1 {
            before.parts[0].1 = before.parts[0].1 + ppt(2.5);
            before.parts[1].1 = before.parts[1].1 - ppt(2.5);
        }
        let Some(own) = problem.with_profile_of(&brief, &before) else { continue };
        let &(first, dose) = before.parts.choose(&mut random).expect("a part");
        let mut wish = Wish { new: random.random_range(1..=2), free: random.random_range(0..=2), ..Wish::default() };
        if random.random_bool(0.3) {
            wish.lowered.push((first, ppt((dose.as_f64() * random.random_range(0.3..0.9)).round())));
        } else {
            wish.out.push(first);
        }
        let Some(wanted) = by_listing(&own, &before, &wish, None) else { continue };
        let found = ask(&own, &before, &wish);
        let what = format!("seed {seed}, {wish:?}");
        if wanted.is_infinite() {
            infeasible += 1;
            assert_eq!(found.solution.status, Status::Infeasible, "{what}");
            continue;
        }
        feasible += 1;
        assert_eq!(found.solution.status, Status::Optimal, "{what}: listing finds {wanted}");
        let loss = found.solution.answer.expect("a formula").evaluation.loss;
        assert!((loss - wanted).abs() <= 2e-6 * wanted.max(1.0), "{what}: {loss}, not {wanted}");

        // A borrowed solver is given the same counts of what moves and comes in.
        if seed % 8 == 0 {
            let borrowed = propose(&found.rules, Method::Borrowed(Backend::Microlp), &Control::default());
            let answer = borrowed.expect("a solution").answer.expect("a formula");
            let loss = answer.evaluation.loss;
            assert!(
                (loss - wanted).abs() <= 2e-6 * wanted.max(1.0),
                "{what}: {loss} by a borrowed solver, not {wanted}"
            );
        }

        // The alternatives are the best single ones, in their order.
        let single = Wish { new: 1, ..wish.clone() };
        let of = |material: usize| by_listing(&own, &before, &single, Some(material)).unwrap_or(f64::INFINITY);
        let new =
            (0..problem.columns.len()).filter(|&it| before.dose(it).is_zero() && !problem.material(it).is_carrier());
        let mut losses: Vec<f64> = new.map(of).filter(|loss| loss.is_finite()).collect();
        losses.sort_by(f64::total_cmp);
        losses.truncate(ALTERNATIVES);
        assert!(found.is_complete && losses.len() == found.alternatives.len(), "{what}: {losses:?}");
        for (wanted, alternative) in losses.iter().zip(&found.alternatives) {
            let loss = alternative.answer.evaluation.loss;
            assert!((loss - wanted).abs() <= 2e-6 * wanted.max(1.0), "{what}: {loss}, not {wanted}");
            ranked += 1;
        }
    }
    assert!(feasible >= 60 && infeasible >= 15 && ranked >= 60, "{feasible}, {infeasible}, {ranked}");
}

/// What the first step of a replacement allows, by listing: the largest dose, or
/// a carrier, makes up the sum; beside it the others stay, or keep their
/// proportions to half of a step.
fn first_stage_by_listing(own: &Problem, before: &Formula, out: usize) -> Option<f64> {
    let mut open = own.clone();
    before.parts.iter().for_each(|(material, _)| open.named[*material] = true);
    if choice_count(&open).is_none_or(|count| count > 400_000) {
        return None;
    }
    let others: Vec<usize> = before.parts.iter().map(|(it, _)| *it).filter(|&it| it != out).collect();
    let largest = |of: &[usize]| of.iter().copied().max_by_key(|&it| before.dose(it));
    let carriers: Vec<usize> = others.iter().copied().filter(|&it| own.material(it).is_carrier()).collect();
    let filler = largest(&carriers).or(largest(&others))?;
    let kept: Vec<usize> = others.iter().copied().filter(|&it| it != filler).collect();
    let checker = Checker::new(&open);
    let steps = open.dose_rules();
    let mut best = f64::INFINITY;
    list(&choices(&open), &mut |doses| {
        let formula = Formula::from_doses(Basis::Neat, doses);
        let dose = |it: usize| formula.dose(it).as_f64();
        let is_new = |it: usize| before.dose(it).is_zero() && !own.material(it).is_carrier();
        let new = formula.parts.iter().filter(|(it, _)| is_new(*it)).count();
        let fits = if carriers.is_empty() {
            let Some(reference) = largest(&kept) else { return };
            let grown = dose(reference) / before.dose(reference).as_f64();
            kept.iter().all(|&it| {
                let wanted = grown * before.dose(it).as_f64();
                let room = grown * (steps[it].step.as_f64() / 2.0).min(before.dose(it).as_f64());
                dose(it) > 0.0 && (it == reference || (dose(it) - wanted).abs() <= room + 1e-9)
            }) && dose(filler) > 0.0
        } else {
            kept.iter().all(|&it| formula.dose(it) == before.dose(it))
        };
        if dose(out) == 0.0
            && new <= 1
            && fits
            && let Ok(evaluation) = evaluate(own, &formula)
            && evaluation.loss < best
            && checker.breaches(&formula, SEARCH_TOLERANCE).is_empty()
        {
            best = evaluation.loss;
        }
    });
    Some(best)
}

#[test]
fn the_first_step_equals_listing_and_what_fails_widens() {
    let (mut first, mut widened, mut none) = (0, 0, 0);
    for seed in 0..500 {
        let (palette, brief) = scenario(seed);
        // Two grids and fixed doses beside them belong to other tests.
        if brief.contains("fixed") {
            continue;
        }
        let (problem, brief) = load(&palette, &brief);
        let Some(best) = propose(&problem, Method::Auto, &Control::default()).expect("a solution").answer else {
            continue;
        };
        let before = best.formula;
        if before.parts.len() < 3 {
            continue;
        }
        let Some(own) = problem.with_profile_of(&brief, &before) else { continue };
        let out = before.parts[seed as usize % before.parts.len()].0;
        let Some(wanted) = first_stage_by_listing(&own, &before, out) else { continue };
        let wish = Wish { out: vec![out], new: 1, free: 0, widens: true, ..Wish::default() };
        let found = ask(&own, &before, &wish);
        let what = format!("seed {seed}, without {out}");
        if wanted.is_finite() {
            first += 1;
            assert!(found.not_enough.is_empty(), "{what}: listing finds {wanted}");
            assert_eq!(found.solution.status, Status::Optimal, "{what}");
            let loss = found.solution.answer.expect("a formula").evaluation.loss;
            assert!((loss - wanted).abs() <= 2e-6 * wanted.max(1.0), "{what}: {loss}, not {wanted}");
        } else if let Some(answer) = found.solution.answer {
            widened += 1;
            assert!(!found.not_enough.is_empty(), "{what}: listing finds nothing at first");
            assert!(answer.formula.dose(out).is_zero(), "{what}");
            let moved = before.parts.iter().filter(|&&(it, dose)| it != out && answer.formula.dose(it) != dose).count();
            assert!(moved <= found.stage.free + 1, "{what}: {moved} move, {:?}", found.stage);
        } else {
            none += 1;
            assert_eq!(found.not_enough.len(), 3, "{what}: all was tried");
        }
    }
    assert!(first >= 20 && widened >= 5, "{first} at once, {widened} widened, {none} not at all");
}

/// Leaf is ten times as strong as what goes: a tenth of it is enough, and what
/// is left over falls to everything else alike.
#[test]
fn a_strong_material_does_not_stand_in_weight_for_weight() {
    let palette = PALETTE.replace("name = \"Pine\"\nstrength = 10", "name = \"Pine\"\nstrength = 100");
    let palette = palette.replace("scores = { woody = 6, green = 2 }", "scores = { woody = 8 }");
    let palette = palette.replace("strength = 20\nscores = { woody = 8 }", "strength = 20\nscores = { musky = 8 }");
    let (problem, brief) = load(&palette, "palette = \"palette.toml\"\n[target]\nrosy = 8\n");
    let before = formula(&problem, &[("Petal", 500.0), ("Leaf", 300.0), ("Cedar", 200.0)]);
    let own = problem.with_profile_of(&brief, &before).expect("an odour");
    let wish = Wish { out: vec![material(&problem, "Cedar")], new: 1, widens: true, ..Wish::default() };
    let found = ask(&own, &before, &wish);
    assert_eq!(found.filler, Some(material(&problem, "Petal")));
    let answer = found.solution.answer.expect("a formula");
    assert_close(answer.evaluation.fidelity_percent, 100.0, 1e-6, "its own profile");
    assert_close(answer.formula.dose(material(&problem, "Pine")).as_f64(), 20.0 / 0.82, 1e-3, "Pine");
    assert_close(answer.formula.dose(material(&problem, "Leaf")).as_f64(), 300.0 / 0.82, 1e-3, "Leaf");
}
