//! The best formula with each of some doses of a material.

use super::upper_limit::UpperLimit;
use super::{Asked, Own, Tradeoff, nothing};
use crate::analysis::along::along;
use crate::analysis::axis::{Axis, NoRange};
use crate::analysis::curve::evenly;
use crate::control::Control;
use crate::problem::Problem;
use crate::solve::{self, Failure, Status};
use crate::tolerance::doses::EQUAL;
use crate::units::Ppt;

/// The best formula with each of some doses of a material.
pub(super) fn by_dose(
    problem: &Problem,
    without: &Problem,
    asked: Asked,
    above: UpperLimit,
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
        upper.iter().find(|point| (point.at - dose).abs() < EQUAL).map_or(0.0, |point| point.bound).max(least)
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

/// The dose in ppt nearest to another that the rules on it allow, or nothing.
pub fn on_grid(problem: &Problem, material: usize, ppt: f64) -> f64 {
    let domain = problem.dose_rules()[material];
    let half = Ppt::from_units(domain.step.units() / 2);
    let dose = (Ppt::from_ppt(ppt) + half).floor_to(domain.step).min(domain.most);
    if dose + dose < domain.least { 0.0 } else { dose.max(domain.least).as_f64() }
}
