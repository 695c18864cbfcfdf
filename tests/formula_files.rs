//! Formulas on disk: what is saved loads back equal, an older file is not
//! lost, and its comments stay.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use permil::brief::Basis;
use permil::files::{SaveError, formula_text, load_formula, load_formula_with_warnings, load_palette, save_formula};
use permil::formula::Formula;
use permil::palette::Palette;
use permil::units::Ppt;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use unicode_normalization::UnicodeNormalization;

const PALETTE: &str = include_str!("files/palette.toml");
const OLD: &str = include_str!("files/old.toml");

fn shelf(folder: &Path, text: &str) -> Palette {
    fs::write(folder.join("palette.toml"), text).unwrap();
    load_palette(&folder.join("palette.toml")).unwrap()
}

fn mod_three() -> Formula {
    let parts = vec![(0, Ppt::from_ppt(412.0)), (1, Ppt::from_ppt(587.4)), (2, Ppt::from_ppt(0.6))];
    Formula { file: None, title: Some("Mod 3".into()), basis: Basis::Neat, parts }
}

#[test]
fn text_of_a_formula() {
    let root = tempfile::tempdir().unwrap();
    let palette = shelf(root.path(), PALETTE);
    fs::create_dir(root.path().join("mods")).unwrap();
    let text = formula_text(&mod_three(), &palette, &root.path().join("mods/three.toml"));
    insta::assert_snapshot!(text, @r#"
    title = "Mod 3"
    palette = "../palette.toml"
    basis = "neat"

    [parts]
    Geraniol = 587.4
    "Phenylethyl alcohol" = 412
    "Guaiacwood oil" = 0.6
    "#);
}

#[test]
fn an_older_file_is_kept_unless_forced_and_its_comments_always() {
    let root = tempfile::tempdir().unwrap();
    let palette = shelf(root.path(), PALETTE);
    let path = root.path().join("old.toml");
    fs::write(&path, OLD).unwrap();
    assert!(matches!(save_formula(&path, &mod_three(), &palette, false), Err(SaveError::Exists(_))));
    assert_eq!(fs::read_to_string(&path).unwrap(), OLD);
    save_formula(&path, &mod_three(), &palette, true).unwrap();
    insta::assert_snapshot!(fs::read_to_string(&path).unwrap(), @r#"
    # The accord of last spring.
    title = "Mod 3"
    palette = "palette.toml"
    basis = "neat"

    [parts]
    Geraniol = 587.4 # the fresh lot
    "Phenylethyl alcohol" = 412
    "Guaiacwood oil" = 0.6
    "#);
    assert_eq!(fs::read_dir(root.path()).unwrap().count(), 2, "no temporary file stays");
}

#[test]
fn what_is_no_formula_is_no_obstacle_when_forced() {
    let root = tempfile::tempdir().unwrap();
    let palette = shelf(root.path(), PALETTE);
    let path = root.path().join("x.toml");
    for text in ["parts = 3\nparts = 4", "parts = { Geraniol = 1 }\nother = 2\n", "\u{0}"] {
        fs::write(&path, text).unwrap();
        save_formula(&path, &mod_three(), &palette, true).unwrap();
        assert_eq!(load_formula(&path, &palette).unwrap().parts, mod_three().parts, "{text}");
    }
    assert!(matches!(save_formula(root.path(), &mod_three(), &palette, true), Err(SaveError::Folder(_))));
    let nowhere = root.path().join("no/such/folder.toml");
    assert!(matches!(save_formula(&nowhere, &mod_three(), &palette, true), Err(SaveError::Io { .. })));
}

#[test]
fn another_palette_gives_a_warning() {
    let root = tempfile::tempdir().unwrap();
    let palette = shelf(root.path(), PALETTE);
    let path = root.path().join("f.toml");
    save_formula(&path, &mod_three(), &palette, false).unwrap();
    assert!(load_formula_with_warnings(&path, &palette).unwrap().1.is_empty());
    fs::create_dir(root.path().join("sub")).unwrap();
    let other = shelf(&root.path().join("sub"), PALETTE);
    assert_eq!(load_formula_with_warnings(&path, &other).unwrap().1.len(), 1);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, rng_seed: RngSeed::Fixed(5), failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever a material is called, and whatever its dose. Texts are read in composed
    /// form (src/files/form.rs), so that is the form they come back in.
    #[test]
    fn saved_formulas_load_back_equal(
        names in proptest::collection::btree_set("(?s).{1,12}", 1..6),
        units in proptest::collection::vec(1_i64..1_000_000_000_000, 6),
        title in proptest::option::of("(?s).{0,12}"),
        bottle: bool,
    ) {
        let composed = |text: String| text.nfc().collect::<String>();
        let names: BTreeSet<String> = names.into_iter().filter(|name| !name.trim().is_empty()).map(composed).collect();
        prop_assume!(!names.is_empty());
        let mut text = String::from("[descriptors]\nrosy = \"x\"\n");
        for name in &names {
            let name = toml_edit::Value::from(name.as_str());
            text += &format!("[[material]]\nname = {name}\nstrength = 1\n");
        }
        let root = tempfile::tempdir().unwrap();
        let palette = shelf(root.path(), &text);
        let parts = (0..names.len()).map(|index| (index, Ppt::from_units(units[index]))).collect();
        let basis = if bottle { Basis::Bottle } else { Basis::Neat };
        let formula = Formula { file: None, title: title.map(composed), basis, parts };
        let path = root.path().join("f.toml");
        for force in [false, true] {
            save_formula(&path, &formula, &palette, force).unwrap();
            let mut loaded = load_formula(&path, &palette).unwrap();
            loaded.file = None;
            prop_assert_eq!(&loaded, &formula);
        }
    }
}
