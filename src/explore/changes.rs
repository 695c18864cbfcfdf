//! From a change of rules to a change of the brief's text.

use crate::analysis::loosen::{Loosened, Loosening};
use crate::files::edit::{BoundEdit, BriefEdits, DoseEdit, Edit, TargetEdit, UseEdit};
use crate::problem::rules::ForAll;
use crate::problem::{Bound, Change, Problem, Rule, RuleId, RuleKind};

/// What the brief has to say so that these rules change; `None` where one of
/// them stands in the palette or in a limits file, which are not the page's to
/// change.
pub fn edits(problem: &Problem, brief_file: &str, changes: &[(usize, Change)]) -> Option<BriefEdits> {
    let mut edits = BriefEdits::default();
    for &(rule, change) in changes {
        add(problem, brief_file, &problem.rules[rule], change, &mut edits)?;
    }
    Some(edits)
}

/// The same for a rule that is loosened to see what it costs.
pub fn edits_of_loosening(problem: &Problem, brief_file: &str, loosening: &Loosening) -> Option<BriefEdits> {
    match &loosening.change {
        Loosened::Dosage { product, percent } => Some(dosage(*product, *percent)),
        Loosened::ForAll(what, _) => {
            let mut edits = BriefEdits::default();
            match what {
                ForAll::Step => edits.rules.step = Some(loosening.to),
                ForAll::MinDose => edits.rules.min_dose = Some(loosening.to),
            }
            Some(edits)
        }
        Loosened::Rules(changes) => {
            // Nobody is invited to pass a limit.
            let is_limit = |&(rule, _): &(usize, Change)| problem.rules[rule].kind.limits_product().is_some();
            if changes.iter().any(is_limit) { None } else { edits(problem, brief_file, changes) }
        }
    }
}

fn dosage(product: usize, percent: f64) -> BriefEdits {
    let mut edits = BriefEdits::default();
    edits.uses.insert(product, UseEdit { dosage: Some(Some(percent)), category: None });
    edits
}

fn add(problem: &Problem, brief_file: &str, rule: &Rule, change: Change, edits: &mut BriefEdits) -> Option<()> {
    let to: Edit<f64> = Some(match change {
        Change::To(to) => Some(to),
        Change::Dropped => None,
    });
    let is_own = &*rule.place.file == brief_file;
    let name = |material: usize| problem.material(material).name.clone();
    let mut dose = |material: usize, change: fn(&mut DoseEdit, Edit<f64>)| {
        change(edits.doses.entry(name(material)).or_default(), to);
    };
    let is_the_pages = match &rule.kind {
        // What `[doses]` says goes before the palette here, but for a step that
        // is dropped; and a product takes less of the concentrate.
        RuleKind::DoseMin(_) => true,
        RuleKind::DoseStep(_) => is_own || to != Some(None),
        kind => is_own || kind.limits_product().is_some(),
    };
    if !is_the_pages {
        return None;
    }
    match &rule.kind {
        RuleKind::DoseMin(material) => dose(*material, |edit, to| edit.min = Some(to.flatten().or(Some(0.0)))),
        RuleKind::DoseStep(material) => dose(*material, |edit, to| edit.step = to),
        RuleKind::Limit { product, .. } | RuleKind::Joint { product, .. } | RuleKind::Product { product, .. } => {
            // A limit is kept: the product takes less of the concentrate.
            let (Change::To(to), Some(percent)) = (change, problem.products[*product].dosage_percent) else {
                return None;
            };
            let lower = percent * rule.at / to;
            let lower = (lower * 100.0).floor() / 100.0;
            (lower > 0.0).then(|| edits.uses.extend(dosage(*product, lower).uses))?;
        }
        RuleKind::Budget => edits.rules.max_price = to,
        RuleKind::PriceOfEffect => edits.rules.max_price_of_effect = to,
        RuleKind::StrengthMin => edits.rules.strength_min = to,
        RuleKind::StrengthMax => edits.rules.strength_max = to,
        RuleKind::MaxIdle => edits.rules.max_idle = to,
        RuleKind::MaxMaterials => edits.rules.max_materials = to,
        RuleKind::MaxUnusual(_) => edits.rules.max_unusual = to,
        RuleKind::Near(_) => edits.rules.within = to,
        RuleKind::DoseMax(material) => dose(*material, |edit, to| edit.max = to),
        RuleKind::Fixed(material) => dose(*material, |edit, to| edit.fixed = to),
        RuleKind::Must(material) | RuleKind::Never(material) => {
            dose(*material, |edit, _| edit.permission = Some("may".to_owned()));
        }
        RuleKind::Only(_) => edits.rules.drop_only = true,
        RuleKind::OwnOnly => edits.rules.drop_own_only = true,
        RuleKind::TargetMin(counted) | RuleKind::TargetMax(counted) => {
            let descriptor = &problem.palette.descriptors[problem.ruled[*counted].descriptor].name;
            let edit: &mut TargetEdit = edits.target.entry(descriptor.clone()).or_default();
            if matches!(rule.kind, RuleKind::TargetMin(_)) { edit.min = to } else { edit.max = to }
        }
        RuleKind::GroupMin(_) | RuleKind::GroupMax(_) => {
            let RuleId::Group(name, end) = &rule.id else { return None };
            bound(edits.groups.entry(name.to_string()).or_default(), *end, to);
        }
        RuleKind::RatioMin { .. } | RuleKind::RatioMax { .. } => {
            let RuleId::Ratio(names, end) = &rule.id else { return None };
            bound(edits.ratios.entry(names.to_string()).or_default(), *end, to);
        }
        // The palette's own caps are not written in a brief, and no brief says
        // the others.
        RuleKind::NeatMax(_) | RuleKind::Concentrate { .. } => return None,
        RuleKind::MostOf(_) | RuleKind::Moves(_) | RuleKind::AtLeast(_) => return None,
        // Written in the file alone.
        RuleKind::StageStrengthMin(_)
        | RuleKind::StageStrengthMax(_)
        | RuleKind::StageKept(_)
        | RuleKind::StageShareMin { .. }
        | RuleKind::StageShareMax { .. }
        | RuleKind::FilmLasts => return None,
    }
    Some(())
}

fn bound(edit: &mut BoundEdit, end: Bound, to: Edit<f64>) {
    match end {
        Bound::Min => edit.min = to,
        Bound::Max => edit.max = to,
    }
}
