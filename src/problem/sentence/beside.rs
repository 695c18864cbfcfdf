//! What is said beside the rules themselves: why a material is left out, which
//! parts of a formula a rule is broken by, and what the vessel, the stock and
//! the balance ask of a batch.

use crate::formula::Formula;
use crate::number::plain;
use crate::problem::rules::LeftOut;
use crate::problem::{Absence, Problem, Rule, RuleKind};

impl Problem {
    /// A rule that a formula breaks: its sentence, and the materials that a rule
    /// on all of them leaves out.
    pub fn sentence_of_breach(&self, rule: &Rule, formula: &Formula) -> String {
        if let RuleKind::MaxUnusual(_) = rule.kind {
            let unusual = self.unusual(formula).into_iter();
            let names: Vec<&str> = unusual.map(|material| self.material(material).name.as_str()).collect();
            return format!("{}, not those of {}", self.sentence(rule), names.join(", "));
        }
        let names: Vec<&str> = formula
            .parts
            .iter()
            .filter(|(material, _)| match rule.kind.leaves_out() {
                LeftOut::AllBut(only) => !only.contains(material),
                LeftOut::NotOnShelf => !self.material(*material).have,
                // The sentence names it.
                LeftOut::One(_) | LeftOut::Nothing => false,
            })
            .map(|(material, _)| self.material(*material).name.as_str())
            .collect();
        let others = if names.is_empty() { String::new() } else { format!(", not {}", names.join(" nor ")) };
        self.sentence(rule) + &others
    }

    /// Why a material may not be used, as a sentence without a full stop.
    pub fn sentence_of_absence(&self, material: usize, absence: Absence) -> String {
        let name = &self.material(material).name;
        match absence {
            Absence::UnnamedCarrier => {
                format!("{name} is a carrier, and a solvent that [doses] does not name is left out")
            }
            Absence::TargetItself => {
                format!("{name} is the target itself, and is left out because [doses] does not name it")
            }
            Absence::Rule(rule) => self.sentence(&self.rules[rule]),
        }
    }

    /// The same without the material's name, for a list of those left out.
    pub fn reason_of_absence(&self, absence: Absence) -> String {
        match absence {
            Absence::UnnamedCarrier => "a solvent that [doses] does not name".to_owned(),
            Absence::TargetItself => "it is the target itself, and [doses] does not name it".to_owned(),
            Absence::Rule(rule) => {
                let rule = &self.rules[rule];
                format!("{} ({})", self.sentence(rule), rule.place)
            }
        }
    }

    /// The same in few words, for a line of a material's own; `None` where what
    /// the material's entry says is seen beside it.
    pub fn absence_in_short(&self, absence: Absence) -> Option<&'static str> {
        match absence {
            Absence::UnnamedCarrier => Some("a carrier: out unless you let it in"),
            Absence::TargetItself => Some("the target itself: out unless you let it in"),
            Absence::Rule(rule) => match self.rules[rule].kind.leaves_out() {
                LeftOut::AllBut(_) => Some("out: the brief names the only ones"),
                LeftOut::NotOnShelf => Some("out: not on the shelf"),
                LeftOut::One(_) | LeftOut::Nothing => None,
            },
        }
    }

    /// What the brief says against using a material, set aside to look at it, as
    /// a sentence; `None` where it says nothing.
    pub fn sentence_of_set_aside(&self, material: usize) -> Option<String> {
        let name = &self.material(material).name;
        match self.domains()[material] {
            Ok(domain) if domain.fixed => {
                Some(format!("The brief fixes {name} at {} ‰; that is set aside here.", domain.least))
            }
            Ok(_) => None,
            Err(Absence::TargetItself) => {
                Some(format!("The target is {name} itself, which the brief leaves out; it is let in here."))
            }
            Err(Absence::UnnamedCarrier) => {
                Some(format!("{name} is a solvent, which the brief leaves out; it is let in here."))
            }
            Err(Absence::Rule(rule)) => {
                let said = self.sentence(&self.rules[rule]);
                Some(format!("The brief leaves {name} out ({said}); it is let in here."))
            }
        }
    }

    /// So much of a material is in the vessel, from a bottle of so many percent.
    pub fn sentence_of_vessel(&self, material: usize, bottle_percent: Option<f64>, grams: f64) -> String {
        let bottle = match bottle_percent {
            Some(percent) if percent < 100.0 => format!(" at {} %", plain(percent)),
            _ => String::new(),
        };
        format!("{} g of {}{bottle} are in the vessel", plain(grams), self.material(material).name)
    }

    /// So much of a material is on hand, and so much is needed where it is not
    /// enough.
    pub fn sentence_of_stock(&self, material: usize, grams: f64, needed_grams: Option<f64>) -> String {
        let needed = needed_grams.map_or(String::new(), |needed| format!(", {} g are needed", plain(needed)));
        format!("{} g of {} are on hand{needed}", plain(grams), self.material(material).name)
    }

    /// So much of a material is less than a balance weighs well.
    pub fn sentence_of_least(&self, material: usize, grams: f64, least_grams: f64) -> String {
        let name = &self.material(material).name;
        format!(
            "{} g of {name} to pour are less than {} g, the least that this balance weighs well",
            plain(grams),
            plain(least_grams)
        )
    }

    /// Of a material no less is added than a balance weighs well.
    pub fn sentence_of_no_less(&self, material: usize, least_grams: f64) -> String {
        let name = &self.material(material).name;
        format!("of {name} nothing is added below {} g, which this balance weighs well", plain(least_grams))
    }

    /// Nothing is taken out of the vessel.
    pub fn sentence_of_what_stays(&self) -> String {
        "what is in the vessel stays in it".to_owned()
    }
}
