//! What to add to a beaker from which nothing can be taken out, so that the
//! blend moves in a wanted direction: with the least change of the odour, or the
//! least addition in grams.
//!
//! When `G` grams of a formula grow to `G / theta`, each dose is at least
//! `theta` times what it was. For a given `theta` these are rules on single
//! doses, so whether one suffices is a question to the exact search, and the
//! greatest `theta` is found by halving. A smaller `theta` allows all that a
//! greater one does, unless there is something of which nothing may be added.

use super::adjust::{Wish, as_mixed, asked, with_direction};
use super::furthest::{Furthest, furthest};
use crate::control::Control;
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::pool::in_parallel;
use crate::problem::{DoseKey, Problem, RuleId, RuleKind};
use crate::solve::nearest::{Measure, nearest};
use crate::solve::{Answer, Failure, Feasibility, Status, feasibility, kept};
use crate::tolerance::doses::ADDED;
use crate::tolerance::doses::ADDED_TRACE;
use crate::units::Ppt;

/// Parts of the whole that the beaker may be, tried from the most: down to an
/// addition of forty-nine times what is there.
const SHARES: [f64; 13] = [0.99, 0.95, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.05, 0.02];

/// What to add.
#[derive(Clone, Debug)]
pub struct Addition {
    /// `Optimal` where it is proven that less does not do it.
    pub status: Status,
    /// The blend afterwards, and what is added of each material in grams.
    pub found: Option<(Answer, Vec<(usize, f64)>)>,
    /// The least change of the odour, in points, where one that is little larger
    /// is had by adding less.
    pub smallest: Option<f64>,
    /// Where it cannot be done: how far one can go by adding.
    pub furthest: Option<Furthest>,
    /// The rules at the largest addition that was tried.
    pub rules: Problem,
}

/// The least addition to `batch` grams of a formula of the problem's basis.
/// Of materials to keep nothing is added. Steps are set aside: what is in the
/// beaker already is on no grid any more.
///
/// # Errors
/// Where a result failed its check.
pub fn add(
    problem: &Problem,
    formula: &Formula,
    wish: &Wish,
    batch: f64,
    control: &Control,
) -> Result<Addition, Failure> {
    let evaluation = evaluate(problem, formula).map_err(|error| Failure::Internal(error.to_string()))?;
    let mut base = problem.with_rules(|rule| !matches!(problem.rules[rule].kind, RuleKind::DoseStep(_)));
    formula.parts.iter().for_each(|&(material, _)| base.named[material] = true);
    if !wish.asks() {
        let answer = Answer { formula: formula.clone(), evaluation };
        let found = Some((answer, Vec::new()));
        return Ok(Addition { status: Status::Optimal, found, smallest: None, furthest: None, rules: base });
    }
    let profile = as_mixed(problem, formula)?.profile;
    let smallest = SHARES[SHARES.len() - 1];
    let at = |share: f64, by: f64| with_direction(&diluted(&base, formula, wish, share), &profile, wish, by);
    let largest = |by: f64, control: &Control| {
        let tried = in_parallel(&SHARES, control, |&share| feasibility(&at(share, by), control));
        let tried: Vec<Feasibility> = tried.into_iter().map(|it| it.unwrap_or(Feasibility::Unknown)).collect();
        let first = tried.iter().position(|it| matches!(it, Feasibility::Possible(_)));
        (tried, first)
    };
    let (tried, first) = largest(wish.by, control);
    let sure = |tried: &[Feasibility]| tried.iter().all(|it| matches!(it, Feasibility::Impossible));
    let Some(first) = first else {
        let status = if sure(&tried) { Status::Infeasible } else { Status::Unknown };
        let reaches = |by: f64, control: &Control| {
            let (tried, first) = largest(by, control);
            let Feasibility::Possible(formula) = &tried[first?] else { return None };
            let evaluation = evaluate(problem, formula).ok()?;
            Some(Answer { formula: formula.clone(), evaluation })
        };
        let furthest = (status == Status::Infeasible).then(|| furthest(wish.by, control, &reaches)).flatten();
        return Ok(Addition { status, found: None, smallest: None, furthest, rules: at(smallest, wish.by) });
    };
    if !wish.by_parts {
        let of = Beaker { problem, formula, batch, rules: &|share| at(share, wish.by) };
        let is_pinned = wish.keep.iter().any(|&material| !formula.dose(material).is_zero());
        let least = of.least_change(&wish.asked(), is_pinned, SHARES[first], control)?;
        if let Some(addition) = least {
            return Ok(addition);
        }
    }
    let mut proven = sure(&tried[..first]);
    let (mut low, mut high) = (SHARES[first], if first == 0 { 1.0 } else { SHARES[first - 1] });
    let Feasibility::Possible(mut blend) = tried[first].clone() else {
        return Err(Failure::Internal("an addition was lost".to_owned()));
    };
    while high - low > ADDED && !control.should_stop() {
        let share = f64::midpoint(low, high);
        match feasibility(&at(share, wish.by), control) {
            Feasibility::Possible(found) => (low, blend) = (share, found),
            Feasibility::Impossible => high = share,
            Feasibility::Unknown => {
                high = share;
                proven = false;
            }
        }
    }
    proven &= high - low <= ADDED;
    let evaluation = evaluate(problem, &blend).map_err(|error| Failure::Internal(error.to_string()))?;
    let added = grams(formula, &blend, batch);
    let status = if proven { Status::Optimal } else { Status::Feasible };
    let answer = Answer { formula: blend, evaluation };
    Ok(Addition { status, found: Some((answer, added)), smallest: None, furthest: None, rules: at(low, wish.by) })
}

/// How much of the whole the beaker is at least, tried in turn: as much is added
/// as is in it, or more where that does not do it.
const LEAST_SHARES: [f64; 3] = [0.5, 0.2, 0.02];
/// Less is added where the odour changes by no more than this part more.
const LESS_ADDED: f64 = 0.1;
/// Steps by which the least such addition is found.
const HALVINGS: usize = 12;

/// A beaker and the rules for what it becomes when it is then a share of it.
struct Beaker<'a> {
    problem: &'a Problem,
    formula: &'a Formula,
    batch: f64,
    rules: &'a dyn Fn(f64) -> Problem,
}

impl Beaker<'_> {
    /// The addition with the least change of the odour, of those that are little
    /// larger the one that adds least. `possible` is a share at which it can be
    /// done; `is_pinned` says that nothing may be added of something that is in
    /// it. `None` where none was found in time.
    fn least_change(
        &self,
        asked: &[usize],
        is_pinned: bool,
        possible: f64,
        control: &Control,
    ) -> Result<Option<Addition>, Failure> {
        let measure = Measure::Odour(asked);
        let at = |share: f64, ceiling: Option<f64>, control: &Control| {
            nearest(&(self.rules)(share), self.formula, measure, ceiling, control)
        };
        let size = |answer: &Answer| measure.size(self.problem, self.formula, &answer.formula);
        // Where the share is pinned every share is another question, and what
        // lies between those that are tried is not looked at.
        let shares: Vec<f64> = if is_pinned {
            SHARES.to_vec()
        } else {
            LEAST_SHARES.into_iter().filter(|&share| share <= possible).take(1).collect()
        };
        let mut best: Option<(f64, Answer, Status)> = None;
        for share in shares {
            let found = at(share, None, &control.with_share(0.5))?;
            let Some(answer) = found.answer else { continue };
            if best.as_ref().is_none_or(|(_, other, _)| size(&answer) < size(other)) {
                best = Some((share, answer, if is_pinned { Status::Feasible } else { found.status }));
            }
        }
        let Some((mut low, mut answer, status)) = best else { return Ok(None) };
        let least = size(&answer);
        let ceiling = least * (1.0 + LESS_ADDED) + ADDED_TRACE;
        let mut high = 1.0;
        for _ in 0..HALVINGS {
            if control.should_stop() {
                break;
            }
            let share = f64::midpoint(low, high);
            match at(share, Some(ceiling), &control.with_share(0.3))?.answer {
                Some(other) if size(&other) <= ceiling => (low, answer) = (share, other),
                _ => high = share,
            }
        }
        let (answer, added) = self.without_specks(answer, &(self.rules)(low), &|answer| size(answer) <= ceiling);
        let smallest = (size(&answer) > least + ADDED_TRACE).then_some(least);
        let rules = (self.rules)(low);
        Ok(Some(Addition { status, found: Some((answer, added)), smallest, furthest: None, rules }))
    }
}

impl Beaker<'_> {
    /// The blend without additions that nobody would weigh, the smallest first,
    /// as far as the rules are kept and it is still `fine`; with it what is added.
    fn without_specks(
        &self,
        mut answer: Answer,
        rules: &Problem,
        fine: &dyn Fn(&Answer) -> bool,
    ) -> (Answer, Vec<(usize, f64)>) {
        let mut added = grams(self.formula, &answer.formula, self.batch);
        let speck = SPECK * added.iter().map(|(_, grams)| grams).sum::<f64>();
        for at in (0..added.len()).rev().filter(|&at| added[at].1 < speck).collect::<Vec<_>>() {
            let mut fewer = added.clone();
            fewer.remove(at);
            let total = self.batch + fewer.iter().map(|(_, grams)| grams).sum::<f64>();
            let mut doses = vec![Ppt::ZERO; self.problem.palette.materials.len()];
            for (material, dose) in doses.iter_mut().enumerate() {
                let more = fewer.iter().find(|(it, _)| *it == material).map_or(0.0, |(_, grams)| *grams);
                let now = self.formula.dose(material).as_f64() * self.batch / 1000.0 + more;
                *dose = Ppt::from_ppt(1000.0 * now / total);
            }
            let blend = Formula::from_doses(self.formula.basis, &doses).rescaled();
            if let Some(other) = kept(rules, &blend).filter(|other| fine(other)) {
                (answer, added) = (other, fewer);
            }
        }
        (answer, added)
    }
}

/// An addition below this part of all that is added is a speck.
const SPECK: f64 = 0.02;

/// The option that a rule of the beaker comes from: what is in it is in it.
pub const BEAKER: &str = "--add-only";

/// The rules of a brief for what a beaker becomes that is then `share` of it.
fn diluted(base: &Problem, formula: &Formula, wish: &Wish, share: f64) -> Problem {
    let mut problem = base.clone();
    let domains = base.dose_rules();
    for (material, domain) in domains.iter().enumerate() {
        let dose = formula.dose(material).as_f64() * share;
        let id = |key: DoseKey| RuleId::dose(&base.material(material).name, key);
        let mut rule = |key: DoseKey, kind: RuleKind, option: &str, at: f64| {
            problem.rules.push(asked(id(key), kind, option, at));
        };
        match (wish.keep.contains(&material), dose > 0.0) {
            (true, true) => rule(DoseKey::Fixed, RuleKind::Fixed(material), "--keep", dose),
            (true, false) => rule(DoseKey::Never, RuleKind::Never(material), "--keep", 1.0),
            (false, false) => {}
            (false, true) if domain.fixed => {
                // A fixed dose sets a minimum aside; here it must still be one.
                if dose > domain.least.as_f64() {
                    rule(DoseKey::Never, RuleKind::Never(material), BEAKER, 1.0);
                }
            }
            (false, true) => {
                rule(DoseKey::Must, RuleKind::Must(material), BEAKER, 1.0);
                rule(DoseKey::Min, RuleKind::DoseMin(material), BEAKER, dose.max(domain.least.as_f64()));
            }
        }
    }
    problem
}

/// What makes so many grams of one formula into the other, the most first: the
/// least total in which nothing has become less.
fn grams(before: &Formula, after: &Formula, batch: f64) -> Vec<(usize, f64)> {
    let is = |&(material, dose): &(usize, Ppt)| batch * dose.as_f64() / after.dose(material).as_f64();
    let total = before.parts.iter().map(is).fold(batch, f64::max);
    let mut added: Vec<(usize, f64)> = after
        .parts
        .iter()
        .map(|&(material, dose)| (material, (total * dose.as_f64() - batch * before.dose(material).as_f64()) / 1000.0))
        .filter(|(_, grams)| *grams > ADDED_TRACE * batch)
        .collect();
    added.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    added
}
