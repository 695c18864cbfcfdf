//! A palette's file with some numbers changed: comments, order and everything
//! else stay as they are written.

use toml_edit::{DocumentMut, InlineTable, Item, Key, TableLike, Value};

use super::edit::set;

/// What becomes of one material.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Edit {
    /// The material's name.
    pub material: String,
    /// Its strength, if that changes.
    pub strength: Option<f64>,
    /// One standard deviation of its strength as a factor, if that changes.
    pub strength_factor: Option<f64>,
}

/// The text of a palette with some materials changed; `None` where the text is
/// no palette.
pub fn edited_palette(text: &str, edits: &[Edit]) -> Option<String> {
    let mut document = super::form::composed(text.to_owned()).parse::<DocumentMut>().ok()?;
    let materials = document.get_mut("material")?;
    match materials {
        Item::ArrayOfTables(tables) => tables.iter_mut().for_each(|table| change(table, edits)),
        Item::Table(table) => change(table, edits),
        Item::Value(Value::Array(list)) => {
            list.iter_mut().filter_map(Value::as_inline_table_mut).for_each(|table| change_inline(table, edits));
        }
        Item::Value(Value::InlineTable(table)) => change_inline(table, edits),
        _ => return None,
    }
    Some(document.to_string())
}

fn change_inline(table: &mut InlineTable, edits: &[Edit]) {
    let before = table.len();
    change(table, edits);
    // A new key at the end of one line leaves the blanks of the old end behind.
    if table.len() > before {
        table.fmt();
    }
}

fn change(table: &mut dyn TableLike, edits: &[Edit]) {
    let name = table.get("name").and_then(Item::as_str).unwrap_or_default();
    let Some(edit) = edits.iter().find(|edit| edit.material == name) else { return };
    if table.contains_key("formula") {
        // The strength of a base follows from its formula.
        return;
    }
    if edit.strength.is_some() {
        numbered(table);
    }
    let numbers = [("strength", edit.strength), ("strength_factor", edit.strength_factor)];
    for (key, number) in numbers {
        if let Some(number) = number {
            set(table, key, written(number));
        }
    }
}

/// Takes out what a strength rests on that is about to be a number. The number
/// stands where the comparison stood.
pub(super) fn numbered(table: &mut dyn TableLike) {
    if table.contains_key("strength_of") {
        rename(table, "strength_of", "strength");
    }
    table.remove("times");
}

/// Gives a key another name in its place.
fn rename(table: &mut dyn TableLike, from: &str, to: &str) {
    let keys: Vec<String> = table.iter().map(|(key, _)| key.to_owned()).collect();
    let Some(at) = keys.iter().position(|key| key == from) else { return };
    // Whatever follows is taken out and put back behind it, each with what
    // stands around it.
    let mut tail = Vec::new();
    for key in &keys[at..] {
        let decor = table.key(key).cloned();
        if let (Some(name), Some(item)) = (decor, table.remove(key)) {
            tail.push((name, item));
        }
    }
    for (mut name, item) in tail {
        if name.get() == from {
            let decor = (name.leaf_decor().clone(), name.dotted_decor().clone());
            name = Key::new(to);
            *name.leaf_decor_mut() = decor.0;
            *name.dotted_decor_mut() = decor.1;
        }
        match table.entry_format(&name) {
            toml_edit::Entry::Vacant(place) => {
                place.insert(item);
            }
            toml_edit::Entry::Occupied(mut place) => {
                place.insert(item);
            }
        }
    }
}

/// The number as it would be written by hand: `412`, `0.6`.
fn written(number: f64) -> Value {
    crate::number::plain(number).parse().unwrap_or_else(|_| number.into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_and_order_stay() {
        let text = "# Mine\nscale = 10 # of ten\n[descriptors]\nrosy = \"\"\n\n# the body\n[[material]]\nname = \"A\"\n\
                    strength = 40 # weak\nscores = { rosy = 7 }\n\n[[material]]\nname = \"B\"\nstrength = 3\n\
                    strength_factor = 2 # a guess\n";
        let edit = |material: &str, strength, factor| Edit {
            material: material.to_owned(),
            strength: Some(strength),
            strength_factor: Some(factor),
        };
        let out = edited_palette(text, &[edit("A", 41.5, 1.2), edit("B", 4.0, 1.25), edit("C", 1.0, 1.0)]);
        let expected = text
            .replace("strength = 40 # weak\n", "strength = 41.5 # weak\n")
            .replace("scores = { rosy = 7 }\n", "scores = { rosy = 7 }\nstrength_factor = 1.2\n")
            .replace("strength = 3\nstrength_factor = 2 #", "strength = 4\nstrength_factor = 1.25 #");
        assert_eq!(out.as_deref(), Some(expected.as_str()));
        let inline = "material = [{ name = \"A\", strength = 1 }]\n";
        let out = edited_palette(inline, &[edit("A", 2.0, 1.5)]).unwrap();
        assert_eq!(out, "material = [{ name = \"A\", strength = 2, strength_factor = 1.5 }]\n");
        assert_eq!(edited_palette("nothing = 1", &[]), None);
    }
}
