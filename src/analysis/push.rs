//! How far one material can go: the best fidelity at every dose of it, all
//! other doses solved again; what the dose gains, where the gain is gone, and
//! what gives way on both sides.

use super::along::along;
use super::axis::{Axis, any_loss};
use super::caps::{Cap, giving_way};
use super::curve::{Placing, curve};
use super::tradeoff::on_grid;
use crate::control::Control;
use crate::problem::check::Checker;
use crate::problem::{Problem, Rule, RuleKind};
use crate::solve::extent::Extent;
use crate::solve::{Answer, Failure, Method, Solution, Status, direct};
use crate::units::Ppt;

/// Points within the caps, and beyond them.
const WITHIN: Placing = Placing { least: 60, most: 160, tolerance: 0.03 };
const BEYOND: Placing = Placing { least: 20, most: 60, tolerance: 0.1 };
/// So many times the lowest cap is looked at.
const FURTHER: f64 = 2.0;
/// A dose within this part of another is the same.
const SAME: f64 = 1e-6;
/// A rule this near, as a share of its size, holds.
const HOLDS: f64 = 1e-6;
/// Doses that whole-part formulas are proven at.
const WHOLE_DOSES: usize = 60;

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    /// The material.
    pub material: usize,
    /// Points of fidelity that the window gives away.
    pub margin: f64,
    /// Whether formulas in the brief's own doses are proven too.
    pub whole: bool,
    /// Which method proves them.
    pub method: Method,
}

/// How far a material can go.
#[derive(Clone, Debug, Default)]
pub struct Push {
    /// The best blends within the caps, doses rising.
    pub points: Vec<Point>,
    /// The same beyond the lowest cap, the caps giving way as far as the dose
    /// needs and all other rules kept.
    pub beyond: Vec<Point>,
    /// The best within all rules.
    pub best: Option<Point>,
    /// Doses in ppt between which fidelity is within the margin of the best.
    pub window: Option<(f64, f64)>,
    /// The best without any; `None` where no blend does without it.
    pub without: Option<Point>,
    /// The dose in ppt from which on it is no better than without any, and
    /// whether that lies beyond a cap.
    pub gone: Option<(f64, bool)>,
    /// What gives way below the window and above it.
    pub ends: [Option<End>; 2],
    /// The best formula in the brief's own doses at each dose of its grid.
    pub whole: Vec<(f64, Solution)>,
    /// Whether there was time for all of it.
    pub is_complete: bool,
    /// How sure it is that there is no blend, where there is none.
    pub none: Option<Status>,
}

/// The best blend with one dose.
#[derive(Clone, Debug)]
pub struct Point {
    /// The dose in ppt.
    pub dose_ppt: f64,
    /// The blend.
    pub answer: Answer,
    /// Whether it is proven best.
    pub proven: bool,
}

/// What gives way at an end of the window.
#[derive(Clone, Debug)]
pub struct End {
    /// The best blend there.
    pub point: Point,
    /// The counted descriptor whose gap grows most from the best dose to here,
    /// with what it adds to the loss in points.
    pub descriptor: Option<(usize, f64)>,
    /// Rules that hold the blend here and do not hold the best one.
    pub rules: Vec<Rule>,
    /// Whether the dose can go no further inside the rules.
    pub is_wall: bool,
}

/// The problem that is looked at: the dose open, and what is on hand a cap on
/// it where a batch was given.
pub fn opened(problem: &Problem, material: usize, caps: &[Cap]) -> Problem {
    let mut open = problem.freeing(material);
    for cap in caps.iter().filter(|cap| cap.rule.is_none() && cap.place.is_none()) {
        let kind = RuleKind::DoseMax(material);
        let place = crate::place::Place { file: "--batch".into(), line: 0, column: 0 };
        open.rules.push(Rule {
            id: format!("stock:{}", problem.material(material).name),
            kind,
            place,
            at: cap.dose_ppt,
        });
    }
    open
}

/// Works out how far a material can go. `done` is told how many of how many
/// whole-part formulas have ended.
///
/// # Errors
/// Where the method cannot take the problem, or a result failed its check.
pub fn push(
    problem: &Problem,
    caps: &[Cap],
    asked: Asked,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Push, Failure> {
    let material = asked.material;
    let axis = Axis::Dose(material);
    let open = opened(problem, material, caps);
    let relaxed = open.relaxed();
    let mut bench = Bench { relaxed: &relaxed, caps, material, wall_ppt: 0.0, control };
    let best = direct::best(&relaxed, control)?;
    let Some(answer) = best.answer else {
        return Ok(Push { none: Some(best.status), ..Push::default() });
    };
    let loss = answer.evaluation.loss;
    let best =
        Point { dose_ppt: answer.formula.dose(material).as_f64(), answer, proven: best.status == Status::Optimal };
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
    let mut whole = Vec::new();
    if asked.whole {
        let doses = whole_doses(&open, material, top);
        let known = vec![0.0; doses.len()];
        let solutions = along(axis, &open, &doses, &known, asked.method, control, done)?;
        is_complete &= solutions.iter().all(|solution| solution.status != Status::Unknown);
        whole = doses.into_iter().zip(solutions).collect();
    }
    is_complete &= !control.should_stop();
    Ok(Push {
        points,
        beyond,
        best: Some(best),
        window: Some(window),
        without,
        gone,
        ends,
        whole,
        is_complete,
        none: None,
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
        let proven = solution.status == Status::Optimal;
        Some(Point { dose_ppt, answer: solution.answer?, proven })
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
        100.0 * (1.0 - point.answer.evaluation.loss / self.relaxed.worst_loss())
    }

    /// What is worse at an end of the window than at the best dose, and what
    /// holds the blend there.
    fn gives_way(&self, best: &Point, at: f64, is_wall: bool) -> Option<End> {
        let point = if at == best.dose_ppt { best.clone() } else { self.within(at)? };
        let gap = |point: &Point, counted: usize| {
            let (target, blend) = (&self.relaxed.targets[counted], point.answer.evaluation.profile[counted]);
            let over = (blend - target.score).max(0.0);
            target.weight * (target.excess * over + (target.score - blend).max(0.0))
        };
        let grown = (0..self.relaxed.targets.len()).map(|counted| (counted, gap(&point, counted) - gap(best, counted)));
        let descriptor = grown.reduce(|a, b| if b.1 > a.1 { b } else { a }).filter(|(_, by)| *by > HOLDS);
        let checker = Checker::new(self.relaxed);
        let (here, there) = (checker.slacks(&point.answer.formula), checker.slacks(&best.answer.formula));
        let holds = |&index: &usize| {
            let rule = &self.relaxed.rules[index];
            let caps = self.caps.iter().filter_map(|cap| cap.rule.as_ref());
            let is_cap =
                rule.kind.is_about(self.material) || caps.clone().any(|cap| cap.id == rule.id && cap.kind == rule.kind);
            let speaks = rule.kind.has_distance() && !matches!(rule.kind, RuleKind::DoseMin(_) | RuleKind::Fixed(_));
            // A wall that the best stands at already is what stops it.
            speaks && here[index] <= HOLDS && (there[index] > HOLDS || is_wall && is_cap)
        };
        let rules =
            (0..self.relaxed.rules.len()).filter(holds).map(|index| self.relaxed.rules[index].clone()).collect();
        Some(End { point, descriptor, rules, is_wall })
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

/// Doses of the material's own grid, nothing and at most so many, evenly.
fn whole_doses(open: &Problem, material: usize, top: f64) -> Vec<f64> {
    let last = (WHOLE_DOSES - 1) as f64;
    let mut doses: Vec<f64> = (0..WHOLE_DOSES)
        .map(|at| on_grid(open, material, top * at as f64 / last))
        .filter(|dose| *dose <= top)
        .collect();
    doses.dedup();
    doses
}
