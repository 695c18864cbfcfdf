//! From the vessel to the finished bottle: what was weighed, kept in a file,
//! and what a product is then mixed from.

mod support;

use serde_json::Value;
use support::program::{Folder, Ran, permil, reads_well};

/// Half of the accord comes from bottles; the carrier of the usual one is a
/// restricted substance.
const PALETTE: &str = r#"# the shelf
[descriptors]
rosy = "rose"

[[material]]
name = "Alcohol"
cas = "60-12-8"
strength = 10
scores = { rosy = 5 }
price = 20
stock = 30 # since May

[[material]]
name = "Strong"
cas = "78-70-6"
strength = 100
scores = { rosy = 3 }
price = 100
bottle = [{ percent = 10, carrier = "Benzyl alcohol" }, { percent = 1, carrier = "Benzyl alcohol" }, { percent = 50, carrier = "Unknown oil" }]
stock = 60

[[material]]
name = "Benzyl alcohol"
cas = "100-51-6"
strength = 0
price = 5
stock = 40
"#;

const FORMULA: &str = "title = \"Half\"\npalette = \"palette.toml\"\n[parts]\nAlcohol = 500\nStrong = 500\n";

const LIMITS: &str = r#"
[[restriction]]
substance = "benzyl alcohol"
cas = ["100-51-6"]
source = "a limit made up for this test"
limits = { "4" = 20 }
[[allergen]]
name = "BENZYL ALCOHOL"
cas = ["100-51-6"]
source = "likewise"
label_above = { "4" = 0.001 }
"#;

fn folder() -> Folder {
    Folder::of(&[("palette.toml", PALETTE), ("formula.toml", FORMULA), ("limits.toml", LIMITS)])
}

fn weigh(folder: &Folder, more: &[&str]) -> Ran {
    let formula = folder.path("formula.toml");
    permil(&[&["weigh", &formula, "--balance", "0.001"], more].concat())
}

fn product(folder: &Folder, file: &str, more: &[&str]) -> Ran {
    let (file, limits) = (folder.path(file), folder.path("limits.toml"));
    permil(&[&["product", &file, "--limits", &limits, "--category", "4"], more].concat())
}

fn number(value: &Value, path: &[&str]) -> f64 {
    let found = path.iter().fold(value, |value, key| &value[*key]);
    found.as_f64().unwrap_or_else(|| panic!("{path:?} of {value}"))
}

fn close(a: f64, b: f64, tolerance: f64) {
    assert!((a - b).abs() <= tolerance, "{a} is not {b}");
}

/// The strongest bottle that weighs well is poured: 5 g and 10 g of 50 % make
/// 15 g, in which 10 g are accord.
#[test]
fn a_product_of_a_batch_gets_its_full_strength() {
    let folder = folder();
    let saved = folder.path("batch.toml");
    weigh(&folder, &["--batch", "10", "--save", &saved, "--date", "2026-11-29", "--label", "H 1"]).ended(0);
    let text = folder.read("batch.toml");
    for line in ["label = \"H 1\"", "date = 2026-11-29", "formula = \"formula.toml\"", "concentration = 66.6667"] {
        assert!(text.contains(line), "{line}\n{text}");
    }
    assert!(text.contains("\"Unknown oil\" = 5\n"), "{text}");
    let with = ["--dosage", "20", "--batch", "30", "--alcohol", "85", "--format", "json"];
    let json = product(&folder, "batch.toml", &with).ended(0).json();
    let batch = |key: &str| number(&json, &["batch", key]);
    // 6 g of accord are 9 g of what is in the vessel; 21 g of solvent are left.
    close(batch("accord_grams"), 6.0, 1e-9);
    close(batch("vessel_grams"), 9.0, 1e-9);
    close(number(&json, &["batch", "carriers", "Unknown oil"]), 3.0, 1e-9);
    close(batch("solvent_grams"), 21.0, 1e-9);
    close(batch("vessel_grams") + batch("ethanol_grams") + batch("water_grams"), 30.0, 1e-9);
    assert!(json["batch"]["missing_grams"].is_null());
    assert_eq!((&json["vessel"]["from"], &json["vessel"]["label"]), (&"batch".into(), &"H 1".into()));
    // A carrier that the palette does not describe is named as not checked.
    let care = json["care"]["not_checked"].to_string();
    assert!(care.contains("Unknown oil"), "{care}");
    // 60 g of product need 18 g of the 15 g in the vessel.
    let json = product(&folder, "batch.toml", &["--dosage", "20", "--batch", "60", "--format", "json"]).ended(0).json();
    close(number(&json, &["batch", "missing_grams"]), 3.0, 1e-9);
    let text = product(&folder, "batch.toml", &["--dosage", "20", "--batch", "60"]).ended(0).stdout;
    reads_well(&text);
    assert!(text.contains("The vessel holds 15 g, 3.000 g too little: it makes 50.00 g of product."), "{text}");
}

/// The solvent that is left is mixed by the alcoholometric tables: 948.05 kg a
/// cubic metre at 40 % by volume and 998.20 of water at 20 degrees stand in
/// them (Council Directive 76/766/EEC).
#[test]
fn the_ethanol_that_is_left_agrees_with_the_table() {
    let folder = folder();
    weigh(&folder, &["--batch", "10", "--save", &folder.path("batch.toml"), "--date", "2026-11-29"]).ended(0);
    let with = ["--dosage", "20", "--batch", "100", "--alcohol", "40", "--format", "json"];
    let json = product(&folder, "batch.toml", &with).ended(0).json();
    let batch = |key: &str| number(&json, &["batch", key]);
    // 20 g of accord are 30 g of the vessel.
    close(batch("solvent_grams"), 70.0, 1e-9);
    close(batch("ethanol_grams") + batch("water_grams"), 70.0, 1e-9);
    close(batch("solvent_grams") / batch("solvent_ml"), 0.948_05, 5e-6);
    close(batch("water_grams") / batch("water_ml"), 0.998_20, 5e-6);
    // Pure ethanol by volume: 96 % of what is poured is 40 % of what comes.
    close(0.96 * batch("ethanol_ml"), 0.40 * batch("solvent_ml"), 1e-6);
}

/// Nobody has neat accord: without a batch the usual bottles are assumed, and
/// said to be. 500 parts of a 10 % bottle make 5500 parts of 1000.
#[test]
fn a_formula_says_which_vessel_it_assumes() {
    let folder = folder();
    let with = ["--dosage", "9", "--batch", "100"];
    let json = product(&folder, "formula.toml", &[&with[..], &["--format", "json"]].concat()).ended(1).json();
    assert_eq!(json["vessel"]["from"], "usual bottles");
    close(number(&json, &["vessel", "accord_percent"]), 100.0 / 5.5, 1e-9);
    close(number(&json, &["batch", "accord_grams"]), 9.0, 1e-9);
    close(number(&json, &["batch", "vessel_grams"]), 49.5, 1e-9);
    close(number(&json, &["batch", "solvent_grams"]), 50.5, 1e-9);
    // The carrier is in the product: 40.5 % where 20 % are allowed, and named.
    close(number(&json["limits"][0], &["use_percent"]), 40.5, 1e-9);
    assert_eq!((&json["passed"][0], &json["label"][0]["name"]), (&"benzyl alcohol".into(), &"BENZYL ALCOHOL".into()));
    close(number(&json["label"][0], &["from", "Benzyl alcohol"]), 40.5, 1e-9);
    let text = product(&folder, "formula.toml", &with).ended(1).stdout;
    reads_well(&text);
    for said in ["usual bottles", "18.2 % accord", "49.500", "9.000 g of accord"] {
        assert!(text.contains(said), "{said}\n{text}");
    }
    // More than fits is refused, not answered.
    let ran = product(&folder, "formula.toml", &["--dosage", "20", "--batch", "100"]).ended(2);
    assert!(ran.stderr.contains("20 % concentrate does not fit, 18.18 % does"), "{}", ran.stderr);
}

/// What fills the vessel up is in the product too.
#[test]
fn a_vessel_that_was_filled_up_counts_as_filled() {
    let folder = folder();
    let total = ["--batch", "10", "--total", "20", "--save", &folder.path("batch.toml"), "--date", "2026-11-29"];
    weigh(&folder, &total).ended(0);
    let json = product(&folder, "batch.toml", &["--dosage", "20", "--batch", "30", "--format", "json"]).ended(0).json();
    close(number(&json, &["vessel", "accord_percent"]), 50.0, 1e-9);
    close(number(&json, &["batch", "vessel_grams"]), 12.0, 1e-9);
    close(number(&json, &["batch", "carriers", "Benzyl alcohol"]), 3.0, 1e-9);
    close(number(&json["limits"][0], &["use_percent"]), 10.0, 1e-9);
}

/// What was poured may be corrected by hand; what then no longer agrees is an
/// error with its line.
#[test]
fn a_batch_is_corrected_and_contradictions_are_shown() {
    let folder = folder();
    weigh(&folder, &["--batch", "10", "--save", &folder.path("batch.toml"), "--date", "2026-11-29"]).ended(0);
    let with = ["--dosage", "20", "--batch", "30", "--format", "json"];
    folder.change("batch.toml", "grams = 5\n", "grams = 6\n");
    let ran = product(&folder, "batch.toml", &with).ended(2);
    assert!(ran.stderr.contains("`concentration` says 66.6667 %, the lines make 68.75 %"), "{}", ran.stderr);
    assert!(ran.stderr.contains("batch.toml:"), "{}", ran.stderr);
    folder.change("batch.toml", "concentration = 66.6667\n", "");
    let json = product(&folder, "batch.toml", &with).ended(0).json();
    close(number(&json, &["formula", "parts", "Alcohol"]), 1000.0 * 6.0 / 11.0, 1e-6);
    let told = [
        ("grams = 6\n", "grams = 0\n", "`grams` is out of range: 0"),
        ("material = \"Strong\"", "material = \"Stronk\"", "no material of the palette is named \"Stronk\""),
        ("percent = 50", "percent = 500", "`percent` is out of range: 500"),
        ("basis = \"neat\"", "basis = \"bottle\"", "the palette's usual bottle holds 10 %"),
        ("\"Unknown oil\" = 5\n", "\"Unknown oil\" = 7\n", "[carriers] says 7 g, the bottles and [top_up] bring 5 g"),
        ("\"Unknown oil\" = 5\n", "", "[carriers] does not name Unknown oil"),
        ("date = 2026-11-29", "date = \"today\"", "a day without quotes"),
        ("grams = 6\n", "gram = 6\n", "did you mean `grams`?"),
    ];
    let sound = folder.read("batch.toml");
    for (before, after, complaint) in told {
        folder.change("batch.toml", before, after);
        let ran = product(&folder, "batch.toml", &with).ended(2);
        assert!(ran.stderr.contains(complaint), "{complaint}\n{}", ran.stderr);
        assert_eq!(ran.stdout, "");
        folder.write("batch.toml", &sound);
    }
    folder.write("batch.toml", "palette = \"palette.toml\"\nline = []\n");
    assert!(product(&folder, "batch.toml", &with).ended(2).stderr.contains("nothing was poured"));
}

#[test]
fn a_saved_batch_is_overwritten_only_when_told_to() {
    let folder = folder();
    let saved = folder.path("batch.toml");
    let with = ["--batch", "10", "--save", &saved, "--date", "2026-11-29"];
    weigh(&folder, &with).ended(0);
    assert!(weigh(&folder, &with).ended(2).stderr.contains("--force overwrites it"));
    weigh(&folder, &[&with[..], &["--force"]].concat()).ended(0);
    for input in ["palette.toml", "formula.toml"] {
        let ran = weigh(&folder, &["--batch", "10", "--save", &folder.path(input), "--force"]).ended(2);
        assert!(ran.stderr.contains("which is needed"), "{}", ran.stderr);
    }
    assert_eq!(folder.read("palette.toml"), PALETTE);
}

/// Another bottle looks alike on the balance: five times, or a tenth, of what
/// was meant. The sheet says so in bold on the terminal and on paper.
#[test]
fn another_bottle_than_the_usual_one_is_said_in_bold() {
    let folder = folder();
    let page = folder.path("sheet.html");
    let ran = weigh(&folder, &["--batch", "10", "--html", &page, "--color", "always"]).ended(0);
    let bold = |text: &str| ran.stdout.lines().any(|line| line.contains(text) && line.contains("\u{1b}[1m"));
    assert!(bold("not the usual 10 %") && bold("ANOTHER BOTTLE THAN USUAL"), "{}", ran.stdout);
    let html = folder.read("sheet.html");
    assert!(html.contains("<span class=\"mark\">(not the usual 10 %)</span>"), "{html}");
    assert!(html.contains("ANOTHER BOTTLE THAN USUAL: Strong 50 %, not the usual 10 %."), "{html}");
    assert!(html.contains("<th>Actual, g</th>"), "{html}");
    let text = weigh(&folder, &["--batch", "10"]).ended(0).stdout;
    reads_well(&text);
    assert!(text.contains("ANOTHER BOTTLE THAN USUAL: Strong 50 %, not the usual 10 %."), "{text}");
}

/// 5 g of alcohol go; the 50 % bottle is not the one whose stock is on file.
#[test]
fn what_is_poured_is_taken_from_the_stock_and_nothing_else_changes() {
    let folder = folder();
    let json = weigh(&folder, &["--batch", "10", "--take", "--format", "json"]).ended(0).json();
    assert_eq!(folder.read("palette.toml"), PALETTE.replace("stock = 30 # since May", "stock = 25 # since May"));
    assert_eq!(json["taken"]["lines"][0]["after"], 25.0);
    assert_eq!(json["taken"]["not_counted"][0], "Strong");
    // What fills up is taken as well: 20 g in all, of which 15 g are poured.
    weigh(&folder, &["--batch", "10", "--total", "20", "--take"]).ended(0);
    assert!(folder.read("palette.toml").contains("stock = 20 # since May"));
    assert!(folder.read("palette.toml").contains("stock = 35\n"));
    // Too little in a bottle: nothing is taken, and nothing saved.
    let before = folder.read("palette.toml");
    let ran = weigh(&folder, &["--batch", "50", "--take", "--save", &folder.path("batch.toml")]).ended(1);
    assert!(ran.stderr.contains("Alcohol: 20 g on hand, 25 g to pour"), "{}", ran.stderr);
    assert_eq!(folder.read("palette.toml"), before);
    assert!(!folder.names().contains(&"batch.toml".to_owned()));
}

/// A trial of a batch is a trial of what was weighed, and the journal shows it.
#[test]
fn a_trial_may_name_its_batch() {
    let folder = folder();
    weigh(&folder, &["--batch", "10", "--save", &folder.path("batch.toml"), "--date", "2026-11-29", "--label", "H 1"])
        .ended(0);
    let trials = |more: &str| {
        format!(
            "palette = \"palette.toml\"\n[[trial]]\ncode = \"417\"\nbatch = \"batch.toml\"\nscores = {{ rosy = 4 }}\n{more}"
        )
    };
    folder.write("trials.toml", &trials(""));
    let journal =
        |more: &[&str]| permil(&[&["journal", &folder.path("trials.toml"), "--today", "2026-12-01"], more].concat());
    let json = journal(&["--format", "json"]).ended(0).json();
    let entry = &json["entries"][0];
    assert_eq!((&entry["batch"]["label"], &entry["batch"]["grams"]), (&"H 1".into(), &15.0.into()));
    assert_eq!(entry["materials"], 2);
    let text = journal(&["--full"]).ended(0).stdout;
    reads_well(&text);
    assert!(text.contains("batch H 1, weighed on 2026-11-29: 15 g, accord concentration 66.7 %"), "{text}");
    // Beside a formula it is shown, and the formula is what was meant.
    folder.write("trials.toml", &trials("formula = \"formula.toml\"\n"));
    assert_eq!(journal(&["--format", "json"]).ended(0).json()["entries"][0]["batch"]["label"], "H 1");
    folder.write("trials.toml", &trials("").replace("batch.toml", "formula.toml"));
    let ran = journal(&[]).ended(2);
    assert!(ran.stderr.contains("`line` is missing"), "{}", ran.stderr);
}
