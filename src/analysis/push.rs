//! How far one material can go: the best formula that keeps every rule at each
//! dose of it, all other doses solved again; what the dose gains, where the gain
//! is gone, and what gives way on both sides. What could be had over any doses
//! stands beside it as an upper limit.

use super::axis::{Axis, any_loss};
use super::caps::{Cap, giving_way};
use super::curve::{Placing, curve};
use super::ends::{Side, Wanted, end};
use super::tradeoff::on_grid;
use crate::control::Control;
use crate::formula::Formula;
use crate::model::Blend;
use crate::pool::{in_parallel, threads};
use crate::problem::check::Checker;
use crate::problem::target::signed_fidelity_percent;
use crate::problem::{Problem, Rule, RuleId, RuleKind};
use crate::solve::extent::Extent;
use crate::solve::{self, Answer, Failure, Method, PROVEN, Solution, Start, Status, direct};
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
/// Points of the upper limit.
const ABOVE: Placing = Placing { least: 24, most: 48, tolerance: 0.1 };
/// Doses that formulas are proven at, few or many, and beyond the cap.
const FEW: usize = 24;
const MANY: usize = 60;
const FEW_BEYOND: usize = 6;
/// A rule this near, as a share of its size, holds a formula in whole parts.
const HOLDS_IN_PARTS: f64 = 5e-3;

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    /// The material.
    pub material: usize,
    /// Points of fidelity that the window gives away.
    pub margin: f64,
    /// Whether formulas are proven at many doses instead of a few.
    pub many: bool,
    /// Which method proves them.
    pub method: Method,
}

/// How far a material can go.
#[derive(Clone, Debug, Default)]
pub struct Push {
    /// The best formulas that keep every rule, doses rising.
    pub points: Vec<Point>,
    /// The same beyond the lowest cap, the caps giving way as far as the dose
    /// needs and all other rules kept.
    pub beyond: Vec<Point>,
    /// What could be had over any doses and with any number of materials: doses
    /// in ppt and fidelities in percent. Empty where the brief allows any doses.
    pub upper_limit: Vec<(f64, f64)>,
    /// Whether the brief allows any doses.
    pub is_continuous: bool,
    /// The best within all rules.
    pub best: Option<Point>,
    /// The least and the greatest dose in ppt of a formula within the margin of
    /// the best.
    pub window: Option<(f64, f64)>,
    /// Whether each is certain.
    pub window_proven: [bool; 2],
    /// The best without any; `None` where no formula does without it, or none
    /// was found.
    pub without: Option<Point>,
    /// The dose in ppt from which on it is no better than without any, and
    /// whether that lies beyond a cap.
    pub gone: Option<(f64, bool)>,
    /// What gives way below the window and above it.
    pub ends: [Option<End>; 2],
    /// Doses with which no formula keeps the rules: proven.
    pub without_formula: Vec<f64>,
    /// Doses of which there was no time to find out.
    pub not_computed: Vec<f64>,
    /// Whether there was time for all of it.
    pub is_complete: bool,
    /// How sure it is that there is no formula, where there is none.
    pub none: Option<Status>,
}

/// The best formula with one dose.
#[derive(Clone, Debug)]
pub struct Point {
    /// The dose in ppt.
    pub dose_ppt: f64,
    /// The formula.
    pub answer: Answer,
    /// No formula with this dose has a loss below this, in score points.
    pub bound: f64,
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
        let id = RuleId::Stock(problem.material(material).name.as_str().into());
        open.rules.push(Rule { id, kind, place, at: cap.dose_ppt });
    }
    open
}

/// Works out how far a material can go. `done` is told how many of how many
/// formulas have ended.
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
    let open = opened(problem, asked.material, caps);
    if Blend::new(&open).is_continuous() {
        over_any_doses(&open, caps, asked, control)
    } else {
        in_its_doses(&open, caps, asked, control, done)
    }
}

/// A brief that asks for neither steps nor counts: one linear programme at
/// every dose.
fn over_any_doses(open: &Problem, caps: &[Cap], asked: Asked, control: &Control) -> Result<Push, Failure> {
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

/// A brief with steps, least doses or a number of materials: a search for each
/// dose, and short ones for the ends of the window.
fn in_its_doses(
    open: &Problem,
    caps: &[Cap],
    asked: Asked,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Push, Failure> {
    let material = asked.material;
    let found = solve::propose(open, asked.method, &control.with_share(0.3))?;
    let Some(answer) = found.answer else { return Ok(Push { none: Some(found.status), ..Push::default() }) };
    let best = Point {
        dose_ppt: answer.formula.dose(material).as_f64(),
        answer,
        bound: found.bound.unwrap_or(0.0),
        proven: found.status == Status::Optimal,
    };
    let parts = Parts { open, material, method: asked.method, best: &best, control };
    let relaxed = open.relaxed();
    let axis = Axis::Dose(material);
    let wall = |ceiling: f64, most: bool| axis.end(&Extent::new(&relaxed, ceiling)?, &relaxed, most);
    let high = wall(any_loss(&relaxed), true).unwrap_or(Ppt::WHOLE.as_f64()).max(best.dose_ppt);

    // The sides of the window, what leaving it out costs, where that is lost.
    let without = parts.at(0.0)?;
    let ceiling = best.answer.evaluation.loss + asked.margin / 100.0 * open.worst_loss();
    let sides = in_parallel(&[Side::Least, Side::Most], &control.with_share(0.3), |&side| {
        let wall_ppt = wall(ceiling, side == Side::Most);
        end(open, Wanted { material, side, ceiling, wall_ppt }, &best.answer, &control.with_share(0.3))
    });
    let mut window = [(best.answer.clone(), false), (best.answer.clone(), false)];
    for (place, side) in window.iter_mut().zip(sides) {
        if let Some(reached) = side.transpose()? {
            *place = (reached.answer, reached.proven);
        }
    }
    let dose = |answer: &Answer| answer.formula.dose(material).as_f64();
    let span = (dose(&window[0].0), dose(&window[1].0));
    let without = match without {
        Looked::Point(point) => Some(*point),
        Looked::Nothing | Looked::Unknown => None,
    };
    let last_gain = match &without {
        // Something must be gained that shows.
        Some(without) => {
            let ceiling = without.answer.evaluation.loss - 4.0 * PROVEN * without.answer.evaluation.loss.max(1.0);
            (ceiling > best.answer.evaluation.loss)
                .then(|| {
                    let wanted = Wanted { material, side: Side::Most, ceiling, wall_ppt: wall(ceiling, true) };
                    end(open, wanted, &window[1].0, &control.with_share(0.3))
                })
                .transpose()?
        }
        None => None,
    };
    let domain = open.dose_rules()[material];
    let next = |ppt: f64| (Ppt::from_ppt(ppt) + domain.step).as_f64();
    let mut gone = last_gain
        .as_ref()
        .map(|end| next(dose(&end.answer)))
        .filter(|gone| *gone <= high * (1.0 - SAME) && Ppt::from_ppt(*gone) <= domain.most);
    let mut is_beyond = false;
    done(1, 2);

    let upper = curve(
        (0.0, high),
        &[],
        ABOVE,
        &control.with_share(0.2),
        |at| direct::best(&relaxed.with_dose(material, Ppt::from_ppt(at)), control).ok()?.answer,
        |answer: &Answer| answer.evaluation.fidelity_percent,
    );
    let upper_limit: Vec<(f64, f64)> =
        upper.points.into_iter().map(|(at, answer)| (at, answer.evaluation.fidelity_percent)).collect();
    // Where fidelity is gone there is nothing to draw.
    let top = upper_limit.iter().filter(|(_, fidelity)| *fidelity > 0.0).map(|(at, _)| *at).fold(span.1, f64::max);

    let count = if asked.many { MANY } else { FEW };
    let known = [0.0, span.0, best.dose_ppt, span.1];
    let doses = doses(open, material, count, top.min(high), span.1, known.into_iter().chain(gone));
    let looked = in_parallel(&doses, control, |&at| {
        let share = (threads(control) as f64 / doses.len() as f64).min(1.0);
        Parts { control: &control.with_share(share.max(0.1)), ..parts }.at(at)
    });
    let mut found = Push { upper_limit, ..Push::default() };
    found.is_complete = true;
    for (&at, looked) in doses.iter().zip(looked) {
        match looked.transpose()? {
            Some(Looked::Point(point)) => found.points.push(*point),
            Some(Looked::Nothing) => found.without_formula.push(at),
            Some(Looked::Unknown) | None => found.not_computed.push(at),
        }
    }
    // Beyond the lowest cap, to look at.
    if let Some(cap) = caps.first().map(|cap| cap.dose_ppt).filter(|_| top >= high * (1.0 - SAME)) {
        let furthest = (FURTHER * cap).min(Ppt::WHOLE.as_f64());
        let grid = |part: usize| on_step(open, material, high + (furthest - high) * part as f64 / FEW_BEYOND as f64);
        let mut beyond: Vec<f64> = (1..=FEW_BEYOND).map(grid).filter(|at| *at > high * (1.0 + SAME)).collect();
        beyond.dedup();
        let looked = in_parallel(&beyond, control, |&at| {
            let given = giving_way(open, caps, material, high, at);
            Parts { control: &control.with_share(0.2), ..parts }.solved(&given, at, 0.0)
        });
        for looked in looked {
            if let Some(Looked::Point(point)) = looked.transpose()? {
                found.beyond.push(*point);
            }
        }
        if let (None, Some(without)) = (gone, &without) {
            let gains = |point: &&Point| point.answer.evaluation.loss < without.answer.evaluation.loss;
            // From there on: beyond the last dose that still gains something.
            let last = found.beyond.iter().rposition(|point| gains(&point));
            let next = last.map_or(0, |last| last + 1);
            gone = found.beyond.get(next).filter(|point| point.proven).map(|point| point.dose_ppt);
            is_beyond = gone.is_some();
        }
    }
    done(2, 2);
    let is_wall = [
        span.0 <= 0.0 || domain.must && Ppt::from_ppt(span.0) <= domain.least,
        next(span.1) > high * (1.0 + SAME) || Ppt::from_ppt(span.1) >= domain.most,
    ];
    for (at, (answer, _)) in window.iter().enumerate() {
        let point = Point { dose_ppt: dose(answer), answer: answer.clone(), bound: 0.0, proven: false };
        let point = found.points.iter().find(|other| other.dose_ppt == point.dose_ppt).cloned().unwrap_or(point);
        found.ends[at] = Some(what_gives_way(open, caps, material, &best, point, is_wall[at], HOLDS_IN_PARTS));
    }
    found.is_complete = !control.should_stop() && found.not_computed.is_empty();
    found.window = Some(span);
    found.window_proven = [window[0].1 && best.proven, window[1].1 && best.proven];
    found.gone = gone.map(|at| (at, is_beyond));
    found.without = without;
    found.best = Some(best);
    Ok(found)
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

/// Searches in the doses that the brief allows.
#[derive(Clone, Copy)]
struct Parts<'a> {
    open: &'a Problem,
    material: usize,
    method: Method,
    best: &'a Point,
    control: &'a Control,
}

impl Parts<'_> {
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
        let dose = Ppt::from_ppt(dose_ppt);
        let start = Start { formulas: shifted(&self.best.answer.formula, self.material, dose), bound, ceiling: None };
        let solution = solve::propose_from(&problem.with_dose(self.material, dose), &start, self.method, self.control)?;
        Ok(looked(solution, dose_ppt))
    }
}

fn looked(solution: Solution, dose_ppt: f64) -> Looked {
    let proven = solution.status == Status::Optimal;
    match solution.answer {
        Some(answer) => {
            Looked::Point(Box::new(Point { dose_ppt, answer, bound: solution.bound.unwrap_or(0.0), proven }))
        }
        None if solution.status == Status::Infeasible => Looked::Nothing,
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
        Some(Point { dose_ppt, answer: solution.answer?, bound: solution.bound.unwrap_or(0.0), proven })
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
        Some(what_gives_way(self.relaxed, self.caps, self.material, best, point, is_wall, HOLDS))
    }
}

/// What is worse at an end of the window than at the best dose, and what holds
/// the formula there: rules no further off than a share `near` of their size.
fn what_gives_way(
    problem: &Problem,
    caps: &[Cap],
    material: usize,
    best: &Point,
    point: Point,
    is_wall: bool,
    near: f64,
) -> End {
    let gap = |point: &Point, counted: usize| problem.targets[counted].gap(point.answer.evaluation.profile[counted]);
    let grown = (0..problem.targets.len()).map(|counted| (counted, gap(&point, counted) - gap(best, counted)));
    let descriptor = grown.reduce(|a, b| if b.1 > a.1 { b } else { a }).filter(|(_, by)| *by > HOLDS);
    let checker = Checker::new(problem);
    let (here, there) = (checker.slacks(&point.answer.formula), checker.slacks(&best.answer.formula));
    let holds = |&index: &usize| {
        let rule = &problem.rules[index];
        let caps = caps.iter().filter_map(|cap| cap.rule.as_ref());
        let is_cap = rule.kind.is_about(material) || caps.clone().any(|cap| cap.id == rule.id && cap.kind == rule.kind);
        let speaks = rule.kind.has_distance()
            && !matches!(rule.kind, RuleKind::DoseMin(_) | RuleKind::DoseStep(_) | RuleKind::Fixed(_));
        // A wall that the best stands at already is what stops it.
        speaks && here[index] <= near && (there[index] > near || is_wall && is_cap)
    };
    let rules = (0..problem.rules.len()).filter(holds).map(|index| problem.rules[index].clone()).collect();
    End { point, descriptor, rules, is_wall }
}

/// The dose at which the loss passes another for the last time, in a straight
/// line between two points.
fn crossing(points: &[Point], beyond: &[Point], loss: f64) -> Option<f64> {
    let all: Vec<(f64, f64)> =
        points.iter().chain(beyond).map(|point| (point.dose_ppt, point.answer.evaluation.loss)).collect();
    let pair = all.windows(2).rev().find(|pair| pair[0].1 <= loss && pair[1].1 > loss)?;
    Some(pair[0].0 + (loss - pair[0].1) / (pair[1].1 - pair[0].1) * (pair[1].0 - pair[0].0))
}
