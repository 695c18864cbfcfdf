//! What was probably meant by a line that is no TOML: people type decimal
//! commas, curly quotes, names with blanks and no quotes. A mended line is
//! offered only where it can be read.

use toml::de::DeTable;

/// Longer lines are not looked at: nobody would read the mend.
const LONGEST: usize = 200;

/// The line as it was probably meant, if a small change makes it readable.
pub(super) fn mended(line: &str) -> Option<String> {
    let line = line.trim();
    if line.len() > LONGEST || line.is_empty() || is_sound(line) {
        return None;
    }
    // Each change alone, then on top of the ones before it: a line with curly
    // quotes may have a decimal comma as well.
    let changes: [fn(&str) -> Option<String>; 7] =
        [straight_quotes, quoted_key, decimal_points, closed_quote, equals_sign, without_end, quoted_value];
    let mut together = line.to_owned();
    for change in changes {
        if let Some(changed) = change(line)
            && is_sound(&changed)
        {
            return Some(changed);
        }
        if let Some(changed) = change(&together) {
            if is_sound(&changed) {
                return Some(changed);
            }
            together = changed;
        }
    }
    None
}

fn is_sound(line: &str) -> bool {
    DeTable::parse(line).is_ok()
}

/// Straight quotes for those that a word processor makes.
fn straight_quotes(line: &str) -> Option<String> {
    let straight: String = line
        .chars()
        .map(|c| match c {
            '\u{201c}'..='\u{201f}' | '\u{ab}' | '\u{bb}' | '\u{2033}' => '"',
            '\u{2018}'..='\u{201b}' | '\u{2032}' => '\'',
            _ => c,
        })
        .collect();
    (straight != line).then_some(straight)
}

/// Quotes around a key that is no bare key.
fn quoted_key(line: &str) -> Option<String> {
    let (key, value) = line.split_once('=')?;
    let key = key.trim();
    let is_plain = !key.is_empty() && !key.contains(['"', '\'', '{', '[', '#', '\\']);
    is_plain.then(|| format!("\"{key}\" ={value}"))
}

/// Points for commas between digits, outside texts.
fn decimal_points(line: &str) -> Option<String> {
    let mut changed = String::with_capacity(line.len());
    let mut quote = None;
    let letters: Vec<char> = line.chars().collect();
    for (at, &letter) in letters.iter().enumerate() {
        match quote {
            Some(open) if open == letter => quote = None,
            None if letter == '"' || letter == '\'' => quote = Some(letter),
            _ => {}
        }
        let digit = |at: Option<usize>| at.and_then(|at| letters.get(at)).is_some_and(char::is_ascii_digit);
        let is_decimal = letter == ',' && quote.is_none() && digit(at.checked_sub(1)) && digit(Some(at + 1));
        changed.push(if is_decimal { '.' } else { letter });
    }
    (changed != line).then_some(changed)
}

/// The quote that is missing at the end or the beginning of the last text.
fn closed_quote(line: &str) -> Option<String> {
    if line.matches('"').count().is_multiple_of(2) {
        return None;
    }
    let (key, value) = line.split_once('=')?;
    let value = value.trim();
    let candidates = [
        format!("{line}\""),
        format!("{key}= \"{value}"),
        // Inside a table or a list the text ends before its bracket.
        line.rfind(['}', ']']).map(|at| format!("{}\" {}", line[..at].trim_end(), &line[at..])).unwrap_or_default(),
    ];
    candidates.into_iter().find(|candidate| is_sound(candidate))
}

/// `=` for a colon.
fn equals_sign(line: &str) -> Option<String> {
    let (key, value) = line.split_once(':')?;
    (!key.contains(['=', '"', '\''])).then(|| format!("{} = {}", key.trim(), value.trim()))
}

/// Without a mark at the end of the line.
fn without_end(line: &str) -> Option<String> {
    line.strip_suffix([';', ',']).map(|rest| rest.trim_end().to_owned())
}

/// Quotes around a text that has none.
fn quoted_value(line: &str) -> Option<String> {
    let (key, value) = line.split_once('=')?;
    let value = value.trim();
    let is_word = value.starts_with(char::is_alphabetic) && !value.contains(['"', '\'', '{', '[', '#', '\\']);
    is_word.then(|| format!("{} = \"{value}\"", key.trim()))
}

#[cfg(test)]
mod tests {
    use super::mended;

    #[test]
    fn what_people_type() {
        let cases = [
            ("price = 14,5", "price = 14.5"),
            ("rosy = { score = 3,5, min = 0,2 }", "rosy = { score = 3.5, min = 0.2 }"),
            ("name = \u{201c}Rose oxide\u{201d}", "name = \"Rose oxide\""),
            ("Rose oxide = { max = 2 }", "\"Rose oxide\" = { max = 2 }"),
            ("1,8-Cineole = 4", "\"1,8-Cineole\" = 4"),
            ("Rose oxide = { max = 2,5 }", "\"Rose oxide\" = { max = 2.5 }"),
            ("name = \"Rose oxide", "name = \"Rose oxide\""),
            ("name = Rose oxide\"", "name = \"Rose oxide\""),
            ("name = Rose oxide", "name = \"Rose oxide\""),
            (
                "bottle = { percent = 10, carrier = \"Dipropylene glycol }",
                "bottle = { percent = 10, carrier = \"Dipropylene glycol\" }",
            ),
            ("price: 14", "price = 14"),
            ("price = 14;", "price = 14"),
            ("\u{201c}Rose oxide\u{201d} = 1,5", "\"Rose oxide\" = 1.5"),
        ];
        for (typed, meant) in cases {
            assert_eq!(mended(typed).as_deref(), Some(meant), "{typed}");
        }
    }

    #[test]
    fn nothing_is_offered_that_cannot_be_read() {
        for line in ["= 5", "{", "price = = 4", "scores = { rosy = }", "]", ""] {
            assert_eq!(mended(line), None, "{line}");
        }
    }
}
