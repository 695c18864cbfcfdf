//! What money, strength, a count or a dose buys: the best formula that keeps
//! every rule at every limit of one rule, and what happens on the way. What
//! could be had over any doses stands beside it as an upper limit.

use std::time::Duration;

use super::along::along;
use super::axis::{Axis, NoRange, Range};
use super::curve::{Placing, curve, evenly, height_at, knee};
use super::passing::{Passing, passings};
use super::stairs::{self, Stairs, stairs};
use crate::control::Control;
use crate::model::Blend;
use crate::problem::Problem;
use crate::problem::target::signed_fidelity_percent;
use crate::solve::direct::{self, Family};
use crate::solve::extent::Extent;
use crate::solve::{self, Answer, Failure, Method, PROVEN, Solution, Status};
use crate::units::Ppt;

/// Points of a curve over continuous doses: where the brief asks for no more,
/// and where it is the upper limit.
const PLACING: Placing = Placing { least: 24, most: 160, tolerance: 0.03 };
const ABOVE: Placing = Placing { least: 24, most: 60, tolerance: 0.1 };
/// The part of the time that the upper limit may take.
const FOR_THE_UPPER_LIMIT: f64 = 0.2;
/// Slopes of a curve of steps are taken over this part of it.
const STEPS_OVER: f64 = 0.05;
/// A slope is taken over this part of the curve.
const SLOPE_OVER: f64 = 0.01;

/// A trade-off.
#[derive(Clone, Debug)]
pub struct Tradeoff {
    /// What is traded.
    pub axis: Axis,
    /// The best formulas that keep every rule, limits rising.
    pub points: Vec<Point>,
    /// Indices of the points that are told in full.
    pub formulas: Vec<usize>,
    /// What could be had over any doses and with any number of materials,
    /// limits rising; empty where the brief allows any doses, and against a
    /// count.
    pub upper_limit: Vec<Upper>,
    /// Whether the brief asks for neither steps, least doses nor a number of
    /// materials: the curve is then one line without steps.
    pub is_continuous: bool,
    /// Limits that no formula keeps: proven.
    pub without_formula: Vec<f64>,
    /// Limits of which there was no time to find out.
    pub not_computed: Vec<f64>,
    /// Whether both ends are certain.
    pub ends_proven: bool,
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

/// The best at one limit, and at those beyond for which that is certain.
#[derive(Clone, Debug)]
pub struct Point {
    /// The tightest limit that the formula keeps, in the unit of the axis.
    pub at: f64,
    /// The loosest at which it is the best that was found, and as far as that
    /// is proven, the best; `at` where nothing is known beyond, infinite where
    /// no limit at all brings more.
    pub until: f64,
    /// The formula; it keeps every rule.
    pub answer: Answer,
    /// No formula with this limit has a loss below this, in score points.
    pub bound: f64,
    /// Whether it is proven best.
    pub proven: bool,
}

/// The most that blends over any doses come to at one limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Upper {
    /// The limit.
    pub at: f64,
    /// Fidelity in percent.
    pub fidelity_percent: f64,
    /// No formula with this limit has a loss below this, in score points.
    bound: f64,
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
pub struct Asked<'a> {
    /// What is traded.
    pub axis: Axis,
    /// How many limits are looked at between the ends of the curve.
    pub formulas: usize,
    /// Which method proves them.
    pub method: Method,
    /// What is known of the brief as it stands.
    pub known: Option<&'a Solution>,
}

/// Works a trade-off out. `done` is told how many of how many formulas have
/// ended.
///
/// # Errors
/// Where the method cannot take the problem, or a result failed its check.
pub fn tradeoff(
    problem: &Problem,
    asked: Asked,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Tradeoff, Failure> {
    tradeoff_watched(problem, asked, None, control, done, &mut |_| {})
}

/// The same, shown as it gets finer. What the brief's own formula says is shown
/// first; the upper limit takes no longer than `upper_within`, so that the next
/// picture does not wait for it.
///
/// # Errors
/// As [`tradeoff`].
pub fn tradeoff_watched(
    problem: &Problem,
    asked: Asked,
    upper_within: Option<Duration>,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
    shown: &mut dyn FnMut(&Tradeoff),
) -> Result<Tradeoff, Failure> {
    let axis = asked.axis;
    if axis == Axis::Count {
        if let Some(point) = asked.known.and_then(|known| of_known(axis, known)) {
            let mut first = Tradeoff { points: vec![point], ends_proven: false, is_complete: false, ..nothing(axis) };
            first.along_the_way(problem);
            shown(&first);
        }
        return by_count(problem, asked.method, control, done);
    }
    let without = axis.without(problem);
    if Blend::new(&without).is_continuous() {
        return over_any_doses(problem, &without, asked, control);
    }
    let own = axis.own(problem);
    let mut for_the_upper = control.with_share(FOR_THE_UPPER_LIMIT);
    if let Some(limit) = upper_within {
        for_the_upper = for_the_upper.within(limit);
    }
    let above = above(axis, &without, own, &for_the_upper)?;
    match axis.loosens_upwards() {
        Some(_) => in_steps(problem, &without, asked, &above, control, done, shown),
        None => by_dose(problem, &without, asked, above, control, done),
    }
}

/// What is known of the brief as it stands, as a point.
fn of_known(axis: Axis, known: &Solution) -> Option<Point> {
    let answer = known.answer.clone()?;
    let (at, proven) = (axis.of(&answer)?, known.status == Status::Optimal);
    Some(Point { at, until: at, bound: known.bound.unwrap_or(0.0), answer, proven })
}

fn nothing(axis: Axis) -> Tradeoff {
    Tradeoff {
        axis,
        points: Vec::new(),
        formulas: Vec::new(),
        upper_limit: Vec::new(),
        is_continuous: false,
        without_formula: Vec::new(),
        not_computed: Vec::new(),
        ends_proven: true,
        own: None,
        knee: None,
        passings: Vec::new(),
        is_complete: true,
        none: None,
    }
}

/// A brief that asks for neither steps nor counts: one linear programme at
/// every limit.
fn over_any_doses(problem: &Problem, without: &Problem, asked: Asked, control: &Control) -> Result<Tradeoff, Failure> {
    let axis = asked.axis;
    let relaxed = without.relaxed();
    let own = axis.own(problem);
    let range = match axis.range(&relaxed, own, control)? {
        Ok(range) => range,
        Err(none) => return Ok(Tradeoff { none: Some(none), ..nothing(axis) }),
    };
    let (points, is_complete) = continuous(axis, &relaxed, own, range, PLACING, control);
    let mut found = Tradeoff { points, is_complete, is_continuous: true, ..nothing(axis) };
    found.own = own.map(|own| own_limit(axis, &relaxed, own, range, &found.points, control));
    for wanted in evenly(&found.heights(), asked.formulas.min(found.points.len())) {
        let off = |at: usize| (found.points[at].at - wanted).abs();
        let nearest = (0..found.points.len()).min_by(|&a, &b| off(a).total_cmp(&off(b)));
        found.formulas.extend(nearest);
    }
    found.formulas.extend(own.and_then(|own| found.points.iter().position(|point| point.at == own)));
    found.formulas.sort_unstable();
    found.formulas.dedup();
    found.along_the_way(problem);
    Ok(found)
}

/// What could be had over any doses.
struct Above {
    points: Vec<Upper>,
    /// Whether the loosest point bounds what lies beyond it.
    is_to_the_end: bool,
}

/// What could be had over any doses, as far as there is time.
fn above(axis: Axis, without: &Problem, own: Option<f64>, control: &Control) -> Result<Above, Failure> {
    let relaxed = without.relaxed();
    let Ok(range) = axis.range(&relaxed, own, control)? else {
        return Ok(Above { points: Vec::new(), is_to_the_end: false });
    };
    let (points, _) = continuous(axis, &relaxed, own, range, ABOVE, control);
    let upper = |point: Point| Upper {
        at: point.at,
        fidelity_percent: point.answer.evaluation.fidelity_percent,
        bound: if point.proven { (point.bound - 2.0 * PROVEN * point.bound.max(1.0)).max(0.0) } else { 0.0 },
    };
    let points: Vec<Upper> = points.into_iter().map(upper).collect();
    let is_to_the_end = match axis.loosens_upwards() {
        Some(true) => points.last().is_some_and(|last| last.at == range.high),
        Some(false) => points.first().is_some_and(|first| first.at == range.low),
        None => false,
    };
    Ok(Above { points, is_to_the_end })
}

/// A rule that loosens in one direction: a curve of steps.
fn in_steps(
    problem: &Problem,
    without: &Problem,
    asked: Asked,
    above: &Above,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
    shown: &mut dyn FnMut(&Tradeoff),
) -> Result<Tradeoff, Failure> {
    let axis = asked.axis;
    let own = axis.own(problem);
    let upwards = axis.loosens_upwards() == Some(true);
    // The loss over any doses of the looser of two limits bounds what lies
    // between them.
    let upper = &above.points[..];
    let bound = |limit: f64| {
        let (looser, loosest) = match upwards {
            true => (upper.iter().find(|point| point.at >= limit), upper.last()),
            false => (upper.iter().rev().find(|point| point.at <= limit), upper.first()),
        };
        let beyond = loosest.filter(|_| above.is_to_the_end);
        looser.or(beyond).map_or(0.0, |point| point.bound)
    };
    let wanted = stairs::Asked {
        axis,
        without,
        own,
        limits: asked.formulas,
        method: asked.method,
        known: asked.known.filter(|known| known.answer.is_some()),
        bound: &bound,
    };
    let found = stairs(&wanted, control, done, &mut |stairs| {
        shown(&of_stairs(problem, axis, own, stairs, upper));
    })?;
    Ok(match found {
        Ok(stairs) => of_stairs(problem, axis, own, &stairs, upper),
        Err(Status::Infeasible) => Tradeoff { none: Some(NoRange::Impossible), ..nothing(axis) },
        Err(_) => Tradeoff { none: Some(NoRange::Unknown), ..nothing(axis) },
    })
}

fn of_stairs(problem: &Problem, axis: Axis, own: Option<f64>, stairs: &Stairs, upper: &[Upper]) -> Tradeoff {
    let point = |stair: &stairs::Stair| Point {
        at: stair.from,
        until: stair.to,
        answer: stair.answer.clone(),
        bound: stair.bound,
        proven: stair.is_proven(),
    };
    let mut points: Vec<Point> = stairs.steps.iter().map(point).collect();
    if axis.loosens_upwards() == Some(false) {
        points.reverse();
    }
    let ends_proven = stairs.end_proven && stairs.steps.last().is_some_and(stairs::Stair::is_proven);
    let mut found = Tradeoff {
        formulas: (0..points.len()).collect(),
        points,
        upper_limit: upper.to_vec(),
        ends_proven,
        is_complete: stairs.is_complete,
        ..nothing(axis)
    };
    found.own = own.map(|own| found.own_in_steps(problem, own));
    found.along_the_way(problem);
    found
}

/// The best formula with each of some doses of a material.
fn by_dose(
    problem: &Problem,
    without: &Problem,
    asked: Asked,
    above: Above,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Tradeoff, Failure> {
    let axis = asked.axis;
    let Axis::Dose(material) = axis else { return Ok(nothing(axis)) };
    let best = solve::propose(without, asked.method, &control.with_share(0.3))?;
    let Some(answer) = &best.answer else {
        let none = if best.status == Status::Infeasible { NoRange::Impossible } else { NoRange::Unknown };
        return Ok(Tradeoff { none: Some(none), ..nothing(axis) });
    };
    let own = axis.own(problem);
    // The best dose and the user's own are among those that are looked at.
    let upper = above.points;
    let heights: Vec<(f64, f64)> = upper.iter().map(|point| (point.at, point.fidelity_percent)).collect();
    let mut doses = evenly(&heights, asked.formulas.max(2));
    doses.iter_mut().for_each(|at| *at = on_grid(without, material, *at));
    let own_dose = own.map(|own| Ppt::from_ppt(own).as_f64());
    doses.extend(own_dose.into_iter().chain([answer.formula.dose(material).as_f64()]));
    doses.sort_by(f64::total_cmp);
    doses.dedup();
    // What bounds the best dose bounds all of them.
    let least = best.bound.unwrap_or(0.0);
    let bound = |dose: &f64| {
        upper.iter().find(|point| (point.at - dose).abs() < 1e-9).map_or(0.0, |point| point.bound).max(least)
    };
    let known: Vec<f64> = doses.iter().map(bound).collect();
    let solutions = along(axis, without, &doses, &known, asked.method, control, done)?;
    let mut found = Tradeoff { upper_limit: upper, ends_proven: best.status == Status::Optimal, ..nothing(axis) };
    found.take(doses, solutions);
    found.is_complete &= !control.should_stop();
    found.own = own_dose.map(|own| {
        let kept = found.points.iter().find(|point| point.at == own);
        Own { at: own, fidelity: kept.map(|point| point.answer.evaluation.fidelity_percent), ..Own::default() }
    });
    found.along_the_way(problem);
    Ok(found)
}

impl Tradeoff {
    /// (limit, fidelity) of each point.
    pub fn heights(&self) -> Vec<(f64, f64)> {
        self.points.iter().map(|point| (point.at, point.answer.evaluation.fidelity_percent)).collect()
    }

    /// The point whose formula is the best known at a limit.
    pub fn kept_at(&self, limit: f64) -> Option<&Point> {
        match self.axis.loosens_upwards() {
            Some(true) => self.points.iter().rev().find(|point| point.at <= limit),
            Some(false) => self.points.iter().find(|point| point.at >= limit),
            None => self.points.iter().find(|point| point.at == limit),
        }
    }

    /// Takes the solutions at some limits, one each.
    fn take(&mut self, limits: Vec<f64>, solutions: Vec<Solution>) {
        for (at, solution) in limits.into_iter().zip(solutions) {
            let proven = solution.status == Status::Optimal;
            match solution.answer {
                Some(answer) => {
                    let bound = solution.bound.unwrap_or(0.0);
                    self.points.push(Point { at, until: at, answer, bound, proven });
                }
                None if solution.status == Status::Infeasible => self.without_formula.push(at),
                None => self.not_computed.push(at),
            }
        }
        self.is_complete &= self.not_computed.is_empty();
        self.formulas = (0..self.points.len()).collect();
    }

    /// What the user's own limit means on a curve of steps.
    fn own_in_steps(&self, problem: &Problem, own: f64) -> Own {
        let here = Own { at: own, ..Own::default() };
        let Some(kept) = self.kept_at(own) else { return here };
        let loss = kept.answer.evaluation.loss;
        let a_point = problem.worst_loss() / 100.0;
        let upwards = self.axis.loosens_upwards() == Some(true);
        let near = |other: f64, wanted: f64| other <= wanted + PROVEN * wanted.max(1.0);
        // The tightest limit of those looked at with so small a loss.
        let tightest = |wanted: f64| {
            let mut with = self.points.iter().filter(|point| near(point.answer.evaluation.loss, wanted));
            let point = if upwards { with.next() } else { with.next_back() };
            point.map(|point| (point.at - own).abs())
        };
        let range = self.points.first().zip(self.points.last());
        let by = STEPS_OVER * range.map_or(0.0, |(first, last)| last.at - first.at);
        let slope = |step: f64| {
            let there = self.kept_at(own + step)?;
            Some((height(problem, there.answer.evaluation.loss) - height(problem, loss)) / step)
        };
        Own {
            fidelity: Some(kept.answer.evaluation.fidelity_percent),
            point_more: tightest(loss - a_point),
            point_less: tightest(loss + a_point),
            slope_up: (by > 0.0).then(|| slope(by)).flatten(),
            slope_down: (by > 0.0).then(|| slope(-by)).flatten(),
            ..here
        }
    }

    fn along_the_way(&mut self, problem: &Problem) {
        self.knee = knee(&self.heights());
        let dose = |point: &Point| {
            let mut doses = vec![0.0; problem.columns.len()];
            point.answer.formula.parts.iter().for_each(|&(material, dose)| doses[material] = dose.as_f64());
            doses
        };
        let mut places: Vec<f64> = Vec::new();
        let mut doses: Vec<Vec<f64>> = Vec::new();
        for point in &self.points {
            // A step is as good as both of its ends.
            let (from, to) = (point.at.min(point.until), point.at.max(point.until));
            places.push(if from.is_finite() { from } else { point.at });
            doses.push(dose(point));
            if to.is_finite() && to > from && from.is_finite() {
                places.push(to);
                doses.push(dose(point));
            }
        }
        self.passings = passings(&places, &doses, self.axis == Axis::Count);
    }
}

/// Fidelity in percent, below 0 where a blend is further away than one that
/// shares nothing with the target.
fn height(problem: &Problem, loss: f64) -> f64 {
    signed_fidelity_percent(loss, problem.worst_loss())
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
    Some(Point { at, until: at, answer: solution.answer?, bound: solution.bound.unwrap_or(0.0), proven })
}

/// The problems along an axis as one family, where its rule is one row.
fn family(axis: Axis, relaxed: &Problem, range: Range) -> Option<Family> {
    let loosest = match axis.loosens_upwards()? {
        true => range.high,
        false => range.low,
    };
    Family::new(&axis.at(relaxed, loosest), &axis.kind())
}

fn continuous(
    axis: Axis,
    relaxed: &Problem,
    own: Option<f64>,
    range: Range,
    placing: Placing,
    control: &Control,
) -> (Vec<Point>, bool) {
    let also: Vec<f64> = own.into_iter().chain(range.turns).filter(|at| *at > range.low && *at < range.high).collect();
    let family = family(axis, relaxed, range);
    let found = curve(
        (range.low, range.high),
        &also,
        placing,
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
                points[at].bound = points[at].bound.min(points[at].answer.evaluation.loss);
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
    found.ends_proven = most.status == Status::Optimal;
    found.is_complete = found.ends_proven;
    solutions.push(most);
    found.take(counts, solutions);
    found.own = own.map(|own| Own { at: own, fidelity: fidelity_of(found.kept_at(own)), ..Own::default() });
    found.along_the_way(problem);
    Ok(found)
}

fn fidelity_of(point: Option<&Point>) -> Option<f64> {
    point.map(|point| point.answer.evaluation.fidelity_percent)
}
