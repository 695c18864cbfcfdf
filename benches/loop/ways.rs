//! How a loop is worked: what is proposed, and what is weighed next.

use std::sync::Arc;

use permil::analysis::doubt::sample::Sampler;
use permil::analysis::doubt::told::told_of;
use permil::analysis::steady::{Aim, steady};
use permil::analysis::teaching::{Asked, teaching};
use permil::brief::Match;
use permil::control::Control;
use permil::formula::Formula;
use permil::problem::Problem;
use permil::solve::{Answer, Method, Start, kept, propose_from};

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
    /// What `propose --explore` chooses: within a margin in points, and how many mods for one
    /// session.
    Explore(f64, usize),
    /// So many materials alone first, those that carry most of the odour; then as expected.
    Alone(usize),
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
    pub const ALL: [Way; 9] = [
        Way::Learn,
        Way::Expected,
        Way::Steady,
        Way::Drawn,
        Way::Explore(1.0, 1),
        Way::Explore(3.0, 1),
        Way::Explore(10.0, 1),
        Way::Explore(3.0, 3),
        Way::Alone(6),
    ];

    /// Its name in a row.
    pub fn word(self) -> String {
        match self {
            Way::Learn => "learn".into(),
            Way::Expected => "expected".into(),
            Way::Steady => "steady".into(),
            Way::Drawn => "drawn".into(),
            Way::Explore(margin, count) => format!("explore-{margin}-n{count}"),
            Way::Alone(count) => format!("alone-{count}"),
        }
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
                let pool = std::iter::once(&found.answer.formula).chain(&found.pool).cloned().collect();
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
            Way::Explore(margin, count) => {
                let asked = Asked { margin, count, matching: known.matching, error: known.error };
                let mods = teaching(problem, &pool, asked, control).map(|found| found.mods);
                mods.map_or_else(own, |mods| mods.into_iter().map(|one| Pick::Formula(one.answer.formula)).collect())
            }
            Way::Alone(count) if after == 0 => loudest(problem, &found.formula, count),
            Way::Alone(_) => own(),
        };
        Chosen { trials, best: found.formula, range }
    }
}

/// The materials that carry most of a formula's odour, the loudest first.
fn loudest(problem: &Problem, formula: &Formula, count: usize) -> Vec<Pick> {
    let neat = problem.neat_ppt(formula);
    let odour = |at: usize| neat[at] * problem.material(at).strength;
    let mut materials: Vec<usize> = (0..neat.len()).filter(|&at| odour(at) > 0.0).collect();
    materials.sort_by(|&a, &b| odour(b).total_cmp(&odour(a)).then(a.cmp(&b)));
    materials.into_iter().take(count).map(Pick::Alone).collect()
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
