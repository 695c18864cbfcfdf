//! From text to a TOML table, going on after what cannot be understood, so
//! that one run tells of a missing quote and of a wrong number further down.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue, Error};

use super::fault::Sink;
use super::mend;
use super::source::Source;
use crate::escape::escaped;

/// Statements that are set aside before the rest is read as it is.
const ROUNDS: usize = 32;

/// Reports what is wrong with the TOML of the sink's source, and hands the
/// rest of it to `read`.
///
/// The parser stops or loses its way at some errors. So the statement that
/// holds the first error is overwritten with spaces, which leaves every other
/// byte in its place, and the text is parsed again.
pub(super) fn parse<T>(sink: &mut Sink<'_>, read: impl FnOnce(&Sink<'_>, &DeTable<'_>) -> T) -> T {
    let source = sink.source;
    let mut text = std::borrow::Cow::Borrowed(source.text.as_str());
    for round in 0.. {
        let (table, errors) = DeTable::parse_recoverable(&text);
        let first = errors.iter().filter(|error| !is_duplicate(error)).min_by_key(|error| start_of(error));
        let Some(first) = first else { break };
        let Some(span) = first.span() else {
            // Only nesting by an endless dotted key comes without a place.
            sink.report_file("nested too deeply", "");
            sink.broken.push(0..source.text.len());
            break;
        };
        let (line, statement) = statement_around(source, &text, table.get_ref(), span.start);
        let at = source.line_of(span.start);
        let late = line < at;
        // What is mended is the line of the error, or the one before that was
        // left open.
        let meant = [at, line].into_iter().find_map(|line| mend::mended(&text[source.line_range(line)]));
        let help = match meant {
            Some(meant) => format!("perhaps meant: {}", escaped(&meant)),
            None if late => format!("what begins on line {} is not complete before this", line + 1),
            None => String::new(),
        };
        sink.report(span.clone(), wording(first.message(), &text, &span), help);
        let stuck = round == ROUNDS || text[statement.clone()].trim().is_empty();
        if stuck {
            sink.broken.push(0..source.text.len());
            break;
        }
        sink.broken.push(statement.clone());
        text = blanked(&text, &statement).into();
    }
    let (table, errors) = DeTable::parse_recoverable(&text);
    for error in errors.iter().filter(|error| is_duplicate(error)) {
        report_duplicate(sink, error, &text);
    }
    read(sink, table.get_ref())
}

fn start_of(error: &Error) -> usize {
    error.span().map_or(0, |span| span.start)
}

/// Whether an error is about names used twice: the parser goes on after those.
fn is_duplicate(error: &Error) -> bool {
    error.message() == "duplicate key" || error.message().starts_with("cannot extend value")
}

fn report_duplicate(sink: &Sink<'_>, error: &Error, text: &str) {
    let span = error.span().unwrap_or(0..0);
    let name = super::snippet::short(text.get(span.clone()).unwrap_or_default());
    // Tables of which a file may hold several, if it says so.
    const LISTED: [&str; 10] =
        ["use", "group", "ratio", "material", "restriction", "allergen", "trial", "match", "equal", "stronger"];
    if error.message() == "duplicate key" && LISTED.contains(&name.as_str()) {
        let help = format!("several are written `[[{name}]]`, each of them");
        sink.report(span, format!("`[{name}]` stands twice"), help);
    } else if error.message() == "duplicate key" {
        sink.report(span, format!("duplicate key `{name}`"), "each key may stand once in a table");
    } else {
        sink.report(span, format!("`{name}` is not a table"), error.message());
    }
}

/// The parser's message, in the words of these messages.
fn wording(message: &str, text: &str, span: &Range<usize>) -> String {
    let rest = text.get(span.start..).unwrap_or_default();
    let at_end = rest.trim_start_matches([' ', '\t']).is_empty() || rest.starts_with(['\n', '\r', '#']);
    match message {
        "string values must be quoted, expected literal string" if at_end => "a value is missing after `=`".into(),
        "string values must be quoted, expected literal string" => {
            "not a value: expected a number, true, false, or a text in quotes".into()
        }
        "cannot recurse further; max recursion depth met" | "recursion limit" => "nested too deeply".into(),
        _ => escaped(message),
    }
}

/// The line on which the statement around an error begins, and its bytes.
fn statement_around(source: &Source, text: &str, table: &DeTable<'_>, offset: usize) -> (usize, Range<usize>) {
    let at = source.line_of(offset);
    let line_text = |line: usize| &text[source.line_range(line)];
    // A list or a text of several lines that is not closed is noticed later
    // only; what has to go begins at its key.
    let begin = value_around(table, offset).map_or(at, |key| source.line_of(key)).min(at);
    let header = is_header(line_text(begin));
    let ends = |line: &usize| is_header(line_text(*line)) || (!header && is_entry(line_text(*line)));
    let end = (begin + 1..source.line_count()).find(ends).unwrap_or(source.line_count());
    (begin, source.line_range(begin).start..source.line_range(end - 1).end)
}

/// Where the key of the value stands that holds a byte.
fn value_around(table: &DeTable<'_>, offset: usize) -> Option<usize> {
    let inner = |value: &DeValue<'_>| match value {
        DeValue::Table(table) => value_around(table, offset),
        DeValue::Array(items) => {
            items.iter().filter_map(|item| item.get_ref().as_table()).find_map(|table| value_around(table, offset))
        }
        _ => None,
    };
    // Tables under a header have the header as their span, so the byte may lie
    // in one of their values though not in that span.
    let holds = |value: &Spanned<DeValue<'_>>| value.span().start <= offset && offset <= value.span().end;
    let mut own = table.iter().filter(|(_, value)| holds(value)).map(|(key, _)| key.span().start);
    own.next().or_else(|| table.iter().find_map(|(_, value)| inner(value.get_ref())))
}

/// Whether a line looks like the header of a table.
fn is_header(line: &str) -> bool {
    let line = line.trim_start();
    let name = line.trim_start_matches('[');
    line.len() > name.len() && name.trim_start().starts_with(|c: char| c.is_ascii_alphanumeric() || "_-\"'".contains(c))
}

/// Whether a line looks like `key = value`; a key may be dotted, and any part
/// of it in quotes.
fn is_entry(line: &str) -> bool {
    let mut rest = line.trim_start();
    let mut named = false;
    loop {
        let after = match rest.chars().next() {
            Some(quote @ ('"' | '\'')) => rest[1..].split_once(quote).map_or(rest, |(_, after)| after),
            _ => rest.trim_start_matches(|c: char| c.is_ascii_alphanumeric() || "_-.".contains(c)),
        };
        if after.len() == rest.len() {
            return named && rest.trim_start().starts_with('=');
        }
        (rest, named) = (after, true);
    }
}

/// The text with a range overwritten with spaces; lines stay lines.
fn blanked(text: &str, range: &Range<usize>) -> String {
    let mut blank = String::with_capacity(text.len());
    blank += &text[..range.start];
    blank.extend(
        text[range.clone()].bytes().map(|byte| if byte == b'\n' || byte == b'\r' { byte as char } else { ' ' }),
    );
    blank += &text[range.end..];
    blank
}

#[cfg(test)]
mod tests {
    use super::is_entry;

    #[test]
    fn entries_with_any_kind_of_key() {
        for line in ["a=1", " a-b.c = 1", "\"a b\" = 1", "a.\"b c\" = 1", "'a'.b.'c' =", "\"\" = 1"] {
            assert!(is_entry(line), "{line}");
        }
        for line in ["", "= 1", "a", "a b = 1", "\"a = 1", "'a' b = 1", "{ a = 1 }", "[a] = 1"] {
            assert!(!is_entry(line), "{line}");
        }
    }
}
