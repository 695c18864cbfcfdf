//! A composition that somebody published: a formula file whose parts may be
//! given in percent, with their CAS numbers, and need not be on the shelf.

use toml::de::DeTable;

use super::fault::Sink;
use super::form::folded;
use super::formula::{BASES, material, other_palette};
use super::keys;
use super::snippet::short;
use super::value::Field;
use super::walk::Table;
use crate::brief::Basis;
use crate::composition::{Component, Composition};
use crate::escape::escaped;
use crate::palette::{Cas, Palette};

/// How far printed percentages may miss 100 together: each is rounded.
const ROUNDED_PERCENT: f64 = 2.0;

/// Reads a composition and finds its parts on the shelf; of no use where there
/// are faults. Without a palette no part is found.
pub(super) fn read(
    sink: &Sink<'_>,
    root: &DeTable<'_>,
    palette: Option<&Palette>,
    warnings: &mut Vec<String>,
) -> Option<Composition> {
    let root = Table::root(sink, root);
    let title = root.get("title").and_then(Field::text).map(str::to_owned);
    let source = root.get("source").and_then(Field::name).map(str::to_owned);
    let basis = root.get("basis").and_then(|field| field.word(&BASES)).unwrap_or_default();
    if let (Some(named), Some(palette)) = (root.get("palette").and_then(Field::name), palette) {
        warnings.extend(other_palette(sink, named, palette));
    }
    let said = root.get("unknown_percent");
    let unknown = said.and_then(|field| field.number(&keys::UNKNOWN_PERCENT));
    let written =
        match root.require("parts", "expected a table: [parts] with \"name\" = { percent = 12, cas = \"...\" }") {
            Some(field) => parts(field, basis, palette),
            None => None,
        };
    root.close();
    let (parts, unit) = written?;
    let unknown_percent = whole(&root, &parts, unit, unknown)?;
    let per_part = match unit {
        Unit::Percent => 1.0,
        Unit::Parts => (100.0 - unknown_percent) / parts.iter().map(|part| part.percent).sum::<f64>(),
    };
    let parts = parts.into_iter().map(|part| Component { percent: part.percent * per_part, ..part });
    let read = Composition { file: sink.source.file.clone(), title, source, unknown_percent, parts: parts.collect() };
    if let Some(palette) = palette {
        odd(&read, palette, warnings);
    }
    Some(read)
}

/// What the numbers of the parts count.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Unit {
    /// Parts of any sum.
    Parts,
    /// Percent by mass of the whole.
    Percent,
}

/// Percent that nobody identified; `None`, with a complaint, where the
/// percentages do not make a whole.
fn whole(root: &Table<'_>, parts: &[Component], unit: Unit, said: Option<f64>) -> Option<f64> {
    if unit == Unit::Parts {
        return Some(said.unwrap_or(0.0));
    }
    let listed: f64 = parts.iter().map(|part| part.percent).sum();
    let sum = listed + said.unwrap_or(0.0);
    let is_short = said.is_some() && sum < 100.0 - ROUNDED_PERCENT;
    if sum > 100.0 + ROUNDED_PERCENT || is_short {
        let with = if said.is_some() { " with `unknown_percent`" } else { "" };
        let message = format!("the percentages{with} add up to {}, not to 100", (sum * 1e6).round() / 1e6);
        root.missing(&message, "expected percent by mass of the whole; use plain numbers for parts of another sum");
        return None;
    }
    Some(said.unwrap_or((100.0 - listed).max(0.0)))
}

/// The parts as they are written, `percent` holding whatever they count.
fn parts(field: &Field<'_>, basis: Basis, palette: Option<&Palette>) -> Option<(Vec<Component>, Unit)> {
    let table = field.table("[parts]")?;
    let mut first: Option<(Unit, usize)> = None;
    let mut read: Vec<Component> = Vec::new();
    let before = field.sink.count();
    for entry in table.named() {
        let Some((one, unit)) = part(entry, palette) else { continue };
        let line = one.place.line;
        let (of_first, first_line) = *first.get_or_insert((unit, line));
        if unit != of_first {
            entry.report(
                "parts and percentages stand beside each other",
                format!("the other unit is on line {first_line}"),
            );
            continue;
        }
        match basis {
            Basis::Neat => read.push(one),
            Basis::Bottle => read.extend(poured(entry, one, palette)),
        }
    }
    read.retain(|part| part.percent > 0.0);
    table.close_named();
    if read.is_empty() && field.sink.count() == before {
        table.missing("the composition has no parts", "expected at least one part above 0");
        return None;
    }
    let (unit, _) = first?;
    (field.sink.count() == before).then_some((read, unit))
}

fn part(entry: &Field<'_>, palette: Option<&Palette>) -> Option<(Component, Unit)> {
    let mut one = Component {
        name: entry.key.to_owned(),
        place: entry.place(),
        cas: None,
        percent: 0.0,
        strength: None,
        material: None,
    };
    let mut unit = Unit::Parts;
    if entry.is_table() {
        let table = entry.table(&format!("\"{}\"", short(entry.key)))?;
        one.cas = table.get("cas").and_then(Field::cas);
        one.strength = table.get("strength").and_then(|field| field.number(&keys::COMPONENT_STRENGTH));
        let [percent, parts] = ["percent", "parts"].map(|key| table.get(key));
        match (percent, parts) {
            (Some(percent), None) => {
                one.percent = percent.number(&keys::COMPONENT_PERCENT)?;
                unit = Unit::Percent;
            }
            (None, Some(parts)) => one.percent = parts.dose(&keys::COMPONENT_PARTS)?.as_f64(),
            (None, None) => table.missing("nothing says how much of it there is", "expected `percent` or `parts`"),
            (Some(_), Some(parts)) => {
                parts.report_key("`percent` and `parts` say the same thing", "leave one of the two out");
            }
        }
        table.close();
    } else {
        one.percent = entry.dose(&keys::COMPONENT_PARTS)?.as_f64();
    }
    one.material = palette.and_then(|palette| found(palette, entry.key, one.cas.as_ref()));
    Some((one, unit))
}

/// What was poured as what it holds: every part is then a material of the
/// palette, whose usual bottle counts.
fn poured(entry: &Field<'_>, part: Component, palette: Option<&Palette>) -> Vec<Component> {
    let Some(palette) = palette else { return vec![part] };
    let Some(index) = material(entry, entry.key, true, palette) else { return Vec::new() };
    let content = palette.usual_content(index).into_iter();
    let of = |(brought, fraction): (usize, f64)| Component {
        name: palette.materials[brought].name.clone(),
        percent: part.percent * fraction,
        material: Some(brought),
        ..part.clone()
    };
    content.map(of).collect()
}

/// The material of a palette that a part is: by its name, else by its name as
/// the eye compares it, else by its CAS number.
fn found(palette: &Palette, name: &str, cas: Option<&Cas>) -> Option<usize> {
    let materials = &palette.materials;
    let seen = folded(name);
    let by = |is: &dyn Fn(&crate::palette::Material) -> bool| materials.iter().position(is);
    by(&|material| material.name == name)
        .or_else(|| by(&|material| folded(&material.name) == seen))
        .or_else(|| cas.and_then(|cas| by(&|material| material.cas.as_ref() == Some(cas))))
}

/// What is no fault, but may not be what was meant.
fn odd(read: &Composition, palette: &Palette, warnings: &mut Vec<String>) {
    for part in &read.parts {
        let Some(material) = part.material.map(|index| &palette.materials[index]) else { continue };
        if let (Some(own), Some(other)) = (&part.cas, &material.cas)
            && own != other
        {
            let (place, name) = (&part.place, escaped(&material.name));
            warnings.push(format!("{place}: {name} is {other} on the shelf and {own} here; it was taken for the same"));
        }
    }
}
