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
//! A number after `closed` or `narrowed` is the weight of the objective; `s`
//! is the sum of 1000, `d` is D, and `t`, `r`, `c` and `m` with an index are
//! targets, rows of rules, counts and remainders.

use std::fmt::Write;
use std::str::FromStr;

use super::{BoundOnD, Certificate, Change, Claim, Entry, Multipliers, Remainder, Said};
use crate::units::Ppt;

/// The first line of every certificate.
pub const HEAD: &str = "permil certificate 1";

/// A certificate that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {why}")]
pub struct Unreadable {
    /// The line, counted from 1.
    pub line: usize,
    /// What is wrong with it.
    pub why: String,
}

/// The text of a certificate. Multipliers get so many significant digits: any
/// multipliers are valid, and a few digits mostly prove as much.
pub fn write(certificate: &Certificate, digits: usize) -> String {
    let by = |by: &Multipliers| multipliers(by, digits);
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
            line(format!("d {which} {} by {}", bound.at, multipliers(&bound.by, 17)));
        }
    }
    line("tree".to_owned());
    for entry in &certificate.entries {
        line(match entry {
            Entry::Closed(multipliers) => format!("closed {}", by(multipliers)),
            Entry::Empty => "empty".to_owned(),
            Entry::Narrowed(multipliers, all) => format!("narrowed {} : {}", by(multipliers), changes(all)),
            Entry::OnGrid(all) => format!("on-grid : {}", changes(all)),
            Entry::Split(k, less, more) => format!("split {k} : {}, {}", said(*less), said(*more)),
            Entry::SplitRemainder(index, most, least) => format!("split-remainder {index} : <={most}, >={least}"),
            Entry::SplitD(at) => format!("split-d {at}"),
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

fn multipliers(by: &Multipliers, digits: usize) -> String {
    let mut text = by.objective.to_string();
    let short = |value: f64| format!("{value:.*e}", digits - 1).parse().unwrap_or(value);
    let mut word = |name: &str, value: f64| {
        let value: f64 = short(value);
        if value != 0.0 {
            let _ = write!(text, " {name}={}", brief(value));
        }
    };
    word("s", by.sum);
    word("d", by.d);
    let lists = [("t", &by.targets), ("r", &by.rules), ("c", &by.counts), ("m", &by.remainders)];
    for (name, entries) in lists {
        entries.iter().for_each(|&(index, value)| word(&format!("{name}{index}"), value));
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
    let mut reader = Reader { certificate: None, in_tree: false };
    let mut last = 0;
    for (index, line) in text.lines().enumerate() {
        last = index + 1;
        let line = line.trim();
        let outcome = match index {
            0 if line != HEAD => Err(format!("expected \"{HEAD}\"")),
            0 => Ok(()),
            _ if line.is_empty() => Ok(()),
            _ => reader.line(line),
        };
        outcome.map_err(|why| Unreadable { line: index + 1, why })?;
    }
    let complete = reader.certificate.filter(|_| reader.in_tree);
    complete.ok_or_else(|| Unreadable { line: last.max(1), why: "the certificate ends early".to_owned() })
}

struct Reader {
    certificate: Option<Certificate>,
    in_tree: bool,
}

/// A line that does not fit: what was expected.
type Parsed<T> = Result<T, String>;

impl Reader {
    fn line(&mut self, line: &str) -> Parsed<()> {
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
            certificate.entries.push(entry(word, rest)?);
            return Ok(());
        }
        match word {
            "column" => certificate.columns.push(name(rest, certificate.columns.len())?),
            "remainder" => certificate.remainders.push(remainder(rest, certificate.remainders.len())?),
            "d" => {
                let words = rest.split_once(' ').and_then(|(which, rest)| Some((which, rest.split_once(" by ")?)));
                let (which, (at, by)) = words.ok_or("expected a bound on D")?;
                let place = match which {
                    "least" => 0,
                    "most" => 1,
                    _ => return Err("expected \"least\" or \"most\"".to_owned()),
                };
                certificate.d[place] = Some(BoundOnD { at: number(at)?, by: read_multipliers(by)? });
            }
            "tree" if rest.is_empty() => self.in_tree = true,
            _ => return Err(format!("\"{}\" is not expected here", word.escape_debug())),
        }
        Ok(())
    }
}

fn parsed<T: FromStr>(text: &str, what: &str) -> Parsed<T> {
    text.trim().parse().map_err(|_| format!("expected {what} in place of \"{}\"", text.trim().escape_debug()))
}

fn number(text: &str) -> Parsed<f64> {
    let number: f64 = parsed(text, "a number")?;
    if number.is_finite() { Ok(number) } else { Err("expected a finite number".to_owned()) }
}

fn dose(text: &str) -> Parsed<Ppt> {
    let ppt = number(text)?;
    if (-1e4..=1e4).contains(&ppt) { Ok(Ppt::from_ppt(ppt)) } else { Err("expected a dose".to_owned()) }
}

/// `INDEX "NAME"`, the index being the next one. Names are written as Rust
/// writes text in quotes, which JSON reads but for control characters.
fn name(text: &str, next: usize) -> Parsed<String> {
    let (index, name) = text.split_once(' ').ok_or("expected an index and a name")?;
    if parsed::<usize>(index, "an index")? != next {
        return Err(format!("expected column {next}"));
    }
    let inner = name.strip_prefix('"').and_then(|name| name.strip_suffix('"')).ok_or("expected a name in quotes")?;
    unescaped(inner).ok_or_else(|| "expected a name in quotes".to_owned())
}

/// Text without the escapes that `{:?}` writes.
fn unescaped(text: &str) -> Option<String> {
    let mut plain = String::new();
    let mut rest = text.chars();
    while let Some(c) = rest.next() {
        if c != '\\' {
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
                let digits: String = rest.by_ref().skip(1).take_while(|c| *c != '}').collect();
                char::from_u32(u32::from_str_radix(&digits, 16).ok()?)?
            }
            _ => return None,
        });
    }
    Some(plain)
}

fn remainder(text: &str, next: usize) -> Parsed<Remainder> {
    let words: Vec<&str> = text.split(' ').collect();
    let [index, "step", step, "columns", columns] = words[..] else {
        return Err("expected a step and columns".to_owned());
    };
    if parsed::<usize>(index, "an index")? != next {
        return Err(format!("expected remainder {next}"));
    }
    let columns = columns.split(',').map(|k| parsed(k, "an index")).collect::<Parsed<_>>()?;
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
            Entry::Split(parsed(k, "an index")?, read_said(less)?, read_said(more)?)
        }
        "split-remainder" => {
            let (index, sides) = two()?;
            let sides = sides.split_once(", ").map(|(less, more)| (less.strip_prefix("<="), more.strip_prefix(">=")));
            let Some((Some(most), Some(least))) = sides else { return Err("expected two sides".to_owned()) };
            Entry::SplitRemainder(parsed(index, "an index")?, dose(most)?, dose(least)?)
        }
        "split-d" => Entry::SplitD(number(rest)?),
        _ => return Err(format!("\"{}\" is not expected here", word.escape_debug())),
    })
}

fn read_said(text: &str) -> Parsed<Said> {
    Ok(match text.trim() {
        "out" => Said::Out,
        text => match (text.strip_prefix("in>="), text.strip_prefix(">="), text.strip_prefix("<=")) {
            (Some(least), ..) => Said::In(dose(least)?),
            (_, Some(least), _) => Said::AtLeast(dose(least)?),
            (.., Some(most)) => Said::AtMost(dose(most)?),
            _ => return Err(format!("expected a dose in place of \"{}\"", text.escape_debug())),
        },
    })
}

fn read_changes(text: &str) -> Parsed<Vec<Change>> {
    let change = |text: &str| {
        let (k, said) = text.trim().split_once(' ').ok_or("expected an index and a dose")?;
        Ok((parsed(k, "an index")?, read_said(said)?))
    };
    text.split(',').map(change).collect()
}

fn read_multipliers(text: &str) -> Parsed<Multipliers> {
    let mut words = text.split(' ').filter(|word| !word.is_empty());
    let objective = match words.next() {
        Some("0") => 0.0,
        Some("1") => 1.0,
        _ => return Err("expected the weight of the objective, 0 or 1".to_owned()),
    };
    let mut by = Multipliers { objective, ..Multipliers::default() };
    for word in words {
        let (name, value) = word.split_once('=').ok_or("expected a multiplier")?;
        let value = number(value)?;
        let list = match name.chars().next() {
            Some('s') if name == "s" => {
                by.sum = value;
                continue;
            }
            Some('d') if name == "d" => {
                by.d = value;
                continue;
            }
            Some('t') => &mut by.targets,
            Some('r') => &mut by.rules,
            Some('c') => &mut by.counts,
            Some('m') => &mut by.remainders,
            _ => return Err(format!("expected a multiplier in place of \"{}\"", name.escape_debug())),
        };
        list.push((parsed(&name[1..], "an index")?, value));
    }
    Ok(by)
}
