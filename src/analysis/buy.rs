//! What is worth buying: for every material that is not on the shelf the best
//! formula if it stood there, alone and in the best pair.
//!
//! A material adds something only where a formula that uses it beats the best
//! one from the shelf. So each candidate is one search with that material in
//! and the shelf's own loss as the ceiling, which closes early where nothing
//! can be gained. The best pair is one search under a count of the candidates,
//! with the best single one as the ceiling.

use std::sync::atomic::{AtomicUsize, Ordering};

use super::shelf::{candidates, shelf_alone, with_bought, with_rule};
use crate::control::Control;
use crate::pool::{in_parallel, threads};
use crate::problem::{Absence, Problem, RuleKind};
use crate::solve::usual::most_usual;
use crate::solve::{self, Answer, Failure, Method, PROVEN, Solution, Start, Status};
use crate::tolerance::loss::TIE;

/// How much of the time the shelf alone may take, and how much of what is then
/// left the single candidates.
const FOR_SHELF: f64 = 0.4;
const FOR_SINGLES: f64 = 0.6;

/// What buying brings.
#[derive(Clone, Debug)]
pub struct Buy {
    /// The best formula with what is on the shelf.
    pub base: Solution,
    /// What is not on the shelf and could be used, ranked by what it adds;
    /// equals in the order of the palette, those that say nothing last.
    pub singles: Vec<Offer>,
    /// The best two; `None` where there are no two candidates.
    pub pair: Option<Offer>,
    /// Everything that could be bought at once.
    pub all: Offer,
    /// What is not on the shelf and could not be used if it were: the material
    /// and the reason, `None` where its rules leave it no dose.
    pub left_out: Vec<(usize, Option<Absence>)>,
}

/// What some materials would bring if they stood on the shelf.
#[derive(Clone, Debug)]
pub struct Offer {
    /// The candidate; of the pair and of everything at once those that the
    /// answer uses, none where there is no answer.
    pub materials: Vec<usize>,
    /// The best formula that beats the shelf alone and uses the material; of
    /// the pair, one that beats every single candidate, and of everything at
    /// once, one that beats every pair. `None` where there is none, or none
    /// was found.
    pub answer: Option<Answer>,
    /// No formula with the shelf and these candidates has a loss below this;
    /// `None` where there is no formula at all.
    pub bound: Option<f64>,
    /// `Optimal`: the answer is the best, or it is proven that there is none
    /// to be had. `Feasible`: an answer that is not proven best. `Infeasible`:
    /// no formula at all. `Unknown`: stopped without an answer.
    pub status: Status,
}

/// Looks for what is worth buying. `done` is told how many of how many
/// searches have ended.
///
/// # Errors
/// Where the method cannot take the problem, or a result failed its check.
pub fn buy(
    problem: &Problem,
    method: Method,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Buy, Failure> {
    let (usable, left_out) = candidates(problem);
    let ended = AtomicUsize::new(0);
    // The shelf, each of them, all of them, and two of them.
    let searches = usable.len() + 3;
    let tell = || done(ended.fetch_add(1, Ordering::Relaxed) + 1, searches);
    let question = Question { problem, method, usable: &usable, tell: &tell };

    let mut base = solve::propose(&shelf_alone(problem), method, &control.with_share(FOR_SHELF))?;
    tell();
    let mut found: Vec<Found> = usable.iter().map(|&material| Found::nothing(material)).collect();
    let all = question.ask(&base, &mut found, usable.len() > 1, &control.with_share(FOR_SINGLES))?;
    let least = found.iter().filter_map(|found| found.answer.as_ref()).chain(&base.answer).map(loss_of);
    let pair = question.pair(all.as_ref(), least.reduce(f64::min), control)?;
    // What was cut short goes on while there is time.
    question.ask(&base, &mut found, false, control)?;

    // A search for more may have met what one that was cut short has not.
    for answer in all.iter().chain(&pair).filter_map(|solution| solution.answer.as_ref()) {
        match used(answer, &usable)[..] {
            [] if is_better(loss_of(answer), base.answer.as_ref().map(loss_of)) => base.answer = Some(answer.clone()),
            [material] => found.iter_mut().filter(|it| it.material == material).for_each(|it| it.take(answer)),
            _ => {}
        }
    }
    question.make_usual(&mut found, control);
    let singles = ranked(problem, &base, found, all.as_ref().map_or(0.0, bound_of));
    let least = singles.iter().filter_map(|offer| offer.answer.as_ref()).chain(&base.answer).map(loss_of);
    let usual = |solution: Option<Solution>| solution.map(|it| question.at_usual_doses(it, control));
    let (pair, all) = (usual(pair), usual(all));
    let (pair, all) = assembled(&usable, pair.as_ref(), all.as_ref(), &base, &singles, least.reduce(f64::min));
    Ok(Buy { base, singles, pair, all, left_out })
}

struct Question<'a> {
    problem: &'a Problem,
    method: Method,
    usable: &'a [usize],
    tell: &'a (dyn Fn() + Sync),
}

/// What is known of one candidate.
struct Found {
    material: usize,
    /// The best formula that uses it, if that beats the shelf.
    answer: Option<Answer>,
    /// No formula that uses it and beats the shelf has a loss below this.
    bound: f64,
    is_settled: bool,
}

impl Found {
    fn nothing(material: usize) -> Found {
        Found { material, answer: None, bound: 0.0, is_settled: false }
    }

    /// Takes over what a search for formulas with it and below a ceiling found.
    fn learn(&mut self, solution: Solution, ceiling: Option<f64>) {
        self.bound = self.bound.max(bound_of(&solution));
        if let Some(answer) = solution.answer.filter(|answer| is_better(loss_of(answer), ceiling)) {
            self.take(&answer);
        }
        let reached = self.answer.as_ref().map(loss_of).or(ceiling);
        self.is_settled = self.bound.is_infinite() || reached.is_some_and(|loss| is_proven(loss, self.bound));
    }

    /// Keeps an answer that is better than the one there is.
    fn take(&mut self, answer: &Answer) {
        if self.answer.as_ref().is_none_or(|own| loss_of(answer) < loss_of(own)) {
            self.answer = Some(answer.clone());
        }
    }
}

fn loss_of(answer: &Answer) -> f64 {
    answer.evaluation.loss
}

/// Infinite where there is no formula.
fn bound_of(solution: &Solution) -> f64 {
    solution.bound.unwrap_or(f64::INFINITY)
}

/// Whether no loss between the bound and this one makes a difference.
fn is_proven(loss: f64, bound: f64) -> bool {
    loss - bound <= PROVEN * loss.max(1.0)
}

fn is_better(loss: f64, than: Option<f64>) -> bool {
    than.is_none_or(|than| loss < than - TIE * than.max(1.0))
}

fn used(answer: &Answer, candidates: &[usize]) -> Vec<usize> {
    let parts = answer.formula.parts.iter().map(|(material, _)| *material);
    parts.filter(|material| candidates.contains(material)).collect()
}

impl Question<'_> {
    /// Searches for each candidate of which not all is known, each with a fair
    /// share of the time, and beside them for all at once where that is asked
    /// for.
    fn ask(
        &self,
        base: &Solution,
        found: &mut [Found],
        and_all: bool,
        control: &Control,
    ) -> Result<Option<Solution>, Failure> {
        let ceiling = base.answer.as_ref().map(loss_of);
        let open = (0..found.len()).filter(|&index| !found[index].is_settled);
        let asked: Vec<Option<usize>> = and_all.then_some(None).into_iter().chain(open.map(Some)).collect();
        let threads = threads(control) as f64;
        let waiting = AtomicUsize::new(asked.len());
        let search = |index: &Option<usize>| {
            let left = waiting.fetch_sub(1, Ordering::Relaxed) as f64;
            let solution = match index.map(|index| &found[index]) {
                None => {
                    let start = Start { ceiling, ..Start::default() };
                    solve::propose_from(&with_bought(self.problem, self.usable), &start, self.method, control)
                }
                Some(it) => {
                    let problem = with_bought(self.problem, &[it.material]);
                    let problem = with_rule(problem, RuleKind::Must(it.material), 1.0);
                    let formulas = it.answer.iter().map(|answer| answer.formula.clone()).collect();
                    let start = Start { formulas, bound: it.bound, ceiling };
                    let control = control.with_share((threads / left).min(1.0));
                    solve::propose_from(&problem, &start, self.method, &control)
                }
            };
            (self.tell)();
            solution
        };
        let mut all = None;
        for (index, solution) in asked.iter().zip(in_parallel(&asked, control, search)) {
            let Some(solution) = solution.transpose()? else { continue };
            match index {
                None => all = Some(solution),
                Some(index) => found[*index].learn(solution, ceiling),
            }
        }
        Ok(all)
    }

    /// Of formulas that are as near those with fewer unusual doses.
    fn make_usual(&self, found: &mut [Found], control: &Control) {
        for it in found {
            let rules = || with_rule(with_bought(self.problem, &[it.material]), RuleKind::Must(it.material), 1.0);
            it.answer = it.answer.take().map(|answer| most_usual(&rules(), answer, control));
        }
    }

    /// The same of a search with several candidates, with those that its formula
    /// uses.
    fn at_usual_doses(&self, solution: Solution, control: &Control) -> Solution {
        let usual = |answer: Answer| {
            let bought = used(&answer, self.usable);
            most_usual(&with_bought(self.problem, &bought), answer, control)
        };
        Solution { answer: solution.answer.map(usual), ..solution }
    }

    /// The best formula with two candidates at most that is below a ceiling;
    /// `None` where there are no two. Where all of them at once come to no more
    /// than two, that is the answer.
    fn pair(
        &self,
        all: Option<&Solution>,
        ceiling: Option<f64>,
        control: &Control,
    ) -> Result<Option<Solution>, Failure> {
        if self.usable.len() < 2 {
            return Ok(None);
        }
        let bound = all.map_or(0.0, bound_of);
        let answer = all.and_then(|all| all.answer.as_ref());
        let is_few = answer.is_none_or(|answer| used(answer, self.usable).len() <= 2);
        let reached = answer.map(loss_of).or(ceiling);
        if is_few && (bound.is_infinite() || reached.is_some_and(|loss| is_proven(loss, bound))) {
            return Ok(all.cloned());
        }
        let problem = with_bought(self.problem, self.usable);
        let problem = with_rule(problem, RuleKind::MostOf(self.usable.into()), 2.0);
        let start = Start { bound, ceiling, ..Start::default() };
        let solution = solve::propose_from(&problem, &start, self.method, control)?;
        (self.tell)();
        Ok(Some(solution))
    }
}

/// The offers of the single candidates, the best first; of equals those with
/// fewer unusual doses. No formula with any of the candidates has a loss below
/// `floor`.
fn ranked(problem: &Problem, base: &Solution, found: Vec<Found>, floor: f64) -> Vec<Offer> {
    let shelf = base.answer.as_ref().map(loss_of);
    let offer = |it: Found| {
        let bound = it.bound.max(floor).min(bound_of(base));
        let answer = it.answer.filter(|answer| is_better(loss_of(answer), shelf));
        Offer::new(vec![it.material], answer, bound, shelf)
    };
    let mut offers: Vec<Offer> = found.into_iter().map(offer).collect();
    let unit = PROVEN * shelf.unwrap_or(1.0).max(1.0);
    let order = |offer: &Offer| match (&offer.answer, offer.status) {
        // What counts as proven equal is equal.
        (Some(answer), _) => (0, (loss_of(answer) / unit).round(), problem.unusual(&answer.formula).len()),
        (None, Status::Optimal) => (1, 0.0, 0),
        (None, Status::Unknown) => (2, 0.0, 0),
        (None, _) => (3, 0.0, 0),
    };
    // A stable sort: equals stay in the order of the palette.
    offers.sort_by(|a, b| order(a).partial_cmp(&order(b)).unwrap_or(std::cmp::Ordering::Equal));
    offers
}

/// The pair, and everything at once, from the searches for them.
fn assembled(
    usable: &[usize],
    pair: Option<&Solution>,
    all: Option<&Solution>,
    base: &Solution,
    singles: &[Offer],
    least: Option<f64>,
) -> (Option<Offer>, Offer) {
    let floor = all.map_or(0.0, bound_of);
    let offer = |solution: Option<&Solution>, than: Option<f64>| {
        let answer = solution.and_then(|solution| solution.answer.clone());
        let answer = answer.filter(|answer| used(answer, usable).len() > 1 && is_better(loss_of(answer), than));
        let materials = answer.as_ref().map(|answer| used(answer, usable)).unwrap_or_default();
        Offer::new(materials, answer, solution.map_or(0.0, bound_of).max(floor), than)
    };
    let two = (usable.len() > 1).then(|| offer(pair, least));
    let above = two.iter().filter_map(|two| two.answer.as_ref()).map(loss_of).reduce(f64::min).or(least);
    let everything = match singles {
        [] => Offer::new(Vec::new(), None, bound_of(base), least),
        [single] => single.clone(),
        _ => offer(all, above),
    };
    (two, everything)
}

impl Offer {
    /// An offer that has to beat a loss, with what is proven of all formulas
    /// that it allows.
    fn new(materials: Vec<usize>, answer: Option<Answer>, bound: f64, than: Option<f64>) -> Offer {
        let status = match answer.as_ref().map(loss_of).or(than) {
            Some(loss) if is_proven(loss, bound) => Status::Optimal,
            Some(_) if answer.is_some() => Status::Feasible,
            None if bound.is_infinite() => Status::Infeasible,
            _ => Status::Unknown,
        };
        Offer { materials, answer, bound: bound.is_finite().then_some(bound), status }
    }
}
