//! A trade-off along a rule that loosens in one direction: a curve of steps.

use super::continuous::height;
use super::upper_limit::UpperLimit;
use super::{Asked, Own, Point, Tradeoff, Upper, nothing};
use crate::analysis::axis::{Axis, NoRange};
use crate::analysis::stairs::{self, Stairs, stairs};
use crate::control::Control;
use crate::problem::Problem;
use crate::solve::{Failure, PROVEN, Status};

/// Slopes of a curve of steps are taken over this part of it.
const STEPS_OVER: f64 = 0.05;

/// A rule that loosens in one direction: a curve of steps.
pub(super) fn in_steps(
    problem: &Problem,
    without: &Problem,
    asked: Asked,
    above: &UpperLimit,
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

impl Tradeoff {
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
}
