//! Text from files, made fit to be shown.

/// The text with every control character written as an escape; tabs become
/// spaces. Characters that turn the direction of writing or cannot be seen
/// are escaped as well, because they make a line read otherwise than it is.
///
/// ```
/// assert_eq!(permil::escape::escaped("a\u{1b}[31m\n"), "a\\u{1b}[31m\\n");
/// ```
pub fn escaped(text: &str) -> String {
    let mut clean = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '\t' => clean.push(' '),
            '\n' => clean.push_str("\\n"),
            '\r' => clean.push_str("\\r"),
            _ if steers(character) => clean.extend(character.escape_unicode()),
            _ => clean.push(character),
        }
    }
    clean
}

/// Whether a character could steer a terminal, or makes a line read otherwise
/// than it is.
pub fn steers(character: char) -> bool {
    let unseen = matches!(character,
        '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{2069}' | '\u{FEFF}');
    character.is_control() || unseen
}
