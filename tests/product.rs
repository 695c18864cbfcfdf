//! `permil product`: limits and labels worked by hand from published figures,
//! and the command as a user meets it.

mod support;

use insta::assert_snapshot;
use serde_json::Value;
use support::program::{Folder, permil, reads_well};

const PALETTE: &str = r#"
[descriptors]
floral = "flowers"
[[material]]
name = "Linalool"
cas = "78-70-6"
strength = 10
price = 20
scores = { floral = 5 }
[[material]]
name = "alpha-Isomethyl ionone"
cas = "127-51-5"
strength = 10
price = 30
scores = { floral = 3 }
[[material]]
name = "Lavender oil"
cas = "8000-28-0"
strength = 20
price = 90
natural = true
constituents = { "78-70-6" = 35, "93-15-2" = 0.02 }
scores = { floral = 6 }
[[material]]
name = "Strange resin"
strength = 5
natural = true
scores = { floral = 1 }
[[material]]
name = "Methyl eugenol"
cas = "93-15-2"
strength = 5
price = 5
scores = { floral = 1 }
[[material]]
name = "Solvent"
cas = "25265-71-8"
strength = 0
price = 4
"#;

const LIMITS: &str = r#"
reviewed = ["78-70-6", "127-51-5", "25265-71-8"]
[[restriction]]
substance = "Methyl eugenol"
cas = ["93-15-2"]
source = "IFRA Standard 'Methyl eugenol', 49th Amendment (2020)"
verified = true
limits = { "4" = 0.016, "9" = 0.00087 }
[[allergen]]
name = "LINALOOL"
cas = ["78-70-6"]
source = "Regulation (EC) 1223/2009, Annex III, entry 84"
verified = true
label_above = { "leave-on" = 0.001, "rinse-off" = 0.01 }
[[allergen]]
name = "LAVANDULA OIL/EXTRACT"
cas = ["8000-28-0"]
source = "Regulation (EU) 2023/1545"
label_above = { "leave-on" = 0.001, "rinse-off" = 0.01 }
"#;

/// A folder with a formula of these parts, filled up to 1000 with solvent.
fn folder(parts: &[(&str, f64)]) -> Folder {
    let rest = 1000.0 - parts.iter().map(|(_, dose)| dose).sum::<f64>();
    let lines: String = parts.iter().map(|(name, dose)| format!("\"{name}\" = {dose}\n")).collect();
    let formula = format!("palette = \"palette.toml\"\n[parts]\n{lines}Solvent = {rest:.9}\n");
    Folder::of(&[("palette.toml", PALETTE), ("limits.toml", LIMITS), ("formula.toml", &formula)])
}

fn report(folder: &Folder, category: &str, dosage: &str, status: i32) -> Value {
    let (formula, limits) = (folder.path("formula.toml"), folder.path("limits.toml"));
    let arguments =
        ["product", &formula, "--limits", &limits, "--category", category, "--dosage", dosage, "--format", "json"];
    permil(&arguments).ended(status).json()
}

fn names(report: &Value) -> Vec<&str> {
    report["label"].as_array().unwrap().iter().map(|line| line["name"].as_str().unwrap()).collect()
}

/// Source: Annex III of Regulation (EC) 1223/2009: named where the product
/// holds more than 0.001 % (leave-on) or 0.01 % (rinse-off). At 20 % dosage
/// 0.001 % is 0.05 parts per thousand of the concentrate.
#[test]
fn exactly_the_share_is_not_named_and_anything_above_is() {
    for (category, dosage, dose) in [("leave-on", "20", 0.05), ("rinse-off", "2", 5.0), ("leave-on", "7", 1.0 / 7.0)] {
        // A seventh has no decimal: what is rounded off stays below.
        let dose = (dose * 1e9_f64).floor() / 1e9;
        assert!(names(&report(&folder(&[("Linalool", dose)]), category, dosage, 0)).is_empty(), "{dose}");
        let more = dose + if dosage == "7" { 2e-9 } else { 1e-9 };
        assert_eq!(names(&report(&folder(&[("Linalool", more)]), category, dosage, 0)), ["LINALOOL"], "{more}");
    }
}

#[test]
fn a_natural_counts_under_its_own_name_and_under_its_constituents() {
    // 0.1 ppt of oil at 20 %: 0.002 % of the oil, 0.0007 % of linalool from it;
    // 0.03 ppt of linalool more make it 0.0013 %.
    let oil = folder(&[("Lavender oil", 0.1)]);
    let alone = report(&oil, "leave-on", "20", 0);
    assert_eq!(names(&alone), ["LAVANDULA OIL/EXTRACT"]);
    assert_eq!(alone["below_label"][0]["name"], "LINALOOL");
    let both = report(&folder(&[("Lavender oil", 0.1), ("Linalool", 0.03)]), "leave-on", "20", 0);
    assert_eq!(names(&both), ["LINALOOL", "LAVANDULA OIL/EXTRACT"]);
    assert!((both["label"][0]["percent"].as_f64().unwrap() - 0.0013).abs() < 1e-15);
    assert_eq!(both["label"][0]["from"].as_object().unwrap().len(), 2);
    // Without a label that the list knows nothing is claimed.
    assert_eq!(report(&oil, "4", "20", 0)["label_checked"], false);
}

/// Source: the limit of 0.016 % in category 4 (IFRA Standard, 49th Amendment):
/// at 20 % dosage at most 0.8 parts per thousand of the concentrate.
#[test]
fn a_limit_is_full_at_its_highest_dosage_and_passed_above() {
    let full = folder(&[("Methyl eugenol", 0.8)]);
    let exact = report(&full, "4", "20", 0);
    assert_eq!(
        (&exact["highest_dosage_percent"], &exact["highest_dosage_by"]),
        (&20.0.into(), &"Methyl eugenol".into())
    );
    assert!(exact["passed"].as_array().unwrap().is_empty());
    let above = report(&full, "4", "20.000001", 1);
    assert_eq!(above["passed"][0], "Methyl eugenol");
    assert_eq!(above["highest_dosage_percent"], 20.0);
    // By category, each alone: 0.00087 % is 1.0875 % of this accord.
    let line = &exact["categories"][1];
    assert_eq!((&line["category"], &line["highest_dosage_percent"]), (&"9".into(), &1.0875.into()));
    // The share of the concentrate counts: a quarter of it allows four times.
    let (formula, limits) = (full.path("formula.toml"), full.path("limits.toml"));
    let quarter = permil(&[
        "product",
        &formula,
        "--limits",
        &limits,
        "--category",
        "4",
        "--dosage",
        "80",
        "--share",
        "25",
        "--format",
        "json",
    ]);
    assert_eq!(quarter.ended(0).json()["highest_dosage_percent"], 80.0);
    // What a natural brings is added to what is added.
    let both = report(&folder(&[("Methyl eugenol", 0.4), ("Lavender oil", 100.0)]), "4", "20", 0);
    let from = both["limits"][0]["from"].as_object().unwrap();
    assert_eq!(from.len(), 2);
    assert!((both["highest_dosage_by_figures_percent"].as_f64().unwrap() - 0.016 / 0.000_42).abs() < 1e-9);
    // Nobody has looked the oil itself up.
    assert!(both["highest_dosage_percent"].is_null());
}

#[test]
fn what_is_unknown_comes_first() {
    let folder = folder(&[("Strange resin", 10.0), ("Linalool", 100.0)]);
    let (formula, limits) = (folder.path("formula.toml"), folder.path("limits.toml"));
    let ran =
        permil(&["product", &formula, "--limits", &limits, "--category", "4,leave-on", "--dosage", "10"]).ended(0);
    reads_well(&ran.stdout);
    let (unknown, figures) = (ran.stdout.find("Not fully checked: Strange resin"), ran.stdout.find("Highest dosage"));
    assert!(unknown.unwrap() < figures.unwrap(), "{}", ran.stdout);
    assert!(ran.stdout.contains("Not complete: the constituents of Strange resin are unknown"), "{}", ran.stdout);
}

#[test]
fn a_batch_adds_up() {
    let folder = folder(&[("Linalool", 500.0)]);
    let (formula, limits) = (folder.path("formula.toml"), folder.path("limits.toml"));
    let arguments = [
        "product",
        &formula,
        "--limits",
        &limits,
        "--category",
        "4",
        "--dosage",
        "20",
        "--share",
        "40",
        "--batch",
        "50",
        "--alcohol",
        "80",
        "--format",
        "json",
    ];
    let report = permil(&arguments).ended(0).json();
    let grams = |key: &str| report["batch"][key].as_f64().unwrap();
    assert!((grams("accord_grams") - 4.0).abs() < 1e-12 && (grams("rest_grams") - 6.0).abs() < 1e-12);
    let sum = grams("accord_grams") + grams("rest_grams") + grams("ethanol_grams") + grams("water_grams");
    assert!((sum - 50.0).abs() < 1e-12);
    // Half linalool at 20 per kg, half solvent at 4: 12 per kg.
    assert!((grams("accord_price") - 0.048).abs() < 1e-12);
    let csv = permil(&[&arguments[..arguments.len() - 1], &["csv"]].concat()).ended(0).stdout;
    assert!(csv.lines().any(|line| line.starts_with("mix,water,,,,")), "{csv}");
}

#[test]
fn shipped_limits_on_the_rose_scenario() {
    let limits = ["ifra", "eu", "eu-allergens"].map(|name| format!("profiles/limits/{name}.toml"));
    let mut arguments = vec!["product", "profiles/rose-otto/mod-1.toml", "--category", "4,leave-on,fine-fragrance"];
    limits.iter().for_each(|file| arguments.extend(["--limits", file]));
    arguments.extend(["--dosage", "18", "--batch", "50", "--alcohol", "85"]);
    let ran = permil(&arguments).ended(0);
    reads_well(&ran.stdout);
    assert_eq!(ran.stderr, "");
    assert_snapshot!("rose_in_text", ran.stdout);
}

#[test]
fn wrong_input_is_told_and_nothing_is_answered() {
    let folder = folder(&[("Linalool", 500.0)]);
    let (formula, limits) = (folder.path("formula.toml"), folder.path("limits.toml"));
    let with = |more: &[&str]| {
        let start = ["product", &formula, "--limits", &limits];
        permil(&[&start[..], more].concat())
    };
    let told = [
        (vec!["--category", "5", "--dosage", "10"], "no label of the limits files is named \"5\""),
        (vec!["--category", "leave-onn", "--dosage", "10"], "did you mean \"leave-on\"?"),
        (vec!["--category", "4", "--dosage", "0"], "expected a percentage above 0"),
        (vec!["--category", "4", "--dosage", "101"], "expected a percentage above 0"),
        (vec!["--category", "4", "--dosage", "10", "--batch", "0"], "expected a number of grams above 0"),
        (vec!["--category", "4", "--dosage", "10", "--alcohol", "80"], "--batch"),
        (
            vec!["--category", "4", "--dosage", "10", "--batch", "5", "--alcohol", "97"],
            "ethanol of 96 % cannot make a mixture of 97 %",
        ),
    ];
    for (more, complaint) in told {
        let ran = with(&more).ended(2);
        assert!(ran.stderr.contains(complaint), "{more:?}\n{}", ran.stderr);
        assert_eq!(ran.stdout, "");
    }
    folder.write("formula.toml", "[parts]\nLinalool = 1000\n");
    let ran = with(&["--category", "4", "--dosage", "10"]).ended(2);
    assert!(ran.stderr.contains("palette"), "{}", ran.stderr);
    folder.write("formula.toml", "palette = \"palette.toml\"\n[parts]\nLinalool = 900\n");
    let ran = with(&["--category", "4", "--dosage", "10"]).ended(1);
    assert!(ran.stderr.contains("add up to 900, not 1000"), "{}", ran.stderr);
    folder.write("formula.toml", "palette = \"palette.toml\"\n[parts]\n\"Linalol\" = 1000\n");
    let ran = with(&["--category", "4", "--dosage", "10"]).ended(2);
    assert!(ran.stderr.contains("no material of the palette is named \"Linalol\""), "{}", ran.stderr);
    folder.write("limits.toml", "[[allergen]]\nname = \"X\"\ncas = [\"78-70-5\"]\nsource = \"y\"\nlabel_above = {}\n");
    let ran = with(&["--category", "4", "--dosage", "10"]).ended(2);
    assert!(ran.stderr.contains("limits.toml:3") && ran.stderr.contains("`label_above` is empty"), "{}", ran.stderr);
}

#[test]
fn help() {
    assert_snapshot!("help", permil(&["product", "--help"]).ended(0).stdout);
}
