//! JSON that no terminal can be steered by.

use std::fmt::Write;

use serde::Serialize;

use crate::escape::steers;

/// A report as one indented JSON object with a line break at the end. Numbers
/// are the shortest decimals that read back as the same number; what is not
/// finite is null.
pub fn text(report: &impl Serialize) -> String {
    // Reports are plain structs with text keys, which cannot fail; were it to
    // happen, an empty object is no one's answer.
    let plain = serde_json::to_string_pretty(report).unwrap_or_else(|_| "{}".to_owned());
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

#[cfg(test)]
mod tests {
    #[test]
    fn steering_characters_are_escaped_and_read_back() {
        let name = "a\u{9b}31m\u{202e}\u{1b}\u{7f}é";
        let text = super::text(&name);
        assert!(text.trim_end().chars().all(|c| !crate::escape::steers(c)), "{text:?}");
        assert_eq!(serde_json::from_str::<String>(&text).unwrap(), name);
    }
}
