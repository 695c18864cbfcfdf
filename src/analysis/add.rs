//! What to add to a beaker from which nothing can be taken out, so that the
//! blend moves in a wanted direction: the least addition in grams.
//!
//! When `G` grams of a formula grow to `G / theta`, each dose is at least
//! `theta` times what it was. For a given `theta` these are rules on single
//! doses, so whether one suffices is a question to the exact search, and the
//! greatest `theta` is found by halving.

use super::adjust::{Wish, asked, with_direction};
use super::furthest::{Furthest, furthest};
use crate::control::Control;
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::pool::in_parallel;
use crate::problem::{Problem, RuleKind};
use crate::solve::{Answer, Failure, Feasibility, Status, feasibility};

/// Parts of the whole that the beaker may be, tried from the most: down to an
/// addition of forty-nine times what is there.
const SHARES: [f64; 13] = [0.99, 0.95, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.05, 0.02];
/// The share is known to within this.
const CLOSE: f64 = 1e-9;
/// An addition of less than this share of the batch is none: what halving
/// leaves.
const TRACE: f64 = 1e-7;

/// What to add.
#[derive(Clone, Debug)]
pub struct Addition {
    /// `Optimal` where it is proven that less does not do it.
    pub status: Status,
    /// The blend afterwards, and what is added of each material in grams.
    pub found: Option<(Answer, Vec<(usize, f64)>)>,
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
        return Ok(Addition { status: Status::Optimal, found, furthest: None, rules: base });
    }
    let profile = evaluation.profile;
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
        return Ok(Addition { status, found: None, furthest, rules: at(smallest, wish.by) });
    };
    let mut proven = sure(&tried[..first]);
    let (mut low, mut high) = (SHARES[first], if first == 0 { 1.0 } else { SHARES[first - 1] });
    let Feasibility::Possible(mut blend) = tried[first].clone() else {
        return Err(Failure::Internal("an addition was lost".to_owned()));
    };
    while high - low > CLOSE && !control.should_stop() {
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
    proven &= high - low <= CLOSE;
    let evaluation = evaluate(problem, &blend).map_err(|error| Failure::Internal(error.to_string()))?;
    let added = grams(formula, &blend, batch);
    let status = if proven { Status::Optimal } else { Status::Feasible };
    let answer = Answer { formula: blend, evaluation };
    Ok(Addition { status, found: Some((answer, added)), furthest: None, rules: at(low, wish.by) })
}

/// The option that a rule of the beaker comes from: what is in it is in it.
pub const BEAKER: &str = "--add-only";

/// The rules of a brief for what a beaker becomes that is then `share` of it.
fn diluted(base: &Problem, formula: &Formula, wish: &Wish, share: f64) -> Problem {
    let mut problem = base.clone();
    let domains = base.dose_rules();
    for (material, domain) in domains.iter().enumerate() {
        let dose = formula.dose(material).as_f64() * share;
        let id = |what: &str| format!("dose:{}.{what}", base.material(material).name);
        let mut rule = |what: &str, kind: RuleKind, option: &str, at: f64| {
            problem.rules.push(asked(id(what), kind, option, at));
        };
        match (wish.keep.contains(&material), dose > 0.0) {
            (true, true) => rule("fixed", RuleKind::Fixed(material), "--keep", dose),
            (true, false) => rule("never", RuleKind::Never(material), "--keep", 1.0),
            (false, false) => {}
            (false, true) if domain.fixed => {
                // A fixed dose sets a minimum aside; here it must still be one.
                if dose > domain.least.as_f64() {
                    rule("never", RuleKind::Never(material), BEAKER, 1.0);
                }
            }
            (false, true) => {
                rule("must", RuleKind::Must(material), BEAKER, 1.0);
                rule("min", RuleKind::DoseMin(material), BEAKER, dose.max(domain.least.as_f64()));
            }
        }
    }
    problem
}

/// What makes so many grams of one formula into the other, the most first: the
/// least total in which nothing has become less.
fn grams(before: &Formula, after: &Formula, batch: f64) -> Vec<(usize, f64)> {
    let is = |&(material, dose): &(usize, crate::units::Ppt)| batch * dose.as_f64() / after.dose(material).as_f64();
    let total = before.parts.iter().map(is).fold(batch, f64::max);
    let mut added: Vec<(usize, f64)> = after
        .parts
        .iter()
        .map(|&(material, dose)| (material, (total * dose.as_f64() - batch * before.dose(material).as_f64()) / 1000.0))
        .filter(|(_, grams)| *grams > TRACE * batch)
        .collect();
    added.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    added
}
