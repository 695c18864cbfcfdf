//! The form of characters: names that look the same should be the same.

use unicode_normalization::{IsNormalized, UnicodeNormalization, is_nfc_quick};

/// A text in Unicode's composed form (NFC, Unicode Standard Annex 15).
pub(crate) fn composed(text: String) -> String {
    if text.is_ascii() || is_nfc_quick(text.chars()) == IsNormalized::Yes { text } else { text.nfc().collect() }
}

/// A name as the eye compares it: without case, without the forms of accents and
/// letters that differ in code alone (NFKC), one blank for every run of blanks,
/// and nothing that cannot be seen.
pub(crate) fn folded(name: &str) -> String {
    let seen = name.nfkc().filter(|c| !crate::escape::steers(*c) || c.is_whitespace());
    let text: String = seen.collect::<String>().to_lowercase();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_look_one_text() {
        let [composed_form, decomposed] = ["N\u{e9}roli", "Ne\u{301}roli"];
        assert_eq!(composed(decomposed.to_owned()), composed_form);
        assert_eq!(composed(composed_form.to_owned()), composed_form);
        assert_eq!(composed("Nerol".to_owned()), "Nerol");
        for alike in ["Rose otto", "rose  otto", " ROSE\u{a0}OTTO ", "Rose\u{200b} otto", "\u{ff32}ose otto"] {
            assert_eq!(folded(alike), "rose otto", "{alike:?}");
        }
        assert_ne!(folded("Nerol"), folded("N\u{e9}rol"));
    }
}
