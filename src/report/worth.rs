//! What holds a formula back and what could go from it, as reports list it.

use serde::Serialize;

use crate::analysis::explain::Explanation;
use crate::analysis::full::{Full, full_limits};
use crate::analysis::loosen::{Loosened, Loosening, Unit};
use crate::analysis::without::{Then, Without};
use crate::analysis::worth::{Worth, Worths};
use crate::number::plain;
use crate::problem::{Problem, RuleKind};
use crate::solve::Answer;
use crate::units::Ppt;

/// What was found by solving again.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Around {
    /// One standard deviation of the fidelity, in percent, from the doubt of
    /// the scores and strengths, to first order.
    pub give_or_take: Option<f64>,
    /// Rules whose loosening brings something, the one that brings most first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub binding: Option<Vec<BindingLine>>,
    /// Ids of rules of which that was not found out in time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub binding_not_computed: Option<Vec<String>>,
    /// Limits that are full: no lever, and told in a sentence.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limits_full: Option<Vec<FullLimit>>,
    /// Each material of the formula, left out and everything solved again.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub without: Option<Vec<WithoutLine>>,
}

/// A limit of which the formula leaves nothing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FullLimit {
    /// The rule's id.
    pub rule: String,
    /// The substance, or the name of a shared limit.
    pub name: String,
    /// Name of the finished product, if it has one.
    #[serde(rename = "use")]
    pub product: Option<String>,
}

/// A material of unknown contents that a loosened rule brings in.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BroughtIn {
    /// The material.
    pub material: String,
    /// Its parts in the formula then.
    pub parts: Ppt,
}

/// A rule that holds the formula back.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BindingLine {
    /// The rule's id; `step`, `min_dose` and `dosage` for lines of a brief
    /// that are no rule of one material.
    pub rule: String,
    /// The file it was written in.
    pub file: String,
    /// The line, counted from 1.
    pub line: usize,
    /// The number it stands at; 1 for a rule that has none.
    pub at: f64,
    /// The number it was loosened to; null where it was dropped.
    pub loosened_to: Option<f64>,
    /// Fidelity of the best formula then, in percent.
    pub fidelity_then: f64,
    /// Its loss in score points.
    pub loss_then: f64,
    /// Fidelity then less fidelity now.
    pub gain: f64,
    /// Gain for each unit that the rule was moved; the gain where it was
    /// dropped.
    pub worth: f64,
    /// What the worth counts.
    pub unit: String,
    /// Whether the formula then is proven best.
    pub proven: bool,
    /// Whether the gain is smaller than the doubt of the scores.
    pub inside_doubt: bool,
    /// The change as an order without a full stop.
    pub order: String,
    /// Naturals, and bases that hold unknown ones, that the formula then does
    /// without.
    pub naturals_left_out: Vec<String>,
    /// Naturals of unknown constituents, and bases that hold such, that the
    /// formula then has more of: what they bring is in no limit.
    pub unknown_brought_in: Vec<BroughtIn>,
}

impl BindingLine {
    /// What a change of doses means for what is known of the formula, as a
    /// sentence; `None` where nothing unknown comes in.
    pub fn follows(&self) -> Option<String> {
        if self.unknown_brought_in.is_empty() {
            return None;
        }
        let brought = |it: &BroughtIn| format!("{} ‰ of {}", plain(it.parts.as_f64()), it.material);
        let brought: Vec<String> = self.unknown_brought_in.iter().map(brought).collect();
        let come =
            format!("puts in {}, of unknown constituents: limits on them were not checked", brought.join(" and "));
        Some(match &self.naturals_left_out[..] {
            [] => format!("It {come}."),
            left => format!("It leaves out {} and {come}.", left.join(" and ")),
        })
    }
}

/// A material of the formula, left out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WithoutLine {
    /// The material.
    pub material: String,
    /// `possible`, `required` (the brief asks for it), `impossible` (no
    /// formula keeps the rules without it) or `not computed`.
    pub outcome: &'static str,
    /// Fidelity of the best formula without it, in percent.
    pub fidelity_then: Option<f64>,
    /// Its loss in score points.
    pub loss_then: Option<f64>,
    /// Fidelity now less fidelity then.
    pub costs: Option<f64>,
    /// Price per kg then.
    pub price_then: Option<f64>,
    /// Whether the formula then is proven best, or proven not to exist.
    pub proven: bool,
    /// Whether its absence lies inside the doubt of the scores.
    pub droppable: bool,
    /// The id of the rule that asks for it.
    pub rule: Option<String>,
}

impl Around {
    /// What was found around the best formula.
    pub fn new(problem: &Problem, best: &Answer, explanation: &Explanation) -> Around {
        let doubt = explanation.give_or_take.unwrap_or(0.0);
        let worths = explanation.worths.as_ref();
        let binding = |worths: &Worths| worths.binding.iter().map(|w| binding_line(problem, best, doubt, w)).collect();
        let without = |lines: &Vec<Without>| lines.iter().map(|l| without_line(problem, best, doubt, l)).collect();
        Around {
            give_or_take: explanation.give_or_take,
            binding: worths.map(binding),
            binding_not_computed: worths.map(|worths| worths.not_computed.clone()),
            limits_full: worths.map(|_| full(problem, best)),
            without: explanation.without.as_ref().map(without),
        }
    }
}

impl Around {
    /// The limits that are full, in one sentence.
    pub fn full_limits(&self) -> Option<String> {
        let full = self.limits_full.as_ref().filter(|full| !full.is_empty())?;
        let name = |it: &FullLimit| match &it.product {
            Some(product) => format!("{} in {product}", it.name),
            None => it.name.clone(),
        };
        let names: Vec<String> = full.iter().map(name).collect();
        let (limit, is) = if names.len() == 1 { ("The limit", "is") } else { ("The limits", "are") };
        Some(format!("{limit} of {} {is} full; limits are no levers.", names.join(", ")))
    }
}

fn full(problem: &Problem, best: &Answer) -> Vec<FullLimit> {
    let line = |full: Full| {
        let (RuleKind::Limit { product, .. } | RuleKind::Joint { product, .. }) = &problem.rules[full.rule].kind else {
            return None;
        };
        let restriction = &problem.restrictions[full.restriction];
        let joint = matches!(problem.rules[full.rule].kind, RuleKind::Joint { .. });
        let name = restriction.joint.as_ref().filter(|_| joint).unwrap_or(&restriction.substance);
        Some(FullLimit {
            rule: problem.rules[full.rule].id.clone(),
            name: name.clone(),
            product: problem.products[*product].name.clone(),
        })
    };
    full_limits(problem, &best.formula, &best.evaluation.neat_ppt).into_iter().filter_map(line).collect()
}

fn binding_line(problem: &Problem, best: &Answer, doubt: f64, worth: &Worth) -> BindingLine {
    let Loosening { id, place, at, to, unit, .. } = &worth.loosening;
    let then = &worth.then.evaluation;
    let gain = then.fidelity_percent - best.evaluation.fidelity_percent;
    let moved = to.map_or(1.0, |to| (to - at).abs());
    let per = per_unit(*unit, &problem.palette.currency);
    BindingLine {
        rule: id.clone(),
        file: place.file.to_string(),
        line: place.line,
        at: *at,
        loosened_to: *to,
        fidelity_then: then.fidelity_percent,
        loss_then: then.loss,
        gain,
        worth: gain / moved,
        unit: format!("fidelity percent{per}"),
        proven: worth.proven,
        inside_doubt: gain < doubt,
        order: order(problem, &worth.loosening),
        naturals_left_out: left_out(problem, best, &worth.then),
        unknown_brought_in: brought_in(problem, best, &worth.then),
    }
}

/// Naturals of a formula that another one does without.
fn left_out(problem: &Problem, best: &Answer, then: &Answer) -> Vec<String> {
    let gone = |(material, _): &&(usize, Ppt)| {
        let is_natural = problem.material(*material).natural || problem.material(*material).is_unknown();
        is_natural && then.formula.parts.iter().all(|(other, _)| other != material)
    };
    best.formula.parts.iter().filter(gone).map(|(material, _)| problem.material(*material).name.clone()).collect()
}

/// What a formula has more of whose constituents nobody knows.
fn brought_in(problem: &Problem, best: &Answer, then: &Answer) -> Vec<BroughtIn> {
    let before =
        |material: usize| best.formula.parts.iter().find(|(it, _)| *it == material).map_or(Ppt::ZERO, |it| it.1);
    let parts = then.formula.parts.iter();
    let more = parts.filter(|(material, dose)| problem.material(*material).is_unknown() && *dose > before(*material));
    more.map(|(material, parts)| BroughtIn { material: problem.material(*material).name.clone(), parts: *parts })
        .collect()
}

fn per_unit(unit: Unit, currency: &str) -> String {
    match unit {
        Unit::Price => format!(" per {currency}/kg"),
        Unit::PriceOfEffect => format!(" per {currency}/kg of effect"),
        Unit::Strength => " per unit of strength".to_owned(),
        Unit::Materials => " per material".to_owned(),
        Unit::Ppt => " per ppt".to_owned(),
        Unit::Ratio => " per unit of the ratio".to_owned(),
        Unit::Points => " per score point".to_owned(),
        Unit::Percent => " per percent".to_owned(),
        Unit::Whole => String::new(),
    }
}

/// A loosening as an order without a full stop.
fn order(problem: &Problem, loosening: &Loosening) -> String {
    let (at, to) = (plain(loosening.at), plain(loosening.to.unwrap_or(0.0)));
    match &loosening.change {
        Loosened::Dosage { product, .. } => {
            let of = problem.products[*product].name.as_ref().map_or(String::new(), |name| format!(" of {name}"));
            format!("lower the dosage{of} from {at} to {to} %")
        }
        Loosened::Rules(changes) => match changes[..] {
            [(rule, change)] => problem.order_of_worth(&problem.rules[rule], change),
            _ if loosening.id == "step" => format!("weigh in steps of {to} ‰ instead of {at}"),
            _ => format!("lower the least dose of every material from {at} to {to} ‰"),
        },
    }
}

fn without_line(problem: &Problem, best: &Answer, doubt: f64, line: &Without) -> WithoutLine {
    let mut out = WithoutLine {
        material: problem.material(line.material).name.clone(),
        outcome: "not computed",
        fidelity_then: None,
        loss_then: None,
        costs: None,
        price_then: None,
        proven: false,
        droppable: false,
        rule: None,
    };
    match &line.then {
        Then::Formula(answer, proven) => {
            let then = &answer.evaluation;
            let costs = best.evaluation.fidelity_percent - then.fidelity_percent;
            out.outcome = "possible";
            (out.fidelity_then, out.loss_then) = (Some(then.fidelity_percent), Some(then.loss));
            (out.costs, out.price_then) = (Some(costs), then.price_per_kg);
            (out.proven, out.droppable) = (*proven, costs < doubt);
        }
        Then::Required(rule) => {
            (out.outcome, out.rule, out.proven) = ("required", Some(problem.rules[*rule].id.clone()), true);
        }
        Then::Impossible => (out.outcome, out.proven) = ("impossible", true),
        Then::NotComputed => {}
    }
    out
}
