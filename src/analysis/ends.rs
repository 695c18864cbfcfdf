//! How little and how much of one material the formulas have that keep every
//! rule and are near enough to the target: at each dose that is tried a short
//! search says whether a formula with no more of it, or no less, is below the
//! ceiling. What is found narrows the gap from one side, what is ruled out from
//! the other.

use crate::control::Control;
use crate::problem::{DoseDomain, Problem};
use crate::solve::below::{Below, below};
use crate::solve::{Answer, Failure, PROVEN};
use crate::tolerance::doses::END;
use crate::tolerance::doses::WALL;
use crate::units::Ppt;

/// Searches for one end.
const TRIES: usize = 40;

/// Which end of a dose's range.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The least dose.
    Least,
    /// The greatest dose.
    Most,
}

/// A formula at an end of a range.
#[derive(Clone, Debug)]
pub struct Reached {
    /// The formula; it keeps every rule and is below the ceiling.
    pub answer: Answer,
    /// Whether it is certain that none below the ceiling goes further: exactly
    /// on a grid, to a thousandth of the dose without one.
    pub proven: bool,
}

/// What is asked of one material.
#[derive(Clone, Copy, Debug)]
pub struct Wanted {
    /// The material, which the rules let be used.
    pub material: usize,
    /// Which end.
    pub side: Side,
    /// Greatest loss of the formulas that count, in score points.
    pub ceiling: f64,
    /// A dose in ppt that no formula below the ceiling passes, as far as that is
    /// known: the end over continuous doses.
    pub wall_ppt: Option<f64>,
}

/// The loss that formulas must stay below to count as no worse than a ceiling.
pub fn no_worse_than(ceiling: f64) -> f64 {
    // What ties with the ceiling is inside; the search needs that much room.
    ceiling + 2.0 * PROVEN * ceiling.max(1.0)
}

/// The end of a material's range, from a formula that keeps every rule and is
/// below the ceiling.
///
/// # Errors
/// Where a result failed its check.
pub fn end(problem: &Problem, wanted: Wanted, from: &Answer, control: &Control) -> Result<Reached, Failure> {
    let Wanted { material, side, ceiling, wall_ppt } = wanted;
    let domain = problem.dose_rules()[material];
    let mut best = from.clone();
    let sure = |answer: Answer| Ok(Reached { answer, proven: true });
    if domain.fixed {
        return sure(best);
    }
    // The best dose that is left to try; beyond it there is nothing.
    let Some(mut furthest) = furthest(domain, side, wall_ppt) else { return sure(best) };
    let limit = no_worse_than(ceiling);
    let mut is_first = true;
    for _ in 0..TRIES {
        let here = best.formula.dose(material);
        let Some(dose) = next(domain, side, here, furthest, is_first) else { return sure(best) };
        is_first &= dose != furthest;
        if control.should_stop() {
            break;
        }
        let narrowed = match side {
            Side::Least => problem.with_at_most(material, dose),
            Side::Most => problem.with_at_least(material, dose),
        };
        match below(&narrowed, limit, &[], control)? {
            Below::Found(answer) => best = *answer,
            Below::Nothing => match beyond(domain, side, dose) {
                Some(nearer) => furthest = nearer,
                None => return sure(best),
            },
            Below::Unknown => break,
        }
    }
    Ok(Reached { answer: best, proven: false })
}

/// The dose furthest out that the rules on it leave.
fn furthest(domain: DoseDomain, side: Side, wall_ppt: Option<f64>) -> Option<Ppt> {
    // A hair further out, since a wall is rounded.
    match side {
        Side::Least => {
            let wall = wall_ppt.map_or(Ppt::ZERO, |wall| Ppt::from_ppt((wall * (1.0 - WALL) - WALL).max(0.0)));
            if wall.is_zero() && !domain.must {
                return Some(Ppt::ZERO);
            }
            Some(wall.ceil_to(domain.step).max(domain.least))
        }
        Side::Most => {
            let wall = wall_ppt.map_or(Ppt::WHOLE, |wall| Ppt::from_ppt(wall * (1.0 + WALL) + WALL));
            let most = wall.floor_to(domain.step).min(domain.most);
            (most >= domain.least).then_some(most)
        }
    }
}

/// The dose to try next between where formulas reach and where none can be:
/// the furthest first, then the middle; `None` where nothing lies between.
/// What has no dose yet tries its least.
fn next(domain: DoseDomain, side: Side, here: Ppt, furthest: Ppt, is_first: bool) -> Option<Ppt> {
    let is_past = match side {
        Side::Least => here <= furthest,
        Side::Most => here >= furthest,
    };
    if is_past {
        return None;
    }
    let apart = (here.as_f64() - furthest.as_f64()).abs();
    if domain.step.is_zero() && apart <= END * here.max(furthest).as_f64() {
        return None;
    }
    if side == Side::Most && here < domain.least {
        // Most of what is not in the formula does not come in at all.
        return Some(domain.least);
    }
    if is_first {
        return Some(furthest);
    }
    let middle = Ppt::from_units(furthest.units() + (here.units() - furthest.units()) / 2);
    let dose = match side {
        // Rounded outwards, so that it is never where a formula stands already.
        Side::Least => middle.floor_to(domain.step).max(furthest),
        Side::Most => middle.ceil_to(domain.step).min(furthest),
    };
    // Between nothing and the least dose there is no other.
    Some(match side {
        Side::Least if dose < domain.least && dose > Ppt::ZERO => furthest,
        _ => dose,
    })
}

/// The dose next to one that is ruled out, on the side of the formulas.
fn beyond(domain: DoseDomain, side: Side, dose: Ppt) -> Option<Ppt> {
    let step = if domain.step.is_zero() { Ppt::LEAST } else { domain.step };
    match side {
        Side::Least if dose < domain.least => Some(domain.least),
        Side::Least => Some(dose + step),
        Side::Most => Some(dose - step).filter(|dose| *dose >= domain.least),
    }
}
