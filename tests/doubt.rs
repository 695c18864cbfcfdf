//! The doubt of a fidelity: draws against the plain evaluation of drawn palettes
//! and, where errors are small, against first order; what every report tells
//! against the answer of `doubt`; shares against functions with published answers.

mod support;

use std::collections::BTreeMap;
use std::f64::consts::PI;
use std::sync::Arc;

use permil::analysis::doubt::draws::{Asked, Doubt, doubt};
use permil::analysis::doubt::number::Number;
use permil::analysis::doubt::sample::{BLOCK, Sampler};
use permil::analysis::doubt::shares::{Share, Sums};
use permil::analysis::doubt::spread::mean_and_sd;
use permil::analysis::doubt::told::{DRAWS, SEED, nearer_percent, told, told_of};
use permil::analysis::doubt::{SCORE_ERROR, STRENGTH_FACTOR, fidelity_deviation, fidelity_moves};
use permil::chance::Chance;
use permil::control::Control;
use permil::evaluate::evaluate;
use permil::files;
use permil::formula::Formula;
use permil::problem::Problem;
use permil::solve::{self, Method};
use permil::units::Ppt;
use support::{assert_close, load};

fn rose() -> Problem {
    let scenario = files::load_scenario("profiles/rose-otto/brief.toml".as_ref()).expect("no faults");
    Problem::new(scenario.palette, &scenario.brief, &scenario.limits)
}

fn mod_1(problem: &Problem) -> Formula {
    files::load_formula("profiles/rose-otto/mod-1.toml".as_ref(), &problem.palette).expect("no faults")
}

fn drawn(problem: &Problem, formulas: &[Formula], draws: usize, threads: usize) -> Doubt {
    let control = Control { threads: Some(threads), ..Control::default() };
    doubt(problem, formulas, Asked { draws, seed: 3, shares: true }, &control).expect("not stopped")
}

/// The problem with all errors so small that first order is all there is.
fn nearly_certain(problem: &Problem, by: f64) -> Problem {
    let mut palette = (*problem.palette).clone();
    for material in &mut palette.materials {
        material.score_error = Some(by * material.score_error.unwrap_or(SCORE_ERROR));
        material.strength_factor = Some(material.strength_factor.unwrap_or(STRENGTH_FACTOR).powf(by));
    }
    problem.with_palette(Arc::new(palette))
}

#[test]
fn each_draw_is_the_evaluation_of_a_drawn_palette() {
    let problem = rose();
    let formula = mod_1(&problem);
    let draws = BLOCK + 7;
    let found = drawn(&problem, std::slice::from_ref(&formula), draws, 1);
    let cloud = &found.clouds[0];
    assert_eq!(cloud.fidelities.len(), draws);
    for (block, draw) in [(0, 0), (0, 17), (0, BLOCK - 1), (1, 6)] {
        let mut palette = (*problem.palette).clone();
        for &(material, _) in &formula.parts {
            let sampler = Sampler::new(&problem, std::iter::once(material));
            let first = &sampler.first(3, block, BLOCK.min(draws - block * BLOCK))[0];
            let drawn = first.draw(draw);
            palette.materials[material].strength = drawn.strength;
            for (target, score) in problem.targets.iter().zip(drawn.scores) {
                assert!((0.0..=palette.scale).contains(score));
                let before = problem.material(material).scores[target.descriptor];
                assert!(before > 0.0 || *score == 0.0, "a score of 0 is certain");
                palette.materials[material].scores[target.descriptor] = *score;
            }
        }
        let changed = problem.with_palette(Arc::new(palette));
        let expected = evaluate(&changed, &formula).expect("an odour").fidelity_percent;
        assert_close(cloud.fidelities[block * BLOCK + draw], expected, 1e-9, "a draw");
    }
}

#[test]
fn small_errors_spread_as_first_order_says() {
    let problem = nearly_certain(&rose(), 0.01);
    let other = problem.with_targets(problem.targets.clone(), permil::brief::Match::Level);
    for problem in [&problem, &other] {
        let one = mod_1(problem);
        let mut doses: Vec<Ppt> = vec![Ppt::ZERO; problem.palette.materials.len()];
        for &(material, dose) in &one.parts {
            doses[material] = if dose > Ppt::from_ppt(100.0) { dose } else { dose + dose };
        }
        let two = Formula::from_doses(one.basis, &doses).rescaled();
        let found = drawn(problem, &[one.clone(), two.clone()], 20_000, 2);
        for (formula, cloud) in [&one, &two].into_iter().zip(&found.clouds) {
            let moves = fidelity_moves(problem, formula).expect("an odour");
            let expected = moves.iter().map(|(_, by)| by * by).sum::<f64>().sqrt();
            assert_close(cloud.fidelity.sd / expected, 1.0, 0.03, "deviation");
            let told = fidelity_deviation(problem, formula).expect("an odour");
            assert_close(told / expected, 1.0, 0.03, "what is told");
            assert_eq!(moves.len(), cloud.numbers.len());
            let mut sum = 0.0;
            for ((number, by), (drawn, share)) in moves.iter().zip(&cloud.numbers) {
                assert_eq!(number, drawn);
                let expected = (by / expected).powi(2);
                let room = 5.0 * share.first_error + 0.01;
                assert!((share.first - expected).abs() < room, "{number:?}: {share:?} instead of {expected}");
                assert!((share.total - expected).abs() < 0.03, "{number:?}: {share:?} instead of {expected}");
                sum += share.first;
            }
            assert_close(sum, 1.0, 0.1, "all shares");
            let materials: f64 = cloud.materials.iter().map(|(_, share)| share.first).sum();
            assert_close(materials, 1.0, 0.1, "all materials");
        }
        let mut both: BTreeMap<Number, f64> = fidelity_moves(problem, &one).expect("an odour").into_iter().collect();
        for (number, by) in fidelity_moves(problem, &two).expect("an odour") {
            *both.entry(number).or_default() -= by;
        }
        let expected = both.values().map(|by| by * by).sum::<f64>().sqrt();
        let pair = found.nearer[0].pair;
        assert_close(pair.difference.sd / expected, 1.0, 0.03, "of the difference");
        assert!(expected < fidelity_deviation(problem, &one).unwrap() + fidelity_deviation(problem, &two).unwrap());
    }
}

#[test]
fn one_number_by_hand() {
    // A of score 6 within 1 in its one descriptor, target 6, match level: the loss is the distance, the
    // fidelity 100 (1 - |z| / 6). Its mean is 100 (1 - sqrt(2 / pi) / 6).
    let palette = "[descriptors]\nrosy = \"\"\n[[material]]\nname = \"A\"\nstrength = 5\nstrength_factor = 1\n\
                   scores = { rosy = 6 }\nscore_error = 1\n";
    let problem = load(palette, "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\nrosy = 6\n");
    let formula = Formula::from_doses(problem.basis, &[Ppt::WHOLE]);
    let found = drawn(&problem, &[formula], 100_000, 2);
    let cloud = &found.clouds[0];
    assert_close(cloud.fidelity.mean, 100.0 * (1.0 - (2.0 / PI).sqrt() / 6.0), 1e-3, "mean");
    assert_close(cloud.fidelity.sd, 100.0 / 6.0 * (1.0 - 2.0 / PI).sqrt(), 0.02, "deviation");
    // The 95th percentile of |z| is 1.959964.
    assert_close(cloud.fidelity.p5, 100.0 * (1.0 - 1.959_964 / 6.0), 3e-3, "p5");
    assert_close(cloud.profile[0].p95, 6.0 + 1.644_854, 5e-3, "points");
    assert_close(cloud.numbers[0].1.first, 1.0, 0.03, "share");
}

#[test]
fn neither_threads_nor_company_change_the_draws() {
    let problem = rose();
    let one = mod_1(&problem);
    let solution = solve::propose(&problem, Method::Auto, &Control::default()).expect("a solution");
    let best = solution.answer.expect("a formula").formula;
    let both = [one.clone(), best];
    let found = drawn(&problem, &both, 2_000, 1);
    assert_eq!(found, drawn(&problem, &both, 2_000, 2));
    assert_eq!(found, drawn(&problem, &both, 2_000, 7));
    assert_eq!(found.clouds[0], drawn(&problem, &[one], 2_000, 2).clouds[0]);
    let turned = drawn(&problem, &[both[1].clone(), both[0].clone()], 2_000, 2);
    assert_close(turned.nearer[0].pair.nearer + found.nearer[0].pair.nearer, 1.0, 1e-12, "either is nearer");
    assert!(found.nearer[0].pair.nearer < 0.2, "{:?}", found.nearer);
    let same = drawn(&problem, &[both[0].clone(), both[0].clone()], 500, 2);
    assert_eq!((same.nearer[0].pair.nearer, same.nearer[0].pair.difference.sd), (0.5, 0.0));
}

/// Shares of a function of so many numbers, each drawn between two ends.
fn shares_of(numbers: usize, ends: (f64, f64), draws: usize, f: impl Fn(&[f64]) -> f64) -> Vec<Share> {
    let mut chance = Chance::new(11, 0);
    let mut point = || -> Vec<f64> { (0..numbers).map(|_| chance.between(ends.0, ends.1)).collect() };
    let centre = (0..1000).map(|_| f(&point())).sum::<f64>() / 1000.0;
    let (mut sums, mut values) = (vec![Sums::default(); numbers], Vec::new());
    for _ in 0..draws {
        let (a, b) = (point(), point());
        let (at_a, at_b) = (f(&a), f(&b));
        values.extend([at_a, at_b]);
        for (at, sums) in sums.iter_mut().enumerate() {
            let mut mixed = a.clone();
            mixed[at] = b[at];
            sums.add(at_a, at_b - centre, f(&mixed));
        }
    }
    let variance = mean_and_sd(&values).1.powi(2);
    sums.iter().map(|sums| sums.share(variance)).collect()
}

#[test]
fn shares_of_the_ishigami_function() {
    // T. Ishigami and T. Homma, ISUMA 1990: sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1, each from -pi to pi.
    // With a = 7 and b = 0.1 the analytic first-order shares are 0.3139, 0.4424 and 0, the total ones
    // 0.5576, 0.4424 and 0.2437 (A. Saltelli et al., Global Sensitivity Analysis: The Primer, 2008).
    let ishigami = |x: &[f64]| x[0].sin() + 7.0 * x[1].sin().powi(2) + 0.1 * x[2].powi(4) * x[0].sin();
    let found = shares_of(3, (-PI, PI), 60_000, ishigami);
    for (share, (first, total)) in found.iter().zip([(0.3139, 0.5576), (0.4424, 0.4424), (0.0, 0.2437)]) {
        assert!((share.first - first).abs() < 0.02, "{share:?} instead of {first}");
        assert!((share.first - first).abs() < 4.0 * share.first_error, "{share:?} instead of {first}");
        assert!((share.total - total).abs() < 0.02, "{share:?} instead of {total}");
    }
}

#[test]
fn shares_of_the_g_function() {
    // I. M. Sobol': the product of (|4 x_i - 2| + a_i) / (1 + a_i) over numbers from 0 to 1 has
    // V_i = 1 / (3 (1 + a_i)^2) and V = product (1 + V_i) - 1.
    let a = [0.0, 1.0, 4.5, 9.0, 99.0];
    let own: Vec<f64> = a.iter().map(|a: &f64| 1.0 / (3.0 * (1.0 + a).powi(2))).collect();
    let all: f64 = own.iter().map(|v| 1.0 + v).product::<f64>() - 1.0;
    let g = |x: &[f64]| x.iter().zip(a).map(|(x, a)| ((4.0 * x - 2.0).abs() + a) / (1.0 + a)).product();
    for ((share, v), a) in shares_of(5, (0.0, 1.0), 60_000, g).iter().zip(&own).zip(a) {
        assert!((share.first - v / all).abs() < 0.015, "a = {a}: {share:?} instead of {}", v / all);
        let total = v * own.iter().map(|v| 1.0 + v).product::<f64>() / (1.0 + v) / all;
        assert!((share.total - total).abs() < 0.015, "a = {a}: {share:?} instead of {total}");
    }
}

/// A material of one descriptor and score that meets the target alone.
fn perfect(match_: &str) -> (Problem, Formula) {
    let palette = "[descriptors]\nrosy = \"\"\ngreen = \"\"\n[[material]]\nname = \"A\"\nstrength = 5\n\
                   scores = { rosy = 6, green = 2 }\n[[material]]\nname = \"B\"\nstrength = 20\n\
                   scores = { rosy = 2, green = 6 }\n";
    let brief = format!("palette = \"palette.toml\"\nmatch = \"{match_}\"\n[target]\nrosy = 4\ngreen = 4\n");
    let problem = load(palette, &brief);
    (problem.clone(), Formula::from_doses(problem.basis, &[Ppt::from_ppt(800.0), Ppt::from_ppt(200.0)]))
}

#[test]
fn a_perfect_match_is_not_told_as_certain() {
    for match_ in ["balance", "level"] {
        let (problem, formula) = perfect(match_);
        assert_close(evaluate(&problem, &formula).unwrap().fidelity_percent, 100.0, 1e-9, "on paper");
        // To first order what is too much and what is too little cancel.
        let told = told_of(&problem, &formula).expect("an odour");
        assert!(told.fidelity.sd > 3.0 && told.fidelity.p5 < 90.0, "{match_}: {:?}", told.fidelity);
        assert_eq!(fidelity_deviation(&problem, &formula), Some(told.fidelity.sd));
    }
}

#[test]
fn what_is_told_is_the_answer_of_doubt_to_the_last_digit() {
    let problem = rose();
    let one = mod_1(&problem);
    let best = solve::propose(&problem, Method::Auto, &Control::default()).expect("a solution").answer.unwrap().formula;
    let asked = Asked { draws: DRAWS, seed: SEED, shares: false };
    let found = doubt(&problem, &[one.clone(), best.clone()], asked, &Control::default()).expect("not stopped");
    let both = told(&problem, &[&one, &best]);
    for (told, cloud) in both.iter().zip(&found.clouds) {
        assert_eq!(told.as_ref().unwrap().fidelity, cloud.fidelity);
    }
    let [Some(a), Some(b)] = &both[..] else { panic!("odours") };
    assert_eq!(a.beside(b), found.nearer[0].pair);
    // Neither company nor order changes it.
    assert_eq!(told_of(&problem, &best).map(|alone| alone.fidelity), Some(b.fidelity));
    assert_eq!(nearer_percent(&problem, &best, &[&one]), [Some(100.0 * found.nearer[0].pair.nearer)]);
}

/// The standard error of the standard deviation of so many draws, from their fourth moment: the variance of a
/// sample variance is (m4 - (n - 3) / (n - 1) sd^4) / n (A. M. Mood, F. A. Graybill and D. C. Boes, Introduction to
/// the Theory of Statistics, 1974, VI.2.3), and that of its root a quarter of it over the variance.
fn deviation_error(values: &[f64]) -> f64 {
    let (mean, sd) = mean_and_sd(values);
    let n = values.len() as f64;
    let fourth = values.iter().map(|value| (value - mean).powi(4)).sum::<f64>() / n;
    (((fourth - (n - 3.0) / (n - 1.0) * sd.powi(4)) / n).max(0.0)).sqrt() / (2.0 * sd)
}

#[test]
fn the_error_of_a_deviation_is_that_of_many_samples() {
    // Of normal draws it is sd / sqrt(2 (n - 1)); of those that miss once in a hundred times, the spread of the
    // deviations of four hundred samples.
    let mut chance = Chance::new(31, 0);
    let normal: Vec<f64> = (0..40_000).map(|_| 3.0 * chance.normal()).collect();
    assert_close(deviation_error(&normal) / (3.0 / 80_000_f64.sqrt()), 1.0, 0.05, "of normal draws");
    let mut sample = || -> Vec<f64> { (0..2_000).map(|_| f64::from(u8::from(chance.happens(0.01)))).collect() };
    let samples: Vec<Vec<f64>> = (0..400).map(|_| sample()).collect();
    let deviations: Vec<f64> = samples.iter().map(|sample| mean_and_sd(sample).1).collect();
    let told = samples.iter().map(|sample| deviation_error(sample)).sum::<f64>() / 400.0;
    // Four hundred samples leave the spread uncertain by a part 1 / sqrt(800), thrice that is a tenth.
    assert_close(told / mean_and_sd(&deviations).1, 1.0, 0.1, "of rare misses");
}

#[test]
fn every_doubt_is_that_of_other_draws_on_two_hundred_briefs() {
    // Perfect matches (a target that is a blend's own profile), zero excess, both matches and all kinds of
    // errors: what is told is within a tenth of what ten thousand other draws say, and what chance leaves open
    // in either set of draws.
    let mut chance = Chance::new(29, 0);
    for case in 0..200 {
        let (materials, descriptors) = (2 + case % 5, 2 + case % 4);
        let mut palette = "[descriptors]\n".to_owned();
        (0..descriptors).for_each(|d| palette += &format!("d{d} = \"\"\n"));
        for m in 0..materials {
            let strength = chance.between(0.0, 6.0).exp();
            palette += &format!("[[material]]\nname = \"M{m}\"\nstrength = {strength}\n");
            if case % 3 == 0 {
                let (error, factor) = (chance.between(0.1, 2.0), chance.between(1.05, 2.0));
                palette += &format!("score_error = {error}\nstrength_factor = {factor}\n");
            }
            let mut scores = Vec::new();
            for d in 0..descriptors {
                if d == m % descriptors || chance.happens(0.6) {
                    scores.push(format!("d{d} = {:.1}", chance.between(1.0, 9.0)));
                }
            }
            palette += &format!("scores = {{ {} }}\n", scores.join(", "));
        }
        let match_ = if case % 2 == 0 { "balance" } else { "level" };
        let target = |score: &dyn Fn(usize) -> f64| {
            let mut brief = format!("palette = \"palette.toml\"\nmatch = \"{match_}\"\n[target]\n");
            for d in 0..descriptors {
                let excess = if case % 4 == 1 { "0" } else { "1" };
                brief += &format!("d{d} = {{ score = {}, excess = {excess} }}\n", score(d));
            }
            brief
        };
        let plain = load(&palette, &target(&|_| 5.0));
        let mut doses: Vec<f64> = (0..materials).map(|_| chance.between(1.0, 9.0)).collect();
        let sum: f64 = doses.iter().sum();
        doses.iter_mut().for_each(|dose| *dose *= 1000.0 / sum);
        let doses: Vec<Ppt> = doses.into_iter().map(Ppt::from_ppt).collect();
        let formula = Formula::from_doses(plain.basis, &doses);
        // Every other brief wants just what the blend has.
        let problem = if case % 2 == 0 {
            let has = evaluate(&plain, &formula).expect("an odour").profile;
            load(&palette, &target(&|d| has[d].min(10.0)))
        } else {
            plain
        };
        let cloud = |draws: usize, seed: u64| {
            let asked = Asked { draws, seed, shares: false };
            let found = doubt(&problem, std::slice::from_ref(&formula), asked, &Control::default());
            found.expect("not stopped").clouds.remove(0)
        };
        let (same, other) = (cloud(DRAWS, SEED), cloud(10_000, 1_000 + case as u64));
        let (told, drawn) = (told_of(&problem, &formula).expect("an odour").fidelity, other.fidelity);
        assert_eq!(told, same.fidelity, "case {case}");
        let errors = deviation_error(&same.fidelities) + deviation_error(&other.fidelities);
        assert!((told.sd - drawn.sd).abs() <= 0.1 * drawn.sd + errors, "case {case}: {told:?} {drawn:?} {errors}");
        assert!(
            (told.p5 - drawn.p5).abs() <= 0.1 * (100.0 - drawn.p5).max(drawn.sd),
            "case {case}: {told:?} {drawn:?}"
        );
        assert!(drawn.sd > 0.0, "case {case}: nothing is certain");
    }
}
