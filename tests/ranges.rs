//! The tables of numbers in `profiles/FILES.md` say what the readers do.
//! `PERMIL_WRITE=1 cargo test --test ranges` writes them anew.

use std::path::Path;

use permil::files::keys::{ALL, FILES};
use permil::files::{load_formula, load_palette};

const BEGIN: &str = "<!-- ranges: written from src/files/keys.rs by tests/ranges.rs -->\n";
const END: &str = "<!-- end of ranges -->\n";

fn tables() -> String {
    let mut text = String::new();
    for file in FILES {
        text += &format!(
            "\n### {file}\n\n| table | key | range | counts | where absent | meaning |\n|---|---|---|---|---|---|\n"
        );
        for key in ALL.iter().filter(|key| key.file == file) {
            let (table, name, range) = (key.table, key.key, key.range());
            text += &format!("| `{table}` | `{name}` | {range} | {} | {} | {} |\n", key.unit, key.default, key.meaning);
        }
    }
    text + "\n"
}

#[test]
fn the_documentation_has_the_ranges_of_the_readers() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles/FILES.md");
    let text = std::fs::read_to_string(&path).unwrap();
    let (before, rest) = text.split_once(BEGIN).expect("the opening marker");
    let (written, after) = rest.split_once(END).expect("the closing marker");
    if std::env::var_os("PERMIL_WRITE").is_some() {
        std::fs::write(&path, format!("{before}{BEGIN}{}{END}{after}", tables())).unwrap();
        return;
    }
    assert_eq!(written, tables(), "run PERMIL_WRITE=1 cargo test --test ranges");
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
