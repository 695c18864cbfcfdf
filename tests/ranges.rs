//! The tables of numbers in `profiles/FILES.md` say what the readers do.
//! `PERMIL_WRITE=1 cargo test --test ranges` writes them anew.

use std::path::Path;

use permil::files::keys::{ALL, FILES, NumberKey};
use permil::files::{load_formula, load_palette};

/// The row of a key: its table and name, what the reader takes from
/// `files/keys`, and its meaning, which the document may go on with.
fn row(key: &NumberKey) -> (String, String, String) {
    let (name, range) = (format!("| `{}` | `{}` | ", key.table, key.key), key.range());
    (name, format!("{range} | {} | {} | ", key.unit, key.default), key.meaning.to_owned())
}

#[test]
fn the_documentation_has_the_ranges_of_the_readers() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles/FILES.md");
    let text = std::fs::read_to_string(&path).unwrap();
    let is_written = std::env::var_os("PERMIL_WRITE").is_some();
    let mut anew: Vec<String> = Vec::new();
    let (mut file, mut missing) = ("", ALL.iter().collect::<Vec<_>>());
    let mut last_rows = std::collections::BTreeMap::new();
    for line in text.lines() {
        file = line.strip_prefix("## ").unwrap_or(file);
        if line.starts_with("| `") {
            last_rows.insert(file, anew.len() + 1);
        }
        let key = ALL.iter().find(|key| key.file == file && line.starts_with(&row(key).0));
        let Some(key) = key else {
            anew.push(line.to_owned());
            continue;
        };
        let (name, range, meaning) = row(key);
        let before = missing.len();
        missing.retain(|other| !std::ptr::eq(*other, key));
        assert_eq!(missing.len() + 1, before, "two rows: {line}");
        let cell = line[name.len()..].splitn(4, " | ").last().expect("a last cell");
        let further = cell.strip_prefix(&meaning).unwrap_or(" |");
        let wanted = format!("{name}{range}{meaning}{further}");
        assert!(is_written || line == wanted, "PERMIL_WRITE=1 cargo test --test ranges\n{line}\n{wanted}");
        anew.push(wanted);
    }
    // New ones come last in the table of their file, to be moved by hand; from the back on.
    missing.sort_by_key(|key| last_rows[key.file]);
    for key in missing.iter().rev() {
        let (name, range, meaning) = row(key);
        let line = format!("{name}{range}{meaning} |");
        assert!(is_written, "PERMIL_WRITE=1 cargo test --test ranges\nno row in {}: {line}", key.file);
        anew.insert(last_rows[key.file], line);
    }
    let sections: Vec<&str> = text.lines().filter_map(|line| line.strip_prefix("## ")).collect();
    assert!(FILES.iter().all(|file| sections.contains(file)), "{sections:?}");
    if is_written {
        std::fs::write(&path, anew.join("\n") + "\n").unwrap();
    }
}

#[test]
fn the_examples_of_palette_and_formula_load() {
    let text = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles/FILES.md")).unwrap();
    let example = |file: &str| {
        let section = text.split(&format!("\n## {file}\n")).nth(1).expect("a section");
        section.split("```toml\n").nth(1).and_then(|rest| rest.split("```").next()).expect("an example").to_owned()
    };
    let root = tempfile::tempdir().unwrap();
    for file in ["palette.toml", "formula.toml"] {
        std::fs::write(root.path().join(file), example(file)).unwrap();
    }
    let palette = load_palette(&root.path().join("palette.toml")).unwrap();
    assert_eq!(load_formula(&root.path().join("formula.toml"), &palette).unwrap().parts.len(), 2);
}
