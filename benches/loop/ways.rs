//! How a loop is worked: what is proposed, and what is weighed next.

use std::sync::Arc;

use permil::analysis::doubt::sample::Sampler;
use permil::analysis::doubt::told::told_of;
use permil::analysis::steady::{Aim, steady};
use permil::brief::Match;
use permil::control::Control;
use permil::formula::Formula;
use permil::problem::Problem;
use permil::solve::{Answer, Method, Start, kept, propose_from};

use crate::lookahead::{By, Draws, choose};

/// A way to work.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Way {
    /// The best by the numbers that were learned.
    Learn,
    /// The best match to be expected.
    Expected,
    /// Half that and half the worst tenth.
    Steady,
    /// The best by numbers that are drawn of what is left open.
    Drawn,
    /// What brings the end nearest, among formulas within a margin of the best to be expected:
    /// by what, the margin in points, and how many trials for one session.
    Teaching(By, f64, usize),
    /// So many materials alone first, those that teach most.
    Alone(usize, By),
}

/// What is known when it is chosen.
pub struct Known<'a> {
    /// By what was learned.
    pub problem: &'a Problem,
    /// How judged scores are compared.
    pub matching: Match,
    /// One standard deviation of what the nose tells, in points.
    pub error: f64,
}

/// Something to smell.
#[derive(Clone, Debug)]
pub enum Pick {
    /// A formula.
    Formula(Formula),
    /// A material.
    Alone(usize),
}

/// What was chosen.
pub struct Chosen {
    /// What one would fill into a bottle now.
    pub best: Formula,
    /// Where nine in ten matches of it lie, where that is told.
    pub range: Option<(f64, f64)>,
    /// What to smell next.
    pub trials: Vec<Pick>,
}

impl Way {
    /// All of them.
    pub const ALL: [Way; 11] = [
        Way::Learn,
        Way::Expected,
        Way::Steady,
        Way::Drawn,
        Way::Teaching(By::Best, 1.0, 1),
        Way::Teaching(By::Best, 3.0, 1),
        Way::Teaching(By::Best, 10.0, 1),
        Way::Teaching(By::Differences, 3.0, 1),
        Way::Teaching(By::Differences, 10.0, 1),
        Way::Teaching(By::Differences, 3.0, 3),
        Way::Alone(6, By::Differences),
    ];

    /// Its name in a row.
    pub fn word(self) -> String {
        match self {
            Way::Learn => "learn".into(),
            Way::Expected => "expected".into(),
            Way::Steady => "steady".into(),
            Way::Drawn => "drawn".into(),
            Way::Teaching(by, margin, count) => format!("{by:?}-{margin}-n{count}"),
            Way::Alone(count, _) => format!("alone-{count}"),
        }
    }

    /// Whether it is asked everywhere.
    pub fn is_kept(self) -> bool {
        true
    }

    /// What it proposes and what is to be smelled next.
    pub fn chosen(self, known: &Known, after: usize, is_due: bool, seed: u64, control: &Control) -> Chosen {
        let problem = known.problem;
        let best = nearest(problem, control);
        let aim = match self {
            Way::Learn => None,
            Way::Steady => Some(Aim::Steady),
            _ => Some(Aim::Expected),
        };
        let (found, pool) = match aim.and_then(|aim| steady(problem, &best, aim, 1, Method::Auto, control)) {
            Some(found) => {
                let pool = found.pool.clone();
                (if found.buys() { found.answer } else { best.clone() }, pool)
            }
            None => (best.clone(), vec![best.formula.clone()]),
        };
        let range = told_of(problem, &found.formula).map(|told| (told.fidelity.p5, told.fidelity.p95));
        let own = || vec![Pick::Formula(found.formula.clone())];
        let trials = match self {
            _ if !is_due => Vec::new(),
            Way::Learn | Way::Expected | Way::Steady => own(),
            Way::Drawn => vec![Pick::Formula(drawn(problem, seed ^ ((after as u64) << 20), control))],
            Way::Teaching(by, margin, count) => teaching(known, &found.formula, &pool, by, margin, count),
            Way::Alone(count, by) if after == 0 => alone(known, &pool, by, count),
            Way::Alone(..) => own(),
        };
        Chosen { trials, best: found.formula, range }
    }
}

/// Formulas of a pool that teach most.
fn teaching(known: &Known, best: &Formula, pool: &[Formula], by: By, margin: f64, count: usize) -> Vec<Pick> {
    let mut formulas = vec![best.clone()];
    for formula in pool {
        if formulas.iter().all(|other| other.parts != formula.parts) {
            formulas.push(formula.clone());
        }
    }
    let neat: Vec<Vec<f64>> = formulas.iter().map(|formula| known.problem.neat_ppt(formula)).collect();
    let draws = Draws::new(known.problem, &neat, &vec![true; neat.len()], known.matching, known.error);
    let means: Vec<f64> = (0..neat.len()).map(|at| draws.mean(at)).collect();
    let most = means.iter().copied().fold(0.0, f64::max);
    let allowed: Vec<bool> = means.iter().map(|mean| *mean >= most - margin).collect();
    choose(&draws, &allowed, count, by).into_iter().map(|at| Pick::Formula(formulas[at].clone())).collect()
}

/// Materials alone that teach most of the formulas of a pool.
fn alone(known: &Known, pool: &[Formula], by: By, count: usize) -> Vec<Pick> {
    let mut neat: Vec<Vec<f64>> = pool.iter().map(|formula| known.problem.neat_ppt(formula)).collect();
    let materials: Vec<usize> = (0..known.problem.palette.materials.len())
        .filter(|&at| !known.problem.material(at).is_carrier() && neat.iter().any(|neat| neat[at] > 0.0))
        .collect();
    for &material in &materials {
        let mut single = vec![0.0; known.problem.palette.materials.len()];
        single[material] = 1000.0;
        neat.push(single);
    }
    let is_formula: Vec<bool> = (0..neat.len()).map(|at| at < pool.len()).collect();
    let draws = Draws::new(known.problem, &neat, &is_formula, known.matching, known.error);
    let allowed: Vec<bool> = is_formula.iter().map(|is| !is).collect();
    choose(&draws, &allowed, count, by).into_iter().map(|at| Pick::Alone(materials[at - pool.len()])).collect()
}

/// The best by one draw of all numbers.
fn drawn(problem: &Problem, seed: u64, control: &Control) -> Formula {
    let mut palette = (*problem.palette).clone();
    let drawn = Sampler::new(problem, 0..palette.materials.len()).first(seed, 0, 1);
    for (material, block) in palette.materials.iter_mut().zip(&drawn) {
        let one = block.draw(0);
        material.strength = one.strength;
        for (target, score) in problem.targets.iter().zip(one.scores) {
            material.scores[target.descriptor] = *score;
        }
    }
    let there = problem.with_palette(Arc::new(palette));
    let found = propose_from(&there, &Start::default(), Method::Auto, control).ok().and_then(|it| it.answer);
    let kept = found.and_then(|answer| kept(problem, &answer.formula));
    kept.unwrap_or_else(|| nearest(problem, control)).formula
}

fn nearest(problem: &Problem, control: &Control) -> Answer {
    propose_from(problem, &Start::default(), Method::Auto, control).expect("a solution").answer.expect("a formula")
}
