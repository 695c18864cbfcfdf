//! Certificates as text: one line for every entry, so that a large one can be
//! read with any tool.
//!
//! ```text
//! permil certificate 1
//! claim none-below 5.41
//! column 0 "Geraniol"
//! remainder 0 step 1 columns 3,7
//! d least 12.5 by 0 s=0.3 r2=1.5
//! tree
//! narrowed 1 s=0.02 t3=-1 r2=0.7 c0=0.1 : 4 out, 5 <=30
//! split 3 : out, in>=2
//! closed 1 s=0.02 t3=-1
//! empty
//! ```
//!
//! profiles/CERTIFICATE.md has the grammar. What is read is as strict as what is
//! written: one way to write each thing, so that nothing can be slipped in.

use std::fmt::Write;

use super::shape::{MOST_ENTRIES, MOST_REMAINDERS, is_ordinary};
use super::{BoundOnD, CapMultipliers, Certificate, Change, Claim, Entry, Multipliers, Remainder, Said};
use crate::units::Ppt;

/// The first line of every certificate.
pub const HEAD: &str = "permil certificate 1";
/// A certificate with more bytes than this is not read.
pub const MOST_BYTES: u64 = 1 << 28;
/// A line with more bytes than this is not read.
const MOST_LINE_BYTES: usize = 1 << 20;
/// A number with more characters than this is not read.
const MOST_DIGITS: usize = 100;

/// A certificate that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {why}")]
pub struct Unreadable {
    /// The line, counted from 1.
    pub line: usize,
    /// What is wrong with it.
    pub why: String,
}

/// The text of a certificate: what is read from it is the same, to the last
/// digit.
pub fn write(certificate: &Certificate) -> String {
    let mut text = format!("{HEAD}\n");
    let mut line = |words: String| {
        text.push_str(&words);
        text.push('\n');
    };
    line(match certificate.claim {
        Claim::NoneBelow(loss) => format!("claim none-below {loss}"),
        Claim::None => "claim none".to_owned(),
    });
    for (index, name) in certificate.columns.iter().enumerate() {
        line(format!("column {index} {name:?}"));
    }
    for (index, Remainder { step, columns }) in certificate.remainders.iter().enumerate() {
        let columns: Vec<String> = columns.iter().map(usize::to_string).collect();
        line(format!("remainder {index} step {step} columns {}", columns.join(",")));
    }
    for (bound, which) in certificate.d.iter().zip(["least", "most"]) {
        if let Some(bound) = bound {
            line(format!("d {which} {} by {}", bound.at, multipliers(&bound.by)));
        }
    }
    line("tree".to_owned());
    for entry in &certificate.entries {
        line(match entry {
            Entry::Closed(by) => format!("closed {}", multipliers(by)),
            Entry::Empty => "empty".to_owned(),
            Entry::Narrowed(by, all) => format!("narrowed {} : {}", multipliers(by), changes(all)),
            Entry::OnGrid(all) => format!("on-grid : {}", changes(all)),
            Entry::Split(k, less, more) => format!("split {k} : {}, {}", said(*less), said(*more)),
            Entry::SplitRemainder(index, most, least) => format!("split-remainder {index} : <={most}, >={least}"),
            Entry::SplitD(at) => format!("split-d {at}"),
            Entry::SplitLadder(at) => format!("split-ladder {at}"),
        });
    }
    text
}

fn said(said: Said) -> String {
    match said {
        Said::Out => "out".to_owned(),
        Said::In(least) => format!("in>={least}"),
        Said::AtLeast(least) => format!(">={least}"),
        Said::AtMost(most) => format!("<={most}"),
    }
}

fn changes(all: &[Change]) -> String {
    let words: Vec<String> = all.iter().map(|&(k, what)| format!("{k} {}", said(what))).collect();
    words.join(", ")
}

fn multipliers(by: &Multipliers) -> String {
    let mut text = by.objective.to_string();
    let mut word = |name: &str, value: f64, least: f64| {
        // What the format has no place for is 0: any multipliers are valid.
        if value != 0.0 && value >= least && is_ordinary(value) {
            let _ = write!(text, " {name}={}", brief(value));
        }
    };
    let any = f64::NEG_INFINITY;
    word("s", by.sum, any);
    word("d", by.d, any);
    let lists = [
        ("t", &by.targets, any),
        ("r", &by.rules, 0.0),
        ("c", &by.counts, 0.0),
        ("m", &by.remainders, any),
        ("l", &by.rungs, 0.0),
    ];
    for (name, entries, least) in lists {
        entries.iter().for_each(|&(index, value)| word(&format!("{name}{index}"), value, least));
    }
    for CapMultipliers { cap, most, targets } in by.caps.iter().filter(|of| of.most > 0.0 && is_ordinary(of.most)) {
        word(&format!("k{cap}"), *most, 0.0);
        targets.iter().for_each(|&(index, value)| word(&format!("k{cap}.{index}"), value, any));
    }
    text
}

/// The shorter of the two ways to write a number.
fn brief(value: f64) -> String {
    let (plain, power) = (format!("{value}"), format!("{value:e}"));
    if power.len() < plain.len() { power } else { plain }
}

/// Reads a certificate.
///
/// # Errors
/// The first line that is not as it should be.
pub fn read(text: &str) -> Result<Certificate, Unreadable> {
    let at = |line: usize, why: &str| Unreadable { line, why: why.to_owned() };
    if text.len() as u64 > MOST_BYTES {
        return Err(at(1, "it is larger than any certificate"));
    }
    let mut reader = Reader { certificate: None, in_tree: false };
    let mut last = 0;
    for (index, line) in text.lines().enumerate() {
        last = index + 1;
        let outcome = match index {
            _ if line.len() > MOST_LINE_BYTES => Err("the line is longer than any of a certificate".to_owned()),
            0 if line != HEAD => Err(format!("expected \"{HEAD}\"")),
            0 => Ok(()),
            _ => reader.line(line),
        };
        outcome.map_err(|why| Unreadable { line: last, why })?;
    }
    let complete = reader.certificate.filter(|_| reader.in_tree);
    complete.ok_or_else(|| at(last.max(1), "the certificate ends early"))
}

struct Reader {
    certificate: Option<Certificate>,
    in_tree: bool,
}

/// A line that does not fit: what was expected.
type Parsed<T> = Result<T, String>;

impl Reader {
    fn line(&mut self, line: &str) -> Parsed<()> {
        if line.ends_with(' ') {
            return Err("nothing is expected after the last word".to_owned());
        }
        let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
        let Some(certificate) = &mut self.certificate else {
            let claim = match (word, rest.split_once(' ')) {
                ("claim", None) if rest == "none" => Claim::None,
                ("claim", Some(("none-below", loss))) => Claim::NoneBelow(number(loss)?),
                _ => return Err("expected what is claimed".to_owned()),
            };
            let (columns, remainders) = (Vec::new(), Vec::new());
            self.certificate = Some(Certificate { claim, columns, remainders, d: [None, None], entries: Vec::new() });
            return Ok(());
        };
        if self.in_tree {
            if certificate.entries.len() >= MOST_ENTRIES {
                return Err("its tree is larger than any that is checked".to_owned());
            }
            certificate.entries.push(entry(word, rest)?);
            return Ok(());
        }
        let [least, most] = &certificate.d;
        let (no_least, no_most) = (least.is_none(), most.is_none());
        let no_bounds = no_least && no_most;
        match word {
            "column" if certificate.remainders.is_empty() && no_bounds => {
                certificate.columns.push(name(rest, certificate.columns.len())?);
            }
            "remainder" if no_bounds && certificate.remainders.len() < MOST_REMAINDERS => {
                certificate.remainders.push(remainder(rest, certificate.remainders.len())?);
            }
            "d" => {
                let words = rest.split_once(' ').and_then(|(which, rest)| Some((which, rest.split_once(" by ")?)));
                let (which, (at, by)) = words.ok_or("expected a bound on D")?;
                let place = match which {
                    "least" if no_bounds => 0,
                    "most" if no_most => 1,
                    _ => return Err("expected \"least\" or \"most\", in this order and once".to_owned()),
                };
                certificate.d[place] = Some(BoundOnD { at: number(at)?, by: read_multipliers(by)? });
            }
            "tree" if line == "tree" => self.in_tree = true,
            _ => return Err(format!("\"{}\" is not expected here", word.escape_debug())),
        }
        Ok(())
    }
}

/// A whole number in its shortest form.
fn index(text: &str) -> Parsed<usize> {
    let parsed = text.parse::<usize>().ok().filter(|index| index.to_string() == text);
    parsed.ok_or_else(|| instead("an index", text))
}

fn instead(what: &str, text: &str) -> String {
    let start: String = text.chars().take(40).collect();
    format!("expected {what} in place of \"{}\"", start.escape_debug())
}

/// A number of ordinary size as a decimal: nothing else that a double can be
/// read from.
fn number(text: &str) -> Parsed<f64> {
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let (decimal, power) = text.split_once('e').map_or((text, None), |(decimal, power)| (decimal, Some(power)));
    let decimal = decimal.strip_prefix('-').unwrap_or(decimal);
    let (whole, part) = decimal.split_once('.').map_or((decimal, None), |(whole, part)| (whole, Some(part)));
    let is_number = text.len() <= MOST_DIGITS
        && digits(whole)
        && part.is_none_or(digits)
        && power.is_none_or(|power| digits(power.strip_prefix('-').unwrap_or(power)));
    let value = text.parse::<f64>().ok().filter(|value| is_number && is_ordinary(*value));
    value.ok_or_else(|| instead("a number", text))
}

/// A dose in ppt, in its shortest form.
fn dose(text: &str) -> Parsed<Ppt> {
    let unsigned = text.strip_prefix('-').unwrap_or(text);
    let (whole, part) = unsigned.split_once('.').unwrap_or((unsigned, ""));
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    let units = || {
        let sign = if unsigned.len() < text.len() { -1 } else { 1 };
        let whole = whole.parse::<i64>().ok()?.checked_mul(Ppt::UNITS)?;
        let part = format!("{part:0<9}").parse::<i64>().ok()?;
        Some(Ppt::from_units(sign * whole.checked_add(part)?))
    };
    let exact = (part.len() <= 9 && digits(whole) && digits(part)).then(units).flatten();
    exact.filter(|dose| dose.to_string() == text).ok_or_else(|| instead("a dose", text))
}

/// `INDEX "NAME"`, the index being the next one. Names are written as Rust
/// writes text in quotes, which JSON reads but for control characters.
fn name(text: &str, next: usize) -> Parsed<String> {
    let (number, name) = text.split_once(' ').ok_or("expected an index and a name")?;
    if index(number)? != next {
        return Err(format!("expected column {next}"));
    }
    let inner = name.strip_prefix('"').and_then(|name| name.strip_suffix('"'));
    inner.and_then(unescaped).ok_or_else(|| "expected a name in quotes".to_owned())
}

/// Text without the escapes that `{:?}` writes.
fn unescaped(text: &str) -> Option<String> {
    let mut plain = String::new();
    let mut rest = text.chars();
    while let Some(c) = rest.next() {
        if c != '\\' {
            if c == '"' || c.is_control() {
                return None;
            }
            plain.push(c);
            continue;
        }
        plain.push(match rest.next()? {
            'n' => '\n',
            't' => '\t',
            'r' => '\r',
            '0' => '\0',
            c @ ('\\' | '"' | '\'') => c,
            'u' => {
                let (digits, others) = rest.as_str().strip_prefix('{')?.split_once('}')?;
                if !(1..=6).contains(&digits.len()) || !digits.bytes().all(|byte| byte.is_ascii_hexdigit()) {
                    return None;
                }
                rest = others.chars();
                char::from_u32(u32::from_str_radix(digits, 16).ok()?)?
            }
            _ => return None,
        });
    }
    Some(plain)
}

fn remainder(text: &str, next: usize) -> Parsed<Remainder> {
    let words: Vec<&str> = text.split(' ').collect();
    let [number, "step", step, "columns", columns] = words[..] else {
        return Err("expected a step and columns".to_owned());
    };
    if index(number)? != next {
        return Err(format!("expected remainder {next}"));
    }
    let columns = columns.split(',').map(index).collect::<Parsed<_>>()?;
    Ok(Remainder { step: dose(step)?, columns })
}

fn entry(word: &str, rest: &str) -> Parsed<Entry> {
    let two = || rest.split_once(" : ").ok_or_else(|| "expected \":\"".to_owned());
    Ok(match word {
        "closed" => Entry::Closed(read_multipliers(rest)?),
        "empty" if rest.is_empty() => Entry::Empty,
        "narrowed" => {
            let (by, changes) = two()?;
            Entry::Narrowed(read_multipliers(by)?, read_changes(changes)?)
        }
        "on-grid" => Entry::OnGrid(read_changes(rest.strip_prefix(": ").ok_or("expected \":\"")?)?),
        "split" => {
            let (k, sides) = two()?;
            let (less, more) = sides.split_once(", ").ok_or("expected two sides")?;
            Entry::Split(index(k)?, read_said(less)?, read_said(more)?)
        }
        "split-remainder" => {
            let (number, sides) = two()?;
            let sides = sides.split_once(", ").map(|(less, more)| (less.strip_prefix("<="), more.strip_prefix(">=")));
            let Some((Some(most), Some(least))) = sides else { return Err("expected two sides".to_owned()) };
            Entry::SplitRemainder(index(number)?, dose(most)?, dose(least)?)
        }
        "split-d" => Entry::SplitD(number(rest)?),
        "split-ladder" => Entry::SplitLadder(index(rest)?),
        _ => return Err(format!("\"{}\" is not expected here", word.escape_debug())),
    })
}

fn read_said(text: &str) -> Parsed<Said> {
    Ok(match (text, text.strip_prefix("in>="), text.strip_prefix(">="), text.strip_prefix("<=")) {
        ("out", ..) => Said::Out,
        (_, Some(least), ..) => Said::In(dose(least)?),
        (_, _, Some(least), _) => Said::AtLeast(dose(least)?),
        (.., Some(most)) => Said::AtMost(dose(most)?),
        _ => return Err(instead("a dose", text)),
    })
}

fn read_changes(text: &str) -> Parsed<Vec<Change>> {
    let change = |text: &str| {
        let (k, said) = text.split_once(' ').ok_or("expected an index and a dose")?;
        Ok((index(k)?, read_said(said)?))
    };
    text.split(", ").map(change).collect()
}

fn read_multipliers(text: &str) -> Parsed<Multipliers> {
    let mut words = text.split(' ');
    let objective = match words.next() {
        Some("0") => 0.0,
        Some("1") => 1.0,
        _ => return Err("expected the weight of the objective, 0 or 1".to_owned()),
    };
    let mut by = Multipliers { objective, ..Multipliers::default() };
    // (place among the kinds, index, place within a cap) of the word before.
    let mut before = None;
    for word in words {
        let (name, value) = word.split_once('=').ok_or_else(|| instead("a multiplier", word))?;
        let value = number(value)?;
        let indexed = || name.get(1..).map_or_else(|| Err(instead("a multiplier", name)), index);
        let place = match name.bytes().next() {
            Some(b's') if name == "s" => (0, 0, 0),
            Some(b'd') if name == "d" => (1, 0, 0),
            Some(b't') => (2, indexed()?, 0),
            Some(b'r') => (3, indexed()?, 0),
            Some(b'c') => (4, indexed()?, 0),
            Some(b'm') => (5, indexed()?, 0),
            Some(b'l') => (6, indexed()?, 0),
            Some(b'k') => match name[1..].split_once('.') {
                Some((cap, target)) => (7, index(cap)?, index(target)?.saturating_add(1)),
                None => (7, indexed()?, 0),
            },
            _ => return Err(instead("a multiplier", name)),
        };
        if value == 0.0 || before.is_some_and(|before| before >= place) {
            return Err(format!("\"{}\" is 0, or out of order", name.escape_debug()));
        }
        before = Some(place);
        match place {
            (0, ..) => by.sum = value,
            (1, ..) => by.d = value,
            (2, k, _) => by.targets.push((k, value)),
            (3, k, _) => by.rules.push((k, value)),
            (4, k, _) => by.counts.push((k, value)),
            (5, k, _) => by.remainders.push((k, value)),
            (6, k, _) => by.rungs.push((k, value)),
            (_, cap, 0) => by.caps.push(CapMultipliers { cap, most: value, targets: Vec::new() }),
            (_, cap, target) => match by.caps.last_mut().filter(|of| of.cap == cap) {
                Some(of) => of.targets.push((target - 1, value)),
                None => return Err(format!("\"{}\" comes before its cap", name.escape_debug())),
            },
        }
    }
    Ok(by)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_decimals_of_ordinary_size_and_nothing_else() {
        for (text, value) in [("0", 0.0), ("-0.5", -0.5), ("1.5e-7", 1.5e-7), ("1e60", 1e60), ("007", 7.0)] {
            assert_eq!(number(text), Ok(value), "{text}");
        }
        let none =
            ["", "-", "nan", "inf", "-inf", "infinity", "1e61", "1e-61", "1e400", "+1", ".5", "5.", "1e", "1e+5"];
        for text in none.into_iter().chain(["0x1", "1_0", " 1", "1 ", "1.2.3", "--1", "1e5e5", &"1".repeat(101)]) {
            assert!(number(text).is_err(), "{text}");
        }
    }

    #[test]
    fn doses_and_indices_have_one_way_to_be_written() {
        for text in ["0", "0.05", "1000", "0.000000001", "-2"] {
            assert_eq!(dose(text).expect("a dose").to_string(), text);
        }
        for text in ["", "-0", "00", "1.", "1.50", ".5", "1e3", "+1", "0.0000000001", "99999999999999999999", "1 "] {
            assert!(dose(text).is_err(), "{text}");
        }
        assert_eq!(index("12"), Ok(12));
        for text in ["", "+1", "01", "-1", "1.0", " 1", "99999999999999999999999"] {
            assert!(index(text).is_err(), "{text}");
        }
    }

    #[test]
    fn names_are_read_as_they_are_written_and_no_other_way() {
        for plain in ["Geraniol", "a \"b\" \\ c", "tab\there", "bell\u{7}", "é ü 5 %", "e\u{301}"] {
            assert_eq!(name(&format!("3 {plain:?}"), 3).as_deref(), Ok(plain));
        }
        for text in ["3 \"a\"b\"", "3 \"", "3 a", "4 \"a\"", "3 \"\\u{+41}\"", "3 \"\\u41\"", "3 \"\\x41\"", "3 \"\t\""]
        {
            assert!(name(text, 3).is_err(), "{text}");
        }
    }

    #[test]
    fn multipliers_stand_in_their_order_and_once() {
        for text in ["0", "1 s=1 d=-2 t0=1 t3=2 r0=1 c1=2 m0=-1 l0=1 l2=2"] {
            assert!(read_multipliers(text).is_ok(), "{text}");
        }
        for text in [
            "",
            "2",
            "0  s=1",
            "0 s=1 s=1",
            "0 d=1 s=1",
            "0 t1=1 t1=1",
            "0 t2=1 t1=1",
            "0 r1=1 t1=1",
            "0 s=0",
            "0 x=1",
            "0 t=1",
            "0 l1=1 m1=1",
        ] {
            assert!(read_multipliers(text).is_err(), "{text}");
        }
    }
}
