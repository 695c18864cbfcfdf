//! Ways to break a text file: bytes, words, numbers, names, lines, nesting.

use proptest::prelude::*;
use proptest::sample::{Index, select};

use crate::folder::Folder;

/// What is put where a number stood.
const NUMBERS: &[&str] = &[
    "0",
    "-0.0",
    "0.0",
    "1",
    "-1",
    "1e-9",
    "1e-6",
    "1e-7",
    "1e-12",
    "5e-324",
    "2.2250738585072014e-308",
    "1e308",
    "1.7976931348623157e308",
    "1e309",
    "-1e400",
    "1e-400",
    "inf",
    "-inf",
    "+inf",
    "nan",
    "-nan",
    "1000",
    "1000.000001",
    "999.999999999",
    "1000.0000000001",
    "1000000",
    "1000001",
    "1e6",
    "1e9",
    "0.000001",
    "0.0000001",
    "0.333333333333",
    "100",
    "100.1",
    "10",
    "10.5",
    "9223372036854775807",
    "-9223372036854775808",
    "9223372036854775808",
    "170141183460469231731687303715884105728",
    "99999999999999999999999999999999999999999999",
    "0x7fffffffffffffff",
    "0xffffffffffffffffffffffffffffffffffffffff",
    "0o17",
    "0b1",
    "0x_",
    "1_000",
    "1__0",
    "01",
    "+5",
    "1.",
    ".5",
    "1e",
    "1E+3",
    "1e-3_0",
    "true",
    "false",
    "1979-05-27",
    "1979-05-27T07:32:00Z",
    "25:61:00",
    "\"1\"",
    "[]",
    "{}",
    "[1]",
    "",
];

/// What is put where a name or a text stood.
const TEXTS: &[&str] = &[
    "\"\"",
    "\" \"",
    "\"\\u001b[2J\"",
    "\"\\u0000\"",
    "\"a\\nb\"",
    "\"\\u202etxt\"",
    "\"\u{1b}[31mred\"",
    "'\u{7f}'",
    "\"\\uD800\"",
    "\"\\U0010FFFF\"",
    "\"\\x41\"",
    "\"\\e\"",
    "\"remarks\"",
    "\"rosy\"",
    "\"薔薇の香り\"",
    "\"e\u{301}\u{301}\u{301}\"",
    "\"👩‍👩‍👧‍👦\"",
    "\"=SUM(A1)\"",
    "\"@x\"",
    "\"-1+1\"",
    "\"<script>\"",
    "\"../palette.toml\"",
    "\"palette.toml\"",
    "\"brief.toml\"",
    "\"old.toml\"",
    "\".\"",
    "\"/\"",
    "\"/dev/null\"",
    "\"nowhere.toml\"",
    "\"a\\u0000b.toml\"",
    "\"60-12-8\"",
    "\"60-12-9\"",
    "\"1-1-1\"",
    "\"neat\"",
    "\"bottle\"",
    "\"level\"",
    "\"must\"",
    "\"never\"",
    "\"none\"",
    "\"all\"",
    "\"*\"",
    "\"\"\"\nx\n\"\"\"",
    "'''\n'''",
    "\"\"\"\"\"\"",
    "3",
    "true",
    "[]",
    "[\"a\"]",
    "{ a = 1 }",
    "\"\u{feff}\"",
    "\"\u{2028}\"",
];

/// What is put in anywhere.
const TOKENS: &[&str] = &[
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "=",
    ",",
    ".",
    "\"",
    "'",
    "\"\"\"",
    "'''",
    "\n",
    "\r",
    "\r\n",
    "\n\n",
    "#",
    "\\",
    "\0",
    "\u{1b}",
    "\u{85}",
    "\u{2028}",
    "é",
    "\u{feff}",
    "-",
    "+",
    "_",
    " ",
    "\t",
    "nan",
    "inf",
    "1e999",
    "0x",
    "true",
    "1979-05-27",
    "remarks = \"x\"\n",
    "remarks = 1\n",
    "a.b.c = 1\n",
    "\"\" = 1\n",
    "[target]\n",
    "[[material]]\n",
    "[[group]]\n",
    "[use]\n",
    "[[use]]\n",
    "[doses]\n",
    "[formula]\n",
    "name",
    "material",
    "step",
    "max",
    "min",
    "fixed = 1\n",
    "\u{fffd}",
];

/// Bytes that one repeated line may come to.
const LARGEST: usize = 1_000_000;

/// One way to break a text.
#[derive(Clone, Debug)]
pub enum Edit {
    /// A byte becomes another.
    Byte(Index, u8),
    /// Some bytes go.
    Cut(Index, usize),
    /// Some bytes stand somewhere else as well.
    Copy(Index, usize, Index),
    /// Everything after goes.
    Truncate(Index),
    /// Something is put in.
    Token(Index, &'static str),
    /// Two words change places.
    Swap(Index, Index),
    /// A number becomes another.
    Number(Index, &'static str),
    /// A text becomes another.
    Text(Index, &'static str),
    /// A word becomes another word of the same file.
    Word(Index, Index),
    /// A line goes, or comes many times.
    Line(Index, usize),
    /// Two lines change places.
    Lines(Index, Index),
    /// A value is wrapped in this many lists or tables.
    Nest(Index, usize, bool),
    /// A text, a comment or a key becomes this long.
    Long(Index, usize, char),
    /// The line ends of Windows.
    Windows,
    /// A mark at the beginning.
    Mark,
}

/// Broken scenarios made from sound ones.
pub fn strategy(seeds: &[Folder]) -> impl Strategy<Value = Folder> {
    let edits = prop::collection::vec((any::<Index>(), edit()), 0..7);
    (select(seeds.to_vec()), any::<Index>(), edits).prop_map(|(mut folder, main, edits)| {
        let main = main.index(folder.files.len());
        for (index, (file, edit)) in edits.into_iter().enumerate() {
            // Most edits go into one file, so that others stay sound.
            let file = if index % 3 == 2 { file.index(folder.files.len()) } else { main };
            apply(&mut folder.files[file].1, &edit);
        }
        folder
    })
}

fn edit() -> impl Strategy<Value = Edit> {
    let at = any::<Index>;
    let long = prop_oneof![4 => 1..200usize, 1 => 200..5_000usize, 1 => 50_000..200_000usize];
    let letter = select(vec!['a', 'é', '薔', '\u{301}', ' ', '1', '"', '.', '\\']);
    prop_oneof![
        3 => (at(), any::<u8>()).prop_map(|(at, byte)| Edit::Byte(at, byte)),
        2 => (at(), 1..30usize).prop_map(|(at, length)| Edit::Cut(at, length)),
        2 => (at(), 1..60usize, at()).prop_map(|(from, length, to)| Edit::Copy(from, length, to)),
        1 => at().prop_map(Edit::Truncate),
        4 => (at(), select(TOKENS)).prop_map(|(at, token)| Edit::Token(at, token)),
        3 => (at(), at()).prop_map(|(a, b)| Edit::Swap(a, b)),
        8 => (at(), select(NUMBERS)).prop_map(|(at, number)| Edit::Number(at, number)),
        5 => (at(), select(TEXTS)).prop_map(|(at, text)| Edit::Text(at, text)),
        4 => (at(), at()).prop_map(|(a, b)| Edit::Word(a, b)),
        3 => (at(), prop_oneof![4 => 0..4usize, 1 => 100..3000usize]).prop_map(|(at, times)| Edit::Line(at, times)),
        2 => (at(), at()).prop_map(|(a, b)| Edit::Lines(a, b)),
        2 => (at(), prop_oneof![3 => 1..100usize, 1 => 100..30_000usize], any::<bool>())
            .prop_map(|(at, depth, list)| Edit::Nest(at, depth, list)),
        2 => (at(), long, letter).prop_map(|(at, length, letter)| Edit::Long(at, length, letter)),
        1 => Just(Edit::Windows),
        1 => Just(Edit::Mark),
    ]
}

/// The byte ranges of words: numbers, names, texts in quotes.
fn words(bytes: &[u8]) -> Vec<std::ops::Range<usize>> {
    let mut found = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        let start = at;
        if bytes[at] == b'"' || bytes[at] == b'\'' {
            let quote = bytes[at];
            at += 1;
            while at < bytes.len() && bytes[at] != quote && bytes[at] != b'\n' {
                at += 1;
            }
            at = (at + 1).min(bytes.len());
            found.push(start..at);
        } else if bytes[at].is_ascii_alphanumeric() || b"+-_.".contains(&bytes[at]) {
            while at < bytes.len() && (bytes[at].is_ascii_alphanumeric() || b"+-_.:".contains(&bytes[at])) {
                at += 1;
            }
            found.push(start..at);
        } else {
            at += 1;
        }
    }
    found
}

fn lines(bytes: &[u8]) -> Vec<&[u8]> {
    bytes.split_inclusive(|byte| *byte == b'\n').collect()
}

/// One of the words for which something holds.
fn word(bytes: &[u8], at: &Index, holds: impl Fn(&[u8]) -> bool) -> Option<std::ops::Range<usize>> {
    let fitting: Vec<_> = words(bytes).into_iter().filter(|range| holds(&bytes[range.clone()])).collect();
    (!fitting.is_empty()).then(|| at.get(&fitting).clone())
}

/// Breaks a text.
pub fn apply(bytes: &mut Vec<u8>, edit: &Edit) {
    let length = bytes.len();
    let any_word = |_: &[u8]| true;
    let is_text = |word: &[u8]| word.starts_with(b"\"") || word.starts_with(b"'");
    let is_number =
        |word: &[u8]| word[0].is_ascii_digit() || (word.len() > 1 && word[1].is_ascii_digit() && !is_text(word));
    match edit {
        Edit::Byte(at, byte) if length > 0 => bytes[at.index(length)] = *byte,
        Edit::Cut(at, count) if length > 0 => {
            let at = at.index(length);
            bytes.drain(at..(at + count).min(length));
        }
        Edit::Copy(from, count, to) if length > 0 => {
            let from = from.index(length);
            let copy = bytes[from..(from + count).min(length)].to_vec();
            let to = to.index(length + 1);
            bytes.splice(to..to, copy);
        }
        Edit::Truncate(at) => bytes.truncate(at.index(length + 1)),
        Edit::Token(at, token) => {
            let at = at.index(length + 1);
            bytes.splice(at..at, token.bytes());
        }
        Edit::Swap(a, b) => {
            let (Some(a), Some(b)) = (word(bytes, a, any_word), word(bytes, b, any_word)) else { return };
            let (first, second) = if a.start < b.start { (a, b) } else { (b, a) };
            if first.end <= second.start {
                let (one, other) = (bytes[first.clone()].to_vec(), bytes[second.clone()].to_vec());
                bytes.splice(second, one);
                bytes.splice(first, other);
            }
        }
        Edit::Number(at, number) => {
            if let Some(range) = word(bytes, at, is_number) {
                bytes.splice(range, number.bytes());
            }
        }
        Edit::Text(at, text) => {
            if let Some(range) = word(bytes, at, is_text) {
                bytes.splice(range, text.bytes());
            }
        }
        Edit::Word(a, b) => {
            if let (Some(a), Some(b)) = (word(bytes, a, any_word), word(bytes, b, any_word)) {
                let other = bytes[b].to_vec();
                bytes.splice(a, other);
            }
        }
        Edit::Line(at, times) if length > 0 => {
            let all = lines(bytes);
            let at = at.index(all.len());
            // Files of many megabytes are slow to read, and no worse than these.
            let repeated = all[at].repeat((*times).min(LARGEST / all[at].len()));
            *bytes = [all[..at].concat(), repeated, all[at + 1..].concat()].concat();
        }
        Edit::Lines(a, b) if length > 0 => {
            let mut all = lines(bytes);
            let (a, b) = (a.index(all.len()), b.index(all.len()));
            all.swap(a, b);
            *bytes = all.concat();
        }
        Edit::Nest(at, depth, list) => {
            let Some(range) = word(bytes, at, any_word) else { return };
            let (open, close) = if *list { ("[", "]") } else { ("{a=", "}") };
            let inner = bytes[range.clone()].to_vec();
            let nested = [open.repeat(*depth).into_bytes(), inner, close.repeat(*depth).into_bytes()].concat();
            bytes.splice(range, nested);
        }
        Edit::Long(at, count, letter) => {
            let Some(range) = word(bytes, at, any_word) else { return };
            let at = range.start + usize::from(is_text(&bytes[range.clone()]));
            bytes.splice(at..at, letter.to_string().repeat(*count).into_bytes());
        }
        Edit::Windows => {
            let text: Vec<u8> =
                bytes.iter().flat_map(|b| if *b == b'\n' { vec![b'\r', b'\n'] } else { vec![*b] }).collect();
            *bytes = text;
        }
        Edit::Mark => drop(bytes.splice(0..0, "\u{feff}".bytes())),
        _ => {}
    }
}
