//! Strengths from matches: against SciPy, against truth that was made up,
//! against scales with a source, and by hand. Palettes here are made up.

mod support;

use std::fmt::Write as _;

use nalgebra::DVector;
use permil::analysis::strengths::ties::Tie;
use permil::analysis::strengths::{CONTRADICTS, Strengths, strengths, system};
use permil::chance::Chance;
use permil::files::{load_matches, load_palette};
use permil::matches::{Dilution, Matches, Pair, Verdict};
use permil::palette::Palette;
use permil::place::Place;
use support::assert_close;
use support::program::Folder;

/// A palette of materials M0, M1 and so on, from strengths and factors.
fn palette(strengths: &[f64], factors: &[f64]) -> Palette {
    let mut text = "[descriptors]\nrosy = \"\"\n".to_owned();
    for (at, (strength, factor)) in strengths.iter().zip(factors).enumerate() {
        writeln!(text, "[[material]]\nname = \"M{at}\"\nstrength = {strength}\nstrength_factor = {factor}").unwrap();
        writeln!(text, "scores = {{ rosy = 5 }}").unwrap();
    }
    let folder = Folder::of(&[("palette.toml", &text)]);
    load_palette(folder.path("palette.toml").as_ref()).unwrap_or_else(|faults| panic!("{}", faults.render(false)))
}

fn pair(verdict: Verdict, a: (usize, f64), b: (usize, f64), factor: Option<f64>) -> Pair {
    let side = |(material, percent)| Dilution { material, percent };
    let place = Place { file: "matches.toml".into(), line: 1, column: 1 };
    Pair { verdict, a: side(a), b: side(b), give_or_take_factor: factor, place }
}

fn matches(pairs: Vec<Pair>) -> Matches {
    let file = "matches.toml".into();
    Matches { file, reference: 0, exponent: 1.0, give_or_take_factor: None, pairs, remarks: None }
}

fn found(palette: &Palette, matches: &Matches) -> Strengths {
    let found = strengths(palette, matches).expect("an answer");
    assert!(found.settled);
    found
}

#[test]
fn as_scipy_works_it_out() {
    let text = std::fs::read_to_string("tests/reference/strengths.json").unwrap();
    let json: serde_json::Value = serde_json::from_str(&text).unwrap();
    let mut ordered = 0;
    for (number, case) in json["cases"].as_array().unwrap().iter().enumerate() {
        let list =
            |key: &str| -> Vec<f64> { case[key].as_array().unwrap().iter().map(|it| it.as_f64().unwrap()).collect() };
        let pairs = case["pairs"].as_array().unwrap().iter().map(|it| {
            let (index, figure) = (|at: usize| it[at].as_u64().unwrap() as usize, |at: usize| it[at].as_f64().unwrap());
            let verdict = if it[0] == "equal" { Verdict::Equal } else { Verdict::Stronger };
            ordered += usize::from(verdict == Verdict::Stronger);
            pair(verdict, (index(1), figure(3)), (index(2), figure(4)), Some(figure(5)))
        });
        let matches = matches(pairs.collect());
        let palette = palette(&list("strengths"), &list("factors"));
        let (unknown, system) = system(&palette, &matches);
        let fit = system.solve().expect("an answer");
        for (at, (u, error)) in list("u").iter().zip(list("error")).enumerate() {
            // A material that no pair names has nothing to be worked out.
            let Some(index) = unknown[at + 1] else { continue };
            assert_close(fit.u[index], *u, 1e-8, &format!("case {number}, M{}", at + 1));
            let own = fit.covariance[(index, index)].sqrt();
            assert_close(own, error, 1e-6, &format!("case {number}, error of M{}", at + 1));
        }
    }
    assert!(ordered > 60, "only {ordered} ordered pairs");
}

#[test]
fn derivatives_are_those_of_differences() {
    let palette = palette(&[10.0, 40.0, 900.0, 3.0], &[1.5, 2.0, 3.0, 1.2]);
    let matches = matches(vec![
        pair(Verdict::Equal, (1, 5.0), (0, 10.0), None),
        pair(Verdict::Equal, (2, 0.1), (1, 7.0), Some(1.2)),
        pair(Verdict::Stronger, (2, 1.0), (3, 50.0), None),
        pair(Verdict::Stronger, (3, 9.0), (2, 1.0), Some(1.1)),
        pair(Verdict::Stronger, (0, 90.0), (3, 20.0), None),
    ]);
    let (_, system) = system(&palette, &matches);
    let mut chance = Chance::new(5, 0);
    for _ in 0..20 {
        let u = DVector::from_fn(3, |at, _| system.prior[at].0 + 1.5 * chance.normal());
        let (gradient, hessian) = (system.gradient(&u), system.hessian(&u));
        let step = 1e-5;
        for at in 0..3 {
            let by = DVector::from_fn(3, |index, _| if index == at { step } else { 0.0 });
            let slope = (system.objective(&(&u + &by)) - system.objective(&(&u - &by))) / (2.0 * step);
            assert_close(gradient[at], slope, 1e-6, "slope");
            let curve = (system.gradient(&(&u + &by)) - system.gradient(&(&u - &by))) / (2.0 * step);
            for other in 0..3 {
                assert_close(hessian[(at, other)], curve[other], 1e-6, "curve");
            }
        }
    }
}

#[test]
fn one_pair_by_hand() {
    // The prior says 40 within 2, the match says 80 within 2 as well: the middle of the logarithms.
    let palette = palette(&[10.0, 40.0, 7.0], &[1.5, 2.0, 1.0]);
    let found = found(
        &palette,
        &matches(vec![
            pair(Verdict::Equal, (1, 1.0), (0, 8.0), Some(2.0)),
            pair(Verdict::Equal, (2, 10.0), (0, 7.0), None),
        ]),
    );
    let [reference, moved, held] = found.materials[..] else { panic!("{found:?}") };
    assert_eq!((reference.after, reference.held, reference.tie), (10.0, true, Tie::Equal));
    assert_close(moved.after, (40.0_f64 * 80.0).sqrt(), 1e-12, "strength");
    assert_close(moved.deviation, 2.0_f64.ln() / 2.0_f64.sqrt(), 1e-12, "deviation");
    // A factor of 1 is certain.
    assert_eq!((held.after, held.deviation, held.held), (7.0, 0.0, true));
    // Without the match the strength is the prior's: half as strong as it says, within 2 and 2.
    let [pair, exact] = found.pairs[..] else { panic!() };
    assert_close(pair.others.exp(), 0.5, 1e-12, "what the others say");
    assert_close(pair.apart, -1.0 / 2.0_f64.sqrt(), 1e-12, "apart");
    assert_close(exact.apart, 0.0, 1e-12, "an exact one");
}

#[test]
fn an_order_moves_only_what_it_contradicts() {
    let palette = palette(&[10.0, 10.0], &[1.5, 2.0]);
    let after = |percent: f64| {
        let pairs = vec![pair(Verdict::Stronger, (1, percent), (0, 1.0), Some(1.2))];
        found(&palette, &matches(pairs)).materials[1].after
    };
    // A hundred times as much smells stronger: nothing is learnt.
    assert_close(after(100.0), 10.0, 1e-6, "as expected");
    // As strong at a tenth: the second is far stronger than the palette says.
    assert!(after(0.1) > 60.0 && after(0.1) < 100.0, "{}", after(0.1));
    assert!(after(1.0) > 10.0 && after(1.0) < 20.0);
}

/// A made-up truth around a palette, and pairs that a nose with these errors
/// would write down.
struct Made {
    palette: Palette,
    truth: Vec<f64>,
    matches: Matches,
}

fn made(seed: u64, materials: usize, pairs: usize, orders: usize) -> Made {
    let mut chance = Chance::new(seed, 0);
    let strengths: Vec<f64> = (0..materials).map(|_| 10f64.powf(chance.between(0.5, 4.0))).collect();
    let factors: Vec<f64> = (0..materials).map(|_| chance.between(1.3, 3.0)).collect();
    let mut truth: Vec<f64> = strengths
        .iter()
        .zip(&factors)
        .map(|(strength, factor)| strength * (factor.ln() * chance.normal()).exp())
        .collect();
    truth[0] = strengths[0];
    let mut list = Vec::new();
    for at in 0..pairs + orders {
        let two = chance.different(2, 0, materials as u32);
        let (a, b) = (two[0] as usize, two[1] as usize);
        let factor = chance.between(1.2, 1.8);
        let percent = chance.between(0.5, 5.0);
        let level = percent * truth[b] / truth[a];
        if at < pairs {
            let (mut a_percent, mut b_percent) = (level * (factor.ln() * chance.normal()).exp(), percent);
            let scale = (100.0 / a_percent.max(b_percent)).min(1.0);
            (a_percent, b_percent) = (a_percent * scale, b_percent * scale);
            list.push(pair(Verdict::Equal, (a, a_percent), (b, b_percent), Some(factor)));
        } else {
            // Any two dilutions, and what the nose says of them.
            let a_percent = level * chance.between(-1.5, 1.5).exp();
            let scale = (100.0 / a_percent.max(percent)).min(1.0);
            let d = (a_percent / level).ln() + factor.ln() * chance.normal();
            let (one, other) = ((a, a_percent * scale), (b, percent * scale));
            let (first, second) = if d > 0.0 { (one, other) } else { (other, one) };
            list.push(pair(Verdict::Stronger, first, second, Some(factor)));
        }
    }
    Made { palette: palette(&strengths, &factors), truth, matches: matches(list) }
}

#[test]
fn intervals_hold_the_truth_as_often_as_they_say() {
    for (kind, pairs, orders) in [("equal pairs", 14, 0), ("ordered pairs", 0, 14), ("both", 8, 8)] {
        let (mut inside, mut all, mut squares) = (0, 0, 0.0);
        for seed in 0..150 {
            let made = made(1000 + seed, 8, pairs, orders);
            for judged in found(&made.palette, &made.matches).materials.iter().filter(|judged| !judged.held) {
                let off = (judged.after / made.truth[judged.material]).ln() / judged.deviation;
                inside += usize::from(off.abs() <= 1.959_964);
                squares += off * off;
                all += 1;
            }
        }
        let coverage = 100.0 * inside as f64 / all as f64;
        assert!(all > 800, "{all}");
        assert!((90.0..=99.0).contains(&coverage), "{kind}: {coverage} % of {all}");
        let spread = (squares / all as f64).sqrt();
        assert!((0.85..1.15).contains(&spread), "{kind}: deviations are off by {spread}");
    }
}

#[test]
fn matches_come_nearer_the_truth_than_the_palette_was() {
    let (mut before, mut after) = (0.0, 0.0);
    for seed in 0..60 {
        let made = made(seed, 10, 20, 10);
        for judged in &found(&made.palette, &made.matches).materials {
            before += (judged.before / made.truth[judged.material]).ln().powi(2);
            after += (judged.after / made.truth[judged.material]).ln().powi(2);
        }
    }
    assert!(after < 0.5 * before, "{after} against {before}");
}

#[test]
fn a_planted_contradiction_is_the_one_that_is_named() {
    let mut planted = 0;
    for seed in 0..80 {
        let mut made = made(7000 + seed, 7, 18, 6);
        // What was found without it is no contradiction, but for chance.
        let honest = found(&made.palette, &made.matches).pairs.iter().filter(|pair| pair.contradicts).count();
        let at = (seed % 18) as usize;
        let factor = if seed % 2 == 0 { 25.0 } else { 1.0 / 25.0 };
        made.matches.pairs[at].a.percent *= factor;
        let found = found(&made.palette, &made.matches);
        let named: Vec<usize> = (0..found.pairs.len()).filter(|&at| found.pairs[at].contradicts).collect();
        if honest == 0 && named == [at] {
            planted += 1;
        }
        let worst = (0..24).max_by(|&a, &b| found.pairs[a].apart.abs().total_cmp(&found.pairs[b].apart.abs()));
        assert!(named.contains(&worst.unwrap()) || found.pairs[worst.unwrap()].apart.abs() <= CONTRADICTS);
    }
    assert!(planted >= 72, "the planted one alone was named in {planted} of 80");
}

#[test]
fn two_that_contradict_each_other_alike_are_both_named() {
    let palette = palette(&[10.0, 10.0], &[1.5, 50.0]);
    let two = |one: f64, other: f64| {
        let pairs = vec![
            pair(Verdict::Equal, (1, one), (0, 1.0), Some(1.2)),
            pair(Verdict::Equal, (1, other), (0, 1.0), Some(1.2)),
        ];
        found(&palette, &matches(pairs)).pairs.iter().map(|pair| pair.contradicts).collect::<Vec<_>>()
    };
    // Symmetric about the prior.
    assert_eq!(two(0.1, 10.0), [true, true]);
    assert_eq!(two(0.9, 1.1), [false, false]);
}

#[test]
fn chains_to_the_reference() {
    let palette = palette(&[1.0; 7], &[1.5; 7]);
    let found = found(
        &palette,
        &matches(vec![
            pair(Verdict::Equal, (1, 1.0), (0, 1.0), None),
            pair(Verdict::Equal, (2, 1.0), (1, 1.0), None),
            pair(Verdict::Stronger, (3, 1.0), (2, 1.0), None),
            pair(Verdict::Equal, (4, 1.0), (3, 1.0), None),
            pair(Verdict::Equal, (5, 1.0), (6, 1.0), None),
        ]),
    );
    let ties: Vec<Tie> = found.materials.iter().map(|judged| judged.tie).collect();
    assert_eq!(ties, [Tie::Equal, Tie::Equal, Tie::Equal, Tie::Order, Tie::Order, Tie::None, Tie::None]);
}

fn scales() -> toml::Table {
    std::fs::read_to_string("tests/data/odour_scales.toml").unwrap().parse().unwrap()
}

fn figures(table: &toml::Value, key: &str) -> Vec<f64> {
    let number = |it: &toml::Value| it.as_float().or(it.as_integer().map(|it| it as f64)).unwrap();
    table[key].as_array().unwrap().iter().map(number).collect()
}

#[test]
fn a_chain_along_the_butanol_scale() {
    let scales = scales();
    let scale = &scales["astm_e544"];
    let ppm = figures(scale, "ppm_in_air");
    let ratio = scale["geometric_ratio"].as_integer().unwrap() as f64;
    let steps = ppm.len();
    assert!(ppm.windows(2).all(|pair| (pair[1] / pair[0] / ratio - 1.0).abs() < 0.03));
    let factor = 1.5_f64;
    // Material k + 1 at one dilution is as strong as material k at the next step of the scale: each is
    // twice as strong as the one before, and the errors of the chain add up in squares.
    let mut knowing_nothing = palette(&vec![1.0; steps + 1], &vec![1e6; steps + 1]);
    // So little that it does not pull at the far end of the chain.
    knowing_nothing.materials.iter_mut().for_each(|material| material.strength_factor = Some(1e300));
    let chain = (0..steps).map(|k| pair(Verdict::Equal, (k + 1, 1.0), (k, ratio), Some(factor)));
    let chained = found(&knowing_nothing, &matches(chain.collect()));
    for judged in &chained.materials[1..] {
        let k = judged.material as f64;
        assert_close(judged.after, ratio.powf(k), 1e-3, "strength along the chain");
        assert_close(judged.deviation, k.sqrt() * factor.ln(), 1e-3, "its error");
    }
    // One material, 1600 times as strong, held against every step of the scale: the eight judgements that
    // the standard asks for. The mean of the logarithms counts, and its error falls with their root.
    let judgements = ppm.iter().map(|ppm| {
        let percent = ppm / 1e4;
        pair(Verdict::Equal, (1, percent / 1600.0), (0, percent), Some(factor))
    });
    assert_eq!(steps as i64, scale["min_judgements"].as_integer().unwrap());
    let judged = found(&palette(&[1.0, 1.0], &[1.5, 1e6]), &matches(judgements.collect())).materials[1];
    assert_close(judged.after, 1600.0, 2e-3, "against every step");
    assert_close(judged.deviation, factor.ln() / 8.0_f64.sqrt(), 1e-3, "its error");
}

#[test]
fn stevens_arithmetic() {
    let scales = scales();
    let (exponents, weaker) = (figures(&scales["stevens"], "exponents"), figures(&scales["stevens"], "weaker_by"));
    for (exponent, weaker) in exponents.iter().zip(weaker) {
        let with = |exponent: f64, said: Option<f64>| Matches {
            exponent,
            ..matches(vec![pair(Verdict::Equal, (1, 2.0), (0, 1.0), said)])
        };
        assert_close(with(*exponent, None).tenfold(), weaker, 1e-4, "a tenfold dilution");
        // What a match says of the ratio of strengths does not depend on the exponent, how sure it is does:
        // an error of intensity is a larger one of dilution.
        let palette = palette(&[1.0, 1.0], &[1.5, 1e6]);
        let said = |exponent| found(&palette, &with(exponent, Some(1.3))).materials[1];
        assert_eq!(said(*exponent).after, said(1.0).after);
        assert_eq!(said(*exponent).deviation, said(1.0).deviation);
        let unsaid = found(&palette, &with(*exponent, None)).materials[1];
        assert_close(unsaid.after, 0.5, 0.02, "the ratio");
        assert_close(unsaid.deviation, 1.5_f64.ln() / exponent, 0.02, "the error");
    }
}

#[test]
fn the_shipped_matches_name_what_was_planted() {
    let palette = load_palette("profiles/rose-otto/palette.toml".as_ref()).unwrap();
    let (matches, warnings) = load_matches("profiles/rose-otto/matches.toml".as_ref(), &palette).unwrap();
    assert_eq!(warnings, Vec::<String>::new());
    let found = found(&palette, &matches);
    let named: Vec<&str> = (0..matches.pairs.len())
        .filter(|&at| found.pairs[at].contradicts)
        .map(|at| palette.materials[matches.pairs[at].b.material].name.as_str())
        .collect();
    assert_eq!(named, ["beta-Damascenone"]);
    let untied = found.materials.iter().filter(|judged| judged.tie == Tie::None).count();
    assert_eq!(untied, 2);
}
