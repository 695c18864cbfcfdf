//! Writing palette.toml.

use std::fmt::Write as _;

use toml_edit::{DocumentMut, Item, Key, Value};

use super::palette::{DEFAULT_LASTING_PERCENT, NOTES};
use crate::number::plain;
use crate::palette::{Material, Palette, Usual};
use crate::strength::{Said, THRESHOLDS, Times};
use crate::units::Ppt;

/// The text of palette.toml for a palette.
pub fn palette_text(palette: &Palette) -> String {
    let mut out = String::new();
    let mut line = |key: &str, value: String| {
        // Writing to a string cannot fail.
        let _ = writeln!(out, "{key} = {value}");
    };
    if let Some(name) = &palette.name {
        line("name", text(name));
    }
    line("currency", text(&palette.currency));
    line("scale", plain(palette.scale));
    if palette.lasting_percent != DEFAULT_LASTING_PERCENT {
        line("lasting_percent", plain(palette.lasting_percent));
    }
    if let Some(remarks) = &palette.remarks {
        line("remarks", text(remarks));
    }
    out += "\n[descriptors]\n";
    // Each key is put in quotes, or not, once.
    let keys: Vec<String> = palette.descriptors.iter().map(|descriptor| key(&descriptor.name)).collect();
    for (key, descriptor) in keys.iter().zip(&palette.descriptors) {
        let _ = writeln!(out, "{key} = {}", text(&descriptor.meaning));
    }
    if !palette.score_words.is_empty() {
        out += "\n[score_words]\n";
        for (word, points) in &palette.score_words {
            let _ = writeln!(out, "{} = {}", key(word), plain(*points));
        }
    }
    for one in &palette.materials {
        material(&mut out, one, &keys, &palette.score_words);
    }
    out
}

fn material(out: &mut String, material: &Material, descriptors: &[String], words: &[(String, f64)]) {
    out.push_str("\n[[material]]\n");
    let mut line = |key: &str, value: Option<String>| {
        if let Some(value) = value {
            let _ = writeln!(out, "{key} = {value}");
        }
    };
    let list = |elements: Vec<String>| match &elements[..] {
        [] => None,
        [one] => Some(one.clone()),
        _ => Some(format!("[{}]", elements.join(", "))),
    };
    line("name", Some(text(&material.name)));
    line("cas", material.cas.as_ref().map(|cas| text(cas.as_str())));
    line("formula", material.formula.as_deref().map(text));
    // Of a base the file says only what does not follow from its formula.
    let own = material.formula.is_none();
    match &material.said {
        Said::Number => line("strength", own.then(|| plain(material.strength))),
        Said::Word { word, .. } => line("strength", Some(text(word.word()))),
        Said::Of { of, times, .. } => {
            line("strength_of", Some(text(of)));
            line(
                "times",
                Some(match times {
                    Times::Number(times) => plain(*times),
                    Times::Thresholds => text(THRESHOLDS),
                }),
            );
        }
    }
    line("strength_factor", material.said.written_factor(material.strength_factor).map(plain));
    let mut scores = String::new();
    let in_words = |at: usize| material.score_words.iter().find(|(own, _)| *own == at).map(|(_, word)| &words[*word]);
    let told = |at: usize| own && (material.scores[at] > 0.0 || in_words(at).is_some());
    for at in (0..descriptors.len()).filter(|&at| told(at)) {
        let score = in_words(at).map_or_else(|| material.scores[at].to_string(), |(word, _)| text(word));
        let _ = write!(scores, "{}{} = {score}", if scores.is_empty() { "" } else { ", " }, descriptors[at]);
    }
    line("scores", (!scores.is_empty()).then(|| format!("{{ {scores} }}")));
    line("score_error", material.score_error.map(plain));
    line("price", material.price_per_kg.filter(|_| own).map(plain));
    line("min", material.min.as_ref().map(|dose| dose.value.to_string()));
    line("max", material.max.as_ref().map(|dose| dose.value.to_string()));
    line("max_in_concentrate", material.max_in_concentrate_percent.as_ref().map(|it| plain(it.value)));
    line("max_in_product", material.max_in_product_percent.as_ref().map(|it| plain(it.value)));
    line("step", material.step.as_ref().map(|dose| dose.value.to_string()));
    if let Some(Usual { least, most, in_percent }) = material.usual {
        let (key, divisor) = if in_percent { ("usual_in_concentrate", Usual::PPT_PER_PERCENT) } else { ("usual", 1) };
        let [least, most] = [least, most].map(|end| Ppt::from_units(end.units() / divisor));
        line(key, Some(format!("[{least}, {most}]")));
    }
    let tags: Vec<String> = material.tags.iter().map(|tag| text(tag)).collect();
    line("tags", (!tags.is_empty()).then(|| format!("[{}]", tags.join(", "))));
    let note = NOTES.iter().find(|(_, note)| Some(*note) == material.note);
    line("note", note.map(|(word, _)| text(word)));
    line("lasting", material.lasting_hours.map(plain));
    line("lasting_factor", material.lasting_factor.map(plain));
    line("molar_mass", material.molar_mass.map(plain));
    line("vapour_pressure", material.vapour_pressure.map(plain));
    line("natural", (own && material.natural).then(|| "true".to_owned()));
    line(
        "constituents",
        material.constituents.as_ref().filter(|_| own).map(|found| {
            let found: Vec<String> =
                found.iter().map(|(cas, percent)| format!("\"{cas}\" = {}", plain(*percent))).collect();
            if found.is_empty() { "{}".to_owned() } else { format!("{{ {} }}", found.join(", ")) }
        }),
    );
    line(
        "bottle",
        list(
            material
                .bottles
                .iter()
                .map(|bottle| {
                    let carrier = bottle.carrier.as_ref().map(|carrier| format!(", carrier = {}", text(carrier)));
                    format!("{{ percent = {}{} }}", plain(bottle.percent), carrier.unwrap_or_default())
                })
                .collect(),
        ),
    );
    line(
        "packs",
        list(
            material
                .packs
                .iter()
                .map(|pack| format!("{{ grams = {}, price = {} }}", plain(pack.grams), plain(pack.price)))
                .collect(),
        ),
    );
    line("stock", material.stock_grams.map(plain));
    line("have", (!material.have).then(|| "false".to_owned()));
    line("handling", material.handling.as_deref().map(text));
    line("remarks", material.remarks.as_deref().map(text));
}

fn text(text: &str) -> String {
    Value::from(text).to_string()
}

fn key(name: &str) -> String {
    Key::new(name).to_string()
}

/// Remarks that a row of a material cannot hold: inside its scores, bottles,
/// packs and constituents, and among the descriptors.
pub(super) fn left_behind(text: &str) -> Vec<String> {
    let Ok(document) = text.parse::<DocumentMut>() else { return Vec::new() };
    let is_inner = |item: &Item| item.as_table_like().is_some_and(|table| table.contains_key("remarks"));
    let in_list = |item: &Item| {
        let tables = item.as_array().into_iter().flatten().filter_map(Value::as_inline_table);
        tables.into_iter().any(|table| table.contains_key("remarks"))
    };
    let mut lost = Vec::new();
    if document.contains_key("score_words") {
        lost.push("[score_words] stay behind: scores that were given in words stand as numbers in a sheet".to_owned());
    }
    if document.get("descriptors").is_some_and(is_inner) {
        lost.push("remarks of [descriptors] stay behind: a sheet has no place for them".to_owned());
    }
    for table in document.get("material").and_then(Item::as_array_of_tables).into_iter().flatten() {
        for (key, _) in table.iter().filter(|(_, item)| is_inner(item) || in_list(item)) {
            let name = table.get("name").and_then(Item::as_str).unwrap_or_default();
            lost.push(format!("remarks inside `{key}` of {name} stay behind: a sheet has no place for them"));
        }
    }
    lost
}
