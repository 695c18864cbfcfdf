//! Several formulas to smell side by side: each nearly as near to the target
//! as the best one, and as different from each other as the rules allow.
//!
//! Near-optimal alternatives by random directions (modelling to generate
//! alternatives: E. D. Brill, S. Y. Chang, L. D. Hopkins, Management Science
//! 28, 1982; J. F. DeCarolis, Energy Economics 33, 2011), of which those that
//! lie furthest apart are chosen (farthest-point choice: T. F. Gonzalez,
//! Theoretical Computer Science 38, 1985), then exchanged as long as the
//! smallest distance grows.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::adjust::asked;
use crate::chance::Chance;
use crate::control::Control;
use crate::evaluate::Evaluation;
use crate::model::Blend;
use crate::pool::in_parallel;
use crate::problem::{Problem, RuleKind};
use crate::solve::extent::Extent;
use crate::solve::{self, Answer, Failure, Method, Solution, Start};
use crate::units::Ppt;

/// Random directions for each formula that is wanted, and at least so many.
const DIRECTIONS: usize = 12;
const LEAST_DIRECTIONS: usize = 48;
/// Probability that a direction does without a material of the best formula,
/// and without any other.
const DROP_OF_BEST: f64 = 0.3;
const DROP_OF_OTHERS: f64 = 0.4;
/// Nodes that one direction may take: a number of nodes, not of seconds, gives
/// the same formulas on any machine.
const NODES: u64 = 400;
/// How far from the end of a direction whole parts are looked for, as a part
/// of each dose, one after the other.
const WINDOWS: [f64; 3] = [0.05, 0.15, 0.4];
/// Exchanges that are tried at most.
const EXCHANGES: usize = 50;

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    /// How many formulas.
    pub count: usize,
    /// Points of fidelity that each may lie below the best.
    pub margin: f64,
    /// Seed of the random directions.
    pub seed: u64,
}

/// Formulas that lie apart.
#[derive(Clone, Debug)]
pub struct Starts {
    /// The best formula, with its proof.
    pub best: Solution,
    /// No formula has a greater loss, in score points.
    pub ceiling: f64,
    /// The formulas: the best first, then each the furthest from those before
    /// it.
    pub chosen: Vec<Answer>,
    /// Different formulas that were chosen from.
    pub candidates: usize,
    /// Whether there was time for every direction.
    pub is_complete: bool,
}

/// Difference between two formulas in share points, 0 to 100: half the sum of
/// the differences between their odour shares.
pub fn distance(a: &Evaluation, b: &Evaluation) -> f64 {
    a.shares_percent.iter().zip(&b.shares_percent).map(|(a, b)| (a - b).abs()).sum::<f64>() / 2.0
}

/// The smallest distance between any two formulas; `None` where there are
/// fewer than two.
pub fn least_distance(answers: &[Answer]) -> Option<f64> {
    let pairs = (0..answers.len()).flat_map(|a| (0..a).map(move |b| (a, b)));
    pairs.map(|(a, b)| distance(&answers[a].evaluation, &answers[b].evaluation)).reduce(f64::min)
}

/// Looks for formulas that lie apart. `done` is told how many of how many
/// directions have ended.
///
/// # Errors
/// Where the method cannot take the problem, or a result failed its check.
pub fn starts(
    problem: &Problem,
    asked: Asked,
    best: Solution,
    method: Method,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Starts, Failure> {
    let Some(answer) = best.answer.clone() else {
        return Ok(Starts { best, ceiling: 0.0, chosen: Vec::new(), candidates: 0, is_complete: true });
    };
    let ceiling = answer.evaluation.loss + asked.margin / 100.0 * problem.worst_loss();
    let directions: Vec<u64> = (0..(DIRECTIONS * asked.count).max(LEAST_DIRECTIONS) as u64).collect();
    let limited = Control { node_limit: Some(control.node_limit.unwrap_or(NODES).min(NODES)), ..control.clone() };
    let bench = Bench { problem, best: &answer, ceiling, method, control: &limited };
    let ended = AtomicUsize::new(0);
    let found = in_parallel(&directions, control, |&stream| {
        let found = bench.direction(&mut Chance::new(asked.seed, stream));
        done(ended.fetch_add(1, Ordering::Relaxed) + 1, directions.len());
        found
    });
    let is_complete = !control.should_stop() && found.iter().all(Option::is_some);
    let mut pool = vec![answer];
    for answer in found.into_iter().flatten().flatten() {
        if pool.iter().all(|other| other.formula.parts != answer.formula.parts) {
            pool.push(answer);
        }
    }
    let chosen = furthest_apart(&pool, asked.count);
    let chosen = chosen.into_iter().map(|at| pool[at].clone()).collect();
    Ok(Starts { best, ceiling, chosen, candidates: pool.len(), is_complete })
}

struct Bench<'a> {
    problem: &'a Problem,
    best: &'a Answer,
    ceiling: f64,
    method: Method,
    control: &'a Control,
}

impl Bench<'_> {
    /// Formulas that one random direction leads to.
    fn direction(&self, chance: &mut Chance) -> Vec<Answer> {
        let problem = self.problem;
        let in_best = |material: usize| !self.best.formula.dose(material).is_zero();
        let asks = |material: usize| {
            problem
                .rules
                .iter()
                .any(|rule| matches!(rule.kind, RuleKind::Must(m) | RuleKind::Fixed(m) if m == material))
        };
        // Which materials, drawn for all of the palette so that the stream
        // does not depend on the rules.
        let mut fewer = problem.clone();
        for material in 0..problem.columns.len() {
            let probability = if in_best(material) { DROP_OF_BEST } else { DROP_OF_OTHERS };
            if chance.happens(probability) && !asks(material) {
                fewer = fewer.leaving_out(material);
            }
        }
        let weights: Vec<f64> = (0..problem.columns.len()).map(|_| chance.between(-1.0, 1.0)).collect();
        let Some(first) = self.within(&fewer, &[]) else { return Vec::new() };
        // Then how much of each, in the same direction of odour.
        let cost: Vec<f64> = weights.iter().enumerate().map(|(column, weight)| weight * self.odour(column)).collect();
        let support: Arc<[usize]> = first.formula.parts.iter().map(|(material, _)| *material).collect();
        let mut within = fewer.relaxed();
        within.rules.push(asked("only".to_owned(), RuleKind::Only(support), "permil starts", 1.0));
        let mut found = Vec::new();
        if let Some(end) = Extent::new(&within, self.ceiling).and_then(|extent| extent.least(&cost)) {
            if Blend::new(&fewer).is_continuous() {
                found.push(end.answer);
            } else {
                let near = WINDOWS.iter().find_map(|window| {
                    self.within(&self.window(&fewer, &end.answer, *window), std::slice::from_ref(&end.answer))
                });
                found.extend(near);
            }
        }
        found.push(first);
        found
    }

    /// Strength of one ppt of a column.
    fn odour(&self, column: usize) -> f64 {
        let brings = &self.problem.columns[column].neat;
        brings.iter().map(|&(material, part)| part * self.problem.material(material).strength).sum()
    }

    /// The best formula of a problem below the ceiling.
    fn within(&self, problem: &Problem, known: &[Answer]) -> Option<Answer> {
        let formulas = known.iter().map(|answer| answer.formula.clone()).collect();
        let ceiling = Some(self.ceiling + solve::PROVEN * self.ceiling.max(1.0));
        let start = Start { formulas, ceiling, ..Start::default() };
        let answer = solve::propose_from(problem, &start, self.method, self.control).ok()?.answer?;
        (answer.evaluation.loss <= self.ceiling).then_some(answer)
    }

    /// The problem near a blend: each dose within a part of itself, or within
    /// two steps.
    fn window(&self, problem: &Problem, blend: &Answer, part: f64) -> Problem {
        let mut near = problem.clone();
        for (material, domain) in problem.domains().into_iter().enumerate() {
            let Ok(domain) = domain else { continue };
            if domain.fixed {
                continue;
            }
            let dose = blend.formula.dose(material);
            let mut rule = |what: &str, kind: RuleKind, at: Ppt| {
                let id = format!("dose:{}.{what}", problem.material(material).name);
                near.rules.push(asked(id, kind, "permil starts", at.as_f64()));
            };
            if dose + dose < domain.least && !domain.must {
                rule("never", RuleKind::Never(material), Ppt::ZERO);
                continue;
            }
            let room = Ppt::from_ppt(part * dose.as_f64()).max(domain.step + domain.step);
            rule("max", RuleKind::DoseMax(material), (dose + room).max(domain.least));
            rule("min", RuleKind::DoseMin(material), (dose - room).max(domain.least));
            rule("must", RuleKind::Must(material), Ppt::WHOLE);
        }
        near
    }
}

/// Indices of so many formulas of a pool, as far apart as a farthest-point
/// choice and exchanges find them. The first of the pool is always among them.
fn furthest_apart(pool: &[Answer], count: usize) -> Vec<usize> {
    let apart = |a: usize, b: usize| distance(&pool[a].evaluation, &pool[b].evaluation);
    let nearest = |at: usize, chosen: &[usize]| {
        chosen.iter().filter(|&&other| other != at).map(|&other| apart(at, other)).fold(f64::INFINITY, f64::min)
    };
    let mut chosen = vec![0];
    while chosen.len() < count.min(pool.len()) {
        let free = (0..pool.len()).filter(|at| !chosen.contains(at));
        // The first of the pool among equals.
        let next =
            free.map(|at| (nearest(at, &chosen), at)).reduce(|best, other| if other.0 > best.0 { other } else { best });
        match next {
            Some((_, at)) => chosen.push(at),
            None => break,
        }
    }
    // Least distance first, then the sum of what each has to its nearest.
    let worth = |chosen: &[usize]| {
        let each = chosen.iter().map(|&at| nearest(at, chosen));
        each.fold((f64::INFINITY, 0.0), |(least, sum), near| (least.min(near), sum + near))
    };
    for _ in 0..EXCHANGES {
        let now = worth(&chosen);
        let mut best: Option<((f64, f64), Vec<usize>)> = None;
        for at in 1..chosen.len() {
            for other in (1..pool.len()).filter(|other| !chosen.contains(other)) {
                let mut changed = chosen.clone();
                changed[at] = other;
                let then = worth(&changed);
                let is_better =
                    |than: (f64, f64)| then.0 > than.0 + 1e-9 || then.0 > than.0 - 1e-9 && then.1 > than.1 + 1e-9;
                if is_better(now) && best.as_ref().is_none_or(|(best, _)| is_better(*best)) {
                    best = Some((then, changed));
                }
            }
        }
        match best {
            Some((_, changed)) => chosen = changed,
            None => break,
        }
    }
    // The nearest to the target first.
    chosen[1..].sort_by(|&a, &b| pool[a].evaluation.loss.total_cmp(&pool[b].evaluation.loss).then(a.cmp(&b)));
    chosen
}

/// What sets one formula apart from the others.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Apart {
    /// Materials that it alone has.
    pub alone_with: Vec<usize>,
    /// Materials that it alone does without.
    pub alone_without: Vec<usize>,
    /// The material whose odour share differs most from what the others have
    /// on average: (material, share in percent, average of the others).
    pub share: Option<(usize, f64, f64)>,
    /// The descriptor in which it lies furthest outside of all others:
    /// (index into the targets, by how many points; negative where it has less).
    pub descriptor: Option<(usize, f64)>,
    /// Distance to the nearest of the others, in share points.
    pub nearest: f64,
}

/// What sets each of several formulas apart from the others.
pub fn apart(answers: &[Answer]) -> Vec<Apart> {
    (0..answers.len()).map(|at| apart_of(answers, at)).collect()
}

fn apart_of(answers: &[Answer], at: usize) -> Apart {
    let own = &answers[at];
    let others: Vec<&Answer> = (0..answers.len()).filter(|&other| other != at).map(|other| &answers[other]).collect();
    if others.is_empty() {
        return Apart::default();
    }
    let has = |answer: &Answer, material: usize| !answer.formula.dose(material).is_zero();
    let materials = 0..own.evaluation.shares_percent.len();
    let share = |answer: &Answer, material: usize| answer.evaluation.shares_percent[material];
    let average =
        |material: usize| others.iter().map(|other| share(other, material)).sum::<f64>() / others.len() as f64;
    let mut widest: Option<(usize, f64, f64)> = None;
    for material in materials.clone() {
        let (own, average) = (share(own, material), average(material));
        if widest.is_none_or(|(_, a, b)| (own - average).abs() > (a - b).abs() + 1e-9) {
            widest = Some((material, own, average));
        }
    }
    let mut outside: Option<(usize, f64)> = None;
    for (counted, &points) in own.evaluation.profile.iter().enumerate() {
        let of_others = || others.iter().map(|other| other.evaluation.profile[counted]);
        let over = points - of_others().fold(f64::NEG_INFINITY, f64::max);
        let under = points - of_others().fold(f64::INFINITY, f64::min);
        let by = if over > 0.0 { over } else { under.min(0.0) };
        if by.abs() > outside.map_or(0.05, |(_, by): (usize, f64)| by.abs()) {
            outside = Some((counted, by));
        }
    }
    Apart {
        alone_with: materials
            .clone()
            .filter(|&it| has(own, it) && others.iter().all(|other| !has(other, it)))
            .collect(),
        alone_without: materials.filter(|&it| !has(own, it) && others.iter().all(|other| has(other, it))).collect(),
        share: widest.filter(|(_, own, average)| (own - average).abs() > 0.5),
        descriptor: outside,
        nearest: others.iter().map(|other| distance(&own.evaluation, &other.evaluation)).fold(f64::INFINITY, f64::min),
    }
}
