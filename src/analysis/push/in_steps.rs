//! A brief with steps, least doses or a number of materials: a search for each
//! dose, and short ones for the ends of the window.

use super::window_end::window_end;
use super::{Asked, FURTHER, Point, Push};
use crate::analysis::axis::{Axis, any_loss};
use crate::analysis::caps::{Cap, giving_way};
use crate::analysis::curve::{Placing, curve};
use crate::analysis::ends::{self, Side, Wanted};
use crate::analysis::tradeoff::on_grid;
use crate::control::Control;
use crate::formula::Formula;
use crate::pool::{in_parallel, threads};
use crate::problem::Problem;
use crate::solve::extent::Extent;
use crate::solve::{self, Answer, Failure, PROVEN, Solution, Start, Status, direct};
use crate::tolerance::doses::SAME;
use crate::tolerance::rules::HOLDS_IN_PARTS;
use crate::units::Ppt;

/// Points of the upper limit.
const ABOVE: Placing = Placing { least: 24, most: 48, tolerance: 0.1 };

/// Doses that formulas are proven at, few or many, and beyond the cap.
const FEW: usize = 24;
const MANY: usize = 60;
const FEW_BEYOND: usize = 6;

/// A brief whose doses are searched for: the best formula at each of some doses.
pub(super) fn in_steps(
    open: &Problem,
    caps: &[Cap],
    asked: Asked,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Push, Failure> {
    let material = asked.material;
    let found = solve::propose(open, asked.method, &control.with_share(0.3))?;
    let status = found.status;
    let dose_ppt = found.answer.as_ref().map_or(0.0, |answer| answer.formula.dose(material).as_f64());
    let Some(best) = Point::of(found, dose_ppt) else { return Ok(Push { none: Some(status), ..Push::default() }) };
    let relaxed = open.relaxed();
    let high = wall(&relaxed, material, any_loss(&relaxed), true).unwrap_or(Ppt::WHOLE.as_f64()).max(best.dose_ppt);
    let steps = Steps { open, relaxed: &relaxed, caps, asked, best: &best, high, control };

    // The sides of the window, what leaving it out costs, where that is lost.
    let without = match steps.at(0.0)? {
        Looked::Point(point) => Some(*point),
        Looked::Nothing | Looked::Unknown => None,
    };
    let window = steps.window()?;
    let dose = |answer: &Answer| answer.formula.dose(material).as_f64();
    let span = (dose(&window[0].0), dose(&window[1].0));
    let gone = match &without {
        Some(without) => steps.gain_is_gone(without, &window[1].0)?,
        None => None,
    };
    done(1, 2);

    let upper_limit = steps.upper_limit();
    // Where fidelity is gone there is nothing to draw.
    let top = upper_limit.iter().filter(|(_, fidelity)| *fidelity > 0.0).map(|(at, _)| *at).fold(span.1, f64::max);
    let count = if asked.many { MANY } else { FEW };
    let known = [0.0, span.0, best.dose_ppt, span.1];
    let doses = doses(open, material, count, top.min(high), span.1, known.into_iter().chain(gone));
    let mut found = Push { upper_limit, ..Push::default() };
    steps.look_at(&doses, &mut found)?;
    if top >= high * (1.0 - SAME) {
        found.beyond = steps.beyond_the_cap()?;
    }
    found.gone = match (gone, &without) {
        (Some(at), _) => Some((at, false)),
        (None, Some(without)) => gone_beyond(&found.beyond, without).map(|at| (at, true)),
        (None, None) => None,
    };
    done(2, 2);

    let is_wall = steps.is_wall(span);
    for (at, (answer, _)) in window.iter().enumerate() {
        let point = Point { dose_ppt: dose(answer), answer: answer.clone(), bound: 0.0, proven: false };
        let point = found.points.iter().find(|other| other.dose_ppt == point.dose_ppt).cloned().unwrap_or(point);
        found.ends[at] = Some(window_end(open, caps, material, &best, point, is_wall[at], HOLDS_IN_PARTS));
    }
    found.is_complete = !control.should_stop() && found.not_computed.is_empty();
    found.window = Some(span);
    found.window_proven = [window[0].1 && best.proven, window[1].1 && best.proven];
    found.without = without;
    found.best = Some(best);
    Ok(found)
}

/// The least or the most of a material over any doses with a loss below a
/// ceiling.
fn wall(relaxed: &Problem, material: usize, ceiling: f64, most: bool) -> Option<f64> {
    Axis::Dose(material).end(&Extent::new(relaxed, ceiling)?, relaxed, most)
}

/// Searches in the doses that the brief allows.
#[derive(Clone, Copy)]
struct Steps<'a> {
    open: &'a Problem,
    relaxed: &'a Problem,
    caps: &'a [Cap],
    asked: Asked,
    best: &'a Point,
    /// The most of the material that the rules leave over any doses, in ppt.
    high: f64,
    control: &'a Control,
}

impl Steps<'_> {
    /// The best formula with a dose.
    fn at(&self, dose_ppt: f64) -> Result<Looked, Failure> {
        if dose_ppt == self.best.dose_ppt {
            return Ok(Looked::Point(Box::new(self.best.clone())));
        }
        // What bounds the best of all doses bounds this one.
        self.solved(self.open, dose_ppt, self.best.bound)
    }

    /// The best formula with a dose under other rules.
    fn solved(&self, problem: &Problem, dose_ppt: f64, bound: f64) -> Result<Looked, Failure> {
        let (material, dose) = (self.asked.material, Ppt::from_ppt(dose_ppt));
        let start = Start { formulas: shifted(&self.best.answer.formula, material, dose), bound, ceiling: None };
        let problem = problem.with_dose(material, dose);
        Ok(looked(solve::propose_from(&problem, &start, self.asked.method, self.control)?, dose_ppt))
    }

    fn wall(&self, ceiling: f64, most: bool) -> Option<f64> {
        wall(self.relaxed, self.asked.material, ceiling, most)
    }

    /// The formulas with the least and the most within the margin of the best,
    /// and whether each is certain.
    fn window(&self) -> Result<[(Answer, bool); 2], Failure> {
        let best = &self.best.answer;
        let material = self.asked.material;
        let ceiling = best.evaluation.loss + self.asked.margin / 100.0 * self.open.worst_loss();
        let sides = in_parallel(&[Side::Least, Side::Most], &self.control.with_share(0.3), |&side| {
            let wall_ppt = self.wall(ceiling, side == Side::Most);
            let wanted = Wanted { material, side, ceiling, wall_ppt };
            ends::end(self.open, wanted, best, &self.control.with_share(0.3))
        });
        let mut window = [(best.clone(), false), (best.clone(), false)];
        for (place, side) in window.iter_mut().zip(sides) {
            if let Some(reached) = side.transpose()? {
                *place = (reached.answer, reached.proven);
            }
        }
        Ok(window)
    }

    /// The dose inside the rules from which on a formula is no better than
    /// `without` the material; `from` is a formula to begin with.
    fn gain_is_gone(&self, without: &Point, from: &Answer) -> Result<Option<f64>, Failure> {
        // Something must be gained that shows.
        let loss = without.answer.evaluation.loss;
        let ceiling = loss - 4.0 * PROVEN * loss.max(1.0);
        if ceiling <= self.best.answer.evaluation.loss {
            return Ok(None);
        }
        let material = self.asked.material;
        let wanted = Wanted { material, side: Side::Most, ceiling, wall_ppt: self.wall(ceiling, true) };
        let last = ends::end(self.open, wanted, from, &self.control.with_share(0.3))?;
        let gone = self.next(last.answer.formula.dose(material).as_f64());
        let is_inside =
            gone <= self.high * (1.0 - SAME) && Ppt::from_ppt(gone) <= self.open.dose_rules()[material].most;
        Ok(is_inside.then_some(gone))
    }

    /// One step of the material more.
    fn next(&self, ppt: f64) -> f64 {
        (Ppt::from_ppt(ppt) + self.open.dose_rules()[self.asked.material].step).as_f64()
    }

    /// What could be had over any doses: doses in ppt and fidelities in percent.
    fn upper_limit(&self) -> Vec<(f64, f64)> {
        let material = self.asked.material;
        let upper = curve(
            (0.0, self.high),
            &[],
            ABOVE,
            &self.control.with_share(0.2),
            |at| direct::best(&self.relaxed.with_dose(material, Ppt::from_ppt(at)), self.control).ok()?.answer,
            |answer: &Answer| answer.evaluation.fidelity_percent,
        );
        upper.points.into_iter().map(|(at, answer)| (at, answer.evaluation.fidelity_percent)).collect()
    }

    /// The best formulas with some doses inside the rules.
    fn look_at(&self, doses: &[f64], into: &mut Push) -> Result<(), Failure> {
        let looked = in_parallel(doses, self.control, |&at| {
            let share = (threads(self.control) as f64 / doses.len() as f64).min(1.0);
            Steps { control: &self.control.with_share(share.max(0.1)), ..*self }.at(at)
        });
        for (&at, looked) in doses.iter().zip(looked) {
            match looked.transpose()? {
                Some(Looked::Point(point)) => into.points.push(*point),
                Some(Looked::Nothing) => into.without_formula.push(at),
                Some(Looked::Unknown) | None => into.not_computed.push(at),
            }
        }
        Ok(())
    }

    /// The best formulas with some doses beyond the lowest cap, the caps giving
    /// way as far as each needs: to look at.
    fn beyond_the_cap(&self) -> Result<Vec<Point>, Failure> {
        let (open, caps, material, high) = (self.open, self.caps, self.asked.material, self.high);
        let Some(cap) = caps.first().map(|cap| cap.dose_ppt) else { return Ok(Vec::new()) };
        let furthest = (FURTHER * cap).min(Ppt::WHOLE.as_f64());
        let grid = |part: usize| on_step(open, material, high + (furthest - high) * part as f64 / FEW_BEYOND as f64);
        let mut doses: Vec<f64> = (1..=FEW_BEYOND).map(grid).filter(|at| *at > high * (1.0 + SAME)).collect();
        doses.dedup();
        let looked = in_parallel(&doses, self.control, |&at| {
            let given = giving_way(open, caps, material, high, at);
            Steps { control: &self.control.with_share(0.2), ..*self }.solved(&given, at, 0.0)
        });
        let mut beyond = Vec::new();
        for looked in looked {
            if let Some(Looked::Point(point)) = looked.transpose()? {
                beyond.push(*point);
            }
        }
        Ok(beyond)
    }

    /// Whether the rules leave no dose below the window, and none above it.
    fn is_wall(&self, window: (f64, f64)) -> [bool; 2] {
        let domain = self.open.dose_rules()[self.asked.material];
        [
            window.0 <= 0.0 || domain.must && Ppt::from_ppt(window.0) <= domain.least,
            self.next(window.1) > self.high * (1.0 + SAME) || Ppt::from_ppt(window.1) >= domain.most,
        ]
    }
}

/// The dose beyond the last one that still gains something over a formula
/// without the material, where that is proven.
fn gone_beyond(beyond: &[Point], without: &Point) -> Option<f64> {
    let gains = |point: &Point| point.answer.evaluation.loss < without.answer.evaluation.loss;
    let next = beyond.iter().rposition(gains).map_or(0, |last| last + 1);
    beyond.get(next).filter(|point| point.proven).map(|point| point.dose_ppt)
}

/// Doses of the material's own grid that are looked at: as many up to twice the
/// window's upper end as from there on, and those that are spoken of.
fn doses(
    open: &Problem,
    material: usize,
    count: usize,
    top: f64,
    window: f64,
    known: impl Iterator<Item = f64>,
) -> Vec<f64> {
    let near = (2.0 * window).min(top);
    let half = count / 2;
    let evenly = |from: f64, to: f64| (1..=half).map(move |at| from + (to - from) * at as f64 / half as f64);
    let wanted = evenly(0.0, near).chain(evenly(near, top)).map(|at| on_grid(open, material, at));
    let mut doses: Vec<f64> = known.chain(wanted.filter(|at| *at <= top)).collect();
    doses.sort_by(f64::total_cmp);
    doses.dedup();
    doses
}

/// The next multiple of the material's step, caps aside.
fn on_step(open: &Problem, material: usize, ppt: f64) -> f64 {
    Ppt::from_ppt(ppt).floor_to(open.dose_rules()[material].step).as_f64()
}

/// What was found at one dose.
enum Looked {
    Point(Box<Point>),
    /// No formula, proven.
    Nothing,
    Unknown,
}

fn looked(solution: Solution, dose_ppt: f64) -> Looked {
    let status = solution.status;
    match Point::of(solution, dose_ppt) {
        Some(point) => Looked::Point(Box::new(point)),
        None if status == Status::Infeasible => Looked::Nothing,
        None => Looked::Unknown,
    }
}

/// A formula with another dose of one material, made up for by each of the
/// largest others alone: to begin a search with.
fn shifted(formula: &Formula, material: usize, dose: Ppt) -> Vec<Formula> {
    let mut others: Vec<(usize, Ppt)> = formula.parts.iter().copied().filter(|(part, _)| *part != material).collect();
    others.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    let change = dose - formula.dose(material);
    let with = |&(other, its): &(usize, Ppt)| {
        let mut shifted = formula.clone();
        shifted.parts.retain(|(part, _)| *part != material && *part != other);
        shifted
            .parts
            .extend([(material, dose), (other, its - change)].into_iter().filter(|(_, dose)| *dose > Ppt::ZERO));
        (its > change).then_some(shifted)
    };
    others.iter().take(3).filter_map(with).collect()
}
