//! Every rule checked against a formula in plain arithmetic. Nothing here
//! knows the rows that the solvers work on.

use num_rational::BigRational;

use super::substance::substance_percent;
use super::{Problem, Rule, RuleKind, counted_score, exact, total};
use crate::brief::Match;
use crate::formula::Formula;
pub use crate::tolerance::rules::{REPORTED as REPORT_TOLERANCE, SEARCHED as SEARCH_TOLERANCE};
use crate::units::Ppt;

/// A rule that a formula breaks.
#[derive(Clone, Debug, PartialEq)]
pub struct Breach {
    /// Index into the problem's rules.
    pub rule: usize,
    /// What the formula has, in the unit of the rule.
    pub has: f64,
    /// By how much it passes the rule, as a share of the rule's size.
    pub by: f64,
}

/// Both sides of a rule: `left <= right`, or `left >= right`.
struct Reading {
    left: f64,
    right: f64,
    at_most: bool,
    /// What the formula has, in the unit of the rule.
    has: f64,
    /// Sum of |terms|.
    terms: f64,
}

impl Reading {
    fn of(has: f64, at: f64, at_most: bool, terms: f64) -> Reading {
        Reading { left: has, right: at, at_most, has, terms }
    }

    /// How far the rule is passed, as a share of its size; negative inside.
    fn passed_by(&self) -> f64 {
        let size = self.right.abs().max(self.terms).max(f64::MIN_POSITIVE);
        let over = if self.at_most { self.left - self.right } else { self.right - self.left };
        over / size
    }
}

/// Checks formulas of one problem; what does not depend on the formula is
/// worked out once.
pub struct Checker<'a> {
    problem: &'a Problem,
    whole_part: bool,
    fixed: Vec<bool>,
    /// The dose at which each column may stay, where a rule speaks of it.
    kept: Vec<Option<Ppt>>,
}

impl<'a> Checker<'a> {
    /// A checker for a problem.
    pub fn new(problem: &'a Problem) -> Checker<'a> {
        let mut fixed = vec![false; problem.columns.len()];
        for rule in &problem.rules {
            if let RuleKind::Fixed(column) = rule.kind {
                fixed[column] = true;
            }
        }
        Checker { problem, whole_part: problem.is_whole_part(), fixed, kept: problem.kept_doses() }
    }

    /// Whether every dose that a formula may have lies on a grid.
    pub fn is_whole_part(&self) -> bool {
        self.whole_part
    }

    /// The rules that a formula of this problem's basis breaks by more than a
    /// tolerance (a share of the rule's size). Budget and restrictions are
    /// compared exactly where every dose lies on a grid. A price that is not
    /// known breaks no rule.
    pub fn breaches(&self, formula: &Formula, tolerance: f64) -> Vec<Breach> {
        let facts = Facts::new(self, formula);
        let breach = |(index, rule): (usize, &Rule)| {
            let (has, by) = facts.passed_by(rule)?;
            let broken = match facts.exact_verdict(rule, by) {
                Some(kept) => !kept,
                None => by > tolerance,
            };
            broken.then_some(Breach { rule: index, has, by })
        };
        self.problem.rules.iter().enumerate().filter_map(breach).collect()
    }
}

impl Checker<'_> {
    /// For each rule how far a formula is from breaking it, as a share of the
    /// rule's size: 0 where it holds the formula, and for rules that have no
    /// distance or are broken.
    pub fn slacks(&self, formula: &Formula) -> Vec<f64> {
        let facts = Facts::new(self, formula);
        let apart = |a: f64, b: f64| (a - b).max(0.0) / a.abs().max(b.abs()).max(f64::MIN_POSITIVE);
        let slack = |rule: &Rule| match rule.kind {
            RuleKind::DoseMax(column) => apart(rule.at, facts.doses[column].as_f64()),
            RuleKind::DoseMin(column) if !facts.doses[column].is_zero() => apart(facts.doses[column].as_f64(), rule.at),
            RuleKind::MaxMaterials => apart(rule.at, formula.parts.len() as f64),
            _ => facts.reading(rule).map_or(0.0, |reading| (-reading.passed_by()).max(0.0)),
        };
        self.problem.rules.iter().map(slack).collect()
    }
}

/// What the rules ask about: amounts of a formula, added up once.
struct Facts<'a> {
    checker: &'a Checker<'a>,
    problem: &'a Problem,
    formula: &'a Formula,
    doses: Vec<Ppt>,
    neat_ppt: Vec<f64>,
}

impl<'a> Facts<'a> {
    fn new(checker: &'a Checker<'a>, formula: &'a Formula) -> Self {
        let problem = checker.problem;
        let mut doses = vec![Ppt::ZERO; problem.palette.materials.len()];
        for &(material, dose) in &formula.parts {
            doses[material] = dose;
        }
        Facts { checker, problem, formula, doses, neat_ppt: problem.neat_ppt(formula) }
    }

    fn strength(&self) -> f64 {
        let terms = self.problem.palette.materials.iter().zip(&self.neat_ppt);
        terms.map(|(material, ppt)| material.strength * ppt / 1000.0).sum()
    }

    /// Price per kg; `None` where a used material has none.
    fn price(&self) -> Option<f64> {
        let used = self.problem.palette.materials.iter().zip(&self.neat_ppt).filter(|(_, ppt)| **ppt > 0.0);
        used.map(|(material, ppt)| material.price_per_kg.map(|price| price * ppt / 1000.0)).sum()
    }

    /// The profile in a descriptor that a rule speaks of and the sum of
    /// |terms| of `profile * D - at * D`, divided by D.
    fn profile(&self, counted: usize, at: f64) -> Option<(f64, f64)> {
        let problem = self.problem;
        let ruled = &problem.ruled;
        let (mut above, mut below) = (0.0, 0.0);
        for (material, ppt) in problem.palette.materials.iter().zip(&self.neat_ppt) {
            let odour = material.strength * ppt;
            above += odour * material.scores[ruled[counted].descriptor];
            below += match problem.matching {
                Match::Level => odour,
                Match::Balance => odour * counted_score(ruled, material) / total(ruled),
            };
        }
        (below > 0.0).then(|| (above / below, above / below + at.abs()))
    }

    /// What the formula has of a rule and how far it passes it, as a share of
    /// the rule's size; `None` where the rule asks nothing of this formula.
    fn passed_by(&self, rule: &Rule) -> Option<(f64, f64)> {
        if let Some(verdict) = self.dose_rule(rule) {
            return verdict;
        }
        let reading = self.reading(rule)?;
        Some((reading.has, reading.passed_by()))
    }

    /// Rules on the dose of one column, in exact arithmetic. The outer
    /// `None`: not such a rule.
    fn dose_rule(&self, rule: &Rule) -> Option<Option<(f64, f64)>> {
        let at = Ppt::from_ppt(rule.at);
        let verdict = |column: usize, broken: bool, distance: Ppt| {
            let dose = self.doses[column];
            let size = rule.at.max(dose.as_f64()).max(f64::MIN_POSITIVE);
            Some((dose.as_f64(), if broken { distance.as_f64().abs() / size } else { 0.0 }))
        };
        Some(match &rule.kind {
            // The grid moves a minimum up, and a used dose has at least 1e-6.
            &RuleKind::DoseMin(column) => {
                let dose = self.doses[column];
                let fixed = self.is_fixed(column);
                verdict(column, !fixed && dose > Ppt::ZERO && dose < at.max(Ppt::LEAST), at - dose)
            }
            &RuleKind::DoseStep(column) => {
                let dose = self.doses[column];
                let fixed = self.is_fixed(column);
                verdict(column, !fixed && dose.floor_to(at) != dose, dose - dose.floor_to(at))
            }
            &RuleKind::DoseMax(column) => verdict(column, self.doses[column] > at, self.doses[column] - at),
            &RuleKind::Fixed(column) => verdict(column, self.doses[column] != at, self.doses[column] - at),
            &RuleKind::Must(column) => verdict(column, self.doses[column].is_zero(), Ppt::WHOLE),
            &RuleKind::Never(column) => verdict(column, !self.doses[column].is_zero(), Ppt::WHOLE),
            RuleKind::MaxMaterials => {
                let used = self.doses.iter().filter(|dose| !dose.is_zero()).count() as f64;
                Some((used, (used - rule.at).max(0.0)))
            }
            RuleKind::MostOf(members) => {
                let used = members.iter().filter(|&&member| !self.doses[member].is_zero()).count() as f64;
                Some((used, (used - rule.at).max(0.0)))
            }
            RuleKind::Moves(kept) => {
                let moved = kept.iter().filter(|(column, dose)| self.doses[*column] != *dose).count() as f64;
                Some((moved, (moved - rule.at).max(0.0)))
            }
            RuleKind::Only(only) => {
                let others = self.formula.parts.iter().filter(|(material, _)| !only.contains(material)).count() as f64;
                Some((others, others))
            }
            RuleKind::OwnOnly => {
                let lacking = self.formula.parts.iter().filter(|(i, _)| !self.problem.material(*i).have).count() as f64;
                Some((lacking, lacking))
            }
            _ => return None,
        })
    }

    /// Whether a column is at a dose that sets minimum and step aside.
    fn is_fixed(&self, column: usize) -> bool {
        self.checker.fixed[column] || self.checker.kept[column] == Some(self.doses[column])
    }

    fn reading(&self, rule: &Rule) -> Option<Reading> {
        self.reading_of(&rule.kind, rule.at)
    }

    fn reading_of(&self, kind: &RuleKind, at: f64) -> Option<Reading> {
        let problem = self.problem;
        Some(match kind {
            RuleKind::AtLeast(contrary) => Reading { at_most: false, ..self.reading_of(contrary, at)? },
            RuleKind::Budget => {
                let price = self.price()?;
                Reading::of(price, at, true, price)
            }
            RuleKind::PriceOfEffect => {
                let (price, strength) = (self.price()?, self.strength());
                let terms = price + at * strength;
                Reading { left: price, right: at * strength, at_most: true, has: price / strength, terms }
            }
            RuleKind::StrengthMin => Reading::of(self.strength(), at, false, self.strength()),
            RuleKind::StrengthMax => Reading::of(self.strength(), at, true, self.strength()),
            RuleKind::NeatMax(material) => Reading::of(self.neat_ppt[*material], at, true, self.neat_ppt[*material]),
            RuleKind::GroupMin(members) | RuleKind::GroupMax(members) => {
                let sum = members.iter().map(|&material| self.neat_ppt[material]).sum();
                Reading::of(sum, at, matches!(kind, RuleKind::GroupMax(_)), sum)
            }
            RuleKind::RatioMin { of, to } | RuleKind::RatioMax { of, to } => {
                let (of, to) = (self.neat_ppt[*of], self.neat_ppt[*to]);
                let at_most = matches!(kind, RuleKind::RatioMax { .. });
                Reading { left: of, right: at * to, at_most, has: of / to, terms: of + at * to }
            }
            RuleKind::TargetMin(counted) | RuleKind::TargetMax(counted) => {
                let (profile, terms) = self.profile(*counted, at)?;
                Reading::of(profile, at, matches!(kind, RuleKind::TargetMax(_)), terms)
            }
            RuleKind::Limit { restriction, product } => {
                let percent = self.use_percent(*restriction, *product);
                Reading::of(percent, at, true, percent)
            }
            RuleKind::Joint { members, product } => {
                let sum = members.iter().map(|&(member, limit)| self.use_percent(member, *product) / limit).sum();
                Reading::of(sum, at, true, sum)
            }
            RuleKind::Concentrate { material, product } => {
                let percent = self.neat_ppt[*material] / 10.0 * problem.products[*product].accord_share();
                Reading::of(percent, at, true, percent)
            }
            RuleKind::Product { material, product } => {
                let product = &problem.products[*product];
                let percent = self.neat_ppt[*material] / 10.0 * product.accord_share() * product.dosage();
                Reading::of(percent, at, true, percent)
            }
            _ => return None,
        })
    }

    fn use_percent(&self, restriction: usize, product: usize) -> f64 {
        let (from, reserve) = self.problem.substance_sources(restriction, product, &self.neat_ppt);
        from.iter().map(|(_, percent)| percent).sum::<f64>() + reserve
    }

    /// Whether budget or restriction holds exactly, in decimals; `None` where
    /// the ordinary comparison decides: the formula is not on a grid, the
    /// rule is of another kind, or rounding could not change the verdict.
    fn exact_verdict(&self, rule: &Rule, by: f64) -> Option<bool> {
        if !self.checker.whole_part {
            return None;
        }
        let near = by.abs() <= SEARCH_TOLERANCE;
        match &rule.kind {
            RuleKind::Budget if near => Some(self.exact_budget(rule.at)),
            RuleKind::Limit { restriction, product } if near => {
                Some(self.exact_share(&[(*restriction, rule.at)], *product, 1.0))
            }
            RuleKind::Joint { members, product } if near => Some(self.exact_share(members, *product, rule.at)),
            RuleKind::Budget | RuleKind::Limit { .. } | RuleKind::Joint { .. } => Some(by <= 0.0),
            _ => None,
        }
    }

    /// (material, exact neat ppt) of everything in the formula.
    fn exact_neat(&self) -> Vec<(usize, BigRational)> {
        let hundred = exact::decimal(100.0);
        let mut neat = Vec::new();
        for &(material, dose) in &self.formula.parts {
            let poured = exact::dose(dose);
            match (self.formula.basis, self.problem.material(material).bottles.first()) {
                (crate::brief::Basis::Bottle, Some(bottle)) => {
                    let part = exact::decimal(bottle.percent) / &hundred;
                    let carrier = self.problem.columns[material].neat.iter().find(|(brought, _)| *brought != material);
                    if let Some(&(carrier, _)) = carrier {
                        neat.push((carrier, &poured * (exact::decimal(1.0) - &part)));
                    }
                    neat.push((material, poured * part));
                }
                _ => neat.push((material, poured)),
            }
        }
        neat
    }

    fn exact_budget(&self, at: f64) -> bool {
        let terms = self.exact_neat().into_iter().map(|(material, ppt)| {
            vec![ppt, exact::decimal(self.problem.material(material).price_per_kg.unwrap_or(0.0))]
        });
        exact::sum_at_most(terms, &(exact::decimal(at) * exact::decimal(1000.0)))
    }

    /// Whether the sum of use / limit over some restrictions is at most `at`.
    fn exact_share(&self, members: &[(usize, f64)], product: usize, at: f64) -> bool {
        let product = &self.problem.products[product];
        // ppt / 1000 * share% / 100 * dosage% / 100 * 100, in percent.
        let scale = exact::decimal(product.accord_share_percent)
            * exact::decimal(product.dosage_percent.unwrap_or(0.0))
            / exact::decimal(100_000.0);
        let neat = self.exact_neat();
        let mut terms = Vec::new();
        let mut least_limit_is_zero = false;
        for &(restriction, limit) in members {
            let restriction = &self.problem.restrictions[restriction];
            least_limit_is_zero |= limit == 0.0;
            let weight = if limit == 0.0 { exact::decimal(1.0) } else { exact::decimal(limit).recip() };
            for (material, ppt) in &neat {
                let described = self.problem.material(*material);
                let percent = substance_percent(restriction, restriction.applies, described);
                let fraction = percent / exact::decimal(100.0);
                terms.push(vec![ppt.clone(), fraction, scale.clone(), weight.clone()]);
            }
            for (_, percent) in product.reserve.iter().filter(|(cas, _)| restriction.cas.contains(cas)) {
                terms.push(vec![exact::decimal(*percent), weight.clone()]);
            }
        }
        // A limit of 0 (only without a joint name) allows nothing at all.
        let bound = if least_limit_is_zero { exact::decimal(0.0) } else { exact::decimal(at) };
        exact::sum_at_most(terms.into_iter(), &bound)
    }
}
