//! Among formulas that are equally near, the cheapest: against listing every
//! formula, and by hand.

mod support;

use permil::control::Control;
use permil::evaluate::evaluate;
use permil::formula::Formula;
use permil::problem::Problem;
use permil::problem::check::{Checker, SEARCH_TOLERANCE};
use permil::solve::{Method, Status, propose};
use support::listing::{choice_count, choices, list};
use support::random::scenario;

/// The least loss, the least price of the formulas that have it and how many
/// these are, by listing.
fn cheapest_by_listing(problem: &Problem) -> Option<(f64, f64, usize)> {
    choice_count(problem).filter(|&count| count <= 400_000)?;
    let checker = Checker::new(problem);
    let mut all: Vec<(f64, f64)> = Vec::new();
    list(&choices(problem), &mut |doses| {
        let formula = Formula::from_doses(problem.basis, doses);
        if let Ok(evaluation) = evaluate(problem, &formula)
            && checker.breaches(&formula, SEARCH_TOLERANCE).is_empty()
        {
            all.push((evaluation.loss, evaluation.price_per_kg.expect("a price")));
        }
    });
    let best = all.iter().map(|(loss, _)| *loss).fold(f64::INFINITY, f64::min);
    let tied: Vec<f64> =
        all.iter().filter(|(loss, _)| *loss <= best + 0.5e-7 * best.max(1.0)).map(|(_, price)| *price).collect();
    best.is_finite().then(|| (best, tied.iter().copied().fold(f64::INFINITY, f64::min), tied.len()))
}

/// A scenario of which the first materials have a twin of another price, so that
/// there are many formulas of one smell.
fn with_twins(seed: u64) -> Problem {
    let (palette, brief) = scenario(seed);
    let (head, materials) = palette.split_once("[[material]]").expect("a material");
    let mut text = format!("{head}[[material]]{materials}");
    for (at, block) in materials.split("[[material]]").take(2).enumerate() {
        let name = format!("name = \"M{at}\"");
        let price = block.lines().find(|line| line.starts_with("price")).expect("a price");
        let other = format!("price = {}", 1 + (seed * 37 + at as u64 * 61) % 150);
        text +=
            &format!("[[material]]{}", block.replace(&name, &format!("name = \"Twin{at}\"")).replace(price, &other));
    }
    support::load(&text, &brief)
}

#[test]
fn no_formula_of_equal_loss_is_cheaper() {
    let (mut seen, mut tied) = (0, 0);
    for seed in 0..600 {
        let problem = with_twins(seed);
        let Some((loss, price, count)) = cheapest_by_listing(&problem) else { continue };
        seen += 1;
        for method in [Method::Auto, Method::Search] {
            let solution = propose(&problem, method, &Control::default()).expect("a solution");
            assert_eq!(solution.status, Status::Optimal, "seed {seed}");
            assert!(solution.is_cheapest, "seed {seed}: not proven");
            let found = solution.answer.expect("a formula").evaluation;
            assert!((found.loss - loss).abs() <= 1e-6 * loss.max(1.0), "seed {seed}: {} not {loss}", found.loss);
            let has = found.price_per_kg.expect("a price");
            assert!((has - price).abs() <= 1e-6 * price.max(1.0), "seed {seed}: {has} where {price} is as near");
        }
        tied += u32::from(count > 1);
    }
    assert!(seen >= 40 && tied >= 20, "{seen}, {tied}");
}

const PALETTE: &str = r#"
[descriptors]
rosy = "made up"
green = "made up"
[[material]]
name = "Petal"
strength = 10
scores = { rosy = 8 }
price = 60
[[material]]
name = "Leaf"
strength = 10
scores = { green = 8 }
price = 40
[[material]]
name = "Weak petal"
strength = 2
scores = { rosy = 8 }
price = 4
[[material]]
name = "Weak leaf"
strength = 2
scores = { green = 8 }
price = 10
"#;

/// Half rosy, half green: strong at 50 a kilo, weak at 7, and everything that is
/// mixed of both. Without a word on strength the weak pair is as near.
#[test]
fn the_cheap_pair_is_as_near_as_the_dear_one() {
    for step in ["", "[formula]\nstep = 1\n", "[formula]\nstep = 10\nmin_dose = 50\nmax_materials = 2\n"] {
        let brief = format!("palette = \"palette.toml\"\n[target]\nrosy = 5\ngreen = 5\n{step}");
        let problem = support::load(PALETTE, &brief);
        let solution = propose(&problem, Method::Auto, &Control::default()).expect("a solution");
        let found = solution.answer.expect("a formula").evaluation;
        assert!(found.loss <= 1e-6 && solution.is_cheapest, "{step}");
        assert!((found.price_per_kg.expect("a price") - 7.0).abs() < 1e-3, "{step}: {:?}", found.price_per_kg);
    }
}

/// A price that is not known is no price of 0.
#[test]
fn without_a_price_nothing_is_called_cheapest() {
    let palette = PALETTE.replace("price = 10\n", "");
    let problem =
        support::load(&palette, "palette = \"palette.toml\"\n[target]\nrosy = 5\ngreen = 5\n[formula]\nstep = 1\n");
    let solution = propose(&problem, Method::Auto, &Control::default()).expect("a solution");
    assert!(!solution.is_cheapest && solution.status == Status::Optimal);
}

/// A continuous answer holds nothing that no balance tells from none.
#[test]
fn a_continuous_answer_has_no_traces() {
    let mut seen = 0;
    for seed in 0..160 {
        let (palette, brief) = scenario(seed);
        let problem = support::load(&palette, &brief).relaxed();
        let Some(answer) = propose(&problem, Method::Auto, &Control::default()).expect("a solution").answer else {
            continue;
        };
        seen += 1;
        for (material, dose) in &answer.formula.parts {
            if dose.as_f64() < 1e-3 {
                // It would be missed: whatever takes its place, a rule breaks or
                // the loss rises.
                for (taker, _) in answer.formula.parts.iter().filter(|(other, _)| other != material) {
                    let mut parts = answer.formula.parts.clone();
                    parts.retain(|(other, _)| other != material);
                    parts.iter_mut().filter(|(other, _)| other == taker).for_each(|part| part.1 = part.1 + *dose);
                    let without = Formula { parts, ..answer.formula.clone() };
                    let loss = evaluate(&problem, &without).map_or(f64::INFINITY, |it| it.loss);
                    let breaks = !Checker::new(&problem).breaches(&without, SEARCH_TOLERANCE).is_empty();
                    assert!(breaks || loss > answer.evaluation.loss + 0.9e-7, "seed {seed}: {dose} of {material}");
                }
            }
        }
    }
    assert!(seen >= 80, "{seen}");
}
