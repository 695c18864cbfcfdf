//! An accord on paper: `[blotter]` and `[[stage]]`.

use std::collections::BTreeMap;

use super::Known;
use super::sums::{require_bound, tagged};
use super::target::{self, Keys};
use crate::brief::{Brief, TargetEntry};
use crate::files::keys::{self, MOST_STAGES};
use crate::files::rule::ordered_numbers;
use crate::files::snippet::short;
use crate::files::value::Field;
use crate::files::walk::{Table, tables};
use crate::palette::Palette;
use crate::place::Placed;
use crate::stage::{Dip, Stage, StageShare};
use crate::tenacity::Blotter;

/// How the accord comes on paper.
pub(super) fn dip(field: &Field<'_>) -> Dip {
    let Some(table) = field.table("[blotter]") else { return Dip::default() };
    let percent = table.get("percent").and_then(|field| field.number(&keys::DIP_PERCENT));
    let film_weight = table.get("film_weight").and_then(|field| field.number(&keys::FILM_WEIGHT));
    table.close();
    Dip { percent, film_weight }
}

/// The stages, each later than the one before.
pub(super) fn stages(field: &Field<'_>, known: &Known<'_>, warnings: &mut Vec<String>) -> Vec<Stage> {
    let all = tables(field, "[[stage]]");
    if let Some(table) = all.get(MOST_STAGES) {
        table.report("there are too many stages", &format!("expected up to {MOST_STAGES} of them"));
    }
    let mut first_of: BTreeMap<String, usize> = BTreeMap::new();
    let mut before: Option<f64> = None;
    let mut stages: Vec<Stage> = Vec::new();
    for (at, table) in all.iter().enumerate() {
        let named = table.require("name", "every stage has a name").and_then(|field| Some((field, field.name()?)));
        if let Some((field, name)) = named
            && let Some(line) = first_of.insert(name.to_owned(), table.place().line)
        {
            field.report(
                format!("two stages are named \"{}\"", short(name)),
                format!("the other one is on line {line}"),
            );
        }
        let minutes = minutes(table, before);
        before = minutes.or(before);
        let bound = |inner: &Table<'_>, key, range| -> Option<Placed<f64>> {
            inner.get(key).and_then(|field| Some(field.placed(field.number(range)?)))
        };
        let mut stage = Stage {
            name: named.map_or(String::new(), |(_, name)| name.to_owned()),
            place: table.place(),
            minutes: minutes.unwrap_or_default(),
            weight: table.get("weight").and_then(|field| field.number(&keys::STAGE_WEIGHT)).unwrap_or(1.0),
            target: table.get("target").map(|field| wanted(field, known, warnings)).unwrap_or_default(),
            strength_min: None,
            strength_max: None,
            kept_min: None,
            shares: table.get("share").map(|field| shares(field, known)).unwrap_or_default(),
        };
        if let Some(inner) = table.get("strength").and_then(|field| field.table("strength")) {
            stage.strength_min = bound(&inner, "min", &keys::STAGE_STRENGTH_MIN);
            stage.strength_max = bound(&inner, "max", &keys::STAGE_STRENGTH_MAX);
            ordered_numbers(&inner, "min", "max", &stage.strength_min, &stage.strength_max);
            inner.close();
        }
        if let Some((field, inner)) = table.get("kept").and_then(|field| Some((field, field.table("kept")?))) {
            stage.kept_min = bound(&inner, "min", &keys::STAGE_KEPT_MIN);
            inner.close();
            if at == 0 {
                field.report_key("`kept` compares with the first stage, and this is the first", "leave it out here");
            }
        }
        table.close();
        stages.push(stage);
    }
    stages
}

/// When a stage is, and that it is after the one before.
fn minutes(table: &Table<'_>, before: Option<f64>) -> Option<f64> {
    let field = table.require("minutes", "expected minutes after dipping")?;
    let minutes = field.number(&keys::STAGE_MINUTES)?;
    if let Some(before) = before.filter(|before| *before >= minutes) {
        field.report(
            format!("a stage at {minutes} minutes after one at {before}"),
            "expected the stages in the order of time, each later than the one before",
        );
    }
    Some(minutes)
}

/// What is wanted otherwise at a stage.
fn wanted(field: &Field<'_>, known: &Known<'_>, warnings: &mut Vec<String>) -> Vec<TargetEntry> {
    const KEYS: Keys = Keys {
        score: &keys::STAGE_SCORE,
        weight: &keys::STAGE_TARGET_WEIGHT,
        excess: &keys::STAGE_TARGET_EXCESS,
        ends: None,
    };
    target::entries(field, "[stage.target]", &KEYS, known, warnings)
}

fn shares(field: &Field<'_>, known: &Known<'_>) -> Vec<StageShare> {
    let mut first_of: BTreeMap<String, usize> = BTreeMap::new();
    let mut shares = Vec::new();
    for table in tables(field, "[[stage.share]]") {
        let named =
            table.require("tag", "expected a tag of the palette").and_then(|field| Some((field, field.name()?)));
        let mut materials = Vec::new();
        if let Some((field, tag)) = named {
            if let Some(line) = first_of.insert(tag.to_owned(), table.place().line) {
                let help = format!("the other one is on line {line}");
                field.report(format!("two shares of \"{}\" in one stage", short(tag)), help);
            }
            if known.shelf.names_known {
                materials = tagged(field, tag, known.palette());
            }
        }
        let bound = |key, range| table.get(key).and_then(|field| Some(field.placed(field.number(range)?)));
        let (min, max) = (bound("min", &keys::STAGE_SHARE_MIN), bound("max", &keys::STAGE_SHARE_MAX));
        require_bound(&table);
        ordered_numbers(&table, "min", "max", &min, &max);
        table.close();
        let tag = named.map_or(String::new(), |(_, tag)| tag.to_owned());
        shares.push(StageShare { tag, place: table.place(), materials, min, max });
    }
    shares
}

/// Stages need to know how long each material lasts.
pub(super) fn check_tenacities(field: &Field<'_>, brief: &Brief, palette: &Palette) {
    if Blotter::of(&brief.dip, palette).tenacities(palette).iter().any(Option::is_none) {
        let help = "expected `lasting` in hours, or `vapour_pressure` in Pa, for some materials at least";
        field.report_key("nothing in the palette says how long a material lasts on a blotter", help);
    }
}

/// A stage at which nothing is wanted gives no fidelity, like a brief.
pub(super) fn check_not_empty(field: &Field<'_>, brief: &Brief, palette: &Palette) {
    for (stage, table) in brief.stages.iter().zip(tables(field, "[[stage]]")) {
        let own = Brief { target: brief.target_at(stage), ..brief.clone() };
        if !stage.target.is_empty()
            && !target::wants_something(&own, palette)
            && let Some(field) = table.get("target")
        {
            let help = "expected a score above 0 here, or fewer descriptors at 0";
            field.report_key("nothing is wanted at this stage: no descriptor that counts has a score above 0", help);
        }
    }
}
