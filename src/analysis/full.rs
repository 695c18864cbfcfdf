//! Limits of which a formula leaves nothing: one step more of the material
//! that brings most of the substance would pass them.

use crate::formula::Formula;
use crate::problem::Problem;
use crate::problem::rules::Regulated;
use crate::problem::uses::SubstanceUse;
use crate::tolerance::rules::FULL;

/// A limit that is full.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Full {
    /// Index of the rule.
    pub rule: usize,
    /// Index of the restriction; of a shared limit one of those that are in use.
    pub restriction: usize,
}

/// The limits that a formula fills, in the order of the rules; `neat_ppt` are
/// its neat parts per thousand of every material.
pub fn full_limits(problem: &Problem, formula: &Formula, neat_ppt: &[f64]) -> Vec<Full> {
    let uses = problem.substance_uses(neat_ppt);
    let domains = problem.dose_rules();
    let of = |restriction: usize, product: usize| {
        uses.iter().find(|used| used.restriction == restriction && used.product == product)
    };
    // `next` are the sources: (what each brings, its next step), in one unit.
    let is_full = |used: f64, allowed: f64, next: Vec<(f64, f64)>| {
        let main = next.into_iter().max_by(|a, b| a.0.total_cmp(&b.0));
        main.is_some_and(|(_, step)| allowed - used < step.max(FULL * allowed) * (1.0 - FULL))
    };
    // In percent of the product.
    let sources = |used: &SubstanceUse| -> Vec<(f64, f64)> {
        let step_of = |&(material, percent): &(usize, f64)| {
            let dose = formula.parts.iter().find(|(column, _)| *column == material)?.1;
            Some((percent, percent * domains[material].step.as_f64() / dose.as_f64()))
        };
        used.from.iter().filter_map(step_of).collect()
    };
    let mut all = Vec::new();
    for (rule, it) in problem.rules.iter().enumerate() {
        match it.kind.regulated() {
            Some(Regulated::One { restriction, product }) => {
                let Some(used) = of(restriction, product).filter(|_| it.at > 0.0) else { continue };
                if is_full(used.use_percent, it.at, sources(used)) {
                    all.push(Full { rule, restriction });
                }
            }
            Some(Regulated::Shared { members, product }) => {
                let shares: Vec<(&SubstanceUse, f64)> = members
                    .iter()
                    .filter_map(|(member, limit)| Some((of(*member, product)?, *limit)))
                    .filter(|(used, _)| used.use_percent > 0.0)
                    .collect();
                let sum = shares.iter().map(|(used, limit)| used.use_percent / limit).sum();
                let share = |(used, limit): &(&SubstanceUse, f64)| {
                    let of_limit = |(brings, step): (f64, f64)| (brings / limit, step / limit);
                    sources(used).into_iter().map(of_limit).collect::<Vec<_>>()
                };
                if is_full(sum, it.at, shares.iter().flat_map(share).collect())
                    && let Some((first, _)) = shares.first()
                {
                    all.push(Full { rule, restriction: first.restriction });
                }
            }
            None => {}
        }
    }
    all
}
