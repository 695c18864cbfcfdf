//! Clocks that agree with the formula that is best by them.
//!
//! What is left of each material at a stage hangs on the clock of the film, and the clock on
//! the formula. By given clocks a brief with stages is a problem like any other; the formula
//! that is best by them has a film with other clocks. So the clocks of the best are taken
//! again and again until they stay.
//!
//! Over continuous doses these rounds may go in a circle, and where they end they may end
//! elsewhere than at the best: [`super::boxes`] then bounds what any formula reaches by the
//! clock of its own film, and finds better ones. In whole parts the rounds begin by the
//! clocks of the best over continuous doses and end at a formula that is proven best for the
//! amounts that its own film leaves: whether another formula is nearer by the other amounts
//! of its own is not proven; where one of those on the way is, it is the answer, with the
//! bound by its own amounts. What no formula over any doses passes is told beside it.
//!
//! By the compressive law a programme over boxes there is none: the rounds begin where those
//! of the linear law end, and the same is proven.

use super::boxes::{self, Boxed};
use super::own_film::by_its_own;
use super::{Answer, Failure, Feasibility, Method, PROVEN, Solution, Start, Watcher, direct, feasibility, watched};
use crate::brief::Laws;
use crate::control::Control;
use crate::formula::Formula;
use crate::model::Blend;
use crate::problem::Problem;
use crate::tolerance::clocks::{BOXES, BOXES_ASIDE, ROUNDS, SAME};

/// A brief with clocks that were found for it, and its best formula.
#[derive(Clone, Debug)]
pub struct Settled {
    /// The problem by the clocks of the formula's own film.
    pub problem: Problem,
    /// The formula, its evaluation by these clocks, and what is proven.
    pub solution: Solution,
    /// What the proof holds for.
    pub holds: Holds,
    /// No formula loses less than this by the clock of its own film, in score points, where
    /// that is known besides what is proven for the formula's own amounts.
    pub any_amounts: Option<f64>,
    /// How many times clocks were taken from a formula.
    pub rounds: usize,
}

/// For which amounts left on the paper a bound holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Holds {
    /// Those of the formula's own film: any other formula is held against by them, too.
    OwnAmounts,
    /// All: every formula by its own.
    AnyAmounts,
}

impl Holds {
    /// The word that reports use.
    pub const fn word(self) -> &'static str {
        match self {
            Holds::OwnAmounts => "own amounts",
            Holds::AnyAmounts => "any amounts",
        }
    }
}

/// What part of the time boxes take.
const FOR_BOXES: f64 = 0.5;
/// What part of the time that is left one round takes by another law.
const FOR_A_ROUND: f64 = 0.4;

/// Finds clocks for a problem that has stages, and its best formula by them.
///
/// # Errors
/// As [`super::propose`].
pub fn settle(problem: &Problem, method: Method, control: &Control) -> Result<Settled, Failure> {
    // By another law there is no programme over boxes, nor one for the rounds: they begin by
    // the linear law. Rules know none.
    let is_linear = problem.is_linear();
    let linear = if is_linear { problem.clone() } else { problem.by_laws(Laws::Linear) };
    let is_continuous = is_linear && Blend::new(problem).is_continuous();
    let relaxed = if is_continuous { linear } else { linear.relaxed() };
    // A dozen linear programmes: cut off by a part of the time, the answer would hang on how
    // much there is.
    let mut rounds = over_continuous(&relaxed, &control.untold());
    // Without a formula the boxes may find one, or prove that there is none.
    if is_continuous || rounds.best.is_none() {
        let control = control.untold().with_share(FOR_BOXES);
        let most = if is_continuous { BOXES } else { BOXES_ASIDE };
        let found = boxes::search(&relaxed, rounds.best.as_ref(), most, &control);
        if is_continuous || found.bound.is_infinite() {
            return Ok(of_boxes(problem, found, rounds));
        }
        if let Some(best) = found.best {
            rounds.clocks = problem.clocks_of(&best.formula);
            rounds.best = Some(best);
        }
    }
    let known = rounds.best.clone();
    let settled = in_whole_parts(problem, rounds, method, control)?;
    Ok(if is_linear { by_any_amounts(settled, &relaxed, known.as_ref(), control) } else { settled })
}

/// The same with what no formula passes by the clock of its own film: what is over any doses
/// a bound on whole parts, too.
fn by_any_amounts(settled: Settled, relaxed: &Problem, known: Option<&Answer>, control: &Control) -> Settled {
    let Some(answer) = &settled.solution.answer else { return settled };
    let found = boxes::search(relaxed, known, BOXES_ASIDE, &control.untold());
    let loss = answer.evaluation.loss;
    if !found.bound.is_finite() || found.bound <= 0.0 {
        return settled;
    }
    let is_proven = loss - found.bound <= PROVEN * loss.max(1.0);
    let holds = if is_proven { Holds::AnyAmounts } else { settled.holds };
    Settled { any_amounts: Some(found.bound.min(loss)), holds, ..settled }
}

/// What the rounds over continuous doses came to.
struct Rounds {
    /// The best formula by the clocks of its own film, of those that keep all rules by them.
    best: Option<Answer>,
    /// The clocks to go on with.
    clocks: Vec<f64>,
    rounds: usize,
}

/// Takes the clocks of the best formula again and again.
fn over_continuous(relaxed: &Problem, control: &Control) -> Rounds {
    let mut clocks = relaxed.paper.as_ref().map_or_else(Vec::new, |paper| paper.clocks.clone());
    let mut found = Rounds { best: None, clocks: clocks.clone(), rounds: 0 };
    while found.rounds < ROUNDS && !control.should_stop() {
        found.rounds += 1;
        let Ok(Solution { answer: Some(answer), .. }) = direct::best(&relaxed.with_clocks(&clocks), control) else {
            break;
        };
        let own = relaxed.clocks_of(&answer.formula);
        let agrees = agree(&own, &clocks);
        if let Some(judged) = by_its_own(relaxed, &answer.formula)
            && found.best.as_ref().is_none_or(|best| judged.evaluation.loss < best.evaluation.loss)
        {
            found.best = Some(judged);
            found.clocks.clone_from(&own);
        }
        if agrees {
            break;
        }
        // Half way from the third round on: what swings comes to rest.
        let step = |(clock, own): (&f64, &f64)| if found.rounds < 3 { *own } else { (clock * own).max(0.0).sqrt() };
        clocks = clocks.iter().zip(&own).map(step).collect();
    }
    if found.best.is_none() {
        found.clocks = clocks;
    }
    found
}

fn agree(one: &[f64], other: &[f64]) -> bool {
    one.iter().zip(other).all(|(a, b)| (a - b).abs() <= SAME * a.abs().max(b.abs()))
}

/// The problem by the clocks of an answer's own film; as it is where there is none.
fn by_clocks_of(problem: &Problem, answer: Option<&Answer>) -> Problem {
    answer.map_or_else(|| problem.clone(), |answer| problem.as_it_dries(&answer.formula))
}

fn of_boxes(problem: &Problem, found: Boxed, rounds: Rounds) -> Settled {
    let settled = by_clocks_of(problem, found.best.as_ref());
    let solution = Solution { nodes: found.nodes, ..Solution::from_parts(found.best, found.bound) };
    Settled { problem: settled, solution, holds: Holds::AnyAmounts, rounds: rounds.rounds, any_amounts: None }
}

/// The rounds in whole parts.
fn in_whole_parts(
    problem: &Problem,
    continuous: Rounds,
    method: Method,
    control: &Control,
) -> Result<Settled, Failure> {
    let mut by = problem.with_clocks(&continuous.clocks);
    let mut start = Start::default();
    let mut tried: Vec<Formula> = Vec::new();
    let mut best: Option<Answer> = None;
    let mut rounds = continuous.rounds;
    loop {
        rounds += 1;
        // By another law a search seldom ends before its time does.
        let share = if by.is_linear() { 1.0 } else { FOR_A_ROUND };
        let solution = watched(&by, &start, method, &control.with_share(share), None, false)?;
        let Some(answer) = solution.answer.clone() else {
            return Ok(nothing(by, solution, best, control, rounds));
        };
        let is_at_rest = agree(&problem.clocks_of(&answer.formula), by.paper.as_ref().map_or(&[][..], |it| &it.clocks));
        if is_at_rest {
            // A formula on the way that is nearer by its own film is worth more than one that
            // is the best by amounts which only a worse one leaves.
            let loss = answer.evaluation.loss;
            let is_nearer = |known: &Answer| known.evaluation.loss < loss - PROVEN * loss.max(1.0);
            return match best.filter(is_nearer) {
                Some(nearer) => Ok(in_a_circle(problem, Some(nearer), answer, method, control, rounds)),
                None => last(by, solution, method, control, rounds),
            };
        }
        if let Some(own) = by_its_own(problem, &answer.formula)
            && best.as_ref().is_none_or(|best| own.evaluation.loss < best.evaluation.loss)
        {
            best = Some(own);
        }
        let is_circle = tried.iter().any(|formula| formula.parts == answer.formula.parts);
        if is_circle || tried.len() >= ROUNDS || control.should_stop() {
            return Ok(in_a_circle(problem, best, answer, method, control, rounds));
        }
        by = problem.as_it_dries(&answer.formula);
        start.formulas.insert(0, answer.formula.clone());
        tried.push(answer.formula);
    }
}

/// Nothing keeps the rules by some clocks. What is known by its own stays an answer; without
/// one there may be a formula by other clocks, unless the rules that know no clock exclude
/// any.
fn nothing(by: Problem, solution: Solution, best: Option<Answer>, control: &Control, rounds: usize) -> Settled {
    if best.is_some() {
        let problem = by_clocks_of(&by, best.as_ref());
        return Settled {
            problem,
            solution: Solution::from_parts(best, 0.0),
            holds: Holds::OwnAmounts,
            rounds,
            any_amounts: None,
        };
    }
    let timeless = by.with_rules(|rule| !by.rules[rule].kind.is_of_stages());
    let is_impossible = matches!(feasibility(&timeless, &control.untold()), Feasibility::Impossible);
    let holds = if is_impossible { Holds::AnyAmounts } else { Holds::OwnAmounts };
    let solution = if is_impossible { solution } else { Solution::unknown() };
    Settled { problem: by, solution, holds, rounds, any_amounts: None }
}

/// At rest: the cheapest of the formulas that are as near, if that is the same.
fn last(by: Problem, solution: Solution, method: Method, control: &Control, rounds: usize) -> Result<Settled, Failure> {
    if !by.is_linear() {
        // No price is asked for by another law.
        return Ok(Settled { problem: by, solution, holds: Holds::OwnAmounts, rounds, any_amounts: None });
    }
    let formulas = solution.answer.iter().map(|answer| answer.formula.clone()).collect();
    let start = Start { formulas, bound: solution.bound.unwrap_or(0.0), ceiling: None };
    let again = watched(&by, &start, method, &control.untold(), None as Watcher<'_>, true)?;
    let parts = |solution: &Solution| solution.answer.as_ref().map(|answer| answer.formula.parts.clone());
    let is_cheapest = again.is_cheapest && parts(&again) == parts(&solution);
    let solution = Solution { is_cheapest, ..solution };
    Ok(Settled { problem: by, solution, holds: Holds::OwnAmounts, rounds, any_amounts: None })
}

/// The best by its own clocks of the formulas of a circle, and what is proven of it by
/// them; the last one where none keeps all rules by its own.
fn in_a_circle(
    problem: &Problem,
    best: Option<Answer>,
    last: Answer,
    method: Method,
    control: &Control,
    rounds: usize,
) -> Settled {
    let Some(best) = best else {
        // Its rules are kept by other clocks than its own, and the report says so.
        let solution = Solution::from_parts(Some(last), 0.0);
        return Settled { problem: problem.clone(), solution, holds: Holds::OwnAmounts, rounds, any_amounts: None };
    };
    let by = problem.as_it_dries(&best.formula);
    let start = Start { formulas: vec![best.formula.clone()], ..Start::default() };
    let bound = watched(&by, &start, method, &control.untold(), None, false).ok().and_then(|solution| solution.bound);
    let solution = Solution::from_parts(Some(best), bound.unwrap_or(0.0));
    Settled { problem: by, solution, holds: Holds::OwnAmounts, rounds: rounds + 1, any_amounts: None }
}
