//! What money, strength, a count or a dose buys: the best fidelity at every
//! limit of one rule, over continuous doses and in whole parts, and what
//! happens on the way.

use super::along::along;
use super::axis::{self, Axis, NoRange, Range};
use super::curve::{Placing, curve, evenly, height_at, knee};
use super::passing::{Passing, passings};
use crate::control::Control;
use crate::problem::Problem;
use crate::solve::direct::{self, Family};
use crate::solve::extent::Extent;
use crate::solve::{self, Answer, Failure, Method, Solution, Start, Status};
use crate::units::Ppt;

/// Points of the continuous curve.
const PLACING: Placing = Placing { least: 24, most: 160, tolerance: 0.03 };
/// A slope is taken over this part of the curve.
const SLOPE_OVER: f64 = 0.01;

/// A trade-off.
#[derive(Clone, Debug)]
pub struct Tradeoff {
    /// What is traded.
    pub axis: Axis,
    /// The best blends at every limit, limits rising: over continuous doses
    /// or, for a count, in the brief's own doses.
    pub points: Vec<Point>,
    /// The best formulas that keep all rules, limits rising; for limits that
    /// none can keep, that.
    pub formulas: Vec<(f64, Solution)>,
    /// Where the user's own limit stands, if the brief has one.
    pub own: Option<Own>,
    /// The point where the return falls off most.
    pub knee: Option<usize>,
    /// Which materials enter and leave.
    pub passings: Vec<Passing>,
    /// Whether there was time for all of it.
    pub is_complete: bool,
    /// Why there is no curve.
    pub none: Option<NoRange>,
}

/// The best at one limit.
#[derive(Clone, Debug)]
pub struct Point {
    /// The limit, in the unit of the axis.
    pub at: f64,
    /// The blend.
    pub answer: Answer,
    /// Whether it is proven best.
    pub proven: bool,
}

/// What the user's own limit means.
#[derive(Clone, Copy, Debug, Default)]
pub struct Own {
    /// The limit.
    pub at: f64,
    /// Fidelity in percent there; `None` where no blend keeps it.
    pub fidelity: Option<f64>,
    /// What one more point of fidelity costs, in the unit of the axis; `None`
    /// where so much is not to be had, or the axis has no price.
    pub point_more: Option<f64>,
    /// What giving up one point saves.
    pub point_less: Option<f64>,
    /// Points of fidelity for one unit more of the limit.
    pub slope_up: Option<f64>,
    /// Points of fidelity for one unit less, as a positive slope where they
    /// fall with it.
    pub slope_down: Option<f64>,
}

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    /// What is traded.
    pub axis: Axis,
    /// Whole-part formulas along the curve.
    pub formulas: usize,
    /// Which method proves them.
    pub method: Method,
}

/// Works a trade-off out. `done` is told how many of how many whole-part
/// formulas have ended.
///
/// # Errors
/// Where the method cannot take the problem, or a result failed its check.
pub fn tradeoff(
    problem: &Problem,
    asked: Asked,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Tradeoff, Failure> {
    if asked.axis == Axis::Count {
        return by_count(problem, asked.method, control, done);
    }
    let axis = asked.axis;
    let without = axis.without(problem);
    let relaxed = without.relaxed();
    let own = axis.own(problem);
    let range = match axis.range(&relaxed, own, control)? {
        Ok(range) => range,
        Err(none) => return Ok(Tradeoff { none: Some(none), ..nothing(axis) }),
    };
    let (points, complete) = continuous(axis, &relaxed, own, range, control);
    let mut found = Tradeoff { points, is_complete: complete, ..nothing(axis) };
    found.own = own.map(|own| own_limit(axis, &relaxed, own, range, &found.points, control));
    found.along_the_way(problem);
    if asked.formulas > 0 {
        let (limits, known) = whole_limits(&found, &without, asked.formulas, own);
        let solutions = along(axis, &without, &limits, &known, asked.method, control, done)?;
        found.is_complete &= solutions.iter().all(|solution| solution.status != Status::Unknown);
        found.formulas = limits.into_iter().zip(solutions).collect();
        let last = last_of_all(axis, &without, &found.formulas, asked.method, control)?;
        found.formulas.extend(last);
        found.is_complete &= !control.should_stop();
    }
    Ok(found)
}

fn nothing(axis: Axis) -> Tradeoff {
    Tradeoff {
        axis,
        points: Vec::new(),
        formulas: Vec::new(),
        own: None,
        knee: None,
        passings: Vec::new(),
        is_complete: true,
        none: None,
    }
}

impl Tradeoff {
    /// (limit, fidelity) of each point.
    pub fn heights(&self) -> Vec<(f64, f64)> {
        self.points.iter().map(|point| (point.at, point.answer.evaluation.fidelity_percent)).collect()
    }

    fn along_the_way(&mut self, problem: &Problem) {
        self.knee = knee(&self.heights());
        let places: Vec<f64> = self.points.iter().map(|point| point.at).collect();
        let dose = |point: &Point| {
            let mut doses = vec![0.0; problem.columns.len()];
            point.answer.formula.parts.iter().for_each(|&(material, dose)| doses[material] = dose.as_f64());
            doses
        };
        let doses: Vec<Vec<f64>> = self.points.iter().map(dose).collect();
        self.passings = passings(&places, &doses, self.axis == Axis::Count);
    }
}

/// Fidelity in percent, below 0 where a blend is further away than one that
/// shares nothing with the target.
fn height(problem: &Problem, loss: f64) -> f64 {
    100.0 * (1.0 - loss / problem.worst_loss())
}

/// The best blend over continuous doses at a limit.
fn best_at(axis: Axis, relaxed: &Problem, family: Option<&Family>, at: f64, control: &Control) -> Option<Point> {
    let member = axis.at(relaxed, at);
    // Every point starts from one basis, so that it is the same in any order.
    let solution = match family {
        Some(family) => family.clone().best(&member, control),
        None => direct::best(&member, control),
    };
    let solution = solution.ok()?;
    let proven = solution.status == Status::Optimal;
    Some(Point { at, answer: solution.answer?, proven })
}

/// The problems along an axis as one family, where its rule is one row.
fn family(axis: Axis, relaxed: &Problem, range: Range) -> Option<Family> {
    let loosest = match axis.loosens_upwards()? {
        true => range.high,
        false => range.low,
    };
    Family::new(&axis.at(relaxed, loosest), &axis.kind())
}

fn continuous(axis: Axis, relaxed: &Problem, own: Option<f64>, range: Range, control: &Control) -> (Vec<Point>, bool) {
    let also: Vec<f64> = own.into_iter().chain(range.turns).filter(|at| *at > range.low && *at < range.high).collect();
    let family = family(axis, relaxed, range);
    let found = curve(
        (range.low, range.high),
        &also,
        PLACING,
        control,
        |at| best_at(axis, relaxed, family.as_ref(), at, control),
        |point| height(relaxed, point.answer.evaluation.loss),
    );
    let mut points: Vec<Point> = found.points.into_iter().map(|(_, point)| point).collect();
    // A blend keeps every looser limit: rounding never makes the curve fall.
    if let Some(upwards) = axis.loosens_upwards() {
        if !upwards {
            points.reverse();
        }
        for at in 1..points.len() {
            if points[at - 1].answer.evaluation.loss < points[at].answer.evaluation.loss {
                points[at].answer = points[at - 1].answer.clone();
            }
        }
        if !upwards {
            points.reverse();
        }
    }
    (points, found.is_complete)
}

/// What the user's own limit means, over continuous doses.
fn own_limit(axis: Axis, relaxed: &Problem, own: f64, range: Range, points: &[Point], control: &Control) -> Own {
    let here = Own { at: own, ..Own::default() };
    let exact = points.iter().find(|point| point.at == own).cloned();
    let Some(point) = exact.or_else(|| best_at(axis, relaxed, None, own, control)) else { return here };
    let loss = point.answer.evaluation.loss;
    let fidelity = point.answer.evaluation.fidelity_percent;
    let here = Own { fidelity: Some(fidelity), ..here };
    let Some(upwards) = axis.loosens_upwards() else { return here };
    let a_point = relaxed.worst_loss() / 100.0;
    // The furthest limit that keeps a fidelity: how far the rule must go for
    // one point more, and may go for one point less.
    let furthest = |loss: f64| {
        if loss <= 0.0 {
            return None;
        }
        axis.end(&Extent::new(relaxed, loss)?, relaxed, !upwards)
    };
    let heights: Vec<(f64, f64)> =
        points.iter().map(|point| (point.at, height(relaxed, point.answer.evaluation.loss))).collect();
    let by = SLOPE_OVER * (range.high - range.low);
    let slope = |step: f64| {
        let there = best_at(axis, relaxed, None, own + step, control)
            .map(|point| height(relaxed, point.answer.evaluation.loss));
        // Beyond the curve nothing changes.
        let there = there.or_else(|| height_at(&heights, own + step))?;
        Some((there - height(relaxed, loss)) / step)
    };
    Own {
        point_more: furthest(loss - a_point).map(|at| (at - own).abs()),
        point_less: furthest(loss + a_point).map(|at| (at - own).abs()),
        slope_up: (by > 0.0).then(|| slope(by)).flatten(),
        slope_down: (by > 0.0).then(|| slope(-by)).flatten(),
        ..here
    }
}

/// The best formula under no limit, where it is better than the last one along
/// the curve: in whole parts more money may still buy something where it buys
/// nothing over any doses.
fn last_of_all(
    axis: Axis,
    without: &Problem,
    formulas: &[(f64, Solution)],
    method: Method,
    control: &Control,
) -> Result<Option<(f64, Solution)>, Failure> {
    let last = formulas.last().and_then(|(at, solution)| Some((*at, solution.answer.as_ref()?)));
    let (Some(true), Some((limit, last))) = (axis.loosens_upwards(), last) else { return Ok(None) };
    let start = Start { formulas: vec![last.formula.clone()], ..Start::default() };
    let solution = solve::propose_from(without, &start, method, control)?;
    let stands = solution.answer.as_ref().and_then(|answer| {
        let worth = last.evaluation.loss - answer.evaluation.loss;
        // A hair beyond, as every limit that a blend reaches.
        let at = axis.of(answer)? * (1.0 + axis::HAIR);
        (worth > solve::PROVEN * last.evaluation.loss.max(1.0) && at > limit).then_some(at)
    });
    Ok(stands.map(|at| (at, solution)))
}

/// Limits for the whole-part formulas, evenly along the curve as it is drawn,
/// both ends and the user's own among them, and what bounds the loss at each.
fn whole_limits(found: &Tradeoff, without: &Problem, count: usize, own: Option<f64>) -> (Vec<f64>, Vec<f64>) {
    let heights = found.heights();
    let (Some(&first), Some(&last)) = (heights.first(), heights.last()) else { return (Vec::new(), Vec::new()) };
    let mut limits = evenly(&heights, count);
    if let Some(own) = own.filter(|own| *own > first.0 && *own < last.0) {
        // In the place of the nearest that is no end.
        let inner = 1..limits.len().saturating_sub(1);
        match inner.min_by(|&a, &b| (limits[a] - own).abs().total_cmp(&(limits[b] - own).abs())) {
            Some(nearest) => limits[nearest] = own,
            None => limits.push(own),
        }
    }
    if let Axis::Dose(material) = found.axis {
        limits.iter_mut().for_each(|at| *at = on_grid(without, material, *at));
    }
    limits.sort_by(f64::total_cmp);
    limits.dedup();
    let bound = |at: &f64| {
        // The loss over continuous doses of the looser of two points bounds
        // what lies between them.
        let losses = found.points.iter();
        let looser: Option<&Point> = match found.axis.loosens_upwards() {
            Some(true) => losses.clone().find(|point| point.at >= *at),
            Some(false) => losses.clone().rev().find(|point| point.at <= *at),
            None => None,
        };
        looser.filter(|point| point.proven).map_or(0.0, |point| {
            let loss = point.answer.evaluation.loss;
            (loss - 2.0 * solve::PROVEN * loss.max(1.0)).max(0.0)
        })
    };
    let known = limits.iter().map(bound).collect();
    (limits, known)
}

/// The dose in ppt nearest to another that the rules on it allow, or nothing.
pub fn on_grid(problem: &Problem, material: usize, ppt: f64) -> f64 {
    let domain = problem.dose_rules()[material];
    let half = Ppt::from_units(domain.step.units() / 2);
    let dose = (Ppt::from_ppt(ppt) + half).floor_to(domain.step).min(domain.most);
    if dose + dose < domain.least { 0.0 } else { dose.max(domain.least).as_f64() }
}

/// The best formula with each number of materials, in the brief's own doses.
fn by_count(
    problem: &Problem,
    method: Method,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Tradeoff, Failure> {
    let axis = Axis::Count;
    let without = axis.without(problem);
    // Half of the time for the formula with any number, which bounds the rest.
    let most = solve::propose_from(&without, &Default::default(), method, &control.with_share(0.5))?;
    let own = axis.own(problem);
    let mut found = nothing(axis);
    let Some(best) = &most.answer else {
        found.none = Some(if most.status == Status::Infeasible { NoRange::Impossible } else { NoRange::Unknown });
        return Ok(found);
    };
    let counts: Vec<f64> = (1..=best.formula.parts.len()).map(|count| count as f64).collect();
    let bound = most.bound.unwrap_or(0.0);
    let last = counts.len() - 1;
    let mut solutions =
        along(axis, &without, &counts[..last], &vec![bound; last], method, control, &|at, of| done(at, of + 1))?;
    let is_optimal = most.status == Status::Optimal;
    solutions.push(most);
    found.is_complete = is_optimal && solutions.iter().all(|solution| solution.status != Status::Unknown);
    for (&at, solution) in counts.iter().zip(&solutions) {
        let proven = solution.status == Status::Optimal;
        found.points.extend(solution.answer.clone().map(|answer| Point { at, answer, proven }));
    }
    found.own = own.map(|own| {
        let kept = found.points.iter().rev().find(|point| point.at <= own);
        Own { at: own, fidelity: kept.map(|point| point.answer.evaluation.fidelity_percent), ..Own::default() }
    });
    found.formulas = counts.into_iter().zip(solutions).collect();
    found.along_the_way(problem);
    Ok(found)
}
