//! What is said of broken files: rendered messages as snapshots, and that no
//! text whatever brings the readers down.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use insta::assert_snapshot;
use permil::files::{LARGEST_FILE, load_formula, load_palette, load_scenario, load_scenario_to_buy};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

const PALETTE: &str = include_str!("files/palette.toml");
const BRIEF: &str = include_str!("files/brief.toml");
const LIMITS: &str = include_str!("files/limits.toml");
const OLD: &str = include_str!("files/old.toml");

/// A folder with valid files, reached by a path that is the same on every
/// machine: messages quote it.
struct Folder {
    name: PathBuf,
}

impl Folder {
    fn new(name: &str) -> Folder {
        static ROOT: OnceLock<tempfile::TempDir> = OnceLock::new();
        ROOT.get_or_init(|| {
            let root = tempfile::tempdir().unwrap();
            std::env::set_current_dir(root.path()).unwrap();
            root
        });
        fs::create_dir_all(name).unwrap();
        let folder = Folder { name: name.into() };
        folder
            .write("palette.toml", PALETTE)
            .write("brief.toml", BRIEF)
            .write("limits.toml", LIMITS)
            .write("old.toml", OLD);
        folder
    }

    fn write(&self, file: &str, text: impl AsRef<[u8]>) -> &Folder {
        fs::write(self.name.join(file), text).unwrap();
        self
    }

    /// Replaces texts in a file; each must be there once.
    fn change(&self, file: &str, changes: &[(&str, &str)]) -> &Folder {
        let mut text = fs::read_to_string(self.name.join(file)).unwrap();
        for (from, to) in changes {
            assert_eq!(text.matches(from).count(), 1, "{from}");
            text = text.replace(from, to);
        }
        self.write(file, text)
    }

    fn brief(&self) -> PathBuf {
        self.name.join("brief.toml")
    }

    fn scenario(&self) -> String {
        match load_scenario(&self.brief()) {
            Ok(scenario) => format!("no faults; warnings: {:#?}", scenario.warnings),
            Err(faults) => faults.to_string(),
        }
    }
}

#[test]
fn valid_files_have_no_faults() {
    assert_eq!(Folder::new("valid").scenario(), "no faults; warnings: []");
}

#[test]
fn values_of_a_palette() {
    let folder = Folder::new("palette");
    let changes = [
        ("currency = \"EUR\"", "currency = \"\""),
        ("60-12-8", "60-12-9"),
        ("106-24-1", "106-24"),
        ("strength_factor = 1.5", "strength_factor = 0.5"),
        ("rosy = 8,", "rosey = 8,"),
        ("score_error = 1.0", "score_error = true"),
        ("price = 14.0", "prise = 14.0"),
        ("min = 2\n", "min = \"two\"\n"),
        ("step = 1\n", "step = 0.0000001\n"),
        ("note = \"heart\"", "note = \"hart\""),
        ("lasting = 12", "lasting = -inf"),
        ("stock = 50", "stock = 1e400"),
        ("strength = 70", "strength = nan"),
        ("price = 28", "price = 1979-05-27"),
        ("tags = [\"alcohol\"]\nmax_in", "tags = [\"alcohol\", \"alcohol\", 3]\nmax_in"),
        ("woody = 8", "woody = 11"),
        ("percent = 100", "percent = 0"),
        ("\"97-53-0\" = 0.1", "\"97-53-1\" = 0.1"),
        ("have = false", "have = \"no\""),
        ("strength = 0\n", "strength = 0\nscores = { rosy = 1 }\n"),
    ];
    assert_snapshot!(folder.change("palette.toml", &changes).scenario());
}

#[test]
fn names_and_bounds_of_a_palette() {
    let folder = Folder::new("palette_names");
    let changes = [
        ("max = 600", "max = 1"),
        ("name = \"Rose otto\"\n", ""),
        ("name = \"Geraniol\"", "name = \"Phenylethyl alcohol\""),
        ("carrier = \"Dipropylene glycol\"", "carrier = \"Guaiacwood oil\""),
    ];
    assert_snapshot!(folder.change("palette.toml", &changes).scenario());
}

#[test]
fn packs_of_a_palette() {
    let folder = Folder::new("packs");
    let changes = [
        ("price = 14.0\n", "price = 14.0\npacks = [{ grams = 5, price = 4 }, { grams = 0, price = 4 }]\n"),
        ("price = 28\n", "price = 28\npacks = { grams = 5 }\n"),
        ("price = 30\n", "price = 30\npacks = []\n"),
        ("have = false\n", "have = false\npacks = [{ gram = 5, grams = inf, price = 0 }, 3]\n"),
        ("price = 3\n", "price = 3\npacks = \"5 g\"\n"),
    ];
    assert_snapshot!(folder.change("palette.toml", &changes).scenario());
}

const WISHLIST: &str = r#"
[descriptors]
green = "cut grass"
rosy = "rose petals"
[[material]]
name = "Rhodinol"
strength = 60
scores = { rosy = 8, green = 1 }
price = 60
tags = ["alcohol"]
packs = { grams = 5, price = 4 }
[[material]]
name = "Hexenol"
strength = 900
scores = { green = 9 }
price = 40
"#;

impl Folder {
    fn to_buy(&self) -> Result<permil::files::Scenario, String> {
        load_scenario_to_buy(&self.brief(), Some(&self.name.join("wishlist.toml"))).map_err(|faults| faults.to_string())
    }
}

#[test]
fn a_wishlist_joins_the_palette() {
    let folder = Folder::new("wishlist");
    folder.write("wishlist.toml", WISHLIST).change("palette.toml", &[("have = false", "price = 9000\nhave = false")]);
    let scenario = folder.to_buy().unwrap();
    let materials = &scenario.palette.materials;
    let [.., rhodinol, hexenol] = &materials[..] else { panic!("materials") };
    // Scores follow the names of the descriptors, not their order.
    assert_eq!((&*rhodinol.name, &rhodinol.scores[..]), ("Rhodinol", &[8.0, 1.0, 0.0][..]));
    assert_eq!((&*hexenol.name, &hexenol.scores[..]), ("Hexenol", &[0.0, 9.0, 0.0][..]));
    assert!(!rhodinol.have && !hexenol.have && rhodinol.packs.len() == 1);
    assert!(rhodinol.place.file.ends_with("wishlist.toml"));
    // Groups of the brief take them in by their tags.
    let alcohols = scenario.brief.groups.iter().find(|group| group.name == "alcohols").unwrap();
    assert!(alcohols.materials.contains(&(materials.len() - 2)));
}

#[test]
fn a_wishlist_that_does_not_fit_the_palette() {
    let folder = Folder::new("wishlist_faults");
    let wishlist = WISHLIST
        .replace("[descriptors]\n", "currency = \"USD\"\nscale = 5\n[descriptors]\nrosey = \"rose\"\n")
        .replace("name = \"Hexenol\"", "name = \"Geraniol\"")
        .replace("rosy = 8", "rosy = 4")
        .replace("green = 9", "green = 4")
        .replace("price = 40\n", "");
    folder.write("wishlist.toml", &wishlist);
    assert_snapshot!(folder.to_buy().unwrap_err());
    // What is left out of the wishlist differs from what the palette says.
    folder.change("palette.toml", &[("currency = \"EUR\"", "currency = \"GBP\"")]);
    folder.write("wishlist.toml", WISHLIST);
    assert_snapshot!("a_wishlist_without_a_currency", folder.to_buy().unwrap_err());
    let missing = load_scenario_to_buy(&folder.brief(), Some(Path::new("nowhere.toml"))).unwrap_err().to_string();
    assert!(missing.contains("nowhere.toml does not exist"), "{missing}");
}

#[test]
fn whoever_asks_what_to_buy_needs_its_price() {
    let folder = Folder::new("wishlist_prices");
    folder.write("wishlist.toml", WISHLIST.replace("price = 60\n", ""));
    folder.change("palette.toml", &[("name = \"Rose otto\"", "name = \"Rose absolute\"")]);
    let only = "only = [\"Phenylethyl alcohol\", \"Geraniol\", \"Guaiacwood oil\", \"Dipropylene glycol\"]\n";
    folder.change("brief.toml", &[("target_from = \"Rose otto\"\n", ""), (only, "")]);
    assert_snapshot!(folder.to_buy().unwrap_err());
}

#[test]
fn bounds_of_a_diluted_material_meet_in_the_basis_of_the_brief() {
    let folder = Folder::new("diluted_bounds");
    // Half of what the bottle pours is the material: 12 poured are 6 neat.
    folder.change("palette.toml", &[("name = \"Guaiacwood oil\"", "name = \"Guaiacwood oil\"\nmin = 12\nmax = 10")]);
    assert_eq!(folder.scenario(), "no faults; warnings: []", "the brief has a least dose of its own");
    folder.change("brief.toml", &[("{ min = 0.2, max = 400,", "{ max = 400,")]);
    assert_snapshot!(folder.scenario());
    folder.change("brief.toml", &[("basis = \"neat\"", "basis = \"bottle\"")]);
    assert_eq!(folder.scenario(), "no faults; warnings: []");
}

#[test]
fn values_of_a_brief() {
    let folder = Folder::new("brief");
    let changes = [
        ("match = \"balance\"", "match = \"Balance\""),
        ("rosy = 8", "rosie = 8"),
        ("min = 0.5", "min = 6"),
        ("basis = \"neat\"", "basis = \"bottel\""),
        ("max_materials = 9", "max_materials = 2.5"),
        ("min = 30, max = 80", "min = 90, max = 80"),
        ("\"Geraniol\", \"Gua", "\"Geraniol\", \"Geraniol\", \"Gua"),
        ("\"4\", \"leave-on\"", "\"4\", \"leave-in\", \"*\""),
        ("dosage = 18", "dosage = 0"),
        ("accord_share = 40", "accord_share = 100.5"),
        ("use = \"must\"", "use = \"mast\""),
        ("{ max = 100 }", "{ fixed = 100, use = \"never\" }"),
        ("\"Geraniol\" = { fixed = 280 }", "\"geraniol\" = { fixed = 0 }"),
        ("tag = \"alcohol\"", "tag = \"alcohols\""),
        ("to = \"Geraniol\"", "to = \"Phenylethyl alcohol\""),
    ];
    assert_snapshot!(folder.change("brief.toml", &changes).scenario());
}

#[test]
fn what_a_brief_leaves_out() {
    let folder = Folder::new("left_out");
    let changes = [
        ("only = [\"Phenylethyl alcohol\", \"Geraniol\", \"Guaiacwood oil\", \"Dipropylene glycol\"]", "only = []"),
        ("[use]\ncategory = [\"4\", \"leave-on\"]", "[[use]]\nname = \"Soap\"\n[[use]]"),
        ("min = 0.2, max = 400, step = 0.1, use", "min = 0, max = 400, use"),
        ("step = 1\n", ""),
        ("tag = \"alcohol\"\n", ""),
        ("min = 1.0\nmax = 3.0\n", "[[group]]\nname = \"alcohols\"\nmaterials = []\nmax = 3\n"),
    ];
    assert_snapshot!(folder.change("brief.toml", &changes).scenario());
}

#[test]
fn a_target_that_wants_nothing() {
    let folder = Folder::new("empty_target");
    let changes = [
        ("target_from = \"Rose otto\"\n", ""),
        ("rosy = 8", "rosy = 0"),
        ("score = 3, weight = 2", "score = 3, weight = 0"),
    ];
    assert_snapshot!(folder.change("brief.toml", &changes).scenario());
}

#[test]
fn target_scores_stay_on_the_scale() {
    let folder = Folder::new("scale");
    folder.change("brief.toml", &[("rosy = 8", "rosy = 10.5"), ("max = 5 }", "max = 11, min_ = 1 }")]);
    assert_snapshot!(folder.scenario());
}

#[test]
fn values_of_limits() {
    let folder = Folder::new("limits");
    let changes = [
        ("[\"97-53-0\"]", "[\"97-53-0\", \"97-53-0\"]"),
        ("verified = true", "verified = 1"),
        ("\"4\" = 2.5, \"leave-on\" = \"none\"", "\"4\" = 101, \"leave-on\" = 0, \"9\" = \"non\""),
        ("substance = \"Geraniol\"", "substance = \"Eugenol\""),
        ("source = \"from memory\"\n", ""),
    ];
    folder.change("limits.toml", &changes);
    assert_snapshot!(folder.scenario());
    let twice = Folder::new("limits_twice");
    twice.change("limits.toml", &[("substance = \"Geraniol\"", "substance = \"Eugenol\"")]);
    assert_snapshot!("one_substance_twice", twice.scenario());
}

#[test]
fn limits_need_a_product() {
    let folder = Folder::new("no_use");
    let product =
        "[use]\ncategory = [\"4\", \"leave-on\"]\ndosage = 18\naccord_share = 40\nreserve = { \"106-24-1\" = 0.5 }\n";
    assert_snapshot!(folder.change("brief.toml", &[(product, "")]).scenario());
}

#[test]
fn a_formula_as_target() {
    let folder = Folder::new("from_formula");
    folder.change("brief.toml", &[("target_from = \"Rose otto\"", "target_from = { formula = \"old.toml\" }")]);
    assert_eq!(folder.scenario(), "no faults; warnings: []");
    folder.change("old.toml", &[("Geraniol = 400.5", "Geranoil = -1"), ("basis", "bases")]);
    assert_snapshot!(folder.scenario());
}

#[test]
fn syntax_and_sense_in_one_run() {
    let folder = Folder::new("syntax");
    let changes = [
        ("title = \"Rose otto stand-in\"", "title \"Rose otto stand-in\""),
        ("match = \"balance\"", "match = balance"),
        ("rosy = 8", "rosy ="),
        ("min_dose = 2", "min_dose = -2"),
        ("max_materials = 9", "max_materials = 9\nmax_materials = 10"),
        ("[\"4\", \"leave-on\"]", "[\"4\", \"leave-on\""),
        ("reserve = { \"106-24-1\" = 0.5 }", "reserve = { \"106-24-1\" = 0.5 "),
        ("name = \"alcohols\"", "name = \"alcohols"),
        ("[[ratio]]", "[[ratio]"),
    ];
    assert_snapshot!(folder.change("brief.toml", &changes).scenario());
}

#[test]
fn a_budget_needs_prices() {
    let folder = Folder::new("prices");
    folder.change("palette.toml", &[("price = 28\n", ""), ("price = 3\n", "")]);
    assert_snapshot!(folder.scenario());
    // What the brief cannot use needs none.
    folder.change(
        "brief.toml",
        &[("{ fixed = 280 }", "{ use = \"never\" }"), ("\"Dipropylene glycol\" = { max = 100 }\n", "")],
    );
    assert_snapshot!("carriers_that_only_names", folder.scenario());
}

#[test]
fn control_characters_never_reach_the_terminal() {
    let folder = Folder::new("escapes");
    folder.change("palette.toml", &[("name = \"Geraniol\"", "name = \"Ger\\u001b[31maniol\"\n\"\\u001b[2Jx\" = 1\n")]);
    folder.change("brief.toml", &[("title = \"Rose", "title = \"\u{1b}[2J\u{202e}Rose")]);
    let text = folder.scenario();
    assert!(!text.contains('\u{1b}') && !text.contains('\u{202e}'), "{text:?}");
    assert_snapshot!(text);
    let coloured = load_scenario(&folder.brief()).unwrap_err().render(true);
    assert!(coloured.contains("\u{1b}[31merror:"), "{coloured:?}");
}

#[test]
fn files_that_cannot_be_read() {
    let folder = Folder::new("unreadable");
    folder
        .change("brief.toml", &[("palette.toml", "pallete.toml"), ("limits.toml", ".."), ("step = 1\n", "step = 0\n")]);
    assert_snapshot!(folder.scenario());
    folder.write("brief.toml", b"title = \"x\"\nname = \"\xc3\xa9 Ros\xe9\"\n");
    assert_snapshot!("not_utf8", folder.scenario());
    assert_snapshot!("no_such_brief", load_scenario(Path::new("nowhere/brief.toml")).unwrap_err().to_string());
    assert_snapshot!("a_folder", load_scenario(&folder.name).unwrap_err().to_string());
    let big = folder.name.join("palette.toml");
    fs::File::create(&big).unwrap().set_len(LARGEST_FILE + 1024 * 1024).unwrap();
    assert_snapshot!("too_big", load_palette(&big).unwrap_err().to_string());
}

#[test]
fn empty_files() {
    let folder = Folder::new("empty");
    folder.write("palette.toml", "").write("limits.toml", "");
    assert_snapshot!(folder.scenario());
    folder.write("brief.toml", "");
    assert_snapshot!("an_empty_brief", folder.scenario());
}

#[test]
fn tables_of_the_wrong_kind() {
    let folder = Folder::new("kinds");
    folder.write("palette.toml", "descriptors = 3\nmaterial = 4\n");
    let brief = "palette = \"palette.toml\"\nlimits = [1]\ntarget = 3\nformula = []\nuse = 3\ndoses = []\ngroup = [3]\n\
                 ratio = {}\nbudget = \"x\"\ntarget_from = 3\nremarks = 4\n";
    assert_snapshot!(folder.write("brief.toml", brief).scenario());
}

#[test]
fn every_fault_has_a_place() {
    let folder = Folder::new("places");
    for brief in ["".to_owned(), "\r".repeat(9), format!("[{}]\n", ["a"; 9000].join(".")), "[".repeat(9000)] {
        folder.write("brief.toml", &brief);
        let faults = load_scenario(&folder.brief()).unwrap_err();
        assert!(faults.iter().all(|fault| fault.place.is_some()), "{faults}");
        assert!(faults.to_string().contains("places/brief.toml:1:"), "{faults}");
    }
    folder.write("brief.toml", format!("\u{feff}{}", BRIEF.replace('\n', "\r\n")));
    assert_eq!(folder.scenario(), "no faults; warnings: []", "a byte order mark and the line ends of Windows");
}

#[test]
fn a_line_of_five_megabytes() {
    let folder = Folder::new("long_line");
    folder.write("palette.toml", format!("name = \"{}\" x\n", "ä".repeat(2_500_000)));
    assert_snapshot!(load_palette(&folder.name.join("palette.toml")).unwrap_err().to_string());
}

#[test]
fn deep_nesting_is_a_fault() {
    let folder = Folder::new("deep");
    let deep = 100_000;
    let texts = [
        "[".repeat(deep),
        format!("name = {}", "[".repeat(deep)),
        format!("name = {}{}", "[".repeat(deep), "]".repeat(deep)),
        format!("name = {}", "{".repeat(deep)),
        format!("name = {}", "{a=".repeat(deep)),
        format!("{}b = 1", "a.".repeat(deep)),
        format!("[{}b]", "a.".repeat(deep)),
        "[[material]]\n".repeat(deep),
        "=\n".repeat(deep),
    ];
    let path = folder.name.join("palette.toml");
    for text in texts {
        let start = Instant::now();
        folder.write("palette.toml", &text);
        let faults = load_palette(&path).unwrap_err();
        assert!(faults.count() > 0 && faults.render(false).len() < 200_000);
        assert!(start.elapsed() < Duration::from_secs(20), "{:?} for {}", start.elapsed(), &text[..40]);
    }
}

/// Bytes changed, cut, doubled and moved at random: every text gives a value
/// or at least one fault, and its messages can be drawn.
#[test]
fn no_text_brings_the_readers_down() {
    let folder = Folder::new("mutations");
    let palette = load_palette(&folder.name.join("palette.toml")).unwrap();
    let files = [("palette.toml", PALETTE), ("brief.toml", BRIEF), ("limits.toml", LIMITS), ("old.toml", OLD)];
    folder.change("brief.toml", &[("target_from = \"Rose otto\"", "target_from = { formula = \"old.toml\" }")]);
    let brief = fs::read(folder.brief()).unwrap();
    let mut random = ChaCha8Rng::seed_from_u64(20);
    let (mut good, mut bad) = (0, 0);
    for case in 0..4000 {
        let (file, text) = files[case % files.len()];
        let original = if file == "brief.toml" { brief.as_slice() } else { text.as_bytes() };
        let mut bytes = original.to_vec();
        for _ in 0..1 + random.next_u64() % 4 {
            mutate(&mut bytes, &mut random);
        }
        folder.write(file, &bytes);
        let faults = match file {
            "old.toml" => load_formula(&folder.name.join(file), &palette).err(),
            _ => load_scenario(&folder.brief()).err(),
        };
        match faults {
            None => good += 1,
            Some(faults) => {
                assert!(faults.count() > 0, "{}", String::from_utf8_lossy(&bytes));
                let text = faults.render(false);
                assert!(!text.chars().any(|c| c.is_control() && c != '\n'), "{text:?}");
                bad += 1;
            }
        }
        folder.write(file, original);
    }
    assert!(good > 100 && bad > 1000, "{good} good, {bad} bad");
}

fn mutate(bytes: &mut Vec<u8>, random: &mut ChaCha8Rng) {
    const TOKENS: &[&str] = &[
        "[",
        "]",
        "[[",
        "]]",
        "{",
        "}",
        "=",
        ",",
        "\"",
        "'",
        "\"\"\"",
        "\n",
        "\r",
        "#",
        ".",
        "-",
        "1e999",
        "nan",
        "0x",
        "1979-05-27",
        "true",
        "remarks = 1\n",
        "\u{1b}",
        "\0",
        "é",
        "\u{feff}",
        "99999999999999999999",
        "1e-7",
        "material",
        "[target]\n",
    ];
    let mut below = |n: usize| usize::try_from(random.next_u64() % (n.max(1) as u64)).unwrap();
    let at = below(bytes.len());
    let end = (at + 1 + below(12)).min(bytes.len());
    match below(6) {
        0 if at < bytes.len() => bytes[at] = u8::try_from(below(256)).unwrap(),
        1 => drop(bytes.drain(at.min(end)..end)),
        2 => {
            let copy = bytes[at.min(end)..end].to_vec();
            let to = below(bytes.len() + 1);
            bytes.splice(to..to, copy);
        }
        3 => bytes.truncate(at),
        _ => {
            let token = TOKENS[below(TOKENS.len())];
            bytes.splice(at..at, token.bytes());
        }
    }
}

#[test]
fn what_people_type_is_shown_mended() {
    let cases = [
        ("palette.toml", "price = 14.0", "price = 14,0", "perhaps meant: price = 14.0"),
        ("palette.toml", "currency = \"EUR\"", "currency = \u{201c}EUR\u{201d}", "perhaps meant: currency = \"EUR\""),
        ("palette.toml", "currency = \"EUR\"", "currency = \"EUR", "perhaps meant: currency = \"EUR\""),
    ];
    for (number, (file, from, to, meant)) in cases.into_iter().enumerate() {
        let folder = Folder::new(&format!("typed-{number}"));
        let text = fs::read_to_string(folder.name.join(file)).unwrap();
        assert!(text.contains(from), "{from}");
        folder.write(file, text.replacen(from, to, 1));
        let said = folder.scenario();
        assert!(said.contains(meant), "{said}");
    }
    let folder = Folder::new("typed-twice");
    let brief = fs::read_to_string(folder.brief()).unwrap();
    folder.write(
        "brief.toml",
        format!("{brief}\n[ratio]\nof = \"A\"\nto = \"B\"\nmax = 1\n[ratio]\nof = \"B\"\nto = \"A\"\nmax = 1\n"),
    );
    let said = folder.scenario();
    assert!(said.contains("[[ratio]]"), "{said}");
}

#[test]
fn a_name_is_the_same_however_its_accents_are_typed() {
    let folder = Folder::new("accents");
    let palette = fs::read_to_string(folder.name.join("palette.toml")).unwrap();
    let first =
        palette.lines().find_map(|line| line.strip_prefix("name = \"")).unwrap().trim_end_matches('"').to_owned();
    let accented = |form: &str| (palette.replace(&first, &format!("{form}{first}")), form.to_owned());
    let (composed, _) = accented("\u{e9}");
    let brief = fs::read_to_string(folder.brief()).unwrap().replace(&first, &format!("e\u{301}{first}"));
    folder.write("palette.toml", composed).write("brief.toml", brief);
    let old = fs::read_to_string(folder.name.join("old.toml")).unwrap().replace(&first, &format!("e\u{301}{first}"));
    folder.write("old.toml", old);
    let said = folder.scenario();
    assert!(!said.contains("no material of the palette is named"), "{said}");
}
