//! Rules in the user's words.

use super::{Change, Problem, Rule, RuleKind};
use crate::number::{plain, rounded_up};

/// More names than these are counted where a count speaks of them.
const FEW: usize = 4;

impl Problem {
    /// A rule as a sentence without a full stop: "the price is at most 180
    /// EUR/kg".
    pub fn sentence(&self, rule: &Rule) -> String {
        let at = plain(rule.at);
        let name = |material: usize| self.material(material).name.as_str();
        let names = |members: &[usize]| members.iter().map(|&m| name(m)).collect::<Vec<_>>().join(" + ");
        let descriptor = |counted: usize| self.palette.descriptors[self.ruled[counted].descriptor].name.as_str();
        let currency = &self.palette.currency;
        let in_product = |product: usize| match &self.products[product].name {
            Some(name) => format!(" of {name}"),
            None => " of the finished product".to_owned(),
        };
        match &rule.kind {
            RuleKind::Budget => format!("the price is at most {at} {currency}/kg"),
            RuleKind::PriceOfEffect => {
                format!("the price of effect is at most {at} {currency}/kg per unit of strength")
            }
            RuleKind::StrengthMin => format!("the strength is at least {at}"),
            RuleKind::StrengthMax => format!("the strength is at most {at}"),
            RuleKind::MaxMaterials => format!("at most {at} materials are used"),
            RuleKind::MostOf(members) if members.len() > FEW => {
                format!("at most {at} of {} materials are used", members.len())
            }
            RuleKind::MostOf(members) => format!("at most {at} of {} are used", names(members)),
            RuleKind::Moves(kept) => format!("at most {at} of {} doses move", kept.len()),
            RuleKind::DoseMin(m) => format!("{}, if used, is dosed at {at} ‰ or more", name(*m)),
            RuleKind::DoseMax(m) | RuleKind::NeatMax(m) => format!("{} is at most {at} ‰", name(*m)),
            RuleKind::DoseStep(m) => format!("{} is dosed in steps of {at} ‰", name(*m)),
            RuleKind::Must(m) => format!("{} must be used", name(*m)),
            RuleKind::Never(m) => format!("{} must not be used", name(*m)),
            RuleKind::Fixed(m) => format!("{} is exactly {at} ‰", name(*m)),
            RuleKind::GroupMin(members) => format!("{} together are at least {at} ‰", names(members)),
            RuleKind::GroupMax(members) => format!("{} together are at most {at} ‰", names(members)),
            RuleKind::RatioMin { of, to } => format!("{} is at least {} {}", name(*of), times(&at), name(*to)),
            RuleKind::RatioMax { of, to } => format!("{} is at most {} {}", name(*of), times(&at), name(*to)),
            RuleKind::TargetMin(d) => format!("the blend is at least {at} {}", descriptor(*d)),
            RuleKind::TargetMax(d) => format!("the blend is at most {at} {}", descriptor(*d)),
            RuleKind::Limit { restriction, product } => {
                let substance = &self.restrictions[*restriction].substance;
                format!("{substance} is at most {at} %{}", in_product(*product))
            }
            RuleKind::Joint { members, product } => {
                let names: Vec<&str> =
                    members.iter().map(|(member, _)| self.restrictions[*member].substance.as_str()).collect();
                format!(
                    "the shares of the limits of {} add up to at most {at}{}",
                    names.join(", "),
                    in_product(*product)
                )
            }
            RuleKind::Concentrate { material, product } => {
                let of = self.products[*product].name.as_ref().map_or(String::new(), |name| format!(" for {name}"));
                format!("{} is at most {at} % of the concentrate{of}", name(*material))
            }
            RuleKind::Product { material, product } => {
                format!("{} is at most {at} %{}", name(*material), in_product(*product))
            }
            RuleKind::Only(members) => format!("only {} materials of the palette may be used", members.len()),
            RuleKind::OwnOnly => "only materials on the shelf may be used".to_owned(),
            RuleKind::AtLeast(contrary) => {
                let contrary = Rule { kind: RuleKind::clone(contrary), ..rule.clone() };
                format!("it is not the case that {}", self.sentence(&contrary))
            }
        }
    }

    /// [`order`](Problem::order) for a rule that is loosened to see what it
    /// costs: limits are named as they stand, since nobody is told to pass
    /// them.
    pub fn order_of_worth(&self, rule: &Rule, change: Change) -> String {
        match (&rule.kind, change) {
            (RuleKind::Limit { .. } | RuleKind::Joint { .. } | RuleKind::Product { .. }, Change::To(to)) => {
                format!("if it were {} instead of {}: {}", plain(to), plain(rule.at), self.sentence(rule))
            }
            _ => self.order(rule, change),
        }
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
                _ => format!("drop the rule that {}", self.sentence(rule)),
            };
        };
        let verb = if to > rule.at { "raise" } else { "lower" };
        let moved = |what: String, unit: &str| format!("{verb} {what} from {} to {}{unit}", plain(rule.at), plain(to));
        let currency = &self.palette.currency;
        match &rule.kind {
            RuleKind::Budget => moved("the budget".to_owned(), &format!(" {currency}/kg")),
            RuleKind::PriceOfEffect => moved("the ceiling on the price of effect".to_owned(), ""),
            RuleKind::StrengthMin => moved("the floor of the strength".to_owned(), ""),
            RuleKind::StrengthMax => moved("the ceiling on the strength".to_owned(), ""),
            RuleKind::MaxMaterials => format!("allow {} materials", plain(to)),
            RuleKind::MostOf(members) if members.len() > FEW => {
                format!("allow {} of {} materials", plain(to), members.len())
            }
            RuleKind::MostOf(members) => format!("allow {} of {}", plain(to), names(members)),
            RuleKind::Moves(_) => format!("let {} of the doses move", plain(to)),
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
            // A limit is not the user's to move: what would have to give way
            // is how much of the concentrate goes into the product.
            RuleKind::Limit { product, .. } | RuleKind::Joint { product, .. } | RuleKind::Product { product, .. } => {
                let of = self.products[*product].name.as_ref().map_or(String::new(), |name| format!(" of {name}"));
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

/// How much of another material a ratio asks for: "3 times", "as much as".
fn times(at: &str) -> String {
    if at == "1" { "as much as".to_owned() } else { format!("{at} times") }
}
