//! A brief changed in single numbers: its text with everything else, comments
//! too, as it was.

use std::collections::BTreeMap;

use serde::de::{Deserialize, Deserializer};
use serde::{Deserialize as Derive, Serialize};
use toml_edit::{DocumentMut, InlineTable, Item, Table, TableLike, Value};

use crate::number::plain;

/// What becomes of a key: `None` leaves it, `Some(None)` takes it out.
pub type Edit<T> = Option<Option<T>>;

/// Changes of a brief. Names are those of the palette; what a name does not
/// find is found out when the text is read.
#[derive(Clone, Debug, Default, PartialEq, Derive, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct BriefEdits {
    /// Entries of `[target]`, by descriptor.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub target: BTreeMap<String, TargetEdit>,
    /// `[formula]` and `[budget]`.
    #[serde(skip_serializing_if = "is_default")]
    pub rules: RuleEdits,
    /// The finished products, by their place from 0.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub uses: BTreeMap<usize, UseEdit>,
    /// Entries of `[doses]`, by material.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub doses: BTreeMap<String, DoseEdit>,
    /// Groups, by name.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub groups: BTreeMap<String, BoundEdit>,
    /// Ratios, by `OF/TO`.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub ratios: BTreeMap<String, BoundEdit>,
}

/// One descriptor.
#[derive(Clone, Debug, Default, PartialEq, Derive, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct TargetEdit {
    /// Wanted score, in points.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub score: Edit<f64>,
    /// Weight of the gap.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub weight: Edit<f64>,
    /// Floor in points.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub min: Edit<f64>,
    /// Ceiling in points.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub max: Edit<f64>,
}

/// Rules that hold for the whole formula.
#[derive(Clone, Debug, Default, PartialEq, Derive, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct RuleEdits {
    /// Price per kg.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub max_price: Edit<f64>,
    /// Price per kg for each unit of strength.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub max_price_of_effect: Edit<f64>,
    /// Number of materials.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub max_materials: Edit<f64>,
    /// Greatest idle weight, in ppt.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub max_idle: Edit<f64>,
    /// Number of materials at unusual doses.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub max_unusual: Edit<f64>,
    /// Least strength.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub strength_min: Edit<f64>,
    /// Greatest strength.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub strength_max: Edit<f64>,
    /// Step of doses, in ppt.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub step: Edit<f64>,
    /// Least dose in ppt, if used at all.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub min_dose: Edit<f64>,
    /// Percent that may move from a known formula.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub within: Edit<f64>,
    /// Percentage points of the match that may be given away to come nearer.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub give: Edit<f64>,
    /// Takes `only` out.
    #[serde(skip_serializing_if = "is_default")]
    pub drop_only: bool,
    /// Takes `own_only` out.
    #[serde(skip_serializing_if = "is_default")]
    pub drop_own_only: bool,
}

/// A finished product.
#[derive(Clone, Debug, Default, PartialEq, Derive, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct UseEdit {
    /// Percent of concentrate.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub dosage: Edit<f64>,
    /// Its labels.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub category: Option<Vec<String>>,
}

/// One material.
#[derive(Clone, Debug, Default, PartialEq, Derive, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct DoseEdit {
    /// `may`, `must` or `never`.
    #[serde(rename = "use", skip_serializing_if = "Option::is_none")]
    pub permission: Option<String>,
    /// Least dose in ppt, if used at all.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub min: Edit<f64>,
    /// Greatest dose in ppt.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub max: Edit<f64>,
    /// Step in ppt.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub step: Edit<f64>,
    /// Exactly this dose in ppt.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub fixed: Edit<f64>,
}

/// Bounds of a group or a ratio.
#[derive(Clone, Debug, Default, PartialEq, Derive, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct BoundEdit {
    /// At least.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub min: Edit<f64>,
    /// At most.
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub max: Edit<f64>,
}

fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

/// Tells null from a key that is not there.
fn said<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Edit<f64>, D::Error> {
    Option::<f64>::deserialize(deserializer).map(Some)
}

/// The text of a brief with changes; `None` where the text is no TOML, which
/// the reader tells better.
pub fn edited_brief(text: &str, edits: &BriefEdits) -> Option<String> {
    if *edits == BriefEdits::default() {
        return Some(text.to_owned());
    }
    let mut document = text.parse::<DocumentMut>().ok()?;
    let root = document.as_table_mut();
    if !edits.target.is_empty() {
        let target = section(root, "target")?;
        edits.target.iter().for_each(|(name, edit)| target_entry(target, name, edit));
    }
    rules(root, &edits.rules);
    for (at, edit) in &edits.uses {
        let Some(product) = nth(root.get_mut("use"), *at) else { continue };
        number(product, "dosage", edit.dosage);
        if let Some(labels) = &edit.category {
            set(product, "category", labels.iter().collect());
        }
    }
    if !edits.doses.is_empty() {
        let doses = section(root, "doses")?;
        edits.doses.iter().for_each(|(name, edit)| dose_entry(doses, name, edit));
    }
    let text_of = |table: &dyn TableLike, key: &str| table.get(key).and_then(Item::as_str).unwrap_or("").to_owned();
    for (name, edit) in &edits.groups {
        bounds(root.get_mut("group"), edit, |table| text_of(table, "name") == *name);
    }
    for (name, edit) in &edits.ratios {
        bounds(root.get_mut("ratio"), edit, |table| {
            format!("{}/{}", text_of(table, "of"), text_of(table, "to")) == *name
        });
    }
    Some(document.to_string())
}

fn rules(root: &mut Table, edits: &RuleEdits) {
    let of_formula =
        RuleEdits { max_price: None, max_price_of_effect: None, within: None, give: None, ..edits.clone() };
    if !is_default(&of_formula)
        && let Some(formula) = section(root, "formula")
    {
        number(formula, "step", edits.step);
        number(formula, "min_dose", edits.min_dose);
        number(formula, "max_materials", edits.max_materials);
        number(formula, "max_idle", edits.max_idle);
        number(formula, "max_unusual", edits.max_unusual);
        if (edits.strength_min.is_some() || edits.strength_max.is_some())
            && let Some(strength) = inner(formula, "strength", |_| None)
        {
            number(strength, "min", edits.strength_min);
            number(strength, "max", edits.strength_max);
        }
        if edits.drop_only {
            formula.remove("only");
        }
        if edits.drop_own_only {
            formula.remove("own_only");
        }
    }
    // A brief without the table has nothing to be near to.
    if (edits.within.is_some() || edits.give.is_some())
        && let Some(near) = root.get_mut("near").and_then(Item::as_table_like_mut)
    {
        number(near, "within", edits.within);
        number(near, "give", edits.give);
        // What asks nothing any more goes as a whole.
        if !near.contains_key("within") && !near.contains_key("give") {
            root.remove("near");
        }
    }
    if (edits.max_price.is_some() || edits.max_price_of_effect.is_some())
        && let Some(budget) = section(root, "budget")
    {
        number(budget, "max_price", edits.max_price);
        number(budget, "max_price_of_effect", edits.max_price_of_effect);
    }
}

fn target_entry(target: &mut dyn TableLike, name: &str, edit: &TargetEdit) {
    let is_table = target.get(name).is_some_and(Item::is_table_like);
    let only_score = edit.weight.is_none() && edit.min.is_none() && edit.max.is_none();
    if only_score && !is_table {
        number(target, name, edit.score);
        return;
    }
    // What was a bare score becomes a table that has it.
    let score = |old: &Value| (old.is_integer() || old.is_float()).then(|| ("score", old.clone()));
    let Some(entry) = inner(target, name, score) else { return };
    number(entry, "score", edit.score);
    number(entry, "weight", edit.weight);
    number(entry, "min", edit.min);
    number(entry, "max", edit.max);
}

fn dose_entry(doses: &mut dyn TableLike, name: &str, edit: &DoseEdit) {
    let Some(entry) = inner(doses, name, |_| None) else { return };
    if let Some(permission) = &edit.permission {
        set(entry, "use", permission.as_str().into());
    }
    number(entry, "min", edit.min);
    number(entry, "max", edit.max);
    number(entry, "step", edit.step);
    number(entry, "fixed", edit.fixed);
}

fn bounds(item: Option<&mut Item>, edit: &BoundEdit, is_it: impl Fn(&dyn TableLike) -> bool) {
    let Some(item) = item else { return };
    for at in 0.. {
        let Some(table) = nth(Some(&mut *item), at) else { return };
        if is_it(table) {
            number(table, "min", edit.min);
            number(table, "max", edit.max);
            return;
        }
    }
}

/// A table of the file, made where there is none.
fn section<'t>(root: &'t mut Table, key: &str) -> Option<&'t mut dyn TableLike> {
    root.entry(key).or_insert_with(|| Item::Table(Table::new())).as_table_like_mut()
}

/// A table within a table, made where there is none; a bare value becomes a
/// table that keeps it where `keep` says under which key.
fn inner<'t>(
    table: &'t mut dyn TableLike,
    key: &str,
    keep: impl Fn(&Value) -> Option<(&'static str, Value)>,
) -> Option<&'t mut dyn TableLike> {
    if !table.get(key).is_some_and(Item::is_table_like) {
        let mut made = InlineTable::new();
        let kept = table.get(key).and_then(Item::as_value).and_then(keep);
        if let Some((inner_key, value)) = kept {
            let mut bare = value.clone();
            bare.decor_mut().clear();
            made.insert(inner_key, bare);
        }
        set(table, key, Value::InlineTable(made));
    }
    table.get_mut(key)?.as_table_like_mut()
}

/// One of several tables, or the single one.
fn nth(item: Option<&mut Item>, at: usize) -> Option<&mut dyn TableLike> {
    match item? {
        Item::ArrayOfTables(tables) => tables.get_mut(at).map(|table| table as &mut dyn TableLike),
        Item::Value(Value::Array(array)) => {
            array.get_mut(at).and_then(Value::as_inline_table_mut).map(|table| table as &mut dyn TableLike)
        }
        single if at == 0 => single.as_table_like_mut(),
        _ => None,
    }
}

fn number(table: &mut dyn TableLike, key: &str, edit: Edit<f64>) {
    match edit {
        None => {}
        Some(None) => {
            table.remove(key);
        }
        Some(Some(value)) => set(table, key, plain(value).parse().unwrap_or_else(|_| value.into())),
    }
}

/// Sets a key, and leaves the comments around an older value alone.
pub(super) fn set(table: &mut dyn TableLike, key: &str, mut value: Value) {
    match table.get_mut(key).and_then(Item::as_value_mut) {
        Some(old) => {
            *value.decor_mut() = old.decor().clone();
            *old = value;
        }
        None => {
            table.insert(key, Item::Value(value));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BRIEF: &str = "\
# what is wanted
palette = \"palette.toml\" # the shelf
[target]
rosy = 8 # more than the oil
honeyed = { score = 3, weight = 2 }
[formula]
step = 1
strength = { min = 30 }
[[use]] # the first
name = \"Fine\"
dosage = 18 # percent
[doses]
\"Rose oxide\" = { max = 2 } # strong
[[group]]
name = \"alcohols\"
min = 3
[[ratio]]
of = \"A\"
to = \"B\"
max = 3
";

    fn edits() -> BriefEdits {
        let mut edits = BriefEdits::default();
        edits.target.insert("rosy".into(), TargetEdit { weight: Some(Some(1.5)), ..TargetEdit::default() });
        edits.target.insert("honeyed".into(), TargetEdit { score: Some(Some(3.5)), ..TargetEdit::default() });
        edits.target.insert("green".into(), TargetEdit { score: Some(Some(1.0)), ..TargetEdit::default() });
        edits.rules.max_price = Some(Some(70.0));
        edits.rules.step = Some(None);
        edits.rules.strength_max = Some(Some(80.0));
        edits.uses.insert(0, UseEdit { dosage: Some(Some(15.0)), category: Some(vec!["4".into()]) });
        edits.uses.insert(7, UseEdit { dosage: Some(Some(15.0)), category: None });
        edits.doses.insert(
            "Rose oxide".into(),
            DoseEdit { permission: Some("must".into()), max: Some(Some(2.5)), ..DoseEdit::default() },
        );
        edits.doses.insert("New \"one\"".into(), DoseEdit { fixed: Some(Some(0.3)), ..DoseEdit::default() });
        edits.groups.insert("alcohols".into(), BoundEdit { min: Some(Some(2.0)), max: None });
        edits.ratios.insert("A/B".into(), BoundEdit { min: None, max: Some(None) });
        edits
    }

    #[test]
    fn numbers_change_and_comments_stay() {
        let text = edited_brief(BRIEF, &edits()).unwrap();
        for kept in ["# what is wanted", "# the shelf", "# more than the oil", "# the first", "# percent", "# strong"] {
            assert!(text.contains(kept), "{kept} in\n{text}");
        }
        let root: toml::Table = text.parse().unwrap();
        let at = |path: &str| {
            let mut value = &toml::Value::Table(root.clone());
            let mut found = value.clone();
            for key in path.split('.') {
                value = match key.parse::<usize>() {
                    Ok(index) => &value[index],
                    Err(_) => &value[key],
                };
                found = value.clone();
            }
            found.to_string()
        };
        assert_eq!((at("target.rosy.score"), at("target.rosy.weight")), ("8".into(), "1.5".into()));
        assert_eq!((at("target.honeyed.score"), at("target.honeyed.weight")), ("3.5".into(), "2".into()));
        assert_eq!((at("target.green"), at("budget.max_price")), ("1".into(), "70".into()));
        assert_eq!((at("formula.strength.min"), at("formula.strength.max")), ("30".into(), "80".into()));
        assert!(!root["formula"].as_table().unwrap().contains_key("step"));
        assert_eq!((at("use.0.dosage"), at("use.0.category.0")), ("15".into(), "\"4\"".into()));
        assert_eq!((at("doses.Rose oxide.max"), at("doses.New \"one\".fixed")), ("2.5".into(), "0.3".into()));
        assert_eq!(at("group.0.min"), "2");
        assert!(!root["ratio"][0].as_table().unwrap().contains_key("max"));
    }

    #[test]
    fn nothing_changes_nothing() {
        assert_eq!(edited_brief(BRIEF, &BriefEdits::default()).unwrap(), BRIEF);
        assert_eq!(edited_brief("no toml =", &edits()), None);
    }
}
