//! What is worth buying: by hand, and against proposals made afresh on a
//! larger shelf.

mod support;

use std::sync::Arc;
use std::time::Duration;

use permil::analysis::buy::{Buy, Offer, buy};
use permil::analysis::packs::purchases;
use permil::analysis::shelf::candidates;
use permil::control::Control;
use permil::problem::Problem;
use permil::solve::{Method, Solution, Status, propose};
use permil::units::Ppt;
use support::assert_close;
use support::random::shopping;

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
have = false
packs = [{ grams = 2, price = 3 }, { grams = 5, price = 5 }]

[[material]]
name = "Moss"
strength = 10
scores = { green = 4, woody = 4 }
price = 60
have = false

[[material]]
name = "Musk"
strength = 10
scores = { musky = 8 }
have = false

[[material]]
name = "Water"
strength = 0
have = false
"#;

fn ask(problem: &Problem) -> Buy {
    buy(problem, Method::Auto, &Control::default(), &|_, _| {}).expect("an answer")
}

/// Names and fidelities of the offers that add something.
fn adding(problem: &Problem, buy: &Buy) -> Vec<(String, f64)> {
    let name = |offer: &Offer| {
        offer.materials.iter().map(|&it| problem.material(it).name.clone()).collect::<Vec<_>>().join("+")
    };
    let adding = buy.singles.iter().chain(&buy.pair).filter_map(|offer| Some((name(offer), offer.answer.as_ref()?)));
    adding.map(|(name, answer)| (name, answer.evaluation.fidelity_percent)).collect()
}

#[track_caller]
fn assert_adding(found: &[(String, f64)], wanted: &[(&str, f64)]) {
    assert_eq!(found.len(), wanted.len(), "{found:?}");
    for ((name, fidelity), (wanted_name, wanted)) in found.iter().zip(wanted) {
        assert_eq!(name, wanted_name);
        assert_close(*fidelity, *wanted, 1e-6, name);
    }
}

/// In balance, with all strengths and totals alike, parts are shares of the
/// profile. Half rosy, half green is wanted and Petal is at hand: half the
/// profile is missed. Leaf mends it whole; Moss, half of it woody, meets 75 %.
#[test]
fn one_that_fills_the_gap() {
    let problem = support::load(PALETTE, "palette = \"palette.toml\"\n[target]\nrosy = 5\ngreen = 5\n");
    let buy = ask(&problem);
    assert_eq!(buy.base.status, Status::Optimal);
    let base = buy.base.answer.as_ref().expect("a formula");
    assert_close(base.evaluation.fidelity_percent, 50.0, 1e-9, "the shelf alone");
    assert_adding(&adding(&problem, &buy), &[("Leaf", 100.0), ("Moss", 75.0)]);
    assert!(buy.singles.iter().all(|offer| offer.status == Status::Optimal));
    let last = buy.singles.last().expect("an offer");
    assert_eq!((problem.material(last.materials[0]).name.as_str(), last.answer.is_none()), ("Musk", true));
    // No two do better than Leaf, and a carrier that no one names is none.
    let pair = buy.pair.expect("two could be bought");
    assert!(pair.answer.is_none() && pair.materials.is_empty() && pair.status == Status::Optimal);
    assert_eq!(buy.left_out.len(), 1);

    // 500 of 1000 parts of 10 g: one pack of 5 g, not three of 2 g for 9.
    let leaf = buy.singles[0].answer.as_ref().expect("a formula");
    let [need] = &purchases(&problem, &leaf.formula, &buy.singles[0].materials, 10.0)[..] else { panic!("one need") };
    assert_close(need.grams, 5.0, 1e-6, "grams");
    assert_eq!((need.cost, need.packs.len(), need.proven), (Some(5.0), 1, true));
    // Without packs the price per kg has to do: 500 parts of 10 g at 60.
    let moss = buy.singles[1].answer.as_ref().expect("a formula");
    let [need] = &purchases(&problem, &moss.formula, &buy.singles[1].materials, 10.0)[..] else { panic!("one need") };
    assert!(need.packs.is_empty() && !need.proven);
    assert_close(need.cost.expect("a cost"), 0.06 * need.grams, 1e-9, "cost");
}

/// Rosy 4, green 3 and musky 3 are wanted. Petal misses 6 of 10; Leaf or Musk
/// brings 3 of them, and so does Moss, with wood where musk is wanted. Only
/// Leaf and Musk together bring all. Equals are ranked as in the palette.
#[test]
fn two_that_fill_it_together() {
    let problem = support::load(PALETTE, "palette = \"palette.toml\"\n[target]\nrosy = 4\ngreen = 3\nmusky = 3\n");
    let buy = ask(&problem);
    assert_close(buy.base.answer.as_ref().expect("a formula").evaluation.fidelity_percent, 40.0, 1e-9, "base");
    let found = adding(&problem, &buy);
    assert_adding(&found, &[("Leaf", 70.0), ("Moss", 70.0), ("Musk", 70.0), ("Leaf+Musk", 100.0)]);
}

/// A brief that the shelf cannot meet, and one that nothing can.
#[test]
fn what_makes_a_formula_possible_at_all() {
    let brief = "palette = \"palette.toml\"\n[target]\nrosy = 4\ngreen = { score = 3, min = 2.9 }\n";
    let problem = support::load(PALETTE, brief);
    let buy = ask(&problem);
    assert_eq!(buy.base.status, Status::Infeasible);
    assert_eq!(buy.singles[0].status, Status::Optimal);
    assert_eq!(problem.material(buy.singles[0].materials[0]).name, "Leaf");
    // Moss smells half of wood: rosy 1.1, green 2.95, woody 2.95 is within.
    assert!(buy.singles[1].answer.is_some());
    assert_eq!(buy.singles[2].status, Status::Infeasible);
    let hopeless =
        "palette = \"palette.toml\"\n[target]\nrosy = { score = 4, min = 9 }\ngreen = { score = 4, min = 9 }\n";
    let buy = ask(&support::load(PALETTE, hopeless));
    assert_eq!((buy.base.status, buy.all.status), (Status::Infeasible, Status::Infeasible));
}

/// Three notes that one material each brings, all of them wanted.
#[test]
fn where_it_takes_three() {
    let cedar = "[[material]]\nname = \"Cedar\"\nstrength = 10\nscores = { woody = 8 }\nhave = false\n";
    let note = |word: &str| format!("{word} = {{ score = 2, min = 2 }}\n");
    let notes: String = ["green", "woody", "musky"].map(note).concat();
    let brief =
        format!("palette = \"palette.toml\"\n[target]\nrosy = 4\n{notes}[doses]\n\"Moss\" = {{ use = \"never\" }}\n");
    let problem = support::load(&format!("{PALETTE}{cedar}"), &brief);
    let buy = ask(&problem);
    let pair = buy.pair.expect("three could be bought");
    assert!(
        buy.singles.iter().chain([&pair]).all(|offer| offer.status == Status::Infeasible && offer.answer.is_none())
    );
    assert_eq!((buy.base.status, buy.all.status), (Status::Infeasible, Status::Optimal));
    let names: Vec<&str> = buy.all.materials.iter().map(|&it| problem.material(it).name.as_str()).collect();
    assert_eq!(names, ["Leaf", "Musk", "Cedar"]);
}

/// The problem with some of the candidates on the shelf and nothing else that
/// could be bought, made from the palette anew.
fn enlarged(palette: &str, brief: &str, bought: &[usize]) -> Problem {
    let mut problem = support::load(palette, brief);
    let mut shelf = (*problem.palette).clone();
    for (index, material) in shelf.materials.iter_mut().enumerate() {
        material.have |= bought.contains(&index);
    }
    let absent: Vec<String> = shelf
        .materials
        .iter()
        .filter(|it| !it.have)
        .map(|it| format!("\"{}\" = {{ use = \"never\" }}", it.name))
        .collect();
    if !absent.is_empty() {
        problem = support::load(palette, &format!("{brief}\n[doses]\n{}\n", absent.join("\n")));
    }
    problem.with_palette(Arc::new(shelf))
}

fn loss(solution: &Solution) -> f64 {
    solution.answer.as_ref().map_or(f64::INFINITY, |answer| answer.evaluation.loss)
}

#[test]
fn offers_equal_proposals_on_the_larger_shelf() {
    let (mut better, mut pairs_better, mut infeasible) = (0, 0, 0);
    for seed in 0..40 {
        let (palette, brief) = shopping(seed, 5, 6);
        let problem = support::load(&palette, &brief);
        let fresh = |bought: &[usize]| {
            let solution = propose(&enlarged(&palette, &brief, bought), Method::Auto, &Control::default());
            loss(&solution.expect("a solution"))
        };
        let same = |a: f64, b: f64| a == b || (a - b).abs() <= 2e-6 * a.max(1.0);
        let (usable, _) = candidates(&problem);
        assert_eq!(usable.len(), 6);
        let buy = ask(&problem);
        let base = loss(&buy.base);
        assert!(same(base, fresh(&[])), "seed {seed}: the shelf alone");
        infeasible += u32::from(base.is_infinite());
        let mut last = 0.0;
        for offer in &buy.singles {
            let own = offer.answer.as_ref().map_or(base, |answer| answer.evaluation.loss);
            let wanted = fresh(&offer.materials);
            assert!(same(own, wanted), "seed {seed}: {:?} comes to {own}, not {wanted}", offer.materials);
            assert!(own >= last - 2e-6, "seed {seed}: ranked");
            assert_eq!(offer.status == Status::Infeasible, own.is_infinite());
            better += u32::from(own < base - 1e-5);
            last = own;
        }
        let single = buy.singles.iter().filter_map(|it| it.answer.as_ref()).map(|it| it.evaluation.loss);
        let single = single.fold(base, f64::min);
        let pairs = usable.iter().flat_map(|&a| usable.iter().filter(move |&&b| a < b).map(move |&b| [a, b]));
        let wanted = pairs.map(|pair| fresh(&pair)).fold(f64::INFINITY, f64::min);
        let pair = buy.pair.expect("a pair");
        let own = pair.answer.as_ref().map_or(single, |answer| answer.evaluation.loss);
        assert!(same(own, wanted), "seed {seed}: the pair comes to {own}, not {wanted}");
        assert_eq!(pair.answer.is_some(), pair.materials.len() == 2, "seed {seed}");
        pairs_better += u32::from(own < single - 1e-5);
        let all = buy.all.answer.as_ref().map_or(own, |answer| answer.evaluation.loss);
        assert!(same(all, fresh(&usable)), "seed {seed}: all of them");
    }
    assert!(better >= 60 && pairs_better >= 20 && infeasible >= 1, "{better}, {pairs_better}, {infeasible}");
}

#[test]
fn threads_change_nothing_and_a_stop_is_owned_up_to() {
    let (palette, brief) = shopping(2, 6, 8);
    let problem = support::load(&palette, &brief);
    let on = |threads| {
        let control = Control { threads: Some(threads), ..Control::default() };
        let buy = buy(&problem, Method::Auto, &control, &|_, _| {}).expect("an answer");
        let parts = |offer: &Offer| offer.answer.as_ref().map(|answer| answer.formula.parts.clone());
        let offers = buy.singles.iter().chain(&buy.pair).chain([&buy.all]);
        offers.map(|offer| (offer.materials.clone(), parts(offer))).collect::<Vec<(_, Option<Vec<(usize, Ppt)>>)>>()
    };
    assert_eq!(on(1), on(2));
    let full = ask(&problem);
    let control = Control::default().within(Duration::ZERO);
    let stopped = buy(&problem, Method::Search, &control, &|_, _| {}).expect("an answer");
    let best = full.all.answer.or(full.pair.and_then(|pair| pair.answer)).expect("something is worth buying");
    for offer in stopped.singles.iter().chain(&stopped.pair).chain([&stopped.all]) {
        assert_eq!(offer.status, Status::Unknown);
        assert!(offer.bound.expect("a bound") <= best.evaluation.loss + 1e-9);
    }
}
