//! matches.toml.

use toml::de::DeTable;

use super::fault::Sink;
use super::formula::material;
use super::keys;
use super::value::Field;
use super::walk::{Table, tables};
use crate::escape::escaped;
use crate::matches::{Dilution, Matches, Pair, Verdict};
use crate::palette::Palette;

/// What is expected of the file, where it has nothing.
const EXPECTED: &str = "expected at least one [[equal]] or [[stronger]] pair: \
                        a = { material = \"...\", percent = 1 }, b = { material = \"...\", percent = 10 }";

/// Reads matches; of no use where there are faults.
pub(super) fn read(
    sink: &Sink<'_>,
    root: &DeTable<'_>,
    palette: &Palette,
    warnings: &mut Vec<String>,
) -> Option<Matches> {
    let root = Table::root(sink, root);
    let reference = root.require("reference", "expected the material that keeps its strength: reference = \"...\"");
    let reference = reference.and_then(|field| odorous(field, palette));
    let exponent = root.get("exponent").and_then(|field| field.number(&keys::EXPONENT)).unwrap_or(1.0);
    let give_or_take_factor =
        root.get("give_or_take_factor").and_then(|field| field.number(&keys::MATCHES_GIVE_OR_TAKE));
    let mut pairs = Vec::new();
    let mut written = 0;
    for (key, name, verdict) in
        [("equal", "[[equal]]", Verdict::Equal), ("stronger", "[[stronger]]", Verdict::Stronger)]
    {
        let listed = root.get(key).map(|field| tables(field, name)).unwrap_or_default();
        written += listed.len();
        if written > keys::MOST_MATCHES {
            root.report("too many pairs", &format!("a file of matches holds at most {}", keys::MOST_MATCHES));
            break;
        }
        pairs.extend(listed.iter().filter_map(|table| pair(table, verdict, palette)));
    }
    if written == 0 && sink.is_clean() {
        root.missing("there are no matches in this file", EXPECTED);
    }
    root.close();
    pairs.sort_by_key(|pair| (pair.place.line, pair.place.column));
    odd(&pairs, palette, warnings);
    Some(Matches {
        file: sink.source.file.clone(),
        reference: reference?,
        exponent,
        give_or_take_factor,
        pairs,
        remarks: root.remarks(),
    })
}

/// A material of the palette that smells.
fn odorous(field: &Field<'_>, palette: &Palette) -> Option<usize> {
    let index = material(field, field.name()?, false, palette)?;
    if palette.materials[index].is_carrier() {
        let name = super::snippet::short(&palette.materials[index].name);
        field.report(
            format!("\"{name}\" has strength 0"),
            "a carrier smells of nothing and cannot be matched; give it a strength in the palette if it does",
        );
        return None;
    }
    Some(index)
}

fn pair(table: &Table<'_>, verdict: Verdict, palette: &Palette) -> Option<Pair> {
    const SIDE: &str = "expected what was smelled: { material = \"...\", percent = 1 }";
    let side = |key| table.require(key, SIDE).and_then(|field| dilution(field, palette));
    let (a, b) = (side("a"), side("b"));
    let give_or_take_factor = table.get("give_or_take_factor").and_then(|field| field.number(&keys::PAIR_GIVE_OR_TAKE));
    table.close();
    let (a, b) = (a?, b?);
    if a.material == b.material {
        table.report("a pair compares a material with itself", "expected two different materials");
        return None;
    }
    Some(Pair { verdict, a, b, give_or_take_factor, place: table.place() })
}

fn dilution(field: &Field<'_>, palette: &Palette) -> Option<Dilution> {
    let table = field.table(field.key)?;
    let material = table.require("material", "expected the name of a material of the palette");
    let material = material.and_then(|field| odorous(field, palette));
    let percent = table.require("percent", "expected how much neat material the dilution held, in percent by mass");
    let percent = percent.and_then(|field| field.number(&keys::MATCH_PERCENT));
    table.close();
    Some(Dilution { material: material?, percent: percent? })
}

/// Pairs that say the same twice, or the opposite of each other.
fn odd(pairs: &[Pair], palette: &Palette, warnings: &mut Vec<String>) {
    // Many pairs in one file are looked at, each with each; many oddities are not listed.
    const MOST: usize = 20;
    let shown = |it: &Dilution| {
        format!("{} at {} %", escaped(&palette.materials[it.material].name), crate::number::plain(it.percent))
    };
    for (at, later) in pairs.iter().enumerate() {
        for earlier in &pairs[..at] {
            let straight = earlier.a == later.a && earlier.b == later.b;
            let crossed = earlier.a == later.b && earlier.b == later.a;
            if !(straight || crossed) || warnings.len() >= MOST {
                continue;
            }
            let same = earlier.verdict == later.verdict && (straight || later.verdict == Verdict::Equal);
            let both = format!("{} and {}", shown(&later.a), shown(&later.b));
            warnings.push(if same {
                format!("{} says of {both} what line {} says already; both count", later.place, earlier.place.line)
            } else {
                format!("{} contradicts line {} about {both}; both count", later.place, earlier.place.line)
            });
        }
    }
}
