//! What holds a formula back and what could go from it, as reports list it.

use serde::Serialize;

use super::states::Removal;
use super::{RangeLine, WayOutLine};
use crate::analysis::doubt::spread::Spread;
use crate::analysis::doubt::told::{Pair, told};
use crate::analysis::explain::Explanation;
use crate::analysis::full::{Full, full_limits};
use crate::analysis::loosen::Loosening;
use crate::analysis::without::{Then, Without};
use crate::analysis::worth::{Open, Worth, Worths};
use crate::formula::Formula;
use crate::problem::{Problem, RuleId, RuleKind};
use crate::sentences;
use crate::solve::Answer;
use crate::units::Ppt;

/// What was found by solving again.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Around {
    /// One standard deviation of the fidelity over the draws of scores and
    /// strengths, in points.
    pub give_or_take: Option<f64>,
    /// Where nine draws in ten lie; reported with the formula.
    #[serde(skip)]
    pub range: Option<RangeLine>,
    /// How the blend's score in each target spreads over the draws; likewise.
    #[serde(skip)]
    pub profile: Vec<Spread>,
    /// What would make more of the formula heard; reported with its idle weight.
    #[serde(skip)]
    pub ways_out: Vec<WayOutLine>,
    /// Rules whose loosening brings something, the one that brings most first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub binding: Option<Vec<BindingLine>>,
    /// Ids of rules of which that was not found out in time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub binding_not_computed: Option<Vec<RuleId>>,
    /// The same rules with the most that each can bring, the one that can bring most first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub binding_open: Option<Vec<OpenLine>>,
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
    pub rule: RuleId,
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
    pub rule: RuleId,
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
    /// Percent of the draws of scores and strengths in which the formula then is
    /// nearer the target than the present one.
    pub nearer_in_percent: Option<f64>,
    /// Whether neither is nearer in enough of them to speak of it.
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

/// A rule of which the time did not suffice to find out what it costs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OpenLine {
    /// The rule's id.
    pub rule: RuleId,
    /// The change as an order without a full stop.
    pub order: String,
    /// No formula that the change allows gains more than this, in points of fidelity:
    /// proven.
    pub gain_at_most: f64,
}

/// A material of the formula, left out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WithoutLine {
    /// The material.
    pub material: String,
    /// `possible`, `required` (the brief asks for it), `impossible` (no
    /// formula keeps the rules without it) or `not computed`.
    pub outcome: Removal,
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
    /// Percent of the draws of scores and strengths in which the formula without
    /// it is nearer the target than the present one.
    pub nearer_in_percent: Option<f64>,
    /// Whether the present one is not nearer in enough of them to speak of it.
    pub droppable: bool,
    /// The id of the rule that asks for it.
    pub rule: Option<RuleId>,
}

impl Around {
    /// What was found around the best formula.
    pub fn new(problem: &Problem, best: &Answer, explanation: &Explanation) -> Around {
        let worths = explanation.worths.as_ref();
        let loosened = || worths.iter().flat_map(|worths| &worths.binding).map(|worth| &worth.then.formula);
        let left_out = || explanation.without.iter().flatten().filter_map(formula_of);
        let all: Vec<&Formula> = std::iter::once(&best.formula).chain(loosened()).chain(left_out()).collect();
        // All on the same draws.
        let told = told(problem, &all);
        let own = told[0].as_ref();
        let pairs: Vec<Option<Pair>> = told[1..].iter().map(|then| Some(then.as_ref()?.beside(own?))).collect();
        let (of_worths, of_rest) = pairs.split_at(loosened().count());
        let binding = |worths: &Worths| {
            let lines = worths.binding.iter().zip(of_worths);
            lines.map(|(worth, pair)| binding_line(problem, best, *pair, worth)).collect()
        };
        let mut rest = of_rest.iter();
        let mut without_line = |line: &Without| {
            let pair = formula_of(line).and_then(|_| *rest.next()?);
            without_line(problem, best, pair, line)
        };
        Around {
            give_or_take: own.map(|own| own.fidelity.sd),
            range: own.map(RangeLine::from),
            profile: own.map(|own| own.profile.clone()).unwrap_or_default(),
            ways_out: explanation.ways_out.iter().map(|way| WayOutLine::new(problem, way)).collect(),
            binding: worths.map(binding),
            binding_not_computed: worths.map(|it| it.open.iter().map(|open| open.loosening.id.clone()).collect()),
            binding_open: worths.map(|it| it.open.iter().map(|open| open_line(problem, best, open)).collect()),
            limits_full: worths.map(|_| full(problem, best)),
            without: explanation.without.as_ref().map(|lines| lines.iter().map(&mut without_line).collect()),
        }
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

/// The best formula without a material, where there is one.
fn formula_of(line: &Without) -> Option<&Formula> {
    match &line.then {
        Then::Formula(answer, _) => Some(&answer.formula),
        Then::Required(_) | Then::Impossible | Then::NotComputed => None,
    }
}

fn binding_line(problem: &Problem, best: &Answer, pair: Option<Pair>, worth: &Worth) -> BindingLine {
    let Loosening { id, place, at, to, unit, .. } = &worth.loosening;
    let then = &worth.then.evaluation;
    let gain = then.fidelity_percent - best.evaluation.fidelity_percent;
    let moved = to.map_or(1.0, |to| (to - at).abs());
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
        unit: sentences::order::unit(*unit, &problem.palette.currency),
        proven: worth.proven,
        nearer_in_percent: pair.map(|pair| pair.nearer_percent()),
        inside_doubt: pair.is_some_and(|pair| !pair.is_told_apart()),
        order: sentences::order::order(problem, &worth.loosening),
        naturals_left_out: left_out(problem, best, &worth.then),
        unknown_brought_in: brought_in(problem, best, &worth.then),
    }
}

fn open_line(problem: &Problem, best: &Answer, open: &Open) -> OpenLine {
    OpenLine {
        rule: open.loosening.id.clone(),
        order: sentences::order::order(problem, &open.loosening),
        gain_at_most: problem.fidelity_percent(open.bound) - best.evaluation.fidelity_percent,
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

fn without_line(problem: &Problem, best: &Answer, pair: Option<Pair>, line: &Without) -> WithoutLine {
    let mut out = WithoutLine {
        material: problem.material(line.material).name.clone(),
        outcome: Removal::NotComputed,
        fidelity_then: None,
        loss_then: None,
        costs: None,
        price_then: None,
        proven: false,
        nearer_in_percent: pair.map(|pair| pair.nearer_percent()),
        droppable: false,
        rule: None,
    };
    match &line.then {
        Then::Formula(answer, proven) => {
            let then = &answer.evaluation;
            let costs = best.evaluation.fidelity_percent - then.fidelity_percent;
            out.outcome = Removal::Possible;
            (out.fidelity_then, out.loss_then) = (Some(then.fidelity_percent), Some(then.loss));
            (out.costs, out.price_then) = (Some(costs), then.price_per_kg);
            let is_missed = |pair: Pair| pair.is_told_apart() && pair.nearer < 0.5;
            (out.proven, out.droppable) = (*proven, pair.is_some_and(|pair| !is_missed(pair)));
        }
        Then::Required(rule) => {
            (out.outcome, out.rule, out.proven) = (Removal::Required, Some(problem.rules[*rule].id.clone()), true);
        }
        Then::Impossible => (out.outcome, out.proven) = (Removal::Impossible, true),
        Then::NotComputed => {}
    }
    out
}
