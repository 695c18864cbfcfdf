//! A brief that asks for neither steps nor counts: one linear programme at
//! every dose.

use super::window_end::window_end;
use super::{Asked, End, FURTHER, Point, Push};
use crate::analysis::axis::{Axis, any_loss};
use crate::analysis::caps::{Cap, giving_way};
use crate::analysis::curve::{Placing, curve};
use crate::control::Control;
use crate::problem::Problem;
use crate::problem::target::signed_fidelity_percent;
use crate::solve::extent::Extent;
use crate::solve::{Failure, Status, direct};
use crate::tolerance::doses::SAME;
use crate::tolerance::rules::HOLDS;
use crate::units::Ppt;

/// Points within the caps, and beyond them.
const WITHIN: Placing = Placing { least: 60, most: 160, tolerance: 0.03 };
const BEYOND: Placing = Placing { least: 20, most: 60, tolerance: 0.1 };

/// A brief that asks for neither steps nor counts: one linear programme at
/// every dose.
pub(super) fn over_any_doses(open: &Problem, caps: &[Cap], asked: Asked, control: &Control) -> Result<Push, Failure> {
    let material = asked.material;
    let axis = Axis::Dose(material);
    let relaxed = open.relaxed();
    let mut bench = Bench { relaxed: &relaxed, caps, material, wall_ppt: 0.0, control };
    let best = direct::best(&relaxed, control)?;
    let Some(answer) = best.answer else {
        return Ok(Push { none: Some(best.status), ..Push::default() });
    };
    let loss = answer.evaluation.loss;
    let best = Point {
        dose_ppt: answer.formula.dose(material).as_f64(),
        answer,
        bound: best.bound.unwrap_or(0.0),
        proven: best.status == Status::Optimal,
    };
    let end = |ceiling: f64, most: bool| axis.end(&Extent::new(&relaxed, ceiling)?, &relaxed, most);
    let any = any_loss(&relaxed);
    let low = end(any, false).filter(|low| *low > Ppt::LEAST.as_f64()).unwrap_or(0.0);
    let high = end(any, true).unwrap_or(best.dose_ppt).max(best.dose_ppt);
    let ceiling = loss + asked.margin / 100.0 * relaxed.worst_loss();
    let nothing = |dose: f64| if dose <= Ppt::LEAST.as_f64() { 0.0 } else { dose };
    let window = (
        nothing(end(ceiling, false).unwrap_or(best.dose_ppt).min(best.dose_ppt)),
        end(ceiling, true).unwrap_or(best.dose_ppt).max(best.dose_ppt),
    );
    let without = if low > 0.0 { None } else { bench.within(0.0) };
    let no_gain = without.as_ref().map(|without| without.answer.evaluation.loss);
    let mut gone =
        no_gain.and_then(|loss| end(loss, true)).filter(|gone| *gone < high * (1.0 - SAME)).map(|at| (at, false));
    // Where fidelity is gone there is nothing to draw.
    let top =
        if window.1 < high { end(relaxed.worst_loss(), true).unwrap_or(high).clamp(window.1, high) } else { high };
    let also: Vec<f64> = [best.dose_ppt, window.0, window.1].into_iter().chain(gone.map(|gone| gone.0)).collect();
    let found = curve((low, top), &also, WITHIN, control, |dose| bench.within(dose), |point| bench.height(point));
    let points: Vec<Point> = found.points.into_iter().map(|(_, point)| point).collect();
    let mut is_complete = found.is_complete;

    let mut beyond = Vec::new();
    bench.wall_ppt = high;
    let lowest = caps.first().map(|cap| cap.dose_ppt).filter(|_| top >= high);
    if let Some(furthest) = lowest.and_then(|cap| bench.furthest(cap)) {
        let found =
            curve((high, furthest), &[], BEYOND, control, |dose| bench.beyond(dose), |point| bench.height(point));
        beyond = found.points.into_iter().map(|(_, point)| point).filter(|point| point.dose_ppt > high).collect();
        is_complete &= found.is_complete;
        if gone.is_none() {
            gone = no_gain.and_then(|loss| crossing(&points, &beyond, loss)).map(|at| (at, true));
        }
    }
    let ends = [(window.0, low), (window.1, high)]
        .map(|(at, wall)| bench.gives_way(&best, at, (at - wall).abs() <= SAME * wall));
    is_complete &= !control.should_stop();
    Ok(Push {
        points,
        beyond,
        is_continuous: true,
        best: Some(best),
        window: Some(window),
        window_proven: [true; 2],
        without,
        gone,
        ends,
        is_complete,
        ..Push::default()
    })
}

struct Bench<'a> {
    relaxed: &'a Problem,
    caps: &'a [Cap],
    material: usize,
    /// The most of the material that the rules leave, in ppt.
    wall_ppt: f64,
    control: &'a Control,
}

impl Bench<'_> {
    fn solved(&self, problem: &Problem, dose_ppt: f64) -> Option<Point> {
        let solution = direct::best(&problem.with_dose(self.material, Ppt::from_ppt(dose_ppt)), self.control).ok()?;
        Point::of(solution, dose_ppt)
    }

    /// The best with a dose inside the rules.
    fn within(&self, dose_ppt: f64) -> Option<Point> {
        self.solved(self.relaxed, dose_ppt)
    }

    /// The best with a dose for which the caps give way.
    fn beyond(&self, dose_ppt: f64) -> Option<Point> {
        self.solved(&giving_way(self.relaxed, self.caps, self.material, self.wall_ppt, dose_ppt), dose_ppt)
    }

    /// The greatest dose that is looked at, so many times the lowest cap;
    /// `None` where the caps give way and other rules leave no more.
    fn furthest(&self, cap: f64) -> Option<f64> {
        let wanted = (FURTHER * cap).min(Ppt::WHOLE.as_f64());
        let open = giving_way(self.relaxed, self.caps, self.material, self.wall_ppt, wanted);
        let axis = Axis::Dose(self.material);
        // Where fidelity is gone there is nothing to draw.
        let most = axis.end(&Extent::new(&open, self.relaxed.worst_loss())?, &open, true)?.min(wanted);
        (most > self.wall_ppt * (1.0 + SAME)).then_some(most)
    }

    /// Fidelity in percent, below 0 where it is gone.
    fn height(&self, point: &Point) -> f64 {
        signed_fidelity_percent(point.answer.evaluation.loss, self.relaxed.worst_loss())
    }

    fn gives_way(&self, best: &Point, at: f64, is_wall: bool) -> Option<End> {
        let point = if at == best.dose_ppt { best.clone() } else { self.within(at)? };
        Some(window_end(self.relaxed, self.caps, self.material, best, point, is_wall, HOLDS))
    }
}

/// The dose at which the loss passes another for the last time, in a straight
/// line between two points.
fn crossing(points: &[Point], beyond: &[Point], loss: f64) -> Option<f64> {
    let all: Vec<(f64, f64)> =
        points.iter().chain(beyond).map(|point| (point.dose_ppt, point.answer.evaluation.loss)).collect();
    let pair = all.windows(2).rev().find(|pair| pair[0].1 <= loss && pair[1].1 > loss)?;
    Some(pair[0].0 + (loss - pair[0].1) / (pair[1].1 - pair[0].1) * (pair[1].0 - pair[0].0))
}
