//! trials.toml, together with the palette and the formulas that it names.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use toml::de::{DeTable, DeValue};

use super::batch;
use super::brief::MATCHES;
use super::composition;
use super::fault::{Faults, Sink, Tally};
use super::formula;
use super::keys;
use super::near;
use super::palette::{self, Shelf};
use super::reach::{read_named, read_path};
use super::snippet::short;
use super::value::Field;
use super::walk::{Table, tables};
use crate::batch::Batch;
use crate::brief::Basis;
use crate::escape::escaped;
use crate::formula::Formula;
use crate::nose::OWN;
use crate::palette::Palette;
use crate::place::Place;
use crate::store::Store;
use crate::trials::{Analysed, Date, Medium, Trial, Trials};

const MEDIA: [(&str, Medium); 3] = [("blotter", Medium::Blotter), ("skin", Medium::Skin), ("product", Medium::Product)];

/// Reads trials and the palette that they name, by a path relative to them;
/// with what is no fault, but may not be what was meant.
///
/// # Errors
/// All the faults of these files and of the formulas that they name.
pub fn load_trials_in(store: &dyn Store, path: &Path) -> Result<(Palette, Trials, Vec<String>), Faults> {
    let (mut tally, mut own) = (Tally::default(), Tally::default());
    let mut warnings = Vec::new();
    let read = read_path(store, path, &mut own, |sink, root| read(sink, root, path, &mut tally, &mut warnings));
    tally.append(own);
    let (palette, trials) = tally.finish(read.map(|(_, read)| read))?;
    Ok((palette, trials, warnings))
}

/// What the tables are held against, and where other files are looked for.
struct Known<'k> {
    shelf: &'k Shelf,
    folder: &'k Path,
}

impl Known<'_> {
    /// The palette, where the names in it are known.
    fn palette(&self) -> Option<&Palette> {
        self.shelf.names_known.then_some(&self.shelf.palette)
    }

    /// The upper end of scores, where it is known.
    fn scale(&self) -> Option<f64> {
        self.shelf.sound.then_some(self.shelf.palette.scale)
    }
}

fn read(
    sink: &Sink<'_>,
    root: &DeTable<'_>,
    path: &Path,
    others: &mut Tally,
    warnings: &mut Vec<String>,
) -> (Palette, Trials) {
    let root = Table::root(sink, root);
    let folder = path.parent().unwrap_or(Path::new(""));
    let named = root.require("palette", "expected the palette's path, relative to the trials").and_then(|field| {
        let named = field.name()?;
        read_named(field, folder, named, others, palette::read)
    });
    let shelf = named.map_or_else(Shelf::unknown, |(_, shelf)| shelf);
    if !shelf.names_known {
        others.note(format!("the names in {} were not held against the palette, which did not load", path.display()));
    }
    let known = Known { shelf: &shelf, folder };
    let mut trials = Trials {
        file: sink.source.file.clone(),
        matching: root.get("match").and_then(|field| field.word(&MATCHES)).unwrap_or_default(),
        palette_fingerprint: root.get("palette_fingerprint").and_then(Field::name).map(str::to_owned),
        trials: Vec::new(),
        remarks: root.remarks(),
    };
    let listed = root.require("trial", "a trials file has at least one [[trial]]");
    let tables = listed.map(|field| tables(field, "[[trial]]")).unwrap_or_default();
    if let (Some(field), true) = (listed, tables.is_empty() && sink.is_clean()) {
        field.report_key("the file has no trials", "expected at least one [[trial]]");
    }
    if tables.len() > keys::MOST_TRIALS {
        root.report("too many trials", &format!("a file holds at most {}", keys::MOST_TRIALS));
    }
    let mut first_of: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    let mut links: Vec<(usize, Field<'_>)> = Vec::new();
    let mut all_named = true;
    for table in tables.iter().take(keys::MOST_TRIALS) {
        let code = table.require("code", "every trial has a code: code = \"417\"");
        let name = code.and_then(Field::name);
        let from = table.get("from");
        let trial = trial(table, name.unwrap_or_default(), &known, others, warnings);
        let (Some(code), Some(name)) = (code, name) else {
            all_named = false;
            continue;
        };
        if let Some((_, line)) = first_of.get(name) {
            let message = format!("there are two trials with the code \"{}\"", short(name));
            code.report(message, format!("the other one is on line {line}"));
            continue;
        }
        first_of.insert(name, (trials.trials.len(), table.place().line));
        links.extend(from.map(|from| (trials.trials.len(), from.clone())));
        trials.trials.push(trial);
    }
    if all_named && sink.broken.is_empty() {
        join(&links, &first_of, &mut trials.trials);
    }
    root.close();
    warn_of_no_scores(&shelf, &trials.trials, warnings);
    (shelf.palette, trials)
}

/// A trial; its `from` is looked up when all codes are known.
fn trial(table: &Table<'_>, code: &str, known: &Known<'_>, others: &mut Tally, warnings: &mut Vec<String>) -> Trial {
    let number = |key, range| table.get(key).and_then(|field| field.number(range));
    let batch = table.get("batch").and_then(|field| weighed(field, known, others, warnings)).map(Arc::new);
    let analysed = analysed(table, known, others, warnings);
    let trial = Trial {
        code: code.to_owned(),
        place: table.place(),
        nose: table.get("nose").and_then(Field::name).filter(|name| *name != OWN).map(Arc::from),
        date: table.get("date").and_then(date),
        from: None,
        minutes: number("minutes", &keys::TRIAL_MINUTES),
        age_days: number("age_days", &keys::TRIAL_AGE),
        medium: table.get("medium").and_then(|field| field.word(&MEDIA)),
        percent: number("percent", &keys::TRIAL_PERCENT),
        formula: match &analysed {
            Some(analysed) => known.palette().map(|palette| analysed.formula(palette)).unwrap_or_else(nothing),
            None => smelled(table, known, batch.as_deref(), others, warnings),
        },
        analysed,
        batch,
        scores: table.get("scores").map(|field| scores(field, known)).unwrap_or_default(),
        strength: number("strength", &keys::TRIAL_STRENGTH),
        give_or_take: table
            .get("give_or_take")
            .and_then(|field| field.number_on_scale(&keys::GIVE_OR_TAKE, known.scale())),
        remarks: table.remarks(),
    };
    table.close();
    trial
}

/// The batch that a trial names.
fn weighed(field: &Field<'_>, known: &Known<'_>, others: &mut Tally, warnings: &mut Vec<String>) -> Option<Batch> {
    let named = field.name()?;
    let read = |sink: &Sink<'_>, root: &DeTable<'_>| batch::read(sink, root, known.palette(), warnings);
    read_named(field, known.folder, named, others, read).map(|(_, batch)| batch)
}

/// A formula of nothing, where what was smelled is not known.
fn nothing() -> Formula {
    Formula { file: None, title: None, basis: Basis::Neat, parts: Vec::new() }
}

/// A natural whose composition is known.
fn analysed(table: &Table<'_>, known: &Known<'_>, others: &mut Tally, warnings: &mut Vec<String>) -> Option<Analysed> {
    let unknown = table.get("unknown_percent");
    let Some(field) = table.get("composition") else {
        if let Some(unknown) = unknown {
            let help = "`composition` names the file with what was identified";
            unknown.report_key("`unknown_percent` stands without `composition`", help);
        }
        return None;
    };
    for other in ["formula", "parts", "batch"] {
        if let Some(other) = table.get(other) {
            let message = format!("`composition` and `{}` stand in one trial", other.key);
            other.report_key(message, "a trial is of a natural or of what was mixed");
        }
    }
    let read = field.name().and_then(|named| {
        read_named(field, known.folder, named, others, |sink, root| {
            composition::read(sink, root, known.palette(), warnings)
        })
    });
    let composition = read.and_then(|(_, read)| read)?;
    let unknown_percent = match unknown {
        Some(unknown) => unknown.number(&keys::TRIAL_UNKNOWN)?,
        None => composition.unknown_percent,
    };
    let smells = |palette: &Palette| {
        let percent = composition.percent_by_material(palette);
        palette.materials.iter().zip(&percent).any(|(material, percent)| *percent > 0.0 && !material.is_carrier())
    };
    if known.palette().is_some_and(|palette| !smells(palette)) {
        field.report("nothing in the composition is on the shelf and smells", "parts go by name, else by CAS number");
    }
    Some(Analysed { composition: Arc::new(composition), unknown_percent })
}

/// What was smelled: a formula's file, or parts in the trial itself, or what
/// was weighed of a batch.
fn smelled(
    table: &Table<'_>,
    known: &Known<'_>,
    batch: Option<&Batch>,
    others: &mut Tally,
    warnings: &mut Vec<String>,
) -> Formula {
    let nothing = nothing();
    match (table.get("formula"), table.get("parts")) {
        (Some(_), Some(parts)) => {
            parts.report_key("`formula` and `parts` stand in one trial", "a trial has one of the two");
            nothing
        }
        // A batch that could not be read has its own faults; one without lines
        // too.
        // A composition that could not be read has its faults.
        (None, None) if table.get("composition").is_some() => nothing,
        (None, None) if table.get("batch").is_some() => {
            batch.filter(|batch| !batch.lines.is_empty()).map_or(nothing, Batch::formula)
        }
        (None, None) => {
            table.missing(
                "the trial does not say what was smelled",
                "expected formula = \"mod-3.toml\", or parts = { \"material\" = dose }, or batch = \"batch-3.toml\", or of a \
                 natural composition = \"gc-jasmine.toml\"",
            );
            nothing
        }
        (Some(field), None) => {
            let read = field.name().and_then(|named| {
                read_named(field, known.folder, named, others, |sink, root| {
                    formula::read(sink, root, known.palette(), warnings)
                })
            });
            read.map_or(nothing, |(_, read)| read.formula)
        }
        (None, Some(field)) => {
            let parts = formula::parts_of(field, "parts", known.palette()).unwrap_or_default();
            Formula { parts: parts.into_iter().map(|(material, dose)| (material, dose.value)).collect(), ..nothing }
        }
    }
}

fn scores(field: &Field<'_>, known: &Known<'_>) -> Vec<(usize, f64)> {
    let Some(table) = field.table("scores") else { return Vec::new() };
    let mut scores = Vec::new();
    for entry in table.named() {
        let score = entry.number_on_scale(&keys::TRIAL_SCORE, known.scale());
        let descriptor = known.palette().and_then(|palette| palette::descriptor(entry, palette));
        scores.extend(descriptor.zip(score));
    }
    table.close_named();
    scores.sort_by_key(|(descriptor, _)| *descriptor);
    scores
}

pub(super) fn date(field: &Field<'_>) -> Option<Date> {
    const EXPECTED: &str = "a day without quotes: date = 2026-11-02";
    let DeValue::Datetime(value) = field.value.get_ref() else {
        field.wrong_type(EXPECTED);
        return None;
    };
    match (value.date, value.time, value.offset) {
        (Some(date), None, None) => {
            Some(Date { year: date.year.into(), month: date.month.into(), day: date.day.into() })
        }
        _ => {
            field.report("`date` has a time of day", format!("expected {EXPECTED}"));
            None
        }
    }
}

/// Ties each trial to the one it comes from. Complains of codes that no trial
/// has, and of trials that come from themselves, once for each circle.
fn join(links: &[(usize, Field<'_>)], codes: &BTreeMap<&str, (usize, usize)>, trials: &mut [Trial]) {
    for (at, field) in links {
        let Some(code) = field.name() else { continue };
        match codes.get(code) {
            Some(&(from, _)) => trials[*at].from = Some(from),
            None => {
                let hint = near::hint(code, codes.keys().copied());
                field.report(format!("no trial has the code \"{}\"", short(code)), hint);
            }
        }
    }
    let mut told = vec![false; trials.len()];
    for (at, field) in links {
        let mut path = vec![*at];
        let mut next = trials[*at].from;
        while let Some(from) = next.filter(|from| !path.contains(from)) {
            path.push(from);
            next = trials[from].from;
        }
        if next == Some(*at) && !told[*at] {
            path.iter().for_each(|&of| told[of] = true);
            let names: Vec<String> = path[1..].iter().rev().map(|&of| short(&trials[of].code)).collect();
            let by = if names.is_empty() { String::new() } else { format!(" by way of {}", names.join(", ")) };
            let message = format!("trial \"{}\" comes from itself{by}", short(&trials[*at].code));
            field.report(message, "`from` names an earlier trial");
        }
    }
}

/// A warning for each material that was smelled and has no scores: what is
/// learned of it starts from nothing.
fn warn_of_no_scores(shelf: &Shelf, trials: &[Trial], warnings: &mut Vec<String>) {
    for (index, material) in shelf.palette.materials.iter().enumerate() {
        let scoreless = !material.is_carrier() && material.scores.iter().all(|score| *score == 0.0);
        let within = |trial: &&Trial| trial.formula.parts.iter().any(|(part, _)| *part == index);
        let codes: Vec<String> = trials.iter().filter(within).map(|trial| escaped(&trial.code)).collect();
        if scoreless && !codes.is_empty() {
            let (name, place): (String, &Place) = (escaped(&material.name), &material.place);
            let word = if codes.len() == 1 { "trial" } else { "trials" };
            warnings.push(format!(
                "{name} has no scores ({place}) but stands in {word} {}: it counts as smelling of nothing until you \
                 write down what it smells of",
                codes.join(", ")
            ));
        }
    }
}
