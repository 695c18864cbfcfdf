//! From a change of rules to a change of the brief's text.

use crate::analysis::loosen::{Loosened, Loosening};
use crate::files::edit::{BoundEdit, BriefEdits, DoseEdit, Edit, TargetEdit, UseEdit};
use crate::problem::{Change, Problem, Rule, RuleKind};

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
        Loosened::Rules(changes) => match loosening.id.as_str() {
            "step" if changes.len() > 1 => {
                let mut edits = BriefEdits::default();
                edits.rules.step = Some(loosening.to);
                Some(edits)
            }
            "min_dose" if changes.len() > 1 => {
                let mut edits = BriefEdits::default();
                edits.rules.min_dose = Some(loosening.to);
                Some(edits)
            }
            // Nobody is invited to pass a limit.
            _ if changes.iter().any(|&(rule, _)| is_limit(&problem.rules[rule].kind)) => None,
            _ => edits(problem, brief_file, changes),
        },
    }
}

fn is_limit(kind: &RuleKind) -> bool {
    matches!(kind, RuleKind::Limit { .. } | RuleKind::Joint { .. } | RuleKind::Product { .. })
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
    match &rule.kind {
        // What `[doses]` says goes before the palette here.
        RuleKind::DoseMin(material) => dose(*material, |edit, to| edit.min = Some(to.flatten().or(Some(0.0)))),
        RuleKind::DoseStep(material) if to != Some(None) || is_own => dose(*material, |edit, to| edit.step = to),
        RuleKind::Limit { product, .. } | RuleKind::Joint { product, .. } | RuleKind::Product { product, .. } => {
            // A limit is kept: the product takes less of the concentrate.
            let (Change::To(to), Some(percent)) = (change, problem.products[*product].dosage_percent) else {
                return None;
            };
            let lower = percent * rule.at / to;
            let lower = (lower * 100.0).floor() / 100.0;
            (lower > 0.0).then(|| edits.uses.extend(dosage(*product, lower).uses))?;
        }
        _ if !is_own => return None,
        RuleKind::Budget => edits.rules.max_price = to,
        RuleKind::PriceOfEffect => edits.rules.max_price_of_effect = to,
        RuleKind::StrengthMin => edits.rules.strength_min = to,
        RuleKind::StrengthMax => edits.rules.strength_max = to,
        RuleKind::MaxMaterials => edits.rules.max_materials = to,
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
            bound(edits.groups.entry(bare(&rule.id, "group:")?).or_default(), &rule.id, to);
        }
        RuleKind::RatioMin { .. } | RuleKind::RatioMax { .. } => {
            bound(edits.ratios.entry(bare(&rule.id, "ratio:")?).or_default(), &rule.id, to);
        }
        _ => return None,
    }
    Some(())
}

/// The name in the id of a rule such as `group:alcohols.max`.
fn bare(id: &str, kind: &str) -> Option<String> {
    let name = id.strip_prefix(kind)?;
    Some(name.strip_suffix(".min").or_else(|| name.strip_suffix(".max"))?.to_owned())
}

fn bound(edit: &mut BoundEdit, id: &str, to: Edit<f64>) {
    if id.ends_with(".min") {
        edit.min = to;
    } else {
        edit.max = to;
    }
}
