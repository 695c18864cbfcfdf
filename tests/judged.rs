//! A formula judged, worked by hand: what it costs, how much of a rule is left,
//! where there is no odour to judge; and what a batch takes from the stock.

mod support;

use permil::balance::record::{Taken, record, taken};
use permil::balance::sheet::{Asked, sheet};
use permil::evaluate::{NoOdour, evaluate};
use permil::formula::Formula;
use permil::problem::check::Checker;
use permil::problem::{Problem, RuleKind};
use permil::units::Ppt;
use support::certificates::{FOUR_MATERIALS, small};
use support::{assert_close, load};

fn formula(problem: &Problem, ppt: &[f64]) -> Formula {
    Formula::from_doses(problem.basis, &ppt.iter().map(|&ppt| Ppt::from_ppt(ppt)).collect::<Vec<_>>())
}

/// 500 of 40 and 500 of 90 a kilogram cost 65, at a strength of 15 + 25 = 40.
#[test]
fn a_price_is_that_of_the_parts() {
    let problem = small();
    let evaluation = evaluate(&problem, &formula(&problem, &[500.0, 500.0, 0.0, 0.0])).expect("an odour");
    assert_close(evaluation.price_per_kg.expect("known"), 65.0, 1e-12, "price");
    assert_close(evaluation.strength, 40.0, 1e-12, "strength");
    for (share, by_hand) in evaluation.shares_percent.iter().zip([37.5, 62.5, 0.0, 0.0]) {
        assert_close(*share, by_hand, 1e-12, "share of the odour");
    }
    assert_close(evaluation.price_of_effect().expect("known"), 1.625, 1e-12, "price of its effect");
    // Alpha is 15 of 40 of the odour: rosy 8 and green 2, beside green 7 and spicy 1 of Beta.
    for (score, by_hand) in evaluation.profile.iter().zip([3.0, 5.125, 0.625]) {
        assert_close(*score, by_hand, 1e-12, "score");
    }
}

#[test]
fn without_an_odour_that_counts_there_is_nothing_to_judge() {
    let palette = "[descriptors]\nrosy = \"\"\ngreen = \"\"\n[[material]]\nname = \"A\"\nstrength = 5\n\
                   scores = { rosy = 6 }\n[[material]]\nname = \"B\"\nstrength = 20\nscores = { green = 6 }\n\
                   [[material]]\nname = \"C\"\nstrength = 0\n";
    let brief = "palette = \"palette.toml\"\nmatch = \"balance\"\n[formula]\noff_note_weight = 0\n\
                 [target]\nrosy = 4\n";
    let problem = load(palette, brief);
    let of = |ppt: [f64; 3]| evaluate(&problem, &formula(&problem, &ppt)).map(|evaluation| evaluation.profile);
    assert_eq!(of([0.0, 1000.0, 0.0]), Err(NoOdour::NoScore));
    assert_eq!(of([0.0, 0.0, 1000.0]), Err(NoOdour::NoStrength));
    assert_eq!(of([500.0, 0.0, 500.0]), Ok(vec![4.0]));
}

/// A price of 65 where 80 is allowed leaves 15 of 80; two of three materials
/// leave no distance, and neither does a rule that is broken.
#[test]
fn what_is_left_of_a_rule_is_a_share_of_it() {
    let problem = small();
    let checker = Checker::new(&problem);
    let budget = problem.rules.iter().position(|rule| rule.kind == RuleKind::Budget).expect("a budget");
    let left = |ppt: &[f64]| checker.slacks(&formula(&problem, ppt))[budget];
    assert_close(left(&[500.0, 500.0, 0.0, 0.0]), 15.0 / 80.0, 1e-12, "at 65");
    assert_close(left(&[200.0, 800.0, 0.0, 0.0]), 0.0, 1e-12, "at 80");
    assert_close(left(&[0.0, 1000.0, 0.0, 0.0]), 0.0, 1e-12, "at 90");
    let broken = |ppt: &[f64]| checker.breaches(&formula(&problem, ppt), 1e-9);
    assert!(broken(&[200.0, 800.0, 0.0, 0.0]).is_empty());
    let at_90 = broken(&[0.0, 1000.0, 0.0, 0.0]);
    assert_eq!(at_90.iter().map(|breach| breach.rule).collect::<Vec<_>>(), [budget]);
    assert_close(at_90[0].has, 90.0, 1e-12, "the price");
    assert_close(at_90[0].by, 10.0 / 90.0, 1e-12, "a share of the larger");
    let id = &problem.rules[budget].id;
    assert_eq!(problem.rule(id).map(|rule| &rule.kind), Some(&RuleKind::Budget));
    assert_eq!(problem.stands_at(&RuleKind::Budget), Some(80.0));
}

/// Of 3 g on hand 2.5 g are poured and then 1 g more: half a gram is missing.
#[test]
fn a_batch_takes_its_grams_from_the_usual_bottles() {
    let palette = FOUR_MATERIALS.replace("price = 40", "price = 40\nstock = 3").replace("price = 20", "stock = 100");
    let problem = load(&palette, "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\nrosy = 5\n");
    let wanted = formula(&problem, &[250.0, 750.0, 0.0, 0.0]);
    let asked = Asked { batch_grams: 10.0, step_grams: 0.01, least_grams: 0.05 };
    let made = sheet(&problem.palette, &wanted, asked);
    let (found, passed) = taken(&problem.palette, &made, None);
    assert_eq!(found, [Taken { material: 0, before_grams: 3.0, poured_grams: 2.5 }]);
    assert_close(found[0].after_grams(), 0.5, 1e-12, "after it");
    assert_eq!(passed, [1], "no stock is on file of Beta");
    let (found, _) = taken(&problem.palette, &made, Some((0, 1.0)));
    assert_close(found[0].poured_grams, 3.5, 1e-12, "with what fills up");
    assert_close(found[0].after_grams(), -0.5, 1e-12, "missing");
    let (found, _) = taken(&problem.palette, &made, Some((3, 20.0)));
    assert_eq!(found.last(), Some(&Taken { material: 3, before_grams: 100.0, poured_grams: 20.0 }));
    let (found, _) = taken(&problem.palette, &made, Some((3, 0.0)));
    assert_eq!(found.len(), 1, "nothing is taken of nothing");
    let batch = record(&made, Some(("Delta".to_owned(), 1.0)));
    let lines: Vec<(usize, f64)> = batch.lines.iter().map(|line| (line.material, line.grams)).collect();
    assert_eq!(lines.len(), 2);
    assert!(lines.contains(&(0, 2.5)) && lines.contains(&(1, 7.5)), "{lines:?}");
}
