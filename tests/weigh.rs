//! The arithmetic from a formula to the balance.

mod support;

use permil::balance::least::{least_grams, pharmacopoeial_grams};
use permil::balance::overshoot::{Spill, WayOut, WaysOut, ways_out};
use permil::balance::own::own_problem;
use permil::balance::sheet::{Asked, Line, Sheet, picks, sheet};
use permil::balance::stock::{largest_batch, smallest_batch};
use permil::balance::total::batch_that_fits;
use permil::brief::Basis;
use permil::control::Control;
use permil::files::load_palette;
use permil::formula::Formula;
use permil::number::tidy;
use permil::palette::Palette;
use permil::solve::Status;
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
    // Of 0.1596 g of alcohol 0.160 are weighed, a quarter of a percent too
    // much: with as much too much of oxide the shares are nearer.
    assert_eq!(line(&sheet(&palette, &wanted, asked(0.2, 0.001)), 1), (0.1, 0.401));
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
        // What is rounded together is no further off than line by line, and the
        // batch by no more than half a step for each line.
        let step = 0.000_01;
        let made = sheet(&palette, &wanted, asked(batch, step));
        let odours = |grams: &dyn Fn(&Line) -> f64| -> Vec<f64> {
            made.lines.iter().map(|line| palette.materials[line.material].strength * line.neat(grams(line))).collect()
        };
        let shares = |odours: Vec<f64>| {
            let sum: f64 = odours.iter().sum();
            odours.into_iter().map(|odour| odour / sum).collect::<Vec<f64>>()
        };
        let wanted_shares = shares(odours(&|line| line.pick.grams));
        let far = |grams: &dyn Fn(&Line) -> f64| -> f64 {
            shares(odours(grams)).iter().zip(&wanted_shares).map(|(a, b)| (a - b).abs()).sum()
        };
        let alone = far(&|line| (line.pick.grams / step).round().max(1.0) * step);
        assert_close(made.distance, far(&|line| line.grams), 1e-9, "distance");
        assert!(made.distance <= alone + 1e-9, "case {case}: {} {alone}", made.distance);
        let counts = |line: &Line| amount(1.0, line.pick.percent);
        let off: f64 = made.lines.iter().map(|line| counts(line) * (line.grams - line.pick.grams)).sum();
        let allowed: f64 = made.lines.iter().map(|line| counts(line) * step / 2.0).sum();
        assert!(
            off.abs() <= allowed * (1.0 + 1e-6) || made.lines.iter().any(|line| line.pick.grams < step),
            "case {case}"
        );
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

/// What pours least of what is on hand sets the batch: 6 g of alcohol allow
/// 7.5 g, 1 g of the usual bottle of ester allows 5 g. The stock of oxide is
/// that of its 1 % bottle, which ten grams are not weighed from.
#[test]
fn the_scarcest_bottle_sets_the_largest_batch() {
    let text = SHELF
        .replace("bottle = { percent = 50", "stock = 1\nbottle = { percent = 50")
        .replace("bottle = [{ percent = 1,", "stock = 0.01\nbottle = [{ percent = 1,");
    let palette = shelf(&text);
    let wanted = formula(Basis::Neat, &[798.0, 2.0, 100.0, 100.0]);
    let largest = |batch: f64| largest_batch(&palette, &sheet(&palette, &wanted, asked(batch, 0.001)), batch).unwrap();
    assert_close(largest(10.0), 5.0, 1e-12, "ester");
    // A gram is weighed from the 1 % bottle: 0.2 g where 0.01 g are on hand.
    assert_close(largest(1.0), 0.05, 1e-12, "oxide");
    let without = shelf(&SHELF.replace("stock = 6\n", ""));
    assert_eq!(largest_batch(&without, &sheet(&without, &wanted, asked(10.0, 0.001)), 10.0), None);
}

/// A batch that is said to fit does fit, and little more would not.
#[test]
fn a_batch_that_fits_is_never_rounded_up() {
    let palette = shelf(SHELF);
    let mut random = ChaCha8Rng::seed_from_u64(13);
    let mut cut = 0;
    for case in 0..300 {
        let drawn: Vec<f64> = (0..4).map(|_| 10f64.powf(random.random_range(-1.0..2.5))).collect();
        let sum: f64 = drawn.iter().sum();
        let doses: Vec<f64> = drawn.iter().map(|it| it / sum * 1000.0).collect();
        let wanted = formula(Basis::Neat, &doses).rescaled();
        let total = 10f64.powf(random.random_range(0.0..2.0));
        let fits = batch_that_fits(&palette, &wanted, total, 0.05);
        let poured =
            |batch: f64| -> f64 { picks(&palette, &wanted, batch, 0.05).iter().map(|(_, _, pick)| pick.grams).sum() };
        assert!(poured(fits) <= total * (1.0 + 1e-12), "case {case}: {} in {total}", poured(fits));
        if fits < total {
            cut += 1;
            // The last digit that is written is the fifth.
            assert!(poured(fits * 1.001) > total * 0.999, "case {case}: {fits} in {total}");
        }
    }
    assert!(cut > 100, "{cut}");
}

/// The ways out of a sheet without a brief.
fn ways(palette: &Palette, wanted: &Formula, made: &Sheet, poured: &[f64]) -> Option<WaysOut> {
    let problem = own_problem(palette.clone(), wanted);
    let spill =
        Spill { problem: &problem, brief: None, formula: wanted, sheet: made, asked: asked(10.0, 0.001), poured };
    ways_out(&spill, &Control::default()).unwrap()
}

fn in_vessel(made: &Sheet, poured: &[(usize, f64)]) -> Vec<f64> {
    let of = |material: usize| poured.iter().filter(|it| it.0 == material).map(|it| it.1).sum();
    made.lines.iter().map(|line| of(line.material)).collect()
}

#[test]
fn ways_out_of_an_overshoot() {
    let palette = shelf(&SHELF.replace("stock = 6\n", ""));
    let wanted = formula(Basis::Neat, &[798.0, 2.0, 100.0, 100.0]);
    let made = sheet(&palette, &wanted, asked(10.0, 0.001));
    assert!(ways(&palette, &wanted, &made, &in_vessel(&made, &[(1, 0.2)])).is_none());
    let out = ways(&palette, &wanted, &made, &in_vessel(&made, &[(1, 0.25)])).unwrap();
    // A quarter more of everything.
    assert_eq!(out.larger.batch_grams, 12.5);
    assert_eq!((line(&out.larger.sheet, 1), line(&out.larger.sheet, 0)), ((10.0, 0.25), (100.0, 9.975)));
    assert_close(out.larger.distance, 0.0, 1e-9, "the formula holds");
    assert!(out.larger.broken.is_empty() && out.fresh.broken.is_empty());
    // A fresh start wastes 0.025 g at 200 and 0.225 g of carrier at 5 a kilo.
    assert_eq!(out.wasted_grams, 0.25);
    assert_close(out.wasted_cost.unwrap(), 0.005 + 0.001_125, 1e-12, "wasted");
    assert_eq!(out.fresh.sheet, made);
    // In 10 g the carrier gives way first, down to the least that is weighed
    // well; of the rest the best share between the other two is listed.
    assert_eq!(out.same.status, Status::Optimal);
    let same = out.same.way.unwrap();
    assert_close(same.sheet.neat_grams(), 10.0, 3e-4, "the batch");
    assert_eq!((line(&same.sheet, 1), line(&same.sheet, 3)), ((10.0, 0.25), (100.0, 0.05)));
    assert!(same.broken.is_empty(), "{:?}", same.broken);
    let shares = |grams: [f64; 3]| {
        let odours = [40.0 * grams[0], 4000.0 * grams[1], 100.0 * grams[2]];
        let sum: f64 = odours.iter().sum();
        odours.map(|odour| odour / sum)
    };
    let far = |a: [f64; 3], b: [f64; 3]| (0..3).map(|at| (a[at] - b[at]).abs()).sum::<f64>();
    let target = shares([7.98, 0.02, 1.0]);
    let listed = (0..9925).map(|step| f64::from(step) / 1000.0).map(|ester| shares([9.925 - ester, 0.025, ester]));
    let best = listed.map(|shares| far(target, shares)).fold(f64::INFINITY, f64::min);
    assert_close(same.distance, best, 2e-4, "nearest");
}

/// The line that is furthest over sets the batch, whichever it is.
#[test]
fn the_larger_batch_holds_all_that_is_too_much() {
    let palette = shelf(&SHELF.replace("stock = 6\n", ""));
    let wanted = formula(Basis::Neat, &[798.0, 2.0, 100.0, 100.0]);
    let made = sheet(&palette, &wanted, asked(10.0, 0.001));
    for (poured, batch) in [([(1, 0.25), (2, 2.8)], 14.0), ([(1, 0.3), (2, 2.8)], 15.0), ([(1, 0.1), (2, 2.5)], 12.5)] {
        let out = ways(&palette, &wanted, &made, &in_vessel(&made, &poured)).unwrap();
        assert_eq!(out.larger.batch_grams, batch);
        assert_close(out.larger.sheet.neat_grams(), batch, 2e-3, "its masses");
        for (material, grams) in poured {
            assert!(line(&out.larger.sheet, material).1 >= grams);
            assert!(line(&out.same.way.as_ref().unwrap().sheet, material).1 >= grams);
        }
    }
}

/// A bottle that holds too little is named: 9.975 g of which 6 are on hand, and
/// what a fresh start wastes is gone from it as well.
#[test]
fn a_way_out_that_the_stock_does_not_allow_says_so() {
    let palette = shelf(&SHELF.replace("stock = 6", "stock = 8"));
    let wanted = formula(Basis::Neat, &[798.0, 2.0, 100.0, 100.0]);
    let made = sheet(&palette, &wanted, asked(10.0, 0.001));
    let out = ways(&palette, &wanted, &made, &in_vessel(&made, &[(1, 0.25), (0, 1.0)])).unwrap();
    let named = |way: &WayOut| way.broken.iter().map(|it| (it.rule.to_string(), it.at, it.has)).collect::<Vec<_>>();
    assert_eq!(named(&out.larger), [("stock:Alcohol".to_owned(), 8.0, 9.975)]);
    assert_eq!(named(&out.fresh), [("stock:Alcohol".to_owned(), 8.0, 8.98)]);
    // The same batch keeps it.
    let same = out.same.way.unwrap();
    assert!(same.broken.is_empty() && line(&same.sheet, 0).1 <= 8.0);
}

/// What fills the batch alone leaves no room, and that is proven.
#[test]
fn a_vessel_that_is_full_has_no_way_out_in_its_batch() {
    let palette = shelf(SHELF);
    let wanted = formula(Basis::Neat, &[798.0, 2.0, 100.0, 100.0]);
    let made = sheet(&palette, &wanted, asked(10.0, 0.001));
    let out = ways(&palette, &wanted, &made, &in_vessel(&made, &[(1, 120.0)])).unwrap();
    assert!(out.same.way.is_none());
    assert_eq!(out.same.status, Status::Infeasible);
    assert_eq!(out.larger.batch_grams, 6000.0);
}
