//! Changes of rules as orders.

use super::FEW;
use crate::number::{plain, rounded_down, rounded_up};
use crate::problem::rules::ForAll;
use crate::problem::stage::LASTS;
use crate::problem::{Change, Problem, Rule, RuleKind};

impl Problem {
    /// [`order`](Problem::order) for a rule that is loosened to see what it
    /// costs: limits are named as they stand, since nobody is told to pass
    /// them.
    pub fn order_of_worth(&self, rule: &Rule, change: Change) -> String {
        match (rule.kind.limits_product(), change) {
            (Some(_), Change::To(to)) => {
                format!("if it were {} instead of {}: {}", plain(to), plain(rule.at), self.sentence(rule))
            }
            (None, _) | (_, Change::Dropped) => self.order(rule, change),
        }
    }

    /// A change of the line of a brief that speaks of all materials.
    pub fn order_of_all(&self, what: ForAll, at: f64, to: f64) -> String {
        let (at, to) = (plain(at), plain(to));
        match what {
            ForAll::Step => format!("weigh in steps of {to} ‰ instead of {at}"),
            ForAll::MinDose => format!("lower the least dose of every material from {at} to {to} ‰"),
        }
    }

    /// Less of the concentrate in a product, in percent of the product.
    pub fn order_of_dosage(&self, product: usize, at: f64, to: f64) -> String {
        format!("lower the dosage{} from {} to {} %", self.of_product(product), plain(at), plain(to))
    }

    /// The product's name, where it has one, as the end of a phrase.
    fn of_product(&self, product: usize) -> String {
        self.products[product].name.as_ref().map_or(String::new(), |name| format!(" of {name}"))
    }

    /// A change of a rule as an order without a full stop: "raise the budget
    /// from 40 to 57.3 EUR/kg".
    pub fn order(&self, rule: &Rule, change: Change) -> String {
        let name = |material: &usize| self.material(*material).name.as_str();
        let names = |members: &[usize]| members.iter().map(name).collect::<Vec<_>>().join(" + ");
        let descriptor = |counted: &usize| self.palette.descriptors[self.ruled[*counted].descriptor].name.as_str();
        let Change::To(to) = change else {
            return match &rule.kind {
                RuleKind::Must(m) => format!("let {} be left out", name(m)),
                RuleKind::Never(m) => format!("allow {}", name(m)),
                RuleKind::Only(_) => "allow other materials than those that only names".to_owned(),
                RuleKind::OwnOnly => "allow materials that are not on the shelf".to_owned(),
                RuleKind::Fixed(m) => format!("let the dose of {} vary", name(m)),
                RuleKind::Budget
                | RuleKind::PriceOfEffect
                | RuleKind::StrengthMin
                | RuleKind::StrengthMax
                | RuleKind::MaxIdle
                | RuleKind::MaxMaterials
                | RuleKind::MostOf(_)
                | RuleKind::Moves(_)
                | RuleKind::MaxUnusual(_)
                | RuleKind::DoseMin(_)
                | RuleKind::DoseMax(_)
                | RuleKind::NeatMax(_)
                | RuleKind::DoseStep(_)
                | RuleKind::GroupMin(_)
                | RuleKind::GroupMax(_)
                | RuleKind::RatioMin { .. }
                | RuleKind::RatioMax { .. }
                | RuleKind::TargetMin(_)
                | RuleKind::TargetMax(_)
                | RuleKind::StageStrengthMin(_)
                | RuleKind::StageStrengthMax(_)
                | RuleKind::StageKept(_)
                | RuleKind::StageShareMin { .. }
                | RuleKind::StageShareMax { .. }
                | RuleKind::FilmLasts
                | RuleKind::Near(_)
                | RuleKind::Limit { .. }
                | RuleKind::Joint { .. }
                | RuleKind::Concentrate { .. }
                | RuleKind::Product { .. }
                | RuleKind::AtLeast(_) => format!("drop the rule that {}", self.sentence(rule)),
            };
        };
        let verb = if to > rule.at { "raise" } else { "lower" };
        let moved = |what: String, unit: &str| format!("{verb} {what} from {} to {}{unit}", plain(rule.at), plain(to));
        let currency = &self.palette.currency;
        match &rule.kind {
            RuleKind::Budget => moved("the budget".to_owned(), &format!(" {currency}/kg")),
            RuleKind::PriceOfEffect => moved("the ceiling on the cost per unit of strength".to_owned(), ""),
            RuleKind::StrengthMin => moved("the floor of the strength".to_owned(), ""),
            RuleKind::StrengthMax => moved("the ceiling on the strength".to_owned(), ""),
            RuleKind::MaxIdle => moved("the ceiling on idle weight".to_owned(), " ‰"),
            RuleKind::MaxMaterials => format!("allow {} materials", plain(to)),
            RuleKind::MostOf(members) if members.len() > FEW => {
                format!("allow {} of {} materials", plain(to), members.len())
            }
            RuleKind::MostOf(members) => format!("allow {} of {}", plain(to), names(members)),
            RuleKind::Moves(_) => format!("let {} of the doses move", plain(to)),
            RuleKind::MaxUnusual(_) if to == 1.0 => "allow 1 dose outside its usual range".to_owned(),
            RuleKind::MaxUnusual(_) => format!("allow {} doses outside their usual range", plain(to)),
            RuleKind::DoseMin(m) => moved(format!("the least dose of {}", name(m)), " ‰"),
            RuleKind::DoseMax(m) | RuleKind::NeatMax(m) => moved(format!("the cap on {}", name(m)), " ‰"),
            RuleKind::DoseStep(m) => moved(format!("the step of {}", name(m)), " ‰"),
            RuleKind::Fixed(m) => moved(format!("the fixed dose of {}", name(m)), " ‰"),
            RuleKind::GroupMin(members) => moved(format!("the floor of {}", names(members)), " ‰"),
            RuleKind::GroupMax(members) => moved(format!("the ceiling on {}", names(members)), " ‰"),
            RuleKind::RatioMin { of, to: below } => {
                moved(format!("the least ratio of {} to {}", name(of), name(below)), "")
            }
            RuleKind::RatioMax { of, to: below } => {
                moved(format!("the greatest ratio of {} to {}", name(of), name(below)), "")
            }
            RuleKind::TargetMin(d) => moved(format!("the floor of {}", descriptor(d)), ""),
            RuleKind::TargetMax(d) => moved(format!("the ceiling on {}", descriptor(d)), ""),
            RuleKind::StageStrengthMin(stage) => {
                moved(format!("the floor of the strength at {}", self.stage_name(*stage)), "")
            }
            RuleKind::StageStrengthMax(stage) => {
                moved(format!("the ceiling on the strength at {}", self.stage_name(*stage)), "")
            }
            RuleKind::StageKept(stage) => moved(format!("what {} keeps", self.stage_name(*stage)), " %"),
            RuleKind::StageShareMin { stage, members } => {
                moved(format!("the least share of {} at {}", names(members), self.stage_name(*stage)), " %")
            }
            RuleKind::StageShareMax { stage, members } => {
                moved(format!("the greatest share of {} at {}", names(members), self.stage_name(*stage)), " %")
            }
            RuleKind::FilmLasts => {
                let last = self.paper.as_ref().and_then(|paper| paper.stages.last());
                let (name, from) = last.map_or(("the last stage", rule.at), |stage| (&*stage.name, 60.0 * stage.hours));
                let minutes = rounded_down(60.0 * to / LASTS, 0);
                format!("bring {name} forward from {} to {minutes} minutes, or dip more", plain(from))
            }
            RuleKind::Near(_) => moved(format!("the room to move from {}", self.near_name()), " %"),
            // A limit is not the user's to move: what would have to give way
            // is how much of the concentrate goes into the product.
            RuleKind::Limit { product, .. } | RuleKind::Joint { product, .. } | RuleKind::Product { product, .. } => {
                let of = self.of_product(*product);
                let share = (1.0 - rule.at / to) * 100.0;
                format!(
                    "lower the dosage{of} by {} % of itself or more, since it is a limit that stands in the way: {}",
                    rounded_up(share, 1),
                    self.sentence(rule)
                )
            }
            RuleKind::Concentrate { material, .. } => {
                moved(format!("the advised most of {}", name(material)), " % of the concentrate")
            }
            RuleKind::Must(_) | RuleKind::Never(_) | RuleKind::Only(_) | RuleKind::OwnOnly | RuleKind::AtLeast(_) => {
                self.sentence(rule)
            }
        }
    }
}
