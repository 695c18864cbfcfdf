//! Numbers and lists as a chart says them.

use crate::number::{rounded, significant};

/// A number with a true minus and no zero that has a sign; trailing zeros of
/// the decimals stay.
fn typeset(text: String) -> String {
    text.replace('-', "−")
}

/// A number without trailing zeros of its decimals.
fn trimmed(text: &str) -> String {
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text.to_owned() }
}

/// Digits in groups of three from 10,000 on.
fn grouped(text: &str) -> String {
    let (sign, digits) = text.strip_prefix('-').map_or(("", text), |rest| ("-", rest));
    let (whole, decimals) = digits.split_once('.').map_or((digits, ""), |(whole, decimals)| (whole, decimals));
    if whole.len() < 5 {
        return text.to_owned();
    }
    let mut groups = String::new();
    for (at, digit) in whole.chars().enumerate() {
        if at > 0 && (whole.len() - at).is_multiple_of(3) {
            groups.push(',');
        }
        groups.push(digit);
    }
    if decimals.is_empty() { format!("{sign}{groups}") } else { format!("{sign}{groups}.{decimals}") }
}

/// A number on an axis: no more decimals than it needs.
pub fn tick(value: f64) -> String {
    typeset(grouped(&trimmed(&rounded(value, 6))))
}

/// A number to so many decimals; nothing is `0`.
pub fn number(value: f64, decimals: usize) -> String {
    let text = rounded(value, decimals);
    let is_zero = text.chars().all(|c| c == '0' || c == '.');
    if is_zero { "0".to_owned() } else { typeset(grouped(&text)) }
}

/// A difference with its sign: `+0.44`, `−0.59`, `0`.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    if value > 0.0 && text != "0" { format!("+{text}") } else { text }
}

/// A dose in ppt, three significant digits: `435`, `1.1`, `0.88`.
pub fn dose(ppt: f64) -> String {
    typeset(trimmed(&significant(ppt, 3, 0, 6)))
}

/// A price: two decimals below 100, none from 1000 on.
pub fn price(per_kg: f64) -> String {
    let decimals = match per_kg.abs() {
        below if below < 100.0 => 2,
        below if below < 1000.0 => 1,
        _ => 0,
    };
    let text = rounded(per_kg, decimals);
    // 40, not 40.00; but 40.50.
    let whole = text.split_once('.').is_some_and(|(_, decimals)| decimals.chars().all(|c| c == '0'));
    typeset(grouped(if whole { text.split('.').next().unwrap_or(&text) } else { &text }))
}

/// A percentage with one decimal; 100 without.
pub fn percent(value: f64) -> String {
    let text = rounded(value, 1);
    if text == "100.0" {
        "100".to_owned()
    } else if text == "0.0" {
        "0".to_owned()
    } else {
        typeset(text)
    }
}

/// `a`, `a and b`, `a, b and c`; of more than `most` the first ones and how
/// many more.
pub fn list(names: &[String], most: usize) -> String {
    let (shown, more) =
        if names.len() > most { (&names[..most.max(1) - 1], names.len() + 1 - most.max(1)) } else { (names, 0) };
    let mut parts: Vec<String> = shown.to_vec();
    if more > 0 {
        parts.push(format!("{more} more"));
    }
    match parts.split_last() {
        None => String::new(),
        Some((only, [])) => only.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

/// A name that a title can bear.
pub fn brief(name: &str) -> String {
    at_most(name, 34)
}

/// The label of a currency, as short as such a label is.
pub fn label(currency: &str) -> String {
    at_most(currency, 12)
}

fn at_most(name: &str, characters: usize) -> String {
    if name.chars().count() <= characters {
        return name.to_owned();
    }
    let cut: String = name.chars().take(characters - 1).collect();
    format!("{}…", cut.trim_end_matches([' ', ',', '(']))
}

/// With a capital letter at the beginning.
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// `1 material`, `3 materials`.
pub fn count(number: usize, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_well() {
        assert_eq!((number(-0.001, 2).as_str(), signed(0.001, 2).as_str()), ("0", "0"));
        assert_eq!((signed(-0.59, 2).as_str(), signed(0.4, 2).as_str()), ("−0.59", "+0.40"));
        assert_eq!((tick(0.30000000000000004).as_str(), tick(-2.0).as_str()), ("0.3", "−2"));
        assert_eq!((tick(12500.0).as_str(), tick(2500.0).as_str()), ("12,500", "2500"));
        assert_eq!((price(12_345.4).as_str(), price(69.98).as_str(), price(70.0).as_str()), ("12,345", "69.98", "70"));
        assert_eq!((price(1_234_567.0).as_str(), price(140.25).as_str()), ("1,234,567", "140.2"));
        assert_eq!((dose(0.876_54).as_str(), dose(435.0).as_str(), dose(1.1).as_str()), ("0.877", "435", "1.1"));
        assert_eq!((percent(93.63).as_str(), percent(100.0).as_str(), percent(-0.01).as_str()), ("93.6", "100", "0"));
    }

    #[test]
    fn lists_read_well() {
        let names: Vec<String> = ["a", "b", "c", "d", "e"].map(str::to_owned).to_vec();
        assert_eq!(list(&names[..1], 4), "a");
        assert_eq!(list(&names[..2], 4), "a and b");
        assert_eq!(list(&names[..4], 4), "a, b, c and d");
        assert_eq!(list(&names, 4), "a, b, c and 2 more");
        assert_eq!(list(&[], 4), "");
        assert_eq!(sentence("éclat"), "Éclat");
    }
}
