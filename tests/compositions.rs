//! Published compositions as they are read: what is on the shelf, what is not,
//! and what the numbers count.

use std::path::Path;

use permil::composition::Composition;
use permil::files::{load_composition, load_palette};

const PALETTE: &str = r#"
[descriptors]
rosy = "petals"
[[material]]
name = "Geraniol"
cas = "106-24-1"
strength = 20
[[material]]
name = "Phenylethyl alcohol"
cas = "60-12-8"
strength = 10
bottle = { percent = 50, carrier = "Solvent" }
[[material]]
name = "Solvent"
strength = 0
"#;

fn read(text: &str) -> Result<(Composition, Vec<String>), String> {
    let folder = tempfile::tempdir().unwrap();
    let of = |name: &str, text: &str| {
        std::fs::write(folder.path().join(name), text).unwrap();
        folder.path().join(name)
    };
    let palette = load_palette(&of("palette.toml", PALETTE)).unwrap();
    let read = load_composition(&of("gc.toml", text), &palette);
    read.map_err(|faults| faults.iter().map(|fault| fault.message.clone()).collect::<Vec<_>>().join("\n"))
}

#[test]
fn parts_are_found_by_name_then_by_number() {
    let (read, warnings) = read(
        r#"
source = "invented for this test"
[parts]
"geraniol " = { percent = 30 }
"2-Phenylethanol" = { percent = 20, cas = "60-12-8" }
"cis-Jasmone" = { percent = 10, cas = "488-10-8", strength = 300 }
"#,
    )
    .unwrap();
    let found: Vec<_> = read.parts.iter().map(|part| (part.material, part.percent, part.strength)).collect();
    assert_eq!(found, [(Some(0), 30.0, None), (Some(1), 20.0, None), (None, 10.0, Some(300.0))]);
    assert_eq!((read.unknown_percent, read.known_percent()), (40.0, 60.0));
    assert_eq!(read.source.as_deref(), Some("invented for this test"));
    assert_eq!(
        read.lacking().map(|part| (part.name.as_str(), part.place.line)).collect::<Vec<_>>(),
        [("cis-Jasmone", 6)]
    );
    assert!(warnings.is_empty(), "{warnings:?}");
}

#[test]
fn parts_count_whatever_their_sum_and_bottles_what_they_hold() {
    let (plain, _) = read("unknown_percent = 20\n[parts]\n\"Geraniol\" = 3\n\"Nerol\" = { parts = 1 }\n").unwrap();
    assert_eq!(plain.parts.iter().map(|part| part.percent).collect::<Vec<_>>(), [60.0, 20.0]);
    let (poured, _) = read("basis = \"bottle\"\n[parts]\nGeraniol = 50\n\"Phenylethyl alcohol\" = 50\n").unwrap();
    let found: Vec<_> = poured.parts.iter().map(|part| (part.material, part.percent)).collect();
    assert_eq!(found, [(Some(0), 50.0), (Some(1), 25.0), (Some(2), 25.0)]);
}

#[test]
fn another_number_under_the_same_name_is_told() {
    let (read, warnings) = read("[parts]\n\"Geraniol\" = { percent = 100, cas = \"106-25-2\" }\n").unwrap();
    assert_eq!(read.parts[0].material, Some(0));
    assert!(warnings.len() == 1 && warnings[0].contains("106-25-2"), "{warnings:?}");
}

#[test]
fn what_is_no_whole_is_a_fault() {
    for (text, told) in [
        ("[parts]\nGeraniol = { percent = 99 }\nNerol = { percent = 4 }\n", "add up to 103, not to 100"),
        ("unknown_percent = 5\n[parts]\nGeraniol = { percent = 60 }\n", "add up to 65, not to 100"),
        ("[parts]\nGeraniol = { percent = 60 }\nNerol = 4\n", "beside each other"),
        ("[parts]\nGeraniol = { percent = 60, parts = 2 }\n", "say the same thing"),
        ("[parts]\nGeraniol = { cas = \"106-24-1\" }\n", "how much of it"),
        ("[parts]\nGeraniol = { percent = 60, cas = \"106-24-2\" }\n", "check digit"),
        ("[parts]\nGeraniol = 0\n", "no parts"),
        ("title = \"a\"\n", "`parts` is missing"),
        ("basis = \"bottle\"\n[parts]\nNerol = 4\n", "no material of the palette"),
        ("[parts]\nNerol = 4\n[part]\n", "unknown key `part`"),
    ] {
        let faults = read(text).expect_err(text);
        assert!(faults.contains(told), "{text}\n{faults}");
        assert_eq!(faults.lines().count(), 1, "{text}\n{faults}");
    }
    assert!(load_composition(Path::new("no/such.toml"), &load_palette_of_test()).is_err());
}

fn load_palette_of_test() -> permil::palette::Palette {
    load_palette(Path::new("tests/files/palette.toml")).unwrap()
}
