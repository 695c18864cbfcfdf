//! The same problem with one rule at another number, or with one dose forced:
//! what every curve along a rule is made of.

use std::sync::Arc;

use super::id::{DoseKey, RuleId};
use super::{Problem, Rule, RuleKind, Subject};
use crate::place::Place;
use crate::units::Ppt;

impl Problem {
    /// The number that rules of one kind stand at, the tightest where there
    /// are several; `None` where there is none.
    pub fn stands_at(&self, kind: &RuleKind) -> Option<f64> {
        let of_kind = self.rules.iter().filter(|rule| rule.kind == *kind).map(|rule| rule.at);
        if kind.loosens_upwards() == Some(false) { of_kind.reduce(f64::max) } else { of_kind.reduce(f64::min) }
    }

    /// The same problem without the rules of one kind.
    pub fn without_kind(&self, kind: &RuleKind) -> Problem {
        self.with_rules(|index| self.rules[index].kind != *kind)
    }

    /// The same problem with the rule of one kind at another number. Where no
    /// file says such a rule, it gets one, as `id`, without a line.
    pub fn with_rule_at(&self, id: RuleId, kind: RuleKind, at: f64) -> Problem {
        let said = self.rules.iter().find(|rule| rule.kind == kind);
        let place = said.map_or_else(|| self.no_line(), |rule| rule.place.clone());
        let mut problem = self.without_kind(&kind);
        problem.rules.push(Rule { id, kind, place, at });
        problem
    }

    /// The same problem with the dose of one material open: nothing asks for
    /// it, fixes it or keeps it out, also where it is a carrier or the
    /// target's own material. Its caps stay.
    pub fn freeing(&self, material: usize) -> Problem {
        let mut problem = self.with_rules(|index| {
            let subject = self.rules[index].kind.subject();
            subject != Subject::Asked(material) && subject != Subject::Barred(material)
        });
        problem.named[material] = true;
        let have = |m: usize| m == material || self.material(m).have;
        for rule in &mut problem.rules {
            rule.kind = match &rule.kind {
                RuleKind::Only(only) if !only.contains(&material) => {
                    RuleKind::Only(only.iter().copied().chain([material]).collect())
                }
                RuleKind::OwnOnly if !self.material(material).have => {
                    RuleKind::Only((0..self.columns.len()).filter(|&m| have(m)).collect::<Arc<[usize]>>())
                }
                kind => kind.clone(),
            };
        }
        problem
    }

    /// The same problem with one dose forced, which sets minimum and step of
    /// that material aside; nothing of it is never.
    pub fn with_dose(&self, material: usize, dose: Ppt) -> Problem {
        if dose <= Ppt::ZERO {
            return self.leaving_out(material);
        }
        let id = RuleId::dose(&self.material(material).name, DoseKey::Fixed);
        self.with_rule_at(id, RuleKind::Fixed(material), dose.as_f64())
    }

    /// The same problem with at most so much of one material.
    pub fn with_at_most(&self, material: usize, dose: Ppt) -> Problem {
        if dose <= Ppt::ZERO {
            return self.leaving_out(material);
        }
        self.with_dose_rule(material, DoseKey::Max, RuleKind::DoseMax(material), dose)
    }

    /// The same problem with at least so much of one material, which then has
    /// to be used; `dose` is above 0 and no less than its own least dose.
    pub fn with_at_least(&self, material: usize, dose: Ppt) -> Problem {
        self.requiring(material).with_dose_rule(material, DoseKey::Min, RuleKind::DoseMin(material), dose)
    }

    fn with_dose_rule(&self, material: usize, key: DoseKey, kind: RuleKind, dose: Ppt) -> Problem {
        let mut problem = self.clone();
        let id = RuleId::dose(&self.material(material).name, key);
        problem.rules.push(Rule { id, kind, place: self.no_line(), at: dose.as_f64() });
        problem
    }

    /// Price per kg that one ppt of a column adds to a formula; `None` where
    /// something in it has none.
    pub fn price_per_ppt(&self, column: usize) -> Option<f64> {
        let content = self.columns[column].neat.iter();
        content.map(|&(material, part)| Some(self.material(material).price_per_kg? * part / 1000.0)).sum()
    }

    /// Strength that one ppt of a column adds to a formula.
    pub fn strength_per_ppt(&self, column: usize) -> f64 {
        let content = self.columns[column].neat.iter();
        content.map(|&(material, part)| self.material(material).strength * part / 1000.0).sum()
    }

    /// A place for rules that no file says.
    fn no_line(&self) -> Place {
        Place { file: Arc::from(""), line: 0, column: 0 }
    }
}
