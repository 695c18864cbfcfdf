//! Rules for single materials: `[doses]`, and `only` of `[formula]`.

use super::Known;
use crate::brief::{Brief, DoseEntry, Permission, TargetFrom};
use crate::escape::escaped;
use crate::files::keys;
use crate::files::rule::ordered_doses;
use crate::files::snippet::short;
use crate::files::value::Field;
use crate::palette::Palette;
use crate::place::Placed;
use crate::units::Ppt;

const PERMISSIONS: [(&str, Permission); 3] =
    [("may", Permission::May), ("must", Permission::Must), ("never", Permission::Never)];

/// The entries of `[doses]`; `brief` has `[formula]` already, or is absent
/// where that is at fault itself.
pub(super) fn doses(field: &Field<'_>, known: &Known<'_>, brief: Option<&Brief>) -> Vec<DoseEntry> {
    let Some(table) = field.table("[doses]") else { return Vec::new() };
    let mut entries = Vec::new();
    for field in table.named() {
        let before = field.sink.count();
        let Some(entry) = dose_entry(field, known) else { continue };
        if let (Some(brief), true) = (brief, known.shelf.sound && field.sink.count() == before) {
            check_must(field, &entry, brief, known);
        }
        entries.push(entry);
    }
    table.close_named();
    entries
}

fn dose_entry(field: &Field<'_>, known: &Known<'_>) -> Option<DoseEntry> {
    let material = known.material(field, field.key, true);
    let table = field.table(&format!("\"{}\"", short(field.key)))?;
    let dose = |key, range| -> Option<Placed<Ppt>> {
        let field = table.get(key)?;
        Some(field.placed(field.dose(range)?))
    };
    let said = table.get("use");
    let permission = said.and_then(|field| field.word(&PERMISSIONS)).unwrap_or_default();
    let entry = DoseEntry {
        material: material.unwrap_or_default(),
        place: field.place(),
        permission: said.unwrap_or(field).placed(permission),
        min: dose("min", &keys::DOSE_MIN),
        max: dose("max", &keys::DOSE_MAX),
        step: dose("step", &keys::DOSE_STEP),
        fixed: dose("fixed", &keys::DOSE_FIXED),
    };
    ordered_doses(&table, "min", "max", &entry.min, &entry.max);
    ordered_doses(&table, "fixed", "max", &entry.fixed, &entry.max);
    if let (Some(field), Some(said)) = (table.get("fixed"), said)
        && permission == Permission::Never
    {
        let line = said.place().line;
        field.report_key(
            "`fixed` says that it must be used, `use` that it never is",
            format!("`use` is on line {line}"),
        );
    }
    table.close();
    material.map(|_| entry)
}

/// `must` says nothing unless something says how much at least.
fn check_must(field: &Field<'_>, entry: &DoseEntry, brief: &Brief, known: &Known<'_>) {
    if entry.permission.value != Permission::Must || entry.fixed.is_some() {
        return;
    }
    let material = &known.palette().materials[entry.material];
    let min = entry.min.as_ref().or(material.min.as_ref()).or(brief.min_dose.as_ref());
    let step = entry.step.as_ref().or(material.step.as_ref()).or(brief.step.as_ref());
    let positive = |dose: Option<&Placed<Ppt>>| dose.is_some_and(|dose| dose.value > Ppt::ZERO);
    if !positive(min) && !positive(step) {
        let message = format!("\"{}\" must be used, but nothing says how much at least", short(field.key));
        field.report_key(
            message,
            "expected a min above 0, a step or a fixed dose, here, at the material or in [formula]",
        );
    }
}

/// The materials of `only`.
pub(super) fn only(field: &Field<'_>, known: &Known<'_>) -> Option<Placed<Vec<usize>>> {
    let names = field.some_texts("material names, or no `only`", false)?;
    let mut materials: Vec<usize> = names.iter().filter_map(|(item, name)| known.material(item, name, false)).collect();
    materials.sort_unstable();
    Some(field.placed(materials))
}

/// What `only` names stays out all the same where another rule keeps it out
/// unless `[doses]` names it.
pub(super) fn warn_of_only(brief: &Brief, palette: &Palette, warnings: &mut Vec<String>) {
    let Some(only) = &brief.only else { return };
    for &index in &only.value {
        let material = &palette.materials[index];
        if brief.doses.iter().any(|entry| entry.material == index) {
            continue;
        }
        let place = &only.place;
        let name = escaped(&material.name);
        if material.is_carrier() {
            warnings.push(format!("{place}: `only` names {name}, a carrier, which stays out unless [doses] names it"));
        } else if matches!(&brief.target_from, Some(TargetFrom::Material(from)) if from.value == index) {
            warnings.push(format!(
                "{place}: `only` names {name}, whose scores are the target; it stays out unless [doses] names it"
            ));
        }
    }
}
