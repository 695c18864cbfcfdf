//! From a formula that was smelled, the smallest change that moves the blend
//! in a wanted direction.

use std::sync::Arc;

use super::furthest::{Furthest, furthest, possible};
use crate::control::Control;
use crate::evaluate::{Evaluation, evaluate};
use crate::formula::Formula;
use crate::place::Place;
use crate::pool::in_parallel;
use crate::problem::{Bound, DoseKey, Problem, Rule, RuleId, RuleKind};
use crate::solve::nearest::{Measure, change, nearest};
use crate::solve::{Answer, Failure, Status};
use crate::units::Ppt;

/// A change of fewer parts is taken where it is no more than this part larger
/// than the smallest.
pub const FEWER_PARTS: f64 = 0.1;
/// Parts of a point that what is asked for is measured in.
const POINT: f64 = 1e4;
/// How much of the time the smallest change may take, and how much of what is
/// left that of fewer parts.
const FOR_SMALLEST: f64 = 0.6;
const FOR_FEWER: f64 = 0.5;

/// What is wanted of a formula. Descriptors are indices into the problem's
/// targets.
#[derive(Clone, Debug, Default)]
pub struct Wish {
    /// Descriptors to have more of.
    pub more: Vec<usize>,
    /// Descriptors to have less of.
    pub less: Vec<usize>,
    /// By how many points at least, each.
    pub by: f64,
    /// Materials whose dose stays.
    pub keep: Vec<usize>,
    /// The most that any one dose may change, in ppt.
    pub most_change: Option<Ppt>,
    /// Whether the change is to be small in parts rather than in odour.
    pub by_parts: bool,
}

/// What came of it.
#[derive(Clone, Debug)]
pub struct Adjust {
    /// How sure it is that no smaller change does it.
    pub status: Status,
    /// The formula after the change.
    pub answer: Option<Answer>,
    /// No change that does it is smaller, in the unit of the wish's measure;
    /// infinite where there is none.
    pub bound: f64,
    /// The size of that smallest one, in the same unit, where fewer parts were
    /// preferred to it.
    pub smallest: Option<f64>,
    /// Where it cannot be done: how far one can go.
    pub furthest: Option<Furthest>,
    /// Where no dose may change by so much as it takes: how far one dose would
    /// move in the smallest change that does it.
    pub needs: Option<Ppt>,
    /// The rules that hold: those of the brief, and of the wish.
    pub rules: Problem,
}

impl Wish {
    /// Whether anything is to change.
    pub fn asks(&self) -> bool {
        !self.more.is_empty() || !self.less.is_empty()
    }

    /// The descriptors that are asked for.
    pub fn asked(&self) -> Vec<usize> {
        self.more.iter().chain(&self.less).copied().collect()
    }

    /// What makes a change small; `asked` is [`Wish::asked`].
    pub fn measure<'a>(&self, asked: &'a [usize]) -> Measure<'a> {
        if self.by_parts { Measure::Parts } else { Measure::Odour(asked) }
    }
}

/// What a formula is worth as it is mixed, by the palette's own numbers: rules on the profile
/// speak of that, whatever the views.
///
/// # Errors
/// Where it has no odour that counts.
pub fn as_mixed(problem: &Problem, formula: &Formula) -> Result<Evaluation, Failure> {
    evaluate(&problem.plain(), formula).map_err(|error| Failure::Internal(error.to_string()))
}

/// Looks for the smallest change. `formula` is of the problem's basis.
///
/// # Errors
/// Where a result failed its check.
pub fn adjust(problem: &Problem, formula: &Formula, wish: &Wish, control: &Control) -> Result<Adjust, Failure> {
    let evaluation = evaluate(problem, formula).map_err(|error| Failure::Internal(error.to_string()))?;
    let profile = as_mixed(problem, formula)?.profile;
    let base = with_keeps(problem, formula, wish);
    if !wish.asks() {
        let answer = Some(Answer { formula: formula.clone(), evaluation });
        return Ok(Adjust {
            status: Status::Optimal,
            answer,
            bound: 0.0,
            smallest: None,
            furthest: None,
            needs: None,
            rules: base,
        });
    }
    let asked = wish.asked();
    let measure = wish.measure(&asked);
    let rules = with_direction(&base, &profile, wish, wish.by);
    let found = nearest(&rules, formula, measure, None, &control.with_share(FOR_SMALLEST))?;
    let (mut answer, mut smallest) = (found.answer, None);
    if let Some(least) = &answer {
        let size = measure.size(problem, formula, &least.formula);
        if let Some(fewer) = fewer_parts(&rules, formula, measure, least, &control.with_share(FOR_FEWER)) {
            smallest = Some(size);
            answer = Some(fewer);
        }
    }
    let furthest = match found.status {
        Status::Infeasible => furthest(wish.by, control, &|by, control| {
            let rules = with_direction(&base, &profile, wish, by);
            possible(&rules, control)
        }),
        _ => None,
    };
    let needs = match (found.status, wish.most_change) {
        (Status::Infeasible, Some(_)) => {
            let free = Wish { most_change: None, ..wish.clone() };
            let rules = with_direction(&with_keeps(problem, formula, &free), &profile, &free, wish.by);
            let answer = nearest(&rules, formula, measure, None, &control.with_share(FOR_FEWER))?.answer;
            answer.and_then(|answer| largest_change(formula, &answer.formula))
        }
        _ => None,
    };
    Ok(Adjust { status: found.status, answer, bound: found.bound, smallest, furthest, needs, rules })
}

/// A rule that an option of the command line makes.
pub(super) fn asked(id: RuleId, kind: RuleKind, option: &str, at: f64) -> Rule {
    Rule { id, kind, place: Place { file: Arc::from(option), line: 0, column: 0 }, at }
}

/// The brief with what stays, and with doses that may stay off their grid.
fn with_keeps(problem: &Problem, formula: &Formula, wish: &Wish) -> Problem {
    let mut base = problem.clone();
    // What is in the formula is named by it: a carrier stays.
    formula.parts.iter().for_each(|&(material, _)| base.named[material] = true);
    let name = |material: usize| problem.material(material).name.as_str();
    let domains = base.dose_rules();
    for &material in &wish.keep {
        let dose = formula.dose(material);
        let rule = if dose.is_zero() {
            asked(RuleId::dose(name(material), DoseKey::Never), RuleKind::Never(material), "--keep", 1.0)
        } else {
            asked(RuleId::dose(name(material), DoseKey::Fixed), RuleKind::Fixed(material), "--keep", dose.as_f64())
        };
        base.rules.push(rule);
    }
    if let Some(most) = wish.most_change {
        for (material, domain) in domains.iter().enumerate().filter(|(material, _)| !wish.keep.contains(material)) {
            let dose = formula.dose(material);
            let id = |key: DoseKey| RuleId::dose(name(material), key);
            let mut rule =
                |key: DoseKey, kind: RuleKind, at: f64| base.rules.push(asked(id(key), kind, "--most-change", at));
            rule(DoseKey::Max, RuleKind::DoseMax(material), (dose + most).as_f64().min(1000.0));
            if dose > most {
                rule(DoseKey::Must, RuleKind::Must(material), 1.0);
                rule(DoseKey::Min, RuleKind::DoseMin(material), (dose - most).max(domain.least).as_f64());
            }
        }
    }
    let off_grid = |&(material, dose): &(usize, Ppt)| {
        let domain = domains[material];
        !domain.fixed && (dose < domain.least || dose.floor_to(domain.step) != dose)
    };
    if formula.parts.iter().any(off_grid) {
        let kept: Vec<(usize, Ppt)> = formula.parts.clone();
        let most = kept.len() as f64;
        base.rules.push(asked(RuleId::Moves, RuleKind::Moves(kept.into()), "--keep", most));
    }
    base
}

/// The rules with the wanted direction, each descriptor by so many points: up
/// to the next 1e-4 point, so that the rules read as a person would write them.
pub(super) fn with_direction(base: &Problem, profile: &[f64], wish: &Wish, by: f64) -> Problem {
    let mut rules = base.clone();
    let name = |counted: usize| base.palette.descriptors[base.targets[counted].descriptor].name.as_str();
    // What is to stay as it is stands where it is.
    let settled = |points: f64, round: fn(f64) -> f64| if by > 0.0 { round(points * POINT) / POINT } else { points };
    for &counted in &wish.more {
        let id = RuleId::target(name(counted), Bound::Min);
        let at = settled(profile[counted] + by, f64::ceil);
        rules.rules.push(asked(id, RuleKind::TargetMin(counted), "--more", at));
    }
    for &counted in &wish.less {
        let id = RuleId::target(name(counted), Bound::Max);
        let at = settled(profile[counted] - by, f64::floor);
        rules.rules.push(asked(id, RuleKind::TargetMax(counted), "--less", at));
    }
    rules
}

/// The largest difference between the doses of one material.
fn largest_change(before: &Formula, after: &Formula) -> Option<Ppt> {
    let materials = before.parts.iter().chain(&after.parts).map(|(material, _)| *material);
    let apart = |material: usize| {
        let (before, after) = (before.dose(material), after.dose(material));
        (before - after).max(after - before)
    };
    materials.map(apart).max()
}

/// How many parts differ: those that move or go, and those that are new.
pub fn moved(before: &Formula, after: &Formula) -> (usize, usize) {
    let old = before.parts.iter().filter(|&&(material, dose)| after.dose(material) != dose).count();
    let new = after.parts.iter().filter(|(material, _)| before.dose(*material).is_zero()).count();
    (old, new)
}

/// A change of fewer parts that is little larger than the smallest; `None`
/// where there is none.
fn fewer_parts(
    rules: &Problem,
    formula: &Formula,
    measure: Measure,
    least: &Answer,
    control: &Control,
) -> Option<Answer> {
    let (old, new) = moved(formula, &least.formula);
    let size = |answer: &Answer| measure.size(rules, formula, &answer.formula);
    let ceiling = size(least) * (1.0 + FEWER_PARTS);
    let others: Arc<[usize]> = (0..rules.columns.len()).filter(|&material| formula.dose(material).is_zero()).collect();
    // (parts that move, new ones), by how many they are together; what is
    // poured out of one goes into another.
    let mut tried: Vec<(usize, usize)> = Vec::new();
    for together in 2..old + new {
        tried.extend((0..together).map(|new| (together - new, new)).filter(|(old, _)| *old <= formula.parts.len()));
    }
    let found = in_parallel(&tried, control, |&(old, new)| {
        let mut problem = rules.clone();
        problem.rules.retain(|rule| !matches!(rule.kind, RuleKind::Moves(_)));
        let kept: Arc<[(usize, Ppt)]> = formula.parts.clone().into();
        problem.rules.push(asked(RuleId::Moves, RuleKind::Moves(kept), "--more", old as f64));
        problem.rules.push(asked(RuleId::New, RuleKind::MostOf(Arc::clone(&others)), "--more", new as f64));
        nearest(&problem, formula, measure, Some(ceiling), control).ok()?.answer
    });
    let fits = |answer: &Answer| size(answer) <= ceiling;
    let count = |answer: &Answer| {
        let (old, new) = moved(formula, &answer.formula);
        old + new
    };
    let by_count = |a: &Answer, b: &Answer| {
        let parts = |answer: &Answer| change(formula, &answer.formula);
        count(a).cmp(&count(b)).then(size(a).total_cmp(&size(b))).then(parts(a).cmp(&parts(b)))
    };
    let answers = found.into_iter().flatten().flatten().filter(fits);
    answers.min_by(by_count).filter(|answer| count(answer) < old + new)
}
