//! JSON that no terminal can be steered by.

use std::fmt::Write as _;
use std::io;

use serde::Serialize;
use serde_json::ser::{CompactFormatter, Formatter, PrettyFormatter, Serializer};

use crate::escape::steers;

/// A report as one indented JSON object with a line break at the end. Numbers
/// are the shortest decimals that read back as the same number, zero without a
/// sign; what is not finite is null.
pub fn text(report: &impl Serialize) -> String {
    written(report, PrettyFormatter::new())
}

/// The same on one line.
pub fn line(report: &impl Serialize) -> String {
    written(report, CompactFormatter)
}

/// Reads a line that was written so.
///
/// # Errors
/// It is something else.
pub fn read<T: serde::de::DeserializeOwned>(line: &str) -> Result<T, serde_json::Error> {
    serde_json::from_str(line)
}

fn written(report: &impl Serialize, formatter: impl Formatter) -> String {
    // Reports are plain structs with text keys, which cannot fail; were it to
    // happen, an empty object is no one's answer.
    let mut bytes = Vec::new();
    let written = report.serialize(&mut Serializer::with_formatter(&mut bytes, Unsigned(formatter)));
    let plain = written.ok().and_then(|()| String::from_utf8(bytes).ok()).unwrap_or_else(|| "{}".to_owned());
    let mut text = String::with_capacity(plain.len() + 1);
    for character in plain.chars() {
        // The serialiser escapes what JSON asks for; the rest of what could
        // steer a terminal stands inside strings alone.
        if character != '\n' && steers(character) {
            let mut units = [0; 2];
            for unit in character.encode_utf16(&mut units) {
                // Writing to a string cannot fail.
                let _ = write!(text, "\\u{unit:04x}");
            }
        } else {
            text.push(character);
        }
    }
    text.push('\n');
    text
}

/// JSON in which no zero has a sign: an empty sum is -0 to a machine and a riddle to a
/// reader.
struct Unsigned<F>(F);

impl<F: Formatter> Formatter for Unsigned<F> {
    fn write_f64<W: ?Sized + io::Write>(&mut self, writer: &mut W, value: f64) -> io::Result<()> {
        self.0.write_f64(writer, if value == 0.0 { 0.0 } else { value })
    }

    fn begin_array<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.begin_array(writer)
    }

    fn end_array<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_array(writer)
    }

    fn begin_array_value<W: ?Sized + io::Write>(&mut self, writer: &mut W, first: bool) -> io::Result<()> {
        self.0.begin_array_value(writer, first)
    }

    fn end_array_value<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_array_value(writer)
    }

    fn begin_object<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.begin_object(writer)
    }

    fn end_object<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_object(writer)
    }

    fn begin_object_key<W: ?Sized + io::Write>(&mut self, writer: &mut W, first: bool) -> io::Result<()> {
        self.0.begin_object_key(writer, first)
    }

    fn begin_object_value<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.begin_object_value(writer)
    }

    fn end_object_value<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_object_value(writer)
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn zeros_have_no_sign() {
        let text = super::text(&vec![-0.0, 1e-7, f64::NAN]);
        assert_eq!(text, "[\n  0.0,\n  1e-7,\n  null\n]\n");
        assert_eq!(super::line(&vec![-0.0, 1e-7, f64::NAN]), "[0.0,1e-7,null]\n");
    }

    #[test]
    fn steering_characters_are_escaped_and_read_back() {
        let name = "a\u{9b}31m\u{202e}\u{1b}\u{7f}é";
        let text = super::text(&name);
        assert!(text.trim_end().chars().all(|c| !crate::escape::steers(c)), "{text:?}");
        assert_eq!(serde_json::from_str::<String>(&text).unwrap(), name);
    }
}
