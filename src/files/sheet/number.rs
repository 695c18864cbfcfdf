//! Numbers in cells: decimal point or comma, groups of three, and never a
//! guess which of them a mark is.

use crate::files::keys::NumberKey;
use crate::number::plain;

/// The mark before the decimals.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecimalSign {
    /// 1.5
    Point,
    /// 1,5
    Comma,
}

impl DecimalSign {
    fn mark(self) -> char {
        if self == DecimalSign::Point { '.' } else { ',' }
    }

    pub(super) fn other(self) -> DecimalSign {
        if self == DecimalSign::Point { DecimalSign::Comma } else { DecimalSign::Point }
    }

    pub(super) fn word(self) -> &'static str {
        if self == DecimalSign::Point { "point" } else { "comma" }
    }
}

/// What a cell tells of the decimal sign of its sheet.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Tells {
    /// Nothing: there is no mark in it, or it is no number.
    Nothing,
    /// Only with this sign is it a number, and one in range.
    Sign(DecimalSign),
    /// It is a number either way.
    Either,
}

/// What a written number tells of the decimal sign.
pub(super) fn tells(written: &str, key: &NumberKey, scale: f64) -> Tells {
    if !written.contains(['.', ',']) {
        return Tells::Nothing;
    }
    let fits = |text: &String| text.parse::<f64>().is_ok_and(|value| key.holds(value, scale));
    let point = read(written, DecimalSign::Point);
    let comma = read(written, DecimalSign::Comma);
    match (point, comma) {
        (None, None) => Tells::Nothing,
        (Some(_), None) => Tells::Sign(DecimalSign::Point),
        (None, Some(_)) => Tells::Sign(DecimalSign::Comma),
        (Some(point), Some(comma)) => match (fits(&point), fits(&comma)) {
            (true, false) => Tells::Sign(DecimalSign::Point),
            (false, true) => Tells::Sign(DecimalSign::Comma),
            _ => Tells::Either,
        },
    }
}

/// A written number with this decimal sign, as plain decimal text with a
/// point; `None` where it is no number.
pub(super) fn read(written: &str, sign: DecimalSign) -> Option<String> {
    if !written.is_empty() && written.bytes().all(|byte| byte.is_ascii_digit()) {
        return Some(written.to_owned());
    }
    let (minus, unsigned) = match written.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => ("-", rest),
        None => ("", written.strip_prefix('+').unwrap_or(written)),
    };
    let (mantissa, exponent) = match unsigned.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => (mantissa, Some(exponent.strip_prefix('+').unwrap_or(exponent))),
        None => (unsigned, None),
    };
    let (whole, part) = mantissa.split_once(sign.mark()).unwrap_or((mantissa, ""));
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    if !digits(part) || (whole.is_empty() && part.is_empty()) {
        return None;
    }
    let whole = if digits(whole) { whole.to_owned() } else { ungrouped(whole, sign.other().mark())? };
    let zero = if whole.is_empty() { "0" } else { "" };
    let part = if part.is_empty() { String::new() } else { format!(".{part}") };
    match exponent {
        None => Some(format!("{minus}{zero}{whole}{part}")),
        Some(exponent) => {
            let is_whole = !exponent.is_empty() && digits(exponent.strip_prefix('-').unwrap_or(exponent));
            (is_whole && digits(mantissa.split_once(sign.mark()).map_or(mantissa, |(whole, _)| whole)))
                .then(|| format!("{minus}{zero}{whole}{part}e{exponent}"))
        }
    }
}

/// The value of digits with at most one decimal point, where points are
/// decimal signs; `None` for everything else.
pub(super) fn simple(written: &str, sign: Option<DecimalSign>) -> Option<f64> {
    let mut points = 0;
    for byte in written.bytes() {
        match byte {
            b'0'..=b'9' => {}
            b'.' if sign == Some(DecimalSign::Point) => points += 1,
            _ => return None,
        }
    }
    if points <= 1 { written.parse().ok() } else { None }
}

/// Digits without the marks between groups of three.
fn ungrouped(whole: &str, mark: char) -> Option<String> {
    let mut marks = whole.chars().filter(|c| !c.is_ascii_digit());
    let first = marks.next()?;
    let known = first == mark || matches!(first, ' ' | '\u{a0}' | '\u{202f}' | '\u{2009}' | '\'' | '\u{2019}');
    if !known || marks.any(|c| c != first) {
        return None;
    }
    let mut groups = whole.split(first);
    let lead = groups.next()?;
    let sound = (1..=3).contains(&lead.len()) && !lead.starts_with('0') && groups.all(|group| group.len() == 3);
    sound.then(|| whole.replace(first, ""))
}

/// A number as a cell says it. Three decimals get a zero behind them: they
/// could be thousands.
pub(super) fn cell(value: f64, sign: DecimalSign) -> String {
    written(&plain(value), sign)
}

/// The same of a number that is decimal text already.
pub(super) fn written(decimal: &str, sign: DecimalSign) -> String {
    match decimal.split_once('.') {
        None => decimal.to_owned(),
        Some((whole, part)) => {
            let zero = if part.len() == 3 { "0" } else { "" };
            format!("{whole}{}{part}{zero}", sign.mark())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::keys;

    #[test]
    fn numbers_either_way() {
        let both = |text| (read(text, DecimalSign::Point), read(text, DecimalSign::Comma));
        let some = |text: &str| Some(text.to_owned());
        assert_eq!(both("12"), (some("12"), some("12")));
        assert_eq!(both("1.5"), (some("1.5"), None));
        assert_eq!(both("1,234"), (some("1234"), some("1.234")));
        assert_eq!(both("0,125"), (None, some("0.125")));
        assert_eq!(both("1234,567"), (None, some("1234.567")));
        assert_eq!(both("1.234,5"), (None, some("1234.5")));
        assert_eq!(both("1,234.5"), (some("1234.5"), None));
        assert_eq!(both("1.234.567"), (None, some("1234567")));
        assert_eq!(both("1 234,5"), (None, some("1234.5")));
        assert_eq!(both("1'234.50"), (some("1234.50"), None));
        assert_eq!(both("-,5"), (None, some("-0.5")));
        assert_eq!(both("1.5E-06"), (some("1.5e-06"), None));
        for bad in ["", ".", "1..2", "12,34,5", "a", "1e", "1,23,456", "05.12.2024"] {
            assert_eq!(both(bad), (None, None), "{bad}");
        }
    }

    #[test]
    fn a_range_may_settle_what_a_mark_is() {
        assert_eq!(tells("1,234", &keys::PRICE, 10.0), Tells::Either);
        assert_eq!(tells("1,234", &keys::SCORE, 10.0), Tells::Sign(DecimalSign::Comma));
        assert_eq!(tells("12", &keys::PRICE, 10.0), Tells::Nothing);
    }

    #[test]
    fn three_decimals_cannot_be_thousands() {
        assert_eq!(cell(1.234, DecimalSign::Comma), "1,2340");
        assert_eq!(cell(1.5, DecimalSign::Point), "1.5");
        assert_eq!(cell(1234.0, DecimalSign::Point), "1234");
    }
}
