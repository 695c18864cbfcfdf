//! Several views of one formula: made by hand, judged by arithmetic of the test.

mod support;

use std::sync::Arc;

use permil::brief::{Law, Match};
use permil::evaluate::evaluate;
use permil::formula::Formula;
use permil::problem::{Problem, Target, View};
use permil::units::Ppt;
use support::assert_close;

const PALETTE: &str = r#"
[descriptors]
green = "cut grass"
sweet = "honey"
dry = "paper"
[[material]]
name = "Leaf"
strength = 10
price = 10
scores = { green = 8, dry = 2 }
[[material]]
name = "Honey"
strength = 4
price = 20
scores = { sweet = 9, green = 1 }
[[material]]
name = "Cedar"
strength = 2
price = 5
scores = { dry = 7, sweet = 2 }
"#;

const BRIEF: &str = r#"
palette = "palette.toml"
[target]
green = 5
sweet = 4
[formula]
step = 1
"#;

fn formula(doses: [f64; 3]) -> Formula {
    let doses: Vec<Ppt> = doses.into_iter().map(Ppt::from_ppt).collect();
    Formula::from_doses(permil::brief::Basis::Neat, &doses)
}

/// A view as the brief's own with other strengths.
fn left(problem: &Problem, left: [f64; 3]) -> View {
    let mut palette = (*problem.palette).clone();
    palette.materials.iter_mut().zip(left).for_each(|(material, left)| material.strength *= left);
    View { name: Arc::from("later"), stage: Some(0), palette: Arc::new(palette), ..problem.views[0].clone() }
}

/// Loss of doses by strengths, scores and targets that stand here in full.
fn plain_loss(view: &View, formula: &Formula) -> f64 {
    let counted =
        |material: usize| -> f64 { view.targets.iter().map(|t| view.material(material).scores[t.descriptor]).sum() };
    let wanted: f64 = view.targets.iter().map(|target| target.score).sum();
    let odour = |material: usize, dose: Ppt| {
        let odour = view.material(material).strength * dose.as_f64();
        if view.law == Law::Compressive { odour.powf(0.4) } else { odour }
    };
    let parts: Vec<(usize, f64)> = formula.parts.iter().map(|&(it, dose)| (it, odour(it, dose))).collect();
    let d: f64 = match view.matching {
        Match::Level => parts.iter().map(|(_, odour)| odour).sum(),
        Match::Balance => parts.iter().map(|&(it, odour)| odour * counted(it) / wanted).sum(),
    };
    let gap = |target: &Target| {
        let has: f64 = parts.iter().map(|&(it, odour)| odour * view.material(it).scores[target.descriptor]).sum();
        let over = has / d - target.score;
        if over > 0.0 { target.weight * target.excess * over } else { -target.weight * over }
    };
    view.targets.iter().map(gap).sum()
}

#[test]
fn the_worst_view_is_told_and_each_by_its_own_target() {
    let mut problem = support::load(PALETTE, BRIEF);
    let later = left(&problem, [0.1, 0.5, 1.0]);
    let dry = Target { score: 6.0, ..later.targets[2] };
    let other = View {
        targets: vec![later.targets[1], dry],
        matching: Match::Level,
        weight: 0.5,
        law: Law::Compressive,
        ..later.clone()
    };
    problem.views.extend([later, other]);
    for doses in [[400.0, 300.0, 300.0], [100.0, 100.0, 800.0], [800.0, 150.0, 50.0]] {
        let formula = formula(doses);
        let found = evaluate(&problem, &formula).expect("an odour");
        let mut lost = Vec::new();
        for (view, seen) in problem.views.iter().zip(&found.views) {
            let loss = plain_loss(view, &formula);
            assert_close(seen.loss, loss, 1e-12, "a view's loss");
            let times = if view.matching == Match::Level { 1.0 } else { 2.0 };
            let worst: f64 = times * view.targets.iter().map(|t| t.weight * t.score).sum::<f64>();
            assert_close(seen.fidelity_percent, 100.0 * (1.0 - loss / worst).max(0.0), 1e-12, "a view's fidelity");
            lost.push(view.weight * 100.0 * loss / worst);
        }
        let most = lost.iter().copied().fold(0.0, f64::max);
        assert_close(lost[found.worst], most, 1e-12, "the worst");
        assert_close(found.fidelity_percent, (100.0 - most).max(0.0), 1e-12, "what is told");
        // Alone, the worst view says of itself what it says among others.
        let alone = evaluate(&problem.seen(found.worst), &formula).expect("an odour");
        assert_eq!(alone.profile, found.profile);
        assert_eq!(alone.shares_percent, found.shares_percent);
        assert_eq!(alone.loss, found.views[found.worst].loss);
    }
}

#[test]
fn a_view_twice_is_as_one() {
    let one = support::load(PALETTE, BRIEF);
    let mut two = one.clone();
    two.views.push(two.views[0].clone());
    let formula = formula([300.0, 300.0, 400.0]);
    let [one, two] = [one, two].map(|problem| evaluate(&problem, &formula).expect("an odour"));
    assert_eq!((two.worst, two.loss, &two.profile), (0, one.loss, &one.profile));
    assert_eq!(two.second_opinion, one.second_opinion);
}

#[test]
fn a_view_that_smells_of_nothing_makes_no_formula() {
    let mut problem = support::load(PALETTE, BRIEF);
    problem.views.push(left(&problem, [0.0, 1.0, 1.0]));
    // What has left the paper by a stage was smelled before, and misses all that is wanted.
    let gone = evaluate(&problem, &formula([1000.0, 0.0, 0.0])).expect("an odour at first");
    assert_eq!((gone.worst, gone.fidelity_percent, gone.views[1].strength), (1, 0.0, 0.0));
    assert!(evaluate(&problem, &formula([900.0, 100.0, 0.0])).is_ok());
    problem.views[1].stage = None;
    assert!(evaluate(&problem, &formula([1000.0, 0.0, 0.0])).is_err());
}

/// Other numbers of the palette leave what a view has of its own.
#[test]
fn a_changed_palette_keeps_what_is_left_at_a_stage() {
    let mut problem = support::load(PALETTE, BRIEF);
    problem.views.push(left(&problem, [0.1, 0.5, 1.0]));
    let mut palette = (*problem.palette).clone();
    palette.materials[0].strength = 20.0;
    palette.materials[1].scores[2] = 3.0;
    let changed = problem.with_palette(Arc::new(palette));
    assert_close(changed.views[1].material(0).strength, 2.0, 1e-12, "a tenth of 20");
    assert_eq!(changed.views[1].material(1).scores[2], 3.0);
    assert_eq!(changed.views[0].material(0).strength, 20.0);
}
