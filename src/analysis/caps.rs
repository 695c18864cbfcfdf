//! Every cap on the dose of one material, with its reason.

use crate::brief::{Basis, Brief};
use crate::place::Place;
use crate::problem::rules::Regulated;
use crate::problem::{Problem, Rule, RuleKind, Subject};
use crate::tolerance::rules::BEYOND;

/// A cap on the dose of a material.
#[derive(Clone, Debug)]
pub struct Cap {
    /// The dose in ppt of the basis that it leaves.
    pub dose_ppt: f64,
    /// Where it comes from.
    pub reason: Reason,
    /// The rule, where it is one.
    pub rule: Option<Rule>,
    /// The finished product that it holds in (index into the problem's).
    pub product: Option<usize>,
    /// Where it is written; `None` for stock.
    pub place: Option<Place>,
}

/// Where a cap comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reason {
    /// The brief's own `max`.
    Own,
    /// The palette's `max`.
    Palette,
    /// Advice of the palette: so many percent of the concentrate.
    Concentrate(f64),
    /// Advice of the palette: so many percent of the finished product.
    Product(f64),
    /// A restriction (index into the problem's), with its limit in percent,
    /// if nothing else brought the substance.
    Restriction(usize, f64),
    /// A limit that several restrictions share, likewise.
    Joint,
    /// So many grams of the usual bottle are on hand for a batch.
    Stock(f64),
}

/// A cap of this many ppt or more caps nothing.
const WHOLE: f64 = 1000.0;

/// Every cap on a material, the lowest first; `batch_grams` of accord for what
/// is on hand.
pub fn caps(problem: &Problem, brief: &Brief, material: usize, batch_grams: Option<f64>) -> Vec<Cap> {
    let described = problem.material(material);
    let content = &problem.columns[material].neat;
    // Neat material in one ppt of the basis.
    let neat: f64 = content.iter().filter(|(m, _)| *m == material).map(|(_, part)| part).sum();
    let mut caps = Vec::new();
    let mut add = |dose_ppt: f64, reason, rule: Option<&Rule>, product, place: Option<&Place>| {
        if dose_ppt < WHOLE {
            caps.push(Cap { dose_ppt: dose_ppt.max(0.0), reason, rule: rule.cloned(), product, place: place.cloned() });
        }
    };
    let rule_of = |kind: &RuleKind, at: f64| problem.rules.iter().find(|rule| rule.kind == *kind && rule.at == at);
    let own = brief.doses.iter().find(|entry| entry.material == material).and_then(|entry| entry.max.as_ref());
    if let Some(own) = own {
        let at = own.value.as_f64();
        add(at, Reason::Own, rule_of(&RuleKind::DoseMax(material), at), None, Some(&own.place));
    }
    if let Some(general) = &described.max {
        let at = general.value.as_f64();
        let kind = match problem.basis {
            Basis::Neat => RuleKind::DoseMax(material),
            Basis::Bottle => RuleKind::NeatMax(material),
        };
        add(at / neat, Reason::Palette, rule_of(&kind, at), None, Some(&general.place));
    }
    // What 1000 ppt of it alone would bring of each substance.
    let mut alone = vec![0.0; problem.palette.materials.len()];
    content.iter().for_each(|&(m, part)| alone[m] += part * WHOLE);
    let uses = problem.substance_uses(&alone);
    let use_of = |restriction: usize, product: usize| {
        uses.iter().find(|used| used.restriction == restriction && used.product == product)
    };
    for rule in &problem.rules {
        let place = Some(&rule.place);
        match rule.kind.subject() {
            Subject::InConcentrate { material: m, product } if m == material => {
                let share = problem.products[product].accord_share();
                add(rule.at * 10.0 / share / neat, Reason::Concentrate(rule.at), Some(rule), Some(product), place);
            }
            Subject::InProduct { material: m, product } if m == material => {
                let of = &problem.products[product];
                let per_ppt = of.accord_share() * of.dosage() * neat;
                add(rule.at * 10.0 / per_ppt, Reason::Product(rule.at), Some(rule), Some(product), place);
            }
            // Advice on another material; this one's own caps stand above; and
            // what else holds depends on the rest of the formula.
            Subject::InConcentrate { .. } | Subject::InProduct { .. } => {}
            Subject::Dose(_) | Subject::Asked(_) | Subject::Barred(_) | Subject::Amount(_) => {}
            Subject::Selection | Subject::Amounts | Subject::Blend => {}
            Subject::Limit { .. } => {}
        }
        match rule.kind.regulated() {
            Some(Regulated::One { restriction, product }) => {
                let Some(used) = use_of(restriction, product) else { continue };
                let brings = used.use_percent - used.reserve_percent;
                if brings > 0.0 {
                    let dose = WHOLE * (rule.at - used.reserve_percent) / brings;
                    add(dose, Reason::Restriction(restriction, rule.at), Some(rule), Some(product), place);
                }
            }
            Some(Regulated::Shared { members, product }) => {
                let used = members.iter().filter_map(|(member, limit)| Some((use_of(*member, product)?, limit)));
                let (mut brings, mut reserve) = (0.0, 0.0);
                for (used, limit) in used {
                    brings += (used.use_percent - used.reserve_percent) / limit;
                    reserve += used.reserve_percent / limit;
                }
                if brings > 0.0 {
                    add(WHOLE * (rule.at - reserve) / brings, Reason::Joint, Some(rule), Some(product), place);
                }
            }
            None => {}
        }
    }
    if let (Some(batch), Some(grams)) = (batch_grams, described.stock_grams) {
        let poured = WHOLE * grams / batch;
        let dose = if problem.basis == Basis::Bottle { poured } else { poured * described.usual_fraction() };
        add(dose, Reason::Stock(grams), None, None, None);
    }
    caps.sort_by(|a, b| a.dose_ppt.total_cmp(&b.dose_ppt));
    caps
}

/// The problem in which the caps on a material give way as far as a dose of it
/// needs that lies beyond `wall_ppt`, the most that the rules leave: what else
/// brings a restricted substance has the room that it has at the wall, and no
/// more.
pub fn giving_way(problem: &Problem, caps: &[Cap], material: usize, wall_ppt: f64, dose_ppt: f64) -> Problem {
    let mut changed = problem.with_rules(|index| problem.rules[index].kind != RuleKind::DoseMax(material));
    for rule in &mut changed.rules {
        let of = |cap: &&Cap| cap.rule.as_ref().is_some_and(|other| other.id == rule.id && other.kind == rule.kind);
        let Some(cap) = caps.iter().find(of).filter(|cap| cap.dose_ppt > 0.0) else { continue };
        // What one ppt of the material uses up of the rule.
        let per_ppt = (rule.at - reserve(problem, &rule.kind)) / cap.dose_ppt;
        rule.at += per_ppt * (dose_ppt - wall_ppt).max(0.0) * (1.0 + BEYOND);
    }
    changed
}

/// What of a restriction is used up before the accord brings anything, in the
/// unit of the rule.
fn reserve(problem: &Problem, kind: &RuleKind) -> f64 {
    let uses = problem.substance_uses(&vec![0.0; problem.palette.materials.len()]);
    let of = |restriction: usize, product: usize| {
        let used = uses.iter().find(|used| used.restriction == restriction && used.product == product);
        used.map_or(0.0, |used| used.reserve_percent)
    };
    match kind.regulated() {
        Some(Regulated::One { restriction, product }) => of(restriction, product),
        Some(Regulated::Shared { members, product }) => {
            members.iter().map(|&(member, limit)| of(member, product) / limit).sum()
        }
        None => 0.0,
    }
}
