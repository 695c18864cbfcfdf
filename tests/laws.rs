//! Briefs judged by the compressive law or by the worse of both: against listing every
//! formula, against a local search from many places, and against what is forbidden to
//! them.

mod support;

use permil::brief::{Law, Laws};
use permil::chance::Chance;
use permil::control::Control;
use permil::evaluate::evaluate;
use permil::formula::Formula;
use permil::problem::Problem;
use permil::problem::check::{Checker, SEARCH_TOLERANCE};
use permil::solve::{Failure, Method, Start, Status, propose, propose_from};
use permil::units::Ppt;
use proptest::prelude::*;
use support::listing::least_by_listing;
use support::random::scenario;

const CASES: u64 = 240;

fn problem(seed: u64, laws: Laws) -> Problem {
    let (palette, brief) = scenario(seed);
    support::load(&palette, &format!("law = \"{}\"\n{brief}", laws.word()))
}

/// The tree's answer is the best of the list, and so is the verdict that there is none.
fn agrees_with_listing(laws: Laws) {
    let (mut feasible, mut infeasible, mut other) = (0, 0, 0);
    for seed in 0..CASES {
        let problem = problem(seed, laws);
        assert_eq!(problem.views.len(), laws.each().len());
        let Some(best) = least_by_listing(&problem) else { continue };
        let solution = propose(&problem, Method::Auto, &Control::default()).expect("a solution");
        if best.is_finite() {
            feasible += 1;
            assert_eq!(solution.status, Status::Optimal, "seed {seed}: listing finds {best}");
            let answer = solution.answer.expect("a formula");
            let loss = answer.evaluation.loss;
            assert!((loss - best).abs() <= 1e-6 * best.max(1.0), "seed {seed}: {loss} instead of {best}");
            let bound = solution.bound.expect("a bound");
            assert!(bound <= best + 1e-12, "seed {seed}: the bound {bound} lies above the best loss {best}");
            // By the linear law another formula is the best more often than not.
            let linear =
                propose(&problem.by_laws(Laws::Linear), Method::Auto, &Control::default()).expect("a solution");
            let its = evaluate(&problem, &linear.answer.expect("a formula").formula).expect("an odour").loss;
            other += u32::from(its > best * (1.0 + 1e-6) + 1e-9);
        } else {
            infeasible += 1;
            assert_eq!(solution.status, Status::Infeasible, "seed {seed}: listing finds nothing");
        }
    }
    assert!(feasible >= 80 && infeasible >= 20, "{feasible} feasible, {infeasible} infeasible");
    assert!(other >= 30, "{other} differ from the linear law");
}

#[test]
fn the_compressive_law_finds_what_listing_finds() {
    agrees_with_listing(Laws::Compressive);
}

#[test]
fn both_laws_find_what_listing_finds() {
    agrees_with_listing(Laws::Both);
}

/// The worse of both laws is what counts.
#[test]
fn the_worse_law_counts() {
    let mut by = [0, 0];
    for seed in 0..60 {
        let both = problem(seed, Laws::Both);
        let Some(answer) = propose(&both, Method::Auto, &Control::default()).expect("a solution").answer else {
            continue;
        };
        let each = [Laws::Linear, Laws::Compressive]
            .map(|law| evaluate(&both.by_laws(law), &answer.formula).expect("an odour"));
        let losses = each.map(|evaluation| evaluation.loss);
        assert_eq!(answer.evaluation.loss, losses[0].max(losses[1]), "seed {seed}");
        assert_eq!(answer.evaluation.views.iter().map(|view| view.loss).collect::<Vec<f64>>(), losses);
        by[answer.evaluation.worst] += 1;
        assert_eq!(both.views[answer.evaluation.worst].law, Law::ALL[answer.evaluation.worst]);
    }
    assert!(by[0] >= 10 && by[1] >= 10, "{by:?}");
}

/// A ceiling at or below the best loss ends in the proof that nothing is below it.
#[test]
fn a_ceiling_hides_nothing_below_it() {
    let mut seen = 0;
    for seed in 0..80 {
        let problem = problem(seed, Laws::Compressive);
        let solution = propose(&problem, Method::Auto, &Control::default()).expect("a solution");
        let Some(best) = solution.answer.map(|answer| answer.evaluation.loss) else { continue };
        let below = |ceiling: f64| {
            let start = Start { ceiling: Some(ceiling), ..Start::default() };
            propose_from(&problem, &start, Method::Auto, &Control::default()).expect("a solution")
        };
        let found = below(best + 0.01).answer.expect("a formula").evaluation.loss;
        assert!((found - best).abs() <= 1e-6 * best.max(1.0), "seed {seed}: {found} instead of {best}");
        if best > 1e-3 {
            seen += 1;
            let none = below(best * 0.9);
            assert!(none.answer.is_none() && none.status == Status::Unknown, "seed {seed}");
            let bound = none.bound.expect("a bound");
            assert!(bound >= best * 0.9 - 2e-6 * best.max(1.0) && bound <= best + 1e-9, "seed {seed}: {bound}");
        }
    }
    assert!(seen >= 20, "{seen}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, rng_seed: proptest::test_runner::RngSeed::Fixed(19), failure_persistence: None, ..ProptestConfig::default() })]

    /// Stopped anywhere, no bound lies above the best of the list.
    #[test]
    fn no_bound_lies_above_the_best(seed in 1000_u64..4000, nodes in 1_u64..12, both in any::<bool>()) {
        let problem = problem(seed, if both { Laws::Both } else { Laws::Compressive });
        if let Some(best) = least_by_listing(&problem) {
            let control = Control { node_limit: Some(nodes), ..Control::default() };
            let solution = propose(&problem, Method::Auto, &control).expect("a solution");
            prop_assert!(solution.bound.is_none_or(|bound| bound <= best + 1e-12), "{:?} {best}", solution.bound);
            prop_assert!(best.is_finite() || solution.answer.is_none());
        }
    }
}

/// Continuous doses: from many places a local search that knows nothing of the tree
/// never beats what the tree has proven, and comes near what it has found.
#[test]
fn no_local_search_beats_what_is_proven() {
    let palette = "[descriptors]\nrosy = \"r\"\ngreen = \"g\"\nwoody = \"w\"\n\
        [[material]]\nname = \"A\"\nstrength = 40\nscores = { rosy = 8, green = 2 }\n\
        [[material]]\nname = \"B\"\nstrength = 300\nscores = { rosy = 3, woody = 6 }\n\
        [[material]]\nname = \"C\"\nstrength = 5\nscores = { green = 7, woody = 3 }\n\
        [[material]]\nname = \"D\"\nstrength = 90\nscores = { green = 9 }\n\
        [[material]]\nname = \"E\"\nstrength = 12\nscores = { rosy = 5, woody = 5 }\n";
    let mut random = Chance::new(19, 0);
    let mut proven = 0;
    for (case, matching) in ["balance", "level", "balance", "level"].into_iter().enumerate() {
        for laws in [Laws::Compressive, Laws::Both] {
            let [rosy, green, woody] = [(); 3].map(|()| random.between(1.0, 8.0).round());
            let brief = format!(
                "palette = \"palette.toml\"\nlaw = \"{}\"\nmatch = \"{matching}\"\n\
                 [target]\nrosy = {rosy}\ngreen = {green}\nwoody = {woody}\n[formula]\nmin_dose = 5\nmax_materials = 4\n\
                 [doses]\nA = {{ max = 300 }}\nC = {{ use = \"must\", min = 100 }}\n",
                laws.word()
            );
            let problem = support::load(palette, &brief);
            let control = Control { node_limit: Some(400), ..Control::default() };
            let solution = propose(&problem, Method::Auto, &control).expect("a solution");
            proven += u32::from(solution.status == Status::Optimal);
            let (bound, answer) = (solution.bound.expect("a bound"), solution.answer.expect("a formula"));
            let own = answer.evaluation.loss;
            let found = (0..15).map(|_| descended(&problem, &mut random)).fold(f64::INFINITY, f64::min);
            println!(
                "case {case} {}: {own} found, {bound} proven, {found} by descent, {:?}",
                laws.word(),
                solution.status
            );
            assert!(found >= bound - 1e-9, "case {case}: {found} beats {bound}, which is proven");
            assert!(found <= own * 1.2 + 0.2, "case {case}: the local search is of no use, {found} beside {own}");
            assert!(own <= found + 0.02 * found.max(1.0), "case {case}: {own}, and a local search has {found}");
        }
    }
    assert!(proven >= 2, "{proven} proven");
}

/// The loss that a local search over continuous doses ends with, from a place drawn.
fn descended(problem: &Problem, random: &mut Chance) -> f64 {
    let checker = Checker::new(problem);
    let n = problem.columns.len();
    let loss = |doses: &[Ppt]| {
        let formula = Formula::from_doses(problem.basis, doses);
        let kept = checker.breaches(&formula, SEARCH_TOLERANCE).is_empty();
        if kept {
            evaluate(problem, &formula).map_or(f64::INFINITY, |evaluation| evaluation.loss)
        } else {
            f64::INFINITY
        }
    };
    let mut best = (f64::INFINITY, vec![Ppt::ZERO; n]);
    for _ in 0..40 {
        let out = random.between(0.0, n as f64) as usize;
        let parts: Vec<f64> = (0..n).map(|k| if k == out { 0.0 } else { random.between(0.0, 1.0) }).collect();
        let sum: f64 = parts.iter().sum();
        let mut doses: Vec<Ppt> = parts.iter().map(|part| Ppt::from_ppt(1000.0 * part / sum)).collect();
        let rest = Ppt::WHOLE - doses.iter().copied().sum();
        let last = if out == n - 1 { n - 2 } else { n - 1 };
        doses[last] = doses[last] + rest;
        let here = loss(&doses);
        if here < best.0 {
            best = (here, doses);
        }
    }
    let mut by = Ppt::from_ppt(100.0);
    while by > Ppt::from_ppt(1e-4) && best.0.is_finite() {
        let mut moved = false;
        for to in 0..n {
            for from in (0..n).filter(|&from| from != to) {
                let mut doses = best.1.clone();
                let step = by.min(doses[from]);
                (doses[to], doses[from]) = (doses[to] + step, doses[from] - step);
                let here = loss(&doses);
                if here < best.0 - 1e-9 {
                    best = (here, doses);
                    moved = true;
                }
            }
        }
        // Kinks hold moves of two doses fast; three at once slip along them.
        for _ in 0..150 {
            let [a, b, c] = [(); 3].map(|()| random.between(0.0, n as f64) as usize);
            let [one, two] = [(); 2].map(|()| Ppt::from_ppt(random.between(-1.0, 1.0) * by.as_f64()));
            let mut doses = best.1.clone();
            doses[a] = doses[a] + one;
            doses[b] = doses[b] + two;
            doses[c] = doses[c] - one - two;
            let here = if doses.iter().all(|dose| *dose >= Ppt::ZERO) { loss(&doses) } else { f64::INFINITY };
            if here < best.0 - 1e-9 {
                best = (here, doses);
                moved = true;
            }
        }
        if !moved {
            by = Ppt::from_units(by.units() / 2);
        }
    }
    best.0
}

/// The number of threads and a second run change nothing.
#[test]
fn the_answer_is_the_same_on_any_number_of_threads() {
    let (palette, brief) = scenario(7);
    let problem = support::load(&palette, &format!("law = \"both\"\n{brief}"));
    let answers = [Some(1), Some(2), None].map(|threads| {
        let control = Control { threads, ..Control::default() };
        let solution = propose(&problem, Method::Auto, &control).expect("a solution");
        (solution.answer.map(|answer| answer.formula), solution.bound, solution.nodes)
    });
    assert!(answers[0] == answers[1] && answers[1] == answers[2]);
}

/// What the tree cannot take is refused in words.
#[test]
fn what_cannot_be_taken_is_refused_in_words() {
    let palette = "[descriptors]\nrosy = \"r\"\n[[material]]\nname = \"A\"\nstrength = 40\nscores = { rosy = 8 }\n\
        [[material]]\nname = \"B\"\nstrength = 1\nscores = { rosy = 3 }\n";
    let brief =
        "palette = \"palette.toml\"\nlaw = \"compressive\"\n[target]\nrosy = 5\n[formula]\nstep = 1\nmax_idle = 20\n";
    let refused = propose(&support::load(palette, brief), Method::Auto, &Control::default());
    let Err(Failure::Unsupported(why)) = refused else { panic!("{refused:?}") };
    assert!(why.contains("max_idle"), "{why}");
}
