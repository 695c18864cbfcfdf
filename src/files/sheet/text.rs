//! Text in a cell, so that no spreadsheet runs it, counts it or trims it.

/// Text as the cell that says it. What a spreadsheet would take for a formula,
/// a number or a date gets an apostrophe in front; blanks at the ends and
/// characters that cannot be seen are written as `\u{20}`.
pub(super) fn encode(text: &str) -> String {
    if text.is_empty() {
        return "\\u{}".to_owned();
    }
    let inner = text.trim().len();
    let lead = text.len() - text.trim_start().len();
    let mut cell = String::with_capacity(text.len());
    for (at, character) in text.char_indices() {
        let outside = at < lead || at >= lead + inner;
        let is_escape = character == '\\' && text[at..].starts_with("\\u{");
        let unseen = crate::escape::steers(character) && character != '\n';
        if outside || is_escape || unseen {
            cell += &format!("\\u{{{:x}}}", u32::from(character));
        } else {
            cell.push(character);
        }
    }
    if is_taken_otherwise(&cell) { format!("'{cell}") } else { cell }
}

/// The text that a cell says.
pub(super) fn decode(cell: &str) -> String {
    let cell = cell.trim();
    let cell = match cell.strip_prefix('\'') {
        Some(rest) if is_taken_otherwise(rest) => rest,
        _ => cell,
    };
    // Line breaks inside a cell have one form.
    let cell = if cell.contains('\r') { cell.replace("\r\n", "\n") } else { cell.to_owned() };
    let mut text = String::with_capacity(cell.len());
    let mut rest = cell.as_str();
    while let Some(at) = rest.find("\\u{") {
        text += &rest[..at];
        let escape = &rest[at + 3..];
        let character = escape.split_once('}').and_then(|(hex, after)| {
            let code = if hex.is_empty() { None } else { Some(u32::from_str_radix(hex, 16).ok()?) };
            Some((code.map(char::from_u32), after))
        });
        match character {
            Some((None, after)) => rest = after,
            Some((Some(Some(character)), after)) => {
                text.push(character);
                rest = after;
            }
            _ => {
                text += "\\u{";
                rest = escape;
            }
        }
    }
    text + rest
}

/// Whether a spreadsheet, or the reader of the sheet, would take a text for
/// something else, apostrophes in front aside.
fn is_taken_otherwise(cell: &str) -> bool {
    let bare = cell.trim_start_matches('\'');
    bare.starts_with(['=', '+', '-', '@', '#']) || is_numeric(bare)
}

/// Whether a text looks like a number, a date, a time or a truth value.
fn is_numeric(text: &str) -> bool {
    const MONTHS: [&str; 12] = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
    let lower = text.to_lowercase();
    if ["true", "false"].contains(&lower.as_str()) {
        return true;
    }
    let counts = |word: &str| {
        let is_month = word.len() >= 3 && MONTHS.iter().any(|month| word.starts_with(month));
        ["", "e", "am", "pm", "t", "z"].contains(&word) || is_month
    };
    lower.chars().any(char::is_numeric) && lower.split(|c: char| !c.is_alphabetic()).all(counts)
}

/// A list in one cell: elements with `;` between them, in quotes where they
/// hold what separates.
pub(super) fn join(elements: &[String]) -> String {
    let quoted = |element: &String| {
        let plain = !element.is_empty() && element.trim() == element && !element.contains([';', ',', '"', '\n']);
        if plain { element.clone() } else { format!("\"{}\"", element.replace('"', "\"\"")) }
    };
    elements.iter().map(quoted).collect::<Vec<_>>().join("; ")
}

/// The elements of a list in a cell; `None` where a quote is not closed. Line
/// breaks separate as well, and commas where `commas` says so.
pub(super) fn split(text: &str, commas: bool) -> Option<Vec<String>> {
    let separates = |c: char| c == ';' || c == '\n' || (commas && c == ',');
    let mut elements = Vec::new();
    let mut rest = text.trim();
    while !rest.is_empty() {
        if let Some(mut inside) = rest.strip_prefix('"') {
            let mut element = String::new();
            loop {
                let (before, after) = inside.split_once('"')?;
                element += before;
                match after.strip_prefix('"') {
                    Some(more) => {
                        element.push('"');
                        inside = more;
                    }
                    None => {
                        rest = after.trim_start_matches([' ', '\t']);
                        break;
                    }
                }
            }
            elements.push(element);
            rest = match rest.chars().next() {
                None => "",
                Some(c) if separates(c) => rest[c.len_utf8()..].trim_start(),
                Some(_) => return None,
            };
        } else {
            let end = rest.find(separates).unwrap_or(rest.len());
            let element = rest[..end].trim();
            if !element.is_empty() {
                elements.push(element.to_owned());
            }
            rest = rest.get(end + 1..).unwrap_or_default().trim_start();
        }
    }
    Some(elements)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_say_what_was_meant() {
        let texts = [
            "Geraniol",
            "=1+1",
            "'=1+1",
            "''x",
            "'Otto'",
            "+x",
            "-x",
            "@x",
            "#scale",
            "",
            " padded ",
            "a\nb",
            "a\r\nb",
            "10-5",
            "May 5",
            "1e5",
            "TRUE",
            "1,8-Cineole",
            "\\u{41}",
            "\\u{",
            "\u{1b}[31m",
            "\t=x",
            "\u{a0}",
            "'1",
            "60-12-8",
            "12:30",
            "C:\\x",
            "\u{202e}x",
            "'",
            "\u{feff}",
        ];
        for text in texts {
            let cell = encode(text);
            assert_eq!(decode(&cell), text, "{cell}");
            assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r']), "{cell}");
        }
        assert_eq!(encode("1,8-Cineole"), "1,8-Cineole");
        assert_eq!(encode("'Otto'"), "'Otto'");
        assert_eq!(encode("10-5"), "'10-5");
    }

    #[test]
    fn lists_keep_their_elements() {
        for list in [vec!["a", "b c"], vec!["a;b", "c,d", "\"", ""], vec![" x ", "\n"], vec![]] {
            let list: Vec<String> = list.into_iter().map(str::to_owned).collect();
            assert_eq!(split(&join(&list), true), Some(list.clone()), "{}", join(&list));
        }
        assert_eq!(split("rose, alcohol;x", true).unwrap(), ["rose", "alcohol", "x"]);
        assert_eq!(split("\"a", true), None);
    }
}
