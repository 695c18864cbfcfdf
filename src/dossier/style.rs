//! The page's style sheet, on a screen, on a phone and on A4.

use std::fmt::Write as _;

use crate::html::align;

const SCREEN: &str = "\
* { box-sizing: border-box }
body { font: 15px/1.5 Inter, 'Helvetica Neue', Arial, sans-serif; color: #1d1b18; background: #fff; max-width: 1000px; margin: 0 auto; padding: 24px 20px }
h1 { font-size: 27px; line-height: 1.2; margin: 0 0 4px; font-weight: 600 }
h2 { font-size: 19px; line-height: 1.3; margin: 40px 0 6px; padding-top: 14px; border-top: 1px solid #c9c3b8; font-weight: 600 }
h3 { font-size: 15px; margin: 20px 0 2px; font-weight: 600 }
p { margin: 6px 0; max-width: 74ch } ul { margin: 6px 0; padding-left: 20px } li { max-width: 74ch }
.lead { color: #55504a } .quiet, .soft, .sub { color: #55504a; font-size: 13px } .sub { display: block }
.mark { font-weight: 600 } .alert { font-weight: 600; border-left: 4px solid #a3341f; padding-left: 10px }
.key { display: flex; flex-wrap: wrap; margin: 16px 0; padding: 1px 0 0 1px }
.key div { flex: 1 1 180px; border: 1px solid #ddd8ce; margin: -1px 0 0 -1px; padding: 10px 12px } .key b { display: block; font-size: 22px; line-height: 1.25; font-weight: 600 } .key span { display: block; font-size: 13px; color: #55504a }
.scroll { overflow-x: auto }
table { border-collapse: collapse; width: 100%; margin: 10px 0; font-size: 14px }
caption { text-align: left; font-size: 13px; color: #55504a; padding-bottom: 4px }
thead { display: table-header-group } tr { break-inside: avoid }
th { text-align: left; font-size: 12px; font-weight: 600; color: #55504a; border-bottom: 1px solid #1d1b18; padding: 4px 10px 4px 0; vertical-align: bottom }
td { border-bottom: 1px solid #e5e0d6; padding: 5px 10px 5px 0; vertical-align: top }
th.n, td.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap }
tbody th { vertical-align: top; padding-top: 5px; font-size: 14px; color: inherit; font-weight: 400; border-bottom: 1px solid #e5e0d6 }
tfoot td, tfoot th { font-weight: 600; border-bottom: 0; font-size: 14px; color: inherit }
figure { margin: 14px 0; break-inside: avoid } figure svg { width: 100%; height: auto; display: block }
figcaption { font-size: 13px; color: #55504a }
code { font-family: ui-monospace, Consolas, monospace; font-size: 12px; overflow-wrap: anywhere }
footer { margin-top: 40px; border-top: 2px solid #1d1b18; padding-top: 10px }
nav ol { columns: 2; margin: 8px 0; padding-left: 20px; font-size: 14px } a { color: inherit }
footer h2 { border-top: 0; margin-top: 0; padding-top: 0 } p.caution { margin-top: 12px } .cas { white-space: nowrap }
body { counter-reset: part } section h2::before { counter-increment: part; content: counter(part) \"\\2002\" }
@media print {
body { font-size: 10pt; max-width: none; padding: 0; line-height: 1.4 } p, li { max-width: none }
h1 { font-size: 18pt } h2 { font-size: 13pt; margin-top: 18px; padding-top: 8px; break-after: avoid } h3 { break-after: avoid } table { font-size: 9pt } .scroll { overflow: visible }
table, figure, .key, ul { break-inside: avoid } table.long { break-inside: auto } caption { break-after: avoid }
header { break-after: page } header h2 { margin-top: 8px; padding-top: 4px; border-top: 0 } header p { margin: 3px 0 }
header .key { margin: 6px 0 } .key div { flex-basis: 0; padding: 4px 8px } .key b { font-size: 13pt } .key span { font-size: 8pt }
header table { margin: 2px 0 } header td, header tbody th { padding-top: 2px; padding-bottom: 2px } header figure { margin: 2px 0 } header figure svg { max-height: 82mm } tbody th, tfoot th, tfoot td { font-size: 9pt } header .scroll ~ .quiet { font-size: 8.5pt }
header nav ol { columns: 3; font-size: 8.5pt; margin: 4px 0 } header .caution, figcaption, caption { font-size: 8.5pt }
}
@media (max-width: 600px) {
nav ol { columns: 1 } h1 { font-size: 22px } body { padding: 16px 14px }
.key div { flex-basis: 45% } .formula .cas { display: none }
figure { overflow-x: auto } figure svg { min-width: 620px }
}
";

/// The sheet, with what runs at the foot of each printed page. Page numbers are
/// printed there; the contents carry the numbers of the parts, since a browser does
/// not tell a page on which page another part of it is printed.
pub fn sheet(running: &str) -> String {
    let foot = quoted(running);
    format!(
        "@page {{ size: A4; margin: 12mm 13mm 16mm; \
         @bottom-left {{ content: {foot}; font: 8pt Inter, Arial, sans-serif; color: #55504a }} \
         @bottom-right {{ content: counter(page) \" / \" counter(pages); font: 8pt Inter, Arial, sans-serif; color: #55504a }} }}\n\
         {SCREEN}{}",
        align::STYLE
    )
}

/// A text as a string of a style sheet: whatever is no letter or digit is written as
/// its number, so that no title can end the string or the sheet.
fn quoted(text: &str) -> String {
    let mut quoted = "\"".to_owned();
    for character in text.chars() {
        if character.is_ascii_alphanumeric() || character == ' ' {
            quoted.push(character);
        } else {
            // Writing to a string cannot fail.
            let _ = write!(quoted, "\\{:x} ", u32::from(character));
        }
    }
    quoted + "\""
}

#[cfg(test)]
mod tests {
    use super::quoted;

    #[test]
    fn no_title_ends_the_sheet() {
        assert_eq!(quoted("Rose 2"), "\"Rose 2\"");
        assert_eq!(quoted("a\"}</style>"), "\"a\\22 \\7d \\3c \\2f style\\3e \"");
    }
}
