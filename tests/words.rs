//! Strengths and scores in words, and beside other materials: what they stand
//! for, what is wrong with them, and what becomes of them in files that are
//! written.

mod support;

use std::path::Path;

use permil::analysis::doubt::number::{Part, of_material};
use permil::files::sheet::{DecimalSign, Reading, Writing, import_palette_in, palette_sheet};
use permil::files::{
    Edit, check_thresholds, edited_palette, learned_palette_text, left_behind_in, load_palette_in, load_scenario_in,
    palette_changes, palette_text, undone,
};
use permil::palette::Palette;
use permil::problem::Problem;
use permil::store::Held;
use permil::strength::{Said, StrengthWord, Times};
use support::program::{Folder, permil, reads_well};

/// A shelf with every way of saying a strength: G in a word, D 20 times G, E three
/// times D, L and P with the CAS numbers of linalool and phenylethyl alcohol.
const SHELF: &str = "\
scale = 10 # of ten

[descriptors]
rosy = \"\"
green = \"\"

[score_words]
faint = 2
clear = 5.5

[[material]]
name = \"G\"
strength = \"medium\" # so far
scores = { rosy = \"clear\", green = 1 }

[[material]]
name = \"E\"
strength_of = \"D\" # beside it
times = 3
strength_factor = 1.5
scores = { green = \"faint\" }

[[material]]
name = \"D\"
strength_of = \"G\"
times = 20
scores = { rosy = 4 }

[[material]]
name = \"P\"
cas = \"60-12-8\"
strength = 40
strength_factor = 1.3
scores = { rosy = 7 }

[[material]]
name = \"L\"
cas = \"78-70-6\"
strength_of = \"P\"
times = \"thresholds\"
scores = { green = 3 }
";
const BRIEF: &str = "palette = \"palette.toml\"\n[target]\nrosy = 6\ngreen = 2\n[formula]\nonly = [\"G\", \"E\"]\n";

fn read(text: &str) -> Result<Palette, String> {
    let mut store = Held::new();
    store.insert("palette.toml", text.as_bytes().to_vec());
    load_palette_in(&store, Path::new("palette.toml")).map_err(|faults| faults.render(false))
}

fn shelf() -> Palette {
    read(SHELF).unwrap_or_else(|faults| panic!("{faults}"))
}

fn close(a: f64, b: f64) {
    assert!((a - b).abs() <= 1e-9 * b.abs(), "{a} {b}");
}

#[test]
fn what_words_and_comparisons_stand_for() {
    let palette = shelf();
    let [g, e, d, _, l] = &palette.materials[..] else { panic!() };
    assert_eq!((g.strength, g.strength_factor), (50.0, Some(3.0)));
    assert_eq!(g.said, Said::Word { word: StrengthWord::Medium, factor: None });
    // Variances of the logarithm add up along the chain.
    let root = |factors: &[f64]| factors.iter().map(|factor: &f64| factor.ln().powi(2)).sum::<f64>().sqrt().exp();
    assert_eq!((d.strength, e.strength), (1000.0, 3000.0));
    close(d.strength_factor.unwrap(), root(&[2.0, 3.0]));
    close(e.strength_factor.unwrap(), root(&[1.5, 2.0, 3.0]));
    // 32.8 and 6100 micrograms per cubic metre of air: profiles/thresholds.toml.
    close(l.strength, 40.0 * 32.8 / 6100.0);
    close(l.strength_factor.unwrap(), root(&[50.0, 1.3]));
    assert_eq!((g.scores.as_slice(), g.score_words.as_slice()), (&[5.5, 1.0][..], &[(0, 1)][..]));
    assert_eq!(e.score_words, [(1, 0)]);
    // Each word is ten times the one before.
    for (pair, ratio) in StrengthWord::ALL.windows(2).zip([10.0; 3]) {
        close(pair[1].1.strength() / pair[0].1.strength(), ratio);
        assert_eq!(pair[0].1.word(), pair[0].0);
    }
}

#[test]
fn doubt_carries_their_errors() {
    let mut store = Held::new();
    store.insert("palette.toml", SHELF.as_bytes().to_vec());
    store.insert("brief.toml", BRIEF.as_bytes().to_vec());
    let scenario = load_scenario_in(&store, Path::new("brief.toml")).unwrap();
    let problem = Problem::new(scenario.palette, &scenario.brief, &[]);
    let deviation = |material: usize| {
        let numbers = of_material(&problem, material);
        numbers.iter().find(|it| it.number.part == Part::Strength).unwrap().deviation
    };
    close(deviation(0), 3_f64.ln());
    close(deviation(2), (2_f64.ln().powi(2) + 3_f64.ln().powi(2)).sqrt());
    close(deviation(3), 1.3_f64.ln());
}

#[track_caller]
fn refused(from: &str, to: &str, line: usize, wanted: &[&str]) {
    assert!(SHELF.contains(from), "{from}");
    // As it is wrapped for reading, in one line.
    let faults = read(&SHELF.replacen(from, to, 1)).expect_err(to);
    let faults = faults.split_whitespace().collect::<Vec<_>>().join(" ");
    let at = format!("palette.toml:{line}:");
    for wanted in wanted.iter().chain(&[&*at]) {
        assert!(faults.contains(wanted), "no {wanted:?} in\n{faults}");
    }
    assert_eq!(faults.matches("error:").count(), 1, "{faults}");
}

#[test]
fn what_is_wrong_is_told_with_its_line() {
    refused("\"medium\"", "\"midium\"", 13, &["\"midium\" is not a value of `strength`", "did you mean \"medium\"?"]);
    refused("strength = \"medium\"", "remarks = \"\"", 11, &["`strength` is missing", "strength = \"medium\""]);
    refused("strength_of = \"D\"", "strength_of = \"F\"", 18, &["no material is named \"F\"", "known: G"]);
    let circle = "strength_of = \"E\"\ntimes = 2";
    let round = "by way of E, D";
    refused("strength = \"medium\"", circle, 26, &["the strength of \"G\" rests on itself", round]);
    refused(
        "strength_of = \"G\"",
        "strength_of = \"D\"",
        25,
        &["the strength of \"D\" rests on itself", "needs a strength"],
    );
    refused("times = 3\n", "", 16, &["`times` is missing", "times = \"thresholds\""]);
    refused("strength = 40\n", "strength = 40\ntimes = 3\n", 33, &["`times` stands without `strength_of`"]);
    refused("times = 20", "times = 20\nstrength = 7", 27, &["`strength` and `strength_of` stand in one material"]);
    refused("times = 20", "times = 1e6", 25, &["the strength would be 50000000, out of range"]);
    refused("times = 20", "times = 0", 26, &["`times` is out of range"]);
    refused("times = 20", "times = \"threshold\"", 26, &["did you mean \"thresholds\"?"]);
    refused("times = 20", "times = \"thresholds\"", 25, &["no threshold in air is known of \"G\""]);
    refused("\"clear\"", "\"claer\"", 14, &["\"claer\" is not a word for a score", "did you mean `clear`?"]);
    refused("clear = 5.5", "clear = 55", 9, &["`clear` is out of range"]);
    let carrier = "strength = 0\n[[material]]\nname = \"X\"\nstrength_of = \"P\"\ntimes = 2\n";
    let text = SHELF.replacen("strength = 40\nstrength_factor = 1.3\nscores = { rosy = 7 }", carrier, 1);
    let faults = read(&text.replace("times = \"thresholds\"", "times = 1")).expect_err("a carrier");
    assert_eq!(faults.matches("\"P\" is a carrier").count(), 2, "{faults}");
}

/// Everything of a palette but where it stands in its file.
fn bare(palette: &Palette) -> String {
    let mut palette = palette.clone();
    let place = permil::place::Place { file: "".into(), line: 0, column: 0 };
    palette.file = "".into();
    palette.materials.iter_mut().for_each(|material| material.place = place.clone());
    format!("{palette:#?}")
}

#[test]
fn a_palette_that_is_written_keeps_them() {
    let palette = shelf();
    let text = palette_text(&palette);
    assert!(text.contains("strength = \"medium\"") && text.contains("rosy = \"clear\""), "{text}");
    assert_eq!(bare(&read(&text).unwrap()), bare(&palette));
}

#[test]
fn a_sheet_keeps_what_strengths_rest_on_and_says_what_it_loses() {
    let palette = shelf();
    let sheet = palette_sheet(&palette, &Writing { delimiter: b',', decimal: DecimalSign::Point });
    let mut store = Held::new();
    store.insert("shelf.csv", sheet);
    let mut back = import_palette_in(&store, Path::new("shelf.csv"), &Reading::default()).unwrap();
    assert!(back.materials.iter().all(|material| material.score_words.is_empty()));
    for (own, other) in back.materials.iter_mut().zip(&palette.materials) {
        own.score_words.clone_from(&other.score_words);
    }
    back.score_words.clone_from(&palette.score_words);
    assert_eq!(bare(&back), bare(&palette));
    store.insert("palette.toml", SHELF.as_bytes().to_vec());
    let lost = left_behind_in(&store, Path::new("palette.toml"));
    assert!(lost.iter().any(|line| line.starts_with("[score_words] stay behind")), "{lost:?}");
    // Words of a sheet count in any case of letters; a circle is told by its cell.
    let read = |text: &str| {
        let mut store = Held::new();
        store.insert("shelf.csv", text.as_bytes().to_vec());
        import_palette_in(&store, Path::new("shelf.csv"), &Reading::default()).map_err(|faults| faults.render(false))
    };
    let palette = read("material,strength,strength_of,times,rosy\nA,Very strong,,,3\nB,,A,0.5,2\n").unwrap();
    assert_eq!([palette.materials[0].strength, palette.materials[1].strength], [5000.0, 2500.0]);
    let faults = read("material,strength,strength_of,times,rosy\nA,,B,2,3\nB,,A,0.5,2\n").unwrap_err();
    assert!(faults.contains("row 3, column `strength_of`: the strength of \"A\" rests on itself by"), "{faults}");
    let faults = read("material,strength,strength_of,times,rosy\nA,strongish,,,3\nB,5,A,,2\nC,,,2,1\n").unwrap_err();
    for wanted in ["row 2, column `strength`", "strength and strength_of stand in one row", "times stands without"] {
        assert!(faults.contains(wanted), "no {wanted:?} in {faults}");
    }
}

#[test]
fn numbers_take_their_place_and_give_it_back() {
    let edit = |material: &str, strength: f64, factor: f64| Edit {
        material: material.to_owned(),
        strength: Some(strength),
        strength_factor: Some(factor),
    };
    let after = edited_palette(SHELF, &[edit("G", 62.0, 1.4), edit("E", 900.0, 1.2)]).unwrap();
    let wanted = SHELF
        .replace(
            "strength = \"medium\" # so far\nscores = { rosy = \"clear\", green = 1 }\n",
            "strength = 62 # so far\nscores = { rosy = \"clear\", green = 1 }\nstrength_factor = 1.4\n",
        )
        .replace(
            "strength_of = \"D\" # beside it\ntimes = 3\nstrength_factor = 1.5\n",
            "strength = 900 # beside it\nstrength_factor = 1.2\n",
        );
    assert_eq!(after, wanted);
    // What is compared with a material follows it.
    let palette = read(&after).unwrap();
    assert_eq!((palette.materials[1].strength, palette.materials[2].strength), (900.0, 1240.0));
    // The history takes it back to the same palette.
    let step = permil::files::HistoryStep {
        date: permil::trials::Date { year: 2026, month: 11, day: 30 },
        by: "strengths".to_owned(),
        reason: "matches.toml: dilutions".to_owned(),
        changes: palette_changes(SHELF, &after),
    };
    let back = undone(&after, &step).unwrap();
    assert_eq!(bare(&read(&back).unwrap()), bare(&shelf()));
    let only_word = edited_palette(SHELF, &[edit("G", 62.0, 1.4)]).unwrap();
    let step = permil::files::HistoryStep { changes: palette_changes(SHELF, &only_word), ..step };
    assert_eq!(undone(&only_word, &step).unwrap(), SHELF);
}

#[test]
fn what_was_learned_takes_their_place() {
    let before = shelf();
    let mut after = before.clone();
    // The strength of a word stays and is surer; that of a comparison moves.
    after.materials[0].strength_factor = Some(1.7);
    after.materials[2].strength = 1300.0;
    after.materials[2].strength_factor = Some(1.25);
    after.materials[1].scores[1] = 3.25;
    let text = learned_palette_text(SHELF, &before, &after);
    let again = read(&text).unwrap_or_else(|faults| panic!("{faults}\n{text}"));
    let [g, e, d, ..] = &again.materials[..] else { panic!() };
    assert_eq!((g.strength, g.strength_factor, &g.said), (50.0, Some(1.7), &Said::Number));
    assert_eq!((d.strength, d.strength_factor, &d.said), (1300.0, Some(1.25), &Said::Number));
    assert_eq!((e.strength, &e.score_words[..], e.scores[1]), (3900.0, &[][..], 3.25));
    assert_eq!(e.said, Said::Of { of: "D".to_owned(), times: Times::Number(3.0), factor: Some(1.5) });
    assert_eq!(learned_palette_text(SHELF, &before, &before), SHELF);
}

/// M. H. Abraham et al., Chemical Senses 37 (2012) 207, supplementary table: eight
/// substances have values of more than one laboratory or method.
#[test]
fn the_table_of_thresholds_is_as_far_apart_as_it_says() {
    let table = check_thresholds().unwrap_or_else(|faults| panic!("{}", faults.render(false)));
    let mut spreads: Vec<f64> =
        table.rows.iter().filter(|row| row.ug_per_m3.len() > 1).map(permil::thresholds::Threshold::spread).collect();
    spreads.sort_by(f64::total_cmp);
    assert_eq!(spreads.len(), 8);
    assert!((22.5..23.5).contains(&spreads[0]) && (1049.0..1051.0).contains(&spreads[7]), "{spreads:?}");
    let pinene = table.rows.iter().find(|row| row.name == "alpha-pinene").unwrap();
    close(pinene.mean(), (102.0_f64 * 107_000.0).sqrt());
}

#[test]
fn screens_mark_them_and_check_says_what_to_smell_first() {
    let folder = Folder::of(&[("palette.toml", SHELF), ("brief.toml", BRIEF)]);
    let (palette, brief) = (folder.path("palette.toml"), folder.path("brief.toml"));
    let shown = permil(&["shelf", &palette, "--full"]).ended(0).stdout;
    reads_well(&shown);
    for wanted in ["~50", "20 times G", "P by thresholds in air", "~ is a strength from a word"] {
        assert!(shown.contains(wanted), "no {wanted:?} in\n{shown}");
    }
    let json = permil(&["shelf", &palette, "--format", "json"]).ended(0).json();
    let lines = json["materials"].as_array().unwrap();
    let said = |name: &str| lines.iter().find(|line| line["material"] == name).unwrap().get("strength_said").cloned();
    assert_eq!(said("G").unwrap(), "medium");
    assert_eq!(said("P"), None);
    let csv = permil(&["shelf", &palette, "--format", "csv"]).ended(0).stdout;
    assert!(csv.lines().next().unwrap().ends_with(",strength_said"), "{csv}");

    let text = permil(&["check", &brief]).ended(0).stdout;
    reads_well(&text);
    assert!(text.contains("What to smell first") && text.contains("known to within times or"), "{text}");
    let check = permil(&["check", &brief, "--format", "json"]).ended(0).json();
    let numbers = check["smell_first"]["numbers"].as_array().unwrap();
    let shares: Vec<f64> = numbers.iter().map(|line| line["share"].as_f64().unwrap()).collect();
    assert!(!shares.is_empty() && shares.is_sorted_by(|a, b| a >= b), "{shares:?}");
    // What doubt says of the proposal, which any doses may be in here.
    let doubt = permil(&["doubt", &brief, "--format", "json"]).ended(0).json();
    let own = doubt["formulas"][0]["numbers"].as_array().unwrap();
    for line in numbers {
        let is_it = |it: &&serde_json::Value| {
            it["material"] == line["material"]
                && it["number"] == line["number"]
                && it["descriptor"] == line["descriptor"]
        };
        let other = own.iter().find(is_it).unwrap_or_else(|| panic!("no {line} in {own:?}"));
        let error = line["share_error"].as_f64().unwrap().hypot(other["share_error"].as_f64().unwrap());
        let apart = (line["share"].as_f64().unwrap() - other["share"].as_f64().unwrap()).abs();
        assert!(apart <= 5.0 * error, "{line} {other}");
        assert_eq!(line["said"], other["said"]);
    }
    let propose = permil(&["propose", &brief, "--format", "json", "--no-worth"]).ended(0).json();
    assert!(!propose["loose_strengths"].as_array().unwrap().is_empty(), "{propose}");
    assert!(propose["warnings"].to_string().contains("2 strengths of 2 are words or comparisons"), "{propose}");

    // With numbers alone nothing is added unless it is asked for.
    let six = "profiles/six-materials/brief.toml";
    assert!(permil(&["check", six, "--format", "json"]).ended(0).json().get("smell_first").is_none());
    let asked = permil(&["check", six, "--first", "--format", "json"]).ended(0).json();
    assert!(!asked["smell_first"]["numbers"].as_array().unwrap().is_empty());
}

#[test]
fn matches_narrow_words_down() {
    let matches = "reference = \"P\"\n[[equal]]\na = { material = \"G\", percent = 10 }\nb = { material = \"P\", percent = 20 }\n\
                   give_or_take_factor = 1.2\n";
    let folder = Folder::of(&[("palette.toml", SHELF), ("matches.toml", matches)]);
    let (palette, matches) = (folder.path("palette.toml"), folder.path("matches.toml"));
    let json = permil(&["strengths", &palette, &matches, "--apply", "--format", "json"]).ended(0).json();
    let line = &json["materials"][0];
    assert_eq!((line["material"].as_str(), line["before_said"].as_str()), (Some("G"), Some("medium")));
    // One match and the prior, both normal in the logarithm: precisions add up.
    let (prior, pair) = (3_f64.ln().powi(-2), 1.2_f64.ln().powi(-2));
    let wanted = ((prior * 50_f64.ln() + pair * 80_f64.ln()) / (prior + pair)).exp();
    assert!((line["after"].as_f64().unwrap() / wanted - 1.0).abs() < 1e-6, "{line} {wanted}");
    assert!((line["factor"].as_f64().unwrap().ln() - (prior + pair).powf(-0.5)).abs() < 1e-6, "{line}");
    let text = folder.read("palette.toml");
    assert!(!text.contains("\"medium\"") && text.contains("strength_of = \"G\""), "{text}");
    permil(&["strengths", &palette, "--undo"]).ended(0);
    assert_eq!(folder.read("palette.toml"), SHELF);
}
