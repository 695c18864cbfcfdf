//! Rules in the user's words: what a rule says, a change of it as an order
//! (`order`), and what keeps a material out or a batch from its formula
//! (`beside`). Nowhere else is a rule put into words.

mod beside;
mod order;

use super::rules::ForAll;
use super::{Problem, Rule, RuleKind};
use crate::brief::MovedBy;
use crate::number::plain;

/// More names than these are counted where a count speaks of them.
const FEW: usize = 4;

impl Problem {
    /// A rule as a sentence without a full stop: "the cost is at most 180
    /// EUR/kg".
    pub fn sentence(&self, rule: &Rule) -> String {
        let at = plain(rule.at);
        let name = |material: usize| self.material(material).name.as_str();
        let names = |members: &[usize]| members.iter().map(|&m| name(m)).collect::<Vec<_>>().join(" + ");
        let of_some = |members: &[usize]| {
            if members.len() > FEW { format!("{} materials", members.len()) } else { names(members) }
        };
        let descriptor = |counted: usize| self.palette.descriptors[self.ruled[counted].descriptor].name.as_str();
        let currency = &self.palette.currency;
        let in_product = |product: usize| match &self.products[product].name {
            Some(name) => format!(" of {name}"),
            None => " of the finished product".to_owned(),
        };
        match &rule.kind {
            RuleKind::Budget => format!("the cost is at most {at} {currency}/kg"),
            RuleKind::PriceOfEffect => {
                format!("the cost per unit of strength is at most {at} {currency}/kg")
            }
            RuleKind::StrengthMin => format!("the strength is at least {at}"),
            RuleKind::StrengthMax => format!("the strength is at most {at}"),
            RuleKind::MaxIdle => format!("at most {at} ‰ are idle weight"),
            RuleKind::MaxMaterials => format!("at most {at} materials are used"),
            RuleKind::MostOf(members) if members.len() > FEW => {
                format!("at most {at} of {} materials are used", members.len())
            }
            RuleKind::MostOf(members) => format!("at most {at} of {} are used", names(members)),
            RuleKind::Moves(kept) => format!("at most {at} of {} doses move", kept.len()),
            RuleKind::MaxUnusual(_) if rule.at == 0.0 => "every dose is within its usual range".to_owned(),
            RuleKind::MaxUnusual(_) if rule.at == 1.0 => "at most 1 dose is outside its usual range".to_owned(),
            RuleKind::MaxUnusual(_) => format!("at most {at} doses are outside their usual range"),
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
            RuleKind::StageStrengthMin(stage) => {
                format!("the strength of what is left at {} is at least {at}", self.stage_name(*stage))
            }
            RuleKind::StageStrengthMax(stage) => {
                format!("the strength of what is left at {} is at most {at}", self.stage_name(*stage))
            }
            RuleKind::StageKept(stage) => {
                let (stage, first) = (self.stage_name(*stage), self.stage_name(0));
                format!("{stage} keeps at least {at} % of the strength of {first}")
            }
            RuleKind::StageShareMin { stage, members } => {
                format!("{} carry at least {at} % of the odour at {}", of_some(members), self.stage_name(*stage))
            }
            RuleKind::StageShareMax { stage, members } => {
                format!("{} carry at most {at} % of the odour at {}", of_some(members), self.stage_name(*stage))
            }
            RuleKind::FilmLasts => {
                let last = self.paper.as_ref().and_then(|paper| paper.stages.last());
                let last = last.map_or("the last stage", |stage| &stage.name);
                format!("the film on the blotter lasts {at} h or longer, a tenth longer than until {last}")
            }
            RuleKind::Near(skeleton) => {
                let of = match skeleton.by {
                    MovedBy::Odour => "the odour",
                    MovedBy::Parts => "the parts",
                };
                format!("at most {at} % of {of} differ from {}", self.near_name())
            }
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

    /// What the known formula is called that the brief stays near to.
    fn near_name(&self) -> &str {
        self.near.as_ref().map_or("the known formula", |near| near.name())
    }

    /// What one line of a brief says of all materials, as a sentence without a
    /// full stop; `None` where a line speaks of single ones only.
    pub fn sentence_of_all(&self, rule: &Rule) -> Option<String> {
        let at = plain(rule.at);
        match rule.kind.for_all()? {
            ForAll::Step => Some(format!("doses go in steps of {at} ‰, unless said otherwise")),
            ForAll::MinDose => {
                Some(format!("a material that is used is dosed at {at} ‰ or more, unless said otherwise"))
            }
        }
    }
}

/// How much of another material a ratio asks for: "3 times", "as much as".
fn times(at: &str) -> String {
    if at == "1" { "as much as".to_owned() } else { format!("{at} times") }
}
