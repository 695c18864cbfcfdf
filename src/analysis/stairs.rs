//! The best formula that keeps every rule, at every limit of one rule that
//! only loosens in one direction. A formula that is proven best at a limit is
//! best at every tighter limit that it still keeps, down to where it stands
//! itself: the curve is made of steps, and one search tells a whole step.
//! Between two steps that are known lies what has not been looked at; there
//! the tighter one's formula can be had, and nothing beats the looser one's.

use std::sync::atomic::{AtomicUsize, Ordering};

use super::axis::Axis;
use crate::control::Control;
use crate::pool::{in_parallel, threads};
use crate::problem::Problem;
use crate::solve::least::least;
use crate::solve::{self, Answer, Failure, Method, PROVEN, Solution, Start, Status};
use crate::tolerance::curves::NARROWEST;
use crate::tolerance::loss::FLAT;
use crate::tolerance::rules::BEYOND;

/// Limits that are looked at in one round, on however many threads.
const ROUND: usize = 4;
/// How much more a gap counts in which one point more, or less, is decided.
const ASKED_FOR: f64 = 20.0;
/// Losses that differ by less than this times max(1, loss) are of one step; a
/// fourth of what is proven, so that a step stays proven along all of it.
const TIED: f64 = 0.25 * PROVEN;
/// Tries for the tightest limit at which the best formula can be had.
const TIGHTEST: usize = 6;

/// A step of the curve.
#[derive(Clone, Debug)]
pub struct Stair {
    /// The tightest limit that its formula keeps.
    pub from: f64,
    /// The loosest limit at which it is known to be the best, as far as it is
    /// proven; infinite in the loosening direction for the last step.
    pub to: f64,
    /// The best formula found there.
    pub answer: Answer,
    /// No formula that keeps the limit `to` has a loss below this.
    pub bound: f64,
}

/// The steps of a curve, limits loosening.
#[derive(Clone, Debug)]
pub struct Stairs {
    /// The steps; losses fall.
    pub steps: Vec<Stair>,
    /// Whether nothing tighter than the first step can be kept at all, proven.
    pub end_proven: bool,
    /// Whether the last step is proven best under no limit at all.
    pub is_complete: bool,
}

/// What the steps are of.
pub struct Asked<'a> {
    /// The axis; it loosens in one direction.
    pub axis: Axis,
    /// The problem without its rule.
    pub without: &'a Problem,
    /// The user's own limit.
    pub own: Option<f64>,
    /// Limits to look at between the ends.
    pub limits: usize,
    /// Which method proves.
    pub method: Method,
    /// The best formula of the brief as it stands, where it is known already.
    pub known: Option<&'a Solution>,
    /// A lower bound on the loss at a limit.
    pub bound: &'a (dyn Fn(f64) -> f64 + Sync),
}

impl Stair {
    /// Whether its formula is proven best.
    pub fn is_proven(&self) -> bool {
        let loss = self.answer.evaluation.loss;
        loss - self.bound <= PROVEN * loss.max(1.0)
    }

    fn loss(&self) -> f64 {
        self.answer.evaluation.loss
    }
}

/// Works the steps out. `shown` sees them after every round. `Err` of the inner
/// result is the status where no formula was found under no limit at all.
///
/// # Errors
/// Where the method cannot take the problem, or a result failed its check.
pub fn stairs(
    asked: &Asked,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
    shown: &mut dyn FnMut(&Stairs),
) -> Result<Result<Stairs, Status>, Failure> {
    let mut bench = Bench { asked, found: Vec::new(), ended: AtomicUsize::new(0), done };
    if let Some(known) = asked.known
        && let Some(own) = asked.own
    {
        bench.add(own, known.clone());
        shown(&bench.stairs(false, false));
    }
    let top = match asked.known {
        // Without a limit of the user's own nothing has to be set aside.
        Some(known) if asked.own.is_none() => known.clone(),
        _ => bench.top(control)?,
    };
    let Some(best) = top.answer.clone() else { return Ok(Err(top.status)) };
    bench.tell();
    let loosest = if bench.upwards() { f64::INFINITY } else { f64::NEG_INFINITY };
    bench.add(loosest, top);
    shown(&bench.stairs(false, false));
    let end_proven = bench.bottom(&best, control)?;
    shown(&bench.stairs(end_proven, false));
    bench.own(control)?;
    bench.tightest_of_the_best(control)?;
    let mut is_complete = !control.should_stop();
    shown(&bench.stairs(end_proven, is_complete));
    let mut left = asked.limits;
    while left > 0 {
        let limits = bench.gaps(left.min(ROUND));
        if limits.is_empty() {
            break;
        }
        left -= limits.len();
        is_complete &= bench.round(&limits, left, control)?;
        if control.should_stop() {
            is_complete = false;
            break;
        }
        shown(&bench.stairs(end_proven, is_complete));
    }
    Ok(Ok(bench.stairs(end_proven, is_complete)))
}

struct Bench<'a> {
    asked: &'a Asked<'a>,
    /// Every limit that was looked at, with the best formula there.
    found: Vec<Stair>,
    ended: AtomicUsize,
    done: &'a (dyn Fn(usize, usize) + Sync),
}

impl Bench<'_> {
    fn upwards(&self) -> bool {
        self.asked.axis.loosens_upwards() != Some(false)
    }

    /// A limit as a number that grows as it loosens.
    fn key(&self, at: f64) -> f64 {
        if self.upwards() { at } else { -at }
    }

    fn tell(&self) {
        (self.done)(self.ended.fetch_add(1, Ordering::Relaxed) + 1, self.asked.limits + 4);
    }

    /// The tightest limit that a formula keeps, a hair beyond, so that rounding
    /// does not shut it out.
    fn stands(&self, answer: &Answer) -> Option<f64> {
        let hair = if self.upwards() { 1.0 + BEYOND } else { 1.0 - BEYOND };
        Some(self.asked.axis.of(answer)? * hair)
    }

    fn add(&mut self, limit: f64, solution: Solution) {
        let Some(answer) = solution.answer else { return };
        let Some(stands) = self.stands(&answer) else { return };
        let from = if self.key(stands) < self.key(limit) { stands } else { limit };
        self.found.push(Stair { from, to: limit, answer, bound: solution.bound.unwrap_or(0.0) });
    }

    /// The best formula under no limit at all.
    fn top(&self, control: &Control) -> Result<Solution, Failure> {
        let start = Start {
            formulas: self.found.iter().map(|stair| stair.answer.formula.clone()).collect(),
            bound: (self.asked.bound)(if self.upwards() { f64::INFINITY } else { f64::NEG_INFINITY }),
            ceiling: None,
        };
        solve::propose_from(self.asked.without, &start, self.asked.method, &control.with_share(0.4))
    }

    /// The best formula at the tightest limit that any formula keeps; whether
    /// that limit is proven.
    fn bottom(&mut self, best: &Answer, control: &Control) -> Result<bool, Failure> {
        let problem = self.asked.without;
        let columns = 0..problem.columns.len();
        let price: Vec<f64> = columns.clone().map(|column| problem.price_per_ppt(column).unwrap_or(0.0)).collect();
        let strength: Vec<f64> = columns.map(|column| problem.strength_per_ppt(column)).collect();
        let known = [best.formula.clone()];
        let control = control.with_share(0.25);
        let found = match self.asked.axis {
            Axis::Price => least(problem, &price, None, &known, &control)?,
            Axis::Effect => least(problem, &price, Some(&strength), &known, &control)?,
            _ => {
                let most = strength.iter().copied().fold(0.0, f64::max);
                let missing: Vec<f64> = strength.iter().map(|strength| most - strength).collect();
                least(problem, &missing, None, &known, &control)?
            }
        };
        self.tell();
        let Some(limit) = found.answer.as_ref().and_then(|answer| self.stands(answer)) else { return Ok(false) };
        let formulas = found.answer.into_iter().map(|answer| answer.formula).collect();
        let solution = self.one(limit, formulas, &control)?;
        self.add(limit, solution);
        self.tell();
        Ok(found.status == Status::Optimal)
    }

    fn own(&mut self, control: &Control) -> Result<(), Failure> {
        let Some(own) = self.asked.own.filter(|_| self.asked.known.is_none()) else { return Ok(()) };
        let inside = self.found.iter().any(|stair| self.key(stair.from) <= self.key(own));
        if inside {
            let solution = self.one(own, Vec::new(), &control.with_share(0.3))?;
            self.add(own, solution);
        }
        self.tell();
        Ok(())
    }

    /// More buys nothing from the tightest limit on at which the best can be
    /// had: another formula, as near, may stand at a tighter one.
    fn tightest_of_the_best(&mut self, control: &Control) -> Result<(), Failure> {
        let control = control.with_share(0.3);
        for _ in 0..TIGHTEST {
            let steps = self.steps();
            let [.., before, last] = &steps[..] else { return Ok(()) };
            if !last.is_proven() || control.should_stop() {
                return Ok(());
            }
            let hair = if self.upwards() { 1.0 - 10.0 * BEYOND } else { 1.0 + 10.0 * BEYOND };
            let limit = last.from * hair;
            if self.key(limit) <= self.key(before.to) {
                return Ok(());
            }
            let (tied, formulas) = (last.loss(), vec![before.answer.formula.clone()]);
            let solution = self.one(limit, formulas, &control)?;
            let is_tied = solution.answer.as_ref().is_some_and(|it| it.evaluation.loss - tied <= TIED * tied.max(1.0));
            self.add(limit, solution);
            if !is_tied {
                return Ok(());
            }
        }
        Ok(())
    }

    fn one(&self, limit: f64, formulas: Vec<crate::formula::Formula>, control: &Control) -> Result<Solution, Failure> {
        // A bound at a looser limit holds at a tighter one.
        let looser = self.found.iter().filter(|stair| self.key(stair.to) >= self.key(limit));
        let bound = looser.map(|stair| stair.bound).fold((self.asked.bound)(limit), f64::max);
        // So does a formula the other way round.
        let tighter = self.found.iter().filter(|stair| self.key(stair.from) <= self.key(limit));
        let nearest = tighter.reduce(|a, b| if b.loss() < a.loss() { b } else { a });
        let formulas = formulas.into_iter().chain(nearest.map(|stair| stair.answer.formula.clone())).collect();
        let problem = self.asked.axis.at(self.asked.without, limit);
        solve::propose_from(&problem, &Start { formulas, bound, ceiling: None }, self.asked.method, control)
    }

    /// Looks at some limits; whether there was time for them.
    fn round(&mut self, limits: &[f64], left: usize, control: &Control) -> Result<bool, Failure> {
        let share = (threads(control).min(limits.len()) as f64 / (left + limits.len()) as f64).min(1.0);
        let found = in_parallel(limits, control, |&limit| {
            let solution = self.one(limit, Vec::new(), &control.with_share(share));
            self.tell();
            solution
        });
        let is_whole = found.iter().all(Option::is_some);
        for (&limit, solution) in limits.iter().zip(found) {
            if let Some(solution) = solution {
                self.add(limit, solution?);
            }
        }
        Ok(is_whole)
    }

    /// The steps, limits loosening: of all that was found, what no tighter one
    /// matches, with the bounds of looser ones.
    fn steps(&self) -> Vec<Stair> {
        let mut all = self.found.clone();
        all.sort_by(|a, b| self.key(a.to).total_cmp(&self.key(b.to)));
        // What bounds a looser limit bounds a tighter one.
        let mut bound = 0.0_f64;
        for stair in all.iter_mut().rev() {
            bound = bound.max(stair.bound);
            stair.bound = bound.min(stair.loss());
        }
        let mut steps: Vec<Stair> = Vec::new();
        for stair in all {
            // A better formula that keeps a tighter limit too takes its place.
            while let Some(last) = steps.last() {
                let tied = (last.loss() - stair.loss()).abs() <= TIED * last.loss().max(1.0);
                if !(stair.loss() < last.loss() && !tied && self.key(stair.from) <= self.key(last.from)) {
                    break;
                }
                steps.pop();
            }
            match steps.last_mut() {
                Some(last) if last.loss() <= stair.loss() + TIED * last.loss().max(1.0) => {
                    // The same, as far as the looser limit.
                    if self.key(stair.from) < self.key(last.from) {
                        (last.from, last.answer) = (stair.from, stair.answer);
                    }
                    (last.to, last.bound) = (stair.to, stair.bound.min(last.loss()));
                }
                Some(last) => {
                    let (from, to) = (self.key(stair.from), self.key(last.to));
                    let mut stair = stair;
                    // What stood at a limit not known to be beaten is beaten.
                    if from < to {
                        last.to = stair.from;
                    }
                    stair.bound = stair.bound.min(stair.answer.evaluation.loss);
                    steps.push(stair);
                }
                None => steps.push(stair),
            }
        }
        steps
    }

    fn stairs(&self, end_proven: bool, is_complete: bool) -> Stairs {
        Stairs { steps: self.steps(), end_proven, is_complete }
    }

    /// The limits to look at next: in the middle of the gaps in which most is
    /// open, measured by the whole curve.
    fn gaps(&self, most: usize) -> Vec<f64> {
        let steps = self.steps();
        let (Some(first), Some(last)) = (steps.first(), steps.last()) else { return Vec::new() };
        let wide = (last.from - first.from).abs();
        let worst = self.asked.without.worst_loss();
        let tall = (first.loss() - last.loss()).max(f64::MIN_POSITIVE);
        let here = self
            .asked
            .own
            .and_then(|own| steps.iter().rev().find(|step| self.key(step.from) <= self.key(own)).map(Stair::loss));
        let decides = |before: &Stair, after: &Stair| {
            [-1.0, 1.0].iter().any(|points| {
                here.is_some_and(|here| {
                    let asked = here + points * worst / 100.0;
                    after.loss() <= asked && asked < before.loss()
                })
            })
        };
        let mut gaps: Vec<(f64, f64)> = Vec::new();
        for pair in steps.windows(2) {
            let (from, to) = (pair[0].to, pair[1].from);
            let (width, drop) = ((to - from).abs(), pair[0].loss() - pair[1].loss());
            if self.key(to) <= self.key(from) || width <= NARROWEST * wide || drop <= FLAT * worst {
                continue;
            }
            let weight = if decides(&pair[0], &pair[1]) { ASKED_FOR } else { 1.0 };
            gaps.push((weight * width / wide * drop / tall, f64::midpoint(from, to)));
        }
        gaps.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.total_cmp(&b.1)));
        gaps.into_iter().take(most).map(|(_, at)| at).collect()
    }
}
