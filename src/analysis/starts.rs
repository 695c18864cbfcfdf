//! Several formulas to smell side by side: each nearly as near to the target
//! as the best one, and as different from each other as the rules allow.
//!
//! Near-optimal alternatives by random directions (modelling to generate
//! alternatives: E. D. Brill, S. Y. Chang, L. D. Hopkins, Management Science
//! 28, 1982; J. F. DeCarolis, Energy Economics 33, 2011), of which those that
//! lie furthest apart are chosen (farthest-point choice: T. F. Gonzalez,
//! Theoretical Computer Science 38, 1985), then exchanged as long as the
//! smallest distance grows. Of formulas that differ in idle weight alone one is
//! kept.

use std::sync::Arc;

use std::sync::atomic::{AtomicUsize, Ordering};

use super::adjust::asked;
use crate::chance::Chance;
use crate::control::Control;
use crate::evaluate::{Evaluation, evaluate};
use crate::model::Blend;
use crate::pool::in_parallel;
use crate::problem::idle::Idle;
use crate::problem::{DoseKey, Problem, RuleId, RuleKind, UsualDoses};
use crate::solve::extent::Extent;
use crate::solve::nearer::Nearer;
use crate::solve::usual::most_usual;
use crate::solve::{self, Answer, Failure, Method, Solution, Start};
use crate::tolerance::curves::SAME_SHARE;
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
/// Formulas of which something is idle smell alike where what is heard of them lies
/// no further apart than so many share points: a step of a dose moves as much.
const HEARD_ALIKE: f64 = 1.0;
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
    /// Of formulas on the way from a known one, for each the percentage points of
    /// the match that it may give away, and how near it is; empty of others.
    pub nearest: Vec<Option<(f64, Nearer)>>,
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
        return Ok(Starts {
            best,
            ceiling: 0.0,
            chosen: Vec::new(),
            candidates: 0,
            is_complete: true,
            nearest: Vec::new(),
        });
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
    let pool = apart_where_heard(problem, pool);
    let unusual: Vec<usize> = pool.iter().map(|answer| problem.unusual(&answer.formula).len()).collect();
    let chosen = furthest_apart(&pool, &unusual, asked.count);
    let chosen = chosen.into_iter().map(|at| pool[at].clone()).collect();
    Ok(Starts { best, ceiling, chosen, candidates: pool.len(), is_complete, nearest: Vec::new() })
}

/// The formulas of a pool without those that differ from one before them in idle
/// weight alone: nobody tells them apart by smelling.
fn apart_where_heard(problem: &Problem, pool: Vec<Answer>) -> Vec<Answer> {
    let mut kept: Vec<(Answer, Heard)> = Vec::new();
    for answer in pool {
        let heard = Heard::of(problem, &answer);
        if kept.iter().all(|(_, other)| !heard.is_alike(other)) {
            kept.push((answer, heard));
        }
    }
    kept.into_iter().map(|(answer, _)| answer).collect()
}

/// What is heard of a formula.
struct Heard {
    /// Share of each palette material in the odour of those that are not idle, in
    /// percent.
    shares_percent: Vec<f64>,
    /// Whether anything is idle.
    has_idle: bool,
}

impl Heard {
    fn of(problem: &Problem, answer: &Answer) -> Heard {
        let idle = Idle::of(problem, &answer.formula).unwrap_or_default().materials;
        // As it is mixed: views differ in what they hear.
        let mixed = evaluate(&problem.plain(), &answer.formula);
        let mut shares = mixed.map_or_else(|_| answer.evaluation.shares_percent.clone(), |it| it.shares_percent);
        idle.iter().for_each(|&material| shares[material] = 0.0);
        let all: f64 = shares.iter().sum();
        shares.iter_mut().for_each(|share| *share *= 100.0 / all);
        Heard { shares_percent: shares, has_idle: !idle.is_empty() }
    }

    /// Whether two differ in what is idle alone.
    fn is_alike(&self, other: &Heard) -> bool {
        let pairs = self.shares_percent.iter().zip(&other.shares_percent);
        let apart = pairs.map(|(a, b)| (a - b).abs()).sum::<f64>() / 2.0;
        (self.has_idle || other.has_idle) && apart < HEARD_ALIKE
    }
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
        // Which materials, drawn for all of the palette so that the stream
        // does not depend on the rules.
        let mut fewer = problem.clone();
        for material in 0..problem.columns.len() {
            let probability = if in_best(material) { DROP_OF_BEST } else { DROP_OF_OTHERS };
            if chance.happens(probability) && !self.asks(material) {
                fewer = fewer.leaving_out(material);
            }
        }
        let weights: Vec<f64> = (0..problem.columns.len()).map(|_| chance.between(-1.0, 1.0)).collect();
        // Then how much of each, in the same direction of odour: of what is in
        // the best formula without those, and of what the direction itself
        // brings in.
        let cost: Vec<f64> = weights.iter().enumerate().map(|(column, weight)| weight * self.odour(column)).collect();
        let first = self.within(&fewer, &[]);
        let wide = Extent::new(&fewer.relaxed(), self.ceiling).and_then(|extent| extent.least(&cost));
        let of_first = first.iter().map(|first| first.formula.parts.iter().map(|(material, _)| *material).collect());
        let supports: Vec<Vec<usize>> = of_first.chain(wide.iter().map(|end| self.support(&end.answer))).collect();
        let mut found: Vec<Answer> = supports.into_iter().filter_map(|of| self.end(&fewer, &cost, of)).collect();
        found.extend(first);
        found
    }

    /// The formula near the end of a direction among some materials.
    fn end(&self, problem: &Problem, cost: &[f64], support: Vec<usize>) -> Option<Answer> {
        let mut within = problem.relaxed();
        within.rules.push(asked(RuleId::Only, RuleKind::Only(support.into()), "permil starts", 1.0));
        let mut end = Extent::new(&within, self.ceiling)?.least(cost)?;
        // A blend with more unusual doses than the brief allows leads nowhere.
        if let Some(held) = self.at_usual_doses(problem, &within, &end.answer)
            && let Some(usual) = Extent::new(&held, self.ceiling).and_then(|extent| extent.least(cost))
        {
            end = usual;
        }
        if Blend::new(problem).is_continuous() {
            return Some(Arc::unwrap_or_clone(end.answer));
        }
        let known = std::slice::from_ref(&*end.answer);
        WINDOWS.iter().find_map(|part| self.within(&self.window(problem, &end.answer, *part), known))
    }

    /// The problem with the doses of a blend that are outside their usual range
    /// held within it, but for those that are heard most, as many as the brief
    /// allows; `None` where it allows them all.
    fn at_usual_doses(&self, problem: &Problem, relaxed: &Problem, blend: &Answer) -> Option<Problem> {
        let (usual, most) = problem.counted_usual_doses()?;
        let is_unusual = |(material, usual): &&(usize, UsualDoses)| {
            let dose = blend.formula.dose(*material);
            !dose.is_zero() && !usual.holds(dose)
        };
        let mut unusual: Vec<&(usize, UsualDoses)> = usual.iter().filter(is_unusual).collect();
        let heard = |material: usize| blend.evaluation.shares_percent[material];
        unusual.sort_by(|a, b| heard(b.0).total_cmp(&heard(a.0)).then(a.0.cmp(&b.0)));
        let held = unusual.get(most..).filter(|held| !held.is_empty())?;
        let mut problem = relaxed.clone();
        for &&(material, UsualDoses { least, most }) in held {
            let mut rule = |key: DoseKey, kind: RuleKind, at: Ppt| {
                let id = RuleId::dose(&relaxed.material(material).name, key);
                problem.rules.push(asked(id, kind, "permil starts", at.as_f64()));
            };
            rule(DoseKey::Max, RuleKind::DoseMax(material), most);
            if blend.formula.dose(material) < least {
                rule(DoseKey::Min, RuleKind::DoseMin(material), least);
                rule(DoseKey::Must, RuleKind::Must(material), Ppt::WHOLE);
            }
        }
        Some(problem)
    }

    /// The materials of a blend that are heard most, as many as the rules
    /// allow, those that they ask for among them.
    fn support(&self, blend: &Answer) -> Vec<usize> {
        let counts = self.problem.rules.iter().filter(|rule| rule.kind == RuleKind::MaxMaterials);
        let most = counts.map(|rule| rule.at as usize).min().unwrap_or(usize::MAX);
        let mut parts = blend.formula.parts.clone();
        let heard = |material: usize| blend.evaluation.shares_percent[material];
        parts.sort_by(|a, b| {
            self.asks(b.0).cmp(&self.asks(a.0)).then(heard(b.0).total_cmp(&heard(a.0))).then(b.1.cmp(&a.1))
        });
        parts.into_iter().take(most).map(|(material, _)| material).collect()
    }

    /// Whether the brief asks for a material.
    fn asks(&self, material: usize) -> bool {
        self.problem.rules.iter().any(|rule| rule.kind.asks_for() == Some(material))
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
        let answer = most_usual(problem, answer, self.control);
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
            let mut rule = |key: DoseKey, kind: RuleKind, at: Ppt| {
                let id = RuleId::dose(&problem.material(material).name, key);
                near.rules.push(asked(id, kind, "permil starts", at.as_f64()));
            };
            if dose + dose < domain.least && !domain.must {
                rule(DoseKey::Never, RuleKind::Never(material), Ppt::ZERO);
                continue;
            }
            let room = Ppt::from_ppt(part * dose.as_f64()).max(domain.step + domain.step);
            rule(DoseKey::Max, RuleKind::DoseMax(material), (dose + room).max(domain.least));
            rule(DoseKey::Min, RuleKind::DoseMin(material), (dose - room).max(domain.least));
            rule(DoseKey::Must, RuleKind::Must(material), Ppt::WHOLE);
        }
        near
    }
}

/// Indices of so many formulas of a pool, as far apart as a farthest-point
/// choice and exchanges find them; of formulas that are as far, one with fewer
/// unusual doses. The first of the pool is always among them.
fn furthest_apart(pool: &[Answer], unusual: &[usize], count: usize) -> Vec<usize> {
    let apart = |a: usize, b: usize| distance(&pool[a].evaluation, &pool[b].evaluation);
    let nearest = |at: usize, chosen: &[usize]| {
        chosen.iter().filter(|&&other| other != at).map(|&other| apart(at, other)).fold(f64::INFINITY, f64::min)
    };
    let mut chosen = vec![0];
    while chosen.len() < count.min(pool.len()) {
        let free = (0..pool.len()).filter(|at| !chosen.contains(at));
        // Among equals the one with fewest unusual doses, then the first of the pool.
        let is_further = |other: (f64, usize), best: (f64, usize)| {
            let is_equal = (other.0 - best.0).abs() <= SAME_SHARE && unusual[other.1] != unusual[best.1];
            if is_equal { unusual[other.1] < unusual[best.1] } else { other.0 > best.0 }
        };
        let next = free
            .map(|at| (nearest(at, &chosen), at))
            .reduce(|best, other| if is_further(other, best) { other } else { best });
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
                let is_better = |than: (f64, f64)| {
                    then.0 > than.0 + SAME_SHARE || then.0 > than.0 - SAME_SHARE && then.1 > than.1 + SAME_SHARE
                };
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
