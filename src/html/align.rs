//! Figures of a column set under one another by their decimal point.

use maud::{Markup, html};

/// What a page with such columns needs in its style sheet: the filling is there for
/// the eye alone, so that copying a cell gives the number as it is.
pub const STYLE: &str = "td.n[data-pad]::after { content: attr(data-pad); visibility: hidden }\n";

/// A column of figures, right-aligned in figures of one width.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Column {
    decimals: usize,
}

impl Column {
    /// The column that holds these texts.
    pub fn of<T: AsRef<str>>(texts: impl IntoIterator<Item = T>) -> Column {
        Column { decimals: texts.into_iter().filter_map(|text| decimals(text.as_ref())).max().unwrap_or(0) }
    }

    /// A cell of it.
    pub fn cell(self, text: &str) -> Markup {
        html! { td.n data-pad=[self.filling(text)] { (text) } }
    }

    /// What a text lacks behind its last figure, point included.
    fn filling(self, text: &str) -> Option<String> {
        let lacking = self.decimals - decimals(text)?.min(self.decimals);
        let point = if text.contains('.') { "" } else { "." };
        (lacking > 0).then(|| format!("{point}{}", "0".repeat(lacking)))
    }
}

/// Figures behind the point; none where a text does not end in a figure.
fn decimals(text: &str) -> Option<usize> {
    let is_figure = text.bytes().next_back()?.is_ascii_digit();
    is_figure.then(|| text.rsplit_once('.').map_or(0, |(_, behind)| behind.len()))
}

#[cfg(test)]
mod tests {
    use super::Column;

    #[test]
    fn points_stand_under_one_another() {
        let column = Column::of(["435", "94.0", "5.00", "<0.1", "neat", ""]);
        for (text, filling) in
            [("435", Some(".00")), ("94.0", Some("0")), ("5.00", None), ("<0.1", Some("0")), ("neat", None), ("", None)]
        {
            assert_eq!(column.filling(text).as_deref(), filling, "{text}");
        }
        assert_eq!(Column::of(["12", "3"]).filling("3"), None);
        assert_eq!(column.cell("94.0").into_string(), "<td class=\"n\" data-pad=\"0\">94.0</td>");
    }
}
