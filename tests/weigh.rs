//! The arithmetic from a formula to the balance.

mod support;

use permil::balance::least::{least_grams, pharmacopoeial_grams};
use permil::balance::overshoot::ways_out;
use permil::balance::sheet::{Asked, Sheet, picks, sheet};
use permil::balance::stock::{largest_batch, smallest_batch};
use permil::balance::total::batch_that_fits;
use permil::brief::Basis;
use permil::files::load_palette;
use permil::formula::Formula;
use permil::number::tidy;
use permil::palette::Palette;
use permil::units::Ppt;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use support::assert_close;

const SHELF: &str = r#"
[descriptors]
rosy = "rose"
green = "leaf"

[[material]]
name = "Alcohol"
strength = 40
scores = { rosy = 8 }
price = 10
stock = 6

[[material]]
name = "Oxide"
strength = 4000
scores = { green = 8 }
price = 200
bottle = [{ percent = 1, carrier = "Glycol" }, { percent = 0.1, carrier = "Glycol" }, { percent = 10, carrier = "Glycol" }]

[[material]]
name = "Ester"
strength = 100
scores = { rosy = 3, green = 3 }
price = 20
bottle = { percent = 50, carrier = "Ethanol" }

[[material]]
name = "Glycol"
strength = 0
price = 5
"#;

fn shelf(text: &str) -> Palette {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("palette.toml");
    std::fs::write(&path, text).unwrap();
    load_palette(&path).unwrap_or_else(|faults| panic!("{}", faults.render(false)))
}

fn formula(basis: Basis, ppt: &[f64]) -> Formula {
    Formula::from_doses(basis, &ppt.iter().map(|ppt| Ppt::from_ppt(*ppt)).collect::<Vec<_>>())
}

fn asked(batch_grams: f64, step_grams: f64) -> Asked {
    Asked { batch_grams, step_grams, least_grams: least_grams(step_grams, 1.0) }
}

/// (bottle percent, grams) of a material on a sheet.
fn line(sheet: &Sheet, material: usize) -> (f64, f64) {
    let line = sheet.lines.iter().find(|line| line.material == material).unwrap();
    (line.pick.percent, line.grams)
}

/// USP general chapter 41 (2000 standard deviations, none below 0.41 steps):
/// 82 mg on a balance that shows 0.1 mg, 0.82 g on one that shows 1 mg.
#[test]
fn published_minimum_weights_mark_the_lines() {
    assert_eq!((tidy(pharmacopoeial_grams(0.0001)), tidy(pharmacopoeial_grams(0.001))), (0.082, 0.82));
    let palette = shelf(SHELF);
    // 82 parts of a gram weigh exactly that on the finer balance.
    let just = formula(Basis::Neat, &[918.0, 0.0, 41.0, 41.0]);
    assert_close(smallest_batch(&palette, &just, pharmacopoeial_grams(0.0001)), 2.0, 1e-12, "82 mg of 41 parts");
}

#[test]
fn worked_by_hand() {
    let palette = shelf(SHELF);
    let wanted = formula(Basis::Neat, &[798.0, 2.0, 100.0, 100.0]);
    let made = sheet(&palette, &wanted, asked(10.0, 0.001));
    // 20 mg of oxide: 0.2 g of the 10 % bottle, which is the strongest that
    // weighs 50 mg or more. A gram of ester is 2 g of its bottle.
    assert_eq!(line(&made, 0), (100.0, 7.98));
    assert_eq!(line(&made, 1), (10.0, 0.2));
    assert_eq!(line(&made, 2), (50.0, 2.0));
    assert_eq!((made.poured_grams(), made.neat_grams()), (11.18, 10.0));
    assert_eq!(made.carriers(), [("Glycol".to_owned(), 0.18), ("Ethanol".to_owned(), 1.0)]);
    assert_eq!(made.lines.iter().map(|line| line.material).collect::<Vec<_>>(), [1, 3, 2, 0]);
    assert_close(made.distance, 0.0, 1e-12, "distance");
    // A tenth of it: 2 mg are 0.2 g of the 1 % bottle; of 0.1 % where less.
    assert_eq!(line(&sheet(&palette, &wanted, asked(1.0, 0.001)), 1), (1.0, 0.2));
    assert_eq!(line(&sheet(&palette, &wanted, asked(0.2, 0.001)), 1), (0.1, 0.4));
    // Where none weighs enough the weakest weighs best.
    assert_eq!(line(&sheet(&palette, &wanted, asked(0.02, 0.001)), 1), (0.1, 0.04));
    // In basis bottle the parts count the usual bottle.
    let bottle = formula(Basis::Bottle, &[798.0, 2.0, 100.0, 100.0]);
    let made = sheet(&palette, &bottle, asked(10.0, 0.001));
    assert_eq!((line(&made, 1), line(&made, 2)), ((1.0, 0.02), (50.0, 1.0)));
    assert_eq!((made.poured_grams(), made.neat_grams()), (10.0, 9.4802));
    // 6 g of alcohol are on hand: 6 / 0.798 g.
    let made = sheet(&palette, &wanted, asked(10.0, 0.001));
    assert_close(largest_batch(&palette, &made, 10.0).unwrap(), 6.0 / 0.798, 1e-12, "stock");
    // 11.18 g of what is poured hold 10 g.
    assert_close(batch_that_fits(&palette, &wanted, 11.18, 0.05), 10.0, 1e-4, "total");
}

#[test]
fn grams_back_to_parts_on_random_formulas() {
    let palette = shelf(SHELF);
    let mut random = ChaCha8Rng::seed_from_u64(11);
    for case in 0..300 {
        let drawn: Vec<f64> = (0..4).map(|_| 10f64.powf(random.random_range(-1.0..2.5))).collect();
        let sum: f64 = drawn.iter().sum();
        let doses: Vec<f64> = drawn.iter().map(|it| it / sum * 1000.0).collect();
        let basis = if case % 2 == 0 { Basis::Neat } else { Basis::Bottle };
        let wanted = formula(basis, &doses).rescaled();
        let batch = 10f64.powf(random.random_range(-0.5..3.0));
        let exact = picks(&palette, &wanted, batch, 0.05);
        let amount = |grams: f64, percent: f64| if basis == Basis::Neat { grams * percent / 100.0 } else { grams };
        for (material, dose, pick) in &exact {
            let parts = amount(pick.grams, pick.percent) / batch * 1000.0;
            assert_close(parts, dose.as_f64(), 1e-12, &format!("case {case}, material {material}"));
            let weighs = |percent: f64| pick.grams * pick.percent / percent >= 0.05;
            let stronger = |percent: &f64| *percent > pick.percent;
            let bottles = palette.materials[*material].bottles.iter().map(|bottle| bottle.percent);
            if basis == Basis::Neat {
                assert!(!bottles.filter(stronger).any(weighs), "case {case}: a stronger bottle weighs enough");
            }
        }
        // What is rounded comes back within a step of each line.
        let made = sheet(&palette, &wanted, asked(batch, 0.000_01));
        for line in &made.lines {
            assert!((line.grams - line.pick.grams).abs() <= 0.000_010_001, "case {case}");
        }
        let sum: f64 = made.doses_ppt(&made.grams()).iter().sum();
        assert_close(sum, 1000.0, 1e-12, "sum");
    }
}

#[test]
fn the_smallest_batch_needs_no_dilution_and_a_smaller_one_does() {
    let palette = shelf(SHELF);
    let mut random = ChaCha8Rng::seed_from_u64(12);
    for case in 0..200 {
        let drawn: Vec<f64> = (0..4).map(|_| 10f64.powf(random.random_range(-2.0..2.5))).collect();
        let sum: f64 = drawn.iter().sum();
        let doses: Vec<f64> = drawn.iter().map(|it| it / sum * 1000.0).collect();
        let basis = if case % 2 == 0 { Basis::Neat } else { Basis::Bottle };
        let wanted = formula(basis, &doses).rescaled();
        let smallest = smallest_batch(&palette, &wanted, 0.05);
        let least = |batch: f64| {
            let lines = picks(&palette, &wanted, batch, 0.05);
            lines.iter().map(|(_, _, pick)| pick.grams).fold(f64::INFINITY, f64::min)
        };
        assert!(least(smallest) >= 0.05 * (1.0 - 1e-9), "case {case}");
        assert!(least(smallest * 0.99) < 0.05, "case {case}");
    }
}

#[test]
fn ways_out_of_an_overshoot() {
    let palette = shelf(SHELF);
    let wanted = formula(Basis::Neat, &[798.0, 2.0, 100.0, 100.0]);
    let made = sheet(&palette, &wanted, asked(10.0, 0.001));
    let poured = |grams: f64| made.lines.iter().map(|line| if line.material == 1 { grams } else { 0.0 }).collect();
    let over: Vec<f64> = poured(0.25);
    assert_eq!(ways_out(&palette, &made, 10.0, 0.001, &poured(0.2)), None);
    let ways = ways_out(&palette, &made, 10.0, 0.001, &over).unwrap();
    // A quarter more of everything.
    assert_eq!(ways.larger_batch_grams, 12.5);
    assert_eq!((line(&ways.larger, 1), line(&ways.larger, 0)), ((10.0, 0.25), (100.0, 9.975)));
    assert_close(ways.larger.distance, 0.0, 1e-9, "the formula holds");
    // In 10 g the carrier gives way first: a quarter more of the odour of all
    // the others needs 2.5 g more, of which the carrier has 1 g.
    let same = ways.same.unwrap();
    assert_close(same.neat_grams(), 10.0, 3e-4, "the batch");
    assert_eq!(line(&same, 1), (10.0, 0.25));
    assert_close(line(&same, 3).1, 0.001, 1e-3, "carrier");
    // Nothing in proportion is nearer.
    let shares = |grams: [f64; 3]| {
        let odours = [40.0 * grams[0], 4000.0 * grams[1], 100.0 * grams[2]];
        let sum: f64 = odours.iter().sum();
        odours.map(|odour| odour / sum)
    };
    let far = |a: [f64; 3], b: [f64; 3]| (0..3).map(|at| (a[at] - b[at]).abs()).sum::<f64>();
    let target = shares([7.98, 0.02, 1.0]);
    let scale = (10.0 - 0.025) / 9.98;
    assert!(ways.same_distance < far(target, shares([7.98 * scale, 0.025, scale])) - 1e-3);
    // What fills the batch alone leaves no room.
    assert_eq!(ways_out(&palette, &made, 10.0, 0.001, &poured(120.0)).unwrap().same, None);
}
