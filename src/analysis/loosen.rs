//! By how much each rule of a brief is loosened to see what it costs: a unit
//! that a person would think in, such as one more material or a tenth of a
//! cap. The units are the project's own choice.

use std::sync::Arc;

use crate::number::tidy;
use crate::place::Place;
use crate::portable::Portable;
use crate::problem::rules::ForAll;
use crate::problem::{Change, Problem, Rule, RuleId, RuleKind};
use crate::tolerance::curves::DIGITS;
use crate::tolerance::rules::BEYOND;
use crate::units::Ppt;

/// A rule, or what one line of a brief says of many materials, a unit looser.
#[derive(Clone, Debug)]
pub struct Loosening {
    /// The rule's id; `step` and `min_dose` for the line of a brief that holds
    /// for all materials, `dosage` for the dosage of a product.
    pub id: RuleId,
    /// Where it was written.
    pub place: Place,
    /// The number it stands at; 1 for a rule that has none.
    pub at: f64,
    /// The number it is loosened to; `None` where it is dropped.
    pub to: Option<f64>,
    /// What the number counts.
    pub unit: Unit,
    /// What changes.
    pub change: Loosened,
}

/// What changes when something is loosened.
#[derive(Clone, Debug, PartialEq)]
pub enum Loosened {
    /// These rules (indices into the problem's), each in this way.
    Rules(Vec<(usize, Change)>),
    /// What one line says of all materials: the rule of each, in this way.
    ForAll(ForAll, Vec<(usize, Change)>),
    /// The dosage of a product, in percent.
    Dosage {
        /// Index into the problem's products.
        product: usize,
        /// The dosage it is lowered to.
        percent: f64,
    },
}

/// What the number of a rule counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Price per kg.
    Price,
    /// Price per kg for each unit of strength.
    PriceOfEffect,
    /// Strength.
    Strength,
    /// Materials.
    Materials,
    /// Parts per thousand.
    Ppt,
    /// A quotient of two doses.
    Ratio,
    /// Score points.
    Points,
    /// Percent.
    Percent,
    /// The rule has no number: it holds or is dropped.
    Whole,
}

/// The problem with several rules loosened at once.
pub fn all_loosened(problem: &Problem, all: &[&Loosening]) -> Problem {
    let mut changes = Vec::new();
    let mut dosages = Vec::new();
    for one in all {
        match &one.change {
            Loosened::Rules(of) | Loosened::ForAll(_, of) => changes.extend_from_slice(of),
            Loosened::Dosage { product, percent } => dosages.push((*product, *percent)),
        }
    }
    let mut loosened = problem.with_changes(&changes);
    for (product, percent) in dosages {
        loosened.products[product].dosage_percent = Some(percent);
    }
    loosened
}

impl Loosening {
    /// The problem with the rule loosened.
    pub fn problem(&self, problem: &Problem) -> Problem {
        all_loosened(problem, &[self])
    }

    /// The loosened problem without most of the formulas that the rule allows
    /// as it stands: what is better than the best of those lies here.
    pub fn beyond(&self, problem: &Problem) -> Problem {
        let mut beyond = self.problem(problem);
        if let Loosened::Rules(changes) = &self.change
            && let [(rule, _)] = changes[..]
        {
            beyond.rules.extend(outside(problem, &problem.rules[rule]));
        }
        beyond
    }
}

/// Rules that every formula keeps which breaks the given one.
fn outside(problem: &Problem, rule: &Rule) -> Vec<Rule> {
    let new = |kind: RuleKind, at: f64| Rule { id: rule.id.clone(), kind, place: rule.place.clone(), at };
    match &rule.kind {
        &RuleKind::DoseStep(column) | &RuleKind::Never(column) => vec![new(RuleKind::Must(column), 1.0)],
        &RuleKind::DoseMin(column) => {
            let least = problem.dose_rules()[column].least;
            vec![new(RuleKind::Must(column), 1.0), new(RuleKind::DoseMax(column), least.as_f64())]
        }
        &RuleKind::DoseMax(column) => {
            let most = problem.dose_rules()[column].most;
            let least = most.max(problem.dose_rules()[column].least);
            vec![new(RuleKind::Must(column), 1.0), new(RuleKind::DoseMin(column), least.as_f64())]
        }
        &RuleKind::Must(column) => vec![new(RuleKind::Never(column), 1.0)],
        &RuleKind::NeatMax(column) => vec![new(RuleKind::GroupMin([column].into()), rule.at)],
        RuleKind::GroupMax(members) => vec![new(RuleKind::GroupMin(members.clone()), rule.at)],
        RuleKind::GroupMin(members) => vec![new(RuleKind::GroupMax(members.clone()), rule.at)],
        &RuleKind::RatioMax { of, to } => vec![new(RuleKind::RatioMin { of, to }, rule.at)],
        &RuleKind::RatioMin { of, to } => vec![new(RuleKind::RatioMax { of, to }, rule.at)],
        &RuleKind::TargetMax(counted) => vec![new(RuleKind::TargetMin(counted), rule.at)],
        &RuleKind::TargetMin(counted) => vec![new(RuleKind::TargetMax(counted), rule.at)],
        RuleKind::StrengthMax => vec![new(RuleKind::StrengthMin, rule.at)],
        RuleKind::StrengthMin => vec![new(RuleKind::StrengthMax, rule.at)],
        &RuleKind::StageStrengthMax(stage) => vec![new(RuleKind::StageStrengthMin(stage), rule.at)],
        &RuleKind::StageStrengthMin(stage) => vec![new(RuleKind::StageStrengthMax(stage), rule.at)],
        RuleKind::StageShareMax { stage, members } => {
            vec![new(RuleKind::StageShareMin { stage: *stage, members: members.clone() }, rule.at)]
        }
        RuleKind::StageShareMin { stage, members } => {
            vec![new(RuleKind::StageShareMax { stage: *stage, members: members.clone() }, rule.at)]
        }
        // No rule says that less is kept.
        RuleKind::StageKept(_) | RuleKind::FilmLasts => Vec::new(),
        RuleKind::Concentrate { material, product } => {
            let share = problem.products[*product].accord_share();
            vec![new(RuleKind::GroupMin([*material].into()), rule.at * 10.0 / share * (1.0 - BEYOND))]
        }
        RuleKind::Product { material, product } => {
            let product = &problem.products[*product];
            let per_ppt = product.accord_share() * product.dosage();
            vec![new(RuleKind::GroupMin([*material].into()), rule.at * 10.0 / per_ppt * (1.0 - BEYOND))]
        }
        RuleKind::Budget | RuleKind::PriceOfEffect | RuleKind::Limit { .. } | RuleKind::Joint { .. } => {
            let contrary = || new(RuleKind::AtLeast(Arc::new(rule.kind.clone())), rule.at * (1.0 - BEYOND));
            if rule.at > 0.0 { vec![contrary()] } else { Vec::new() }
        }
        // No rule says another count, another dose, what is beside a list, or that
        // more is idle: which materials are hangs on the strength of all.
        RuleKind::MaxMaterials
        | RuleKind::MaxIdle
        | RuleKind::MostOf(_)
        | RuleKind::Moves(_)
        | RuleKind::MaxUnusual(_)
        | RuleKind::Fixed(_)
        | RuleKind::Only(_)
        | RuleKind::OwnOnly => Vec::new(),
        // What is further away than this is not convex.
        RuleKind::Near(_) => Vec::new(),
        // Never loosened: see `one_unit`.
        RuleKind::AtLeast(_) => Vec::new(),
    }
}

/// Every rule of a problem that can be loosened, one unit each.
pub fn loosenings(problem: &Problem) -> Vec<Loosening> {
    let mut all = Vec::new();
    for (index, rule) in problem.rules.iter().enumerate() {
        let Some(change) = one_unit(problem, rule) else { continue };
        let (to, unit) = match change {
            Change::To(to) => (Some(to), unit(&rule.kind)),
            Change::Dropped => (None, Unit::Whole),
        };
        let change = Loosened::Rules(vec![(index, change)]);
        all.push(Loosening { id: rule.id.clone(), place: rule.place.clone(), at: rule.at, to, unit, change });
    }
    let shared = [ForAll::Step, ForAll::MinDose].map(|what| shared_line(&all, problem, what));
    all.extend(shared.into_iter().flatten());
    all.extend(dosages(problem));
    all
}

/// What `[formula]` says of every material, loosened for all of them at once.
fn shared_line(single: &[Loosening], problem: &Problem, what: ForAll) -> Option<Loosening> {
    let rule_of = |loosening: &Loosening| match &loosening.change {
        Loosened::Rules(changes) | Loosened::ForAll(_, changes) => changes.first().map(|&(rule, _)| rule),
        Loosened::Dosage { .. } => None,
    };
    let is_key = |rule: usize| problem.rules[rule].kind.for_all() == Some(what);
    let of_key: Vec<&Loosening> = single.iter().filter(|one| rule_of(one).is_some_and(is_key)).collect();
    // The line that speaks of most materials.
    let count = |one: &Loosening| of_key.iter().filter(|other| other.place == one.place).count();
    let first = of_key.iter().rev().max_by_key(|one| count(one)).filter(|one| count(one) > 1)?;
    let alike = of_key.iter().filter(|one| one.place == first.place);
    let changes = alike.filter_map(|one| match &one.change {
        Loosened::Rules(changes) | Loosened::ForAll(_, changes) => changes.first().copied(),
        Loosened::Dosage { .. } => None,
    });
    let id = match what {
        ForAll::Step => RuleId::Step,
        ForAll::MinDose => RuleId::MinDose,
    };
    Some(Loosening { id, change: Loosened::ForAll(what, changes.collect()), ..(*first).clone() })
}

/// One percent less of the concentrate in each product that limits hold in, a
/// tenth less where that is all there is.
fn dosages(problem: &Problem) -> Vec<Loosening> {
    let mut all = Vec::new();
    for (index, product) in problem.products.iter().enumerate() {
        let Some(dosage) = product.dosage_percent else { continue };
        let percent = if dosage > 2.0 { tidy(dosage - 1.0) } else { tidy(dosage * 0.9) };
        let at_use = product.name.as_ref().filter(|_| problem.products.len() > 1);
        all.push(Loosening {
            id: RuleId::Dosage(at_use.map(|name| name.as_str().into())),
            place: product.place.clone(),
            at: dosage,
            to: Some(percent),
            unit: Unit::Percent,
            change: Loosened::Dosage { product: index, percent },
        });
    }
    all
}

/// What the number of a rule counts.
fn unit(kind: &RuleKind) -> Unit {
    match kind {
        RuleKind::Budget => Unit::Price,
        RuleKind::PriceOfEffect => Unit::PriceOfEffect,
        RuleKind::StrengthMin | RuleKind::StrengthMax => Unit::Strength,
        RuleKind::StageStrengthMin(_) | RuleKind::StageStrengthMax(_) => Unit::Strength,
        RuleKind::StageKept(_) | RuleKind::StageShareMin { .. } | RuleKind::StageShareMax { .. } => Unit::Percent,
        RuleKind::MaxMaterials | RuleKind::MaxUnusual(_) | RuleKind::MostOf(_) | RuleKind::Moves(_) => Unit::Materials,
        RuleKind::DoseMin(_)
        | RuleKind::DoseMax(_)
        | RuleKind::NeatMax(_)
        | RuleKind::DoseStep(_)
        | RuleKind::Fixed(_)
        | RuleKind::GroupMin(_)
        | RuleKind::GroupMax(_)
        | RuleKind::MaxIdle => Unit::Ppt,
        RuleKind::RatioMin { .. } | RuleKind::RatioMax { .. } => Unit::Ratio,
        RuleKind::TargetMin(_) | RuleKind::TargetMax(_) => Unit::Points,
        RuleKind::Near(_) | RuleKind::Limit { .. } | RuleKind::Concentrate { .. } | RuleKind::Product { .. } => {
            Unit::Percent
        }
        RuleKind::Joint { .. } => Unit::Ratio,
        RuleKind::FilmLasts => Unit::Whole,
        RuleKind::Must(_) | RuleKind::Never(_) | RuleKind::Only(_) | RuleKind::OwnOnly | RuleKind::AtLeast(_) => {
            Unit::Whole
        }
    }
}

/// A unit looser; `None` where the rule cannot be loosened or a unit would
/// change nothing. A limit of 0 is a ban and stays one.
fn one_unit(problem: &Problem, rule: &Rule) -> Option<Change> {
    let at = rule.at;
    let tenth_more = || tidy(at * 1.1);
    let tenth_less = || tidy(at * 0.9);
    let domain = |column: usize| problem.dose_rules()[column];
    let to = match &rule.kind {
        RuleKind::Budget | RuleKind::PriceOfEffect => tidy(at + power_of_ten_from(at / 20.0)),
        RuleKind::StrengthMin | RuleKind::StageStrengthMin(_) => tenth_less(),
        RuleKind::StrengthMax | RuleKind::StageStrengthMax(_) => tenth_more(),
        RuleKind::StageKept(_) | RuleKind::StageShareMin { .. } => tidy(at - 1.0).max(0.0),
        RuleKind::StageShareMax { .. } => tidy(at + 1.0).min(100.0),
        RuleKind::MaxMaterials => (at + 1.0).min(problem.columns.len() as f64),
        RuleKind::MostOf(members) => (at + 1.0).min(members.len() as f64),
        RuleKind::Moves(kept) => (at + 1.0).min(kept.len() as f64),
        RuleKind::MaxUnusual(usual) if at >= usual.len() as f64 => return None,
        RuleKind::MaxUnusual(_) => at + 1.0,
        &RuleKind::DoseMin(column) => {
            let domain = domain(column);
            let less = if domain.step > Ppt::ZERO { domain.least - domain.step } else { Ppt::from_ppt(tenth_less()) };
            // A step is the least that is left, and another rule may ask for more.
            let is_idle = Ppt::from_ppt(at).ceil_to(domain.step).max(domain.step).max(Ppt::LEAST) < domain.least;
            if domain.fixed || is_idle || less < domain.step.max(Ppt::LEAST) {
                return None;
            }
            less.as_f64()
        }
        &RuleKind::DoseMax(column) | &RuleKind::NeatMax(column) => {
            let step = domain(column).step;
            let more = Ppt::from_ppt(if at > 0.0 { tenth_more() } else { 1.0 });
            more.ceil_to(step).min(Ppt::WHOLE).as_f64()
        }
        &RuleKind::DoseStep(column) if domain(column).fixed => return None,
        RuleKind::DoseStep(_) => finer(Ppt::from_ppt(at))?.as_f64(),
        RuleKind::GroupMin(_) => tenth_less(),
        RuleKind::GroupMax(_) | RuleKind::MaxIdle => (if at > 0.0 { tenth_more() } else { 1.0 }).min(1000.0),
        RuleKind::RatioMin { .. } => tenth_less(),
        RuleKind::RatioMax { .. } => (if at > 0.0 { tenth_more() } else { 0.1 }).min(f64::MAX),
        RuleKind::TargetMin(_) => tidy(at - 0.5).max(0.0),
        RuleKind::TargetMax(_) => tidy(at + 0.5).min(problem.palette.scale),
        RuleKind::Near(_) => tidy(at + 1.0).min(100.0),
        RuleKind::Concentrate { .. } | RuleKind::Product { .. } => tenth_more().min(100.0),
        RuleKind::Limit { .. } | RuleKind::Joint { .. } => tenth_more(),
        RuleKind::Must(_) | RuleKind::Never(_) | RuleKind::Fixed(_) | RuleKind::Only(_) | RuleKind::OwnOnly => {
            return Some(Change::Dropped);
        }
        // A stage is smelled when it is smelled.
        RuleKind::AtLeast(_) | RuleKind::FilmLasts => return None,
    };
    (to != at).then_some(Change::To(to))
}

/// The least power of ten that is not below a number above 0; 1 for 0.
fn power_of_ten_from(number: f64) -> f64 {
    if number > 0.0 { 10f64.powi((number.decimal_logarithm() - DIGITS).ceil() as i32) } else { 1.0 }
}

/// The next finer step, every dose on the old one included: half where that
/// reads well (1, 2, 4 and their tenfolds), a fifth of 5, else a tenth.
fn finer(step: Ppt) -> Option<Ppt> {
    let mut mantissa = step.units();
    if mantissa <= 0 {
        return None;
    }
    while mantissa % 10 == 0 {
        mantissa /= 10;
    }
    let divisor = match mantissa {
        1 | 2 | 4 => 2,
        5 => 5,
        _ => 10,
    };
    // A step has at most six decimals.
    let finer = Ppt::from_units(step.units() / divisor);
    (step.units() % divisor == 0 && finer.units() % 1_000 == 0 && finer > Ppt::ZERO).then_some(finer)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_read_well() {
        let steps = [(1.0, 0.5), (0.5, 0.1), (2.0, 1.0), (0.1, 0.05), (10.0, 5.0), (3.0, 0.3)];
        for (step, wanted) in steps {
            assert_eq!(finer(Ppt::from_ppt(step)), Some(Ppt::from_ppt(wanted)), "{step}");
        }
        assert_eq!(finer(Ppt::from_ppt(0.000_001)), None);
        for (budget, wanted) in [(180.0, 10.0), (40.0, 10.0), (20.0, 1.0), (9000.0, 1000.0), (0.0, 1.0)] {
            assert_eq!(power_of_ten_from(budget / 20.0), wanted, "{budget}");
        }
    }
}
