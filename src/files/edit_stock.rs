//! A palette's file after something was poured: only `stock` changes.

use toml_edit::{DocumentMut, Item, TableLike, Value};

use super::edit::set;

/// The text of a palette with new stocks, (material, grams) each; comments,
/// order and everything else stay as they are written. `None` where the text
/// does not hold all these materials with a stock.
pub fn restocked_palette(text: &str, stocks: &[(String, f64)]) -> Option<String> {
    let mut document = text.parse::<DocumentMut>().ok()?;
    let mut left = stocks.len();
    let mut change = |table: &mut dyn TableLike| {
        let name = table.get("name").and_then(Item::as_str).unwrap_or_default();
        let Some((_, grams)) = stocks.iter().find(|(material, _)| material == name) else { return };
        if table.contains_key("stock") {
            set(table, "stock", crate::number::plain(*grams).parse().unwrap_or_else(|_| (*grams).into()));
            left = left.saturating_sub(1);
        }
    };
    match document.get_mut("material")? {
        Item::ArrayOfTables(tables) => tables.iter_mut().for_each(|table| change(table)),
        Item::Table(table) => change(table),
        Item::Value(Value::Array(list)) => {
            list.iter_mut().filter_map(Value::as_inline_table_mut).for_each(|table| change(table));
        }
        Item::Value(Value::InlineTable(table)) => change(table),
        _ => return None,
    }
    (left == 0).then(|| document.to_string())
}

#[cfg(test)]
mod tests {
    use super::restocked_palette;

    #[test]
    fn only_the_stock_changes() {
        let text = "# Mine\nscale = 10\n\n# the body\n[[material]]\nname = \"A\"\nstock = 50 # since May\nstrength = 4.0\n\n\
                    [[material]]\nname = \"B\" # rare\nstrength = 3\n";
        let out = restocked_palette(text, &[("A".to_owned(), 47.988)]);
        assert_eq!(out.as_deref(), Some(text.replace("stock = 50 #", "stock = 47.988 #").as_str()));
        assert_eq!(restocked_palette(text, &[("B".to_owned(), 1.0)]), None);
        let inline = "material = [{ name = \"A\", stock = 2 }]\n";
        let out = restocked_palette(inline, &[("A".to_owned(), 0.0)]);
        assert_eq!(out.as_deref(), Some("material = [{ name = \"A\", stock = 0 }]\n"));
    }
}
