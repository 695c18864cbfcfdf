//! `permil weigh` as a user meets it.

mod support;

use insta::assert_snapshot;
use support::program::{Folder, permil, reads_well};

const ROSE: &str = "profiles/rose-otto/mod-1.toml";
const BRIEF: &str = "profiles/rose-otto/brief.toml";
const SIX: &str = "profiles/six-materials/formula.toml";
const ON: [&str; 4] = ["--batch", "10", "--balance", "0.001"];

fn weigh(formula: &str, more: &[&str]) -> support::program::Ran {
    permil(&[&["weigh", formula], more].concat())
}

#[test]
fn in_text() {
    let ran = weigh(ROSE, &[&ON[..], &["--brief", BRIEF]].concat()).ended(0);
    reads_well(&ran.stdout);
    assert_snapshot!("rose_in_text", ran.stdout);
    let ran = weigh(SIX, &["--batch", "1", "--balance", "0.001"]).ended(0);
    reads_well(&ran.stdout);
    assert_eq!(ran.stderr, "");
    assert_snapshot!("six_in_text", ran.stdout);
    let ran =
        weigh(ROSE, &["--batch", "2", "--total", "10", "--balance", "0.01", "--poured", "rose oxide=0.05"]).ended(0);
    reads_well(&ran.stdout);
    assert_snapshot!("rose_poured", ran.stdout);
}

#[test]
fn json_and_csv() {
    let json = weigh(ROSE, &[&ON[..], &["--format", "json"]].concat()).ended(0).json();
    let lines = json["lines"].as_array().unwrap();
    let number = |line: &serde_json::Value, key: &str| line[key].as_f64().unwrap();
    let mut reading = 0.0;
    let neat: f64 = lines.iter().map(|line| number(line, "grams") * number(line, "bottle_percent") / 100.0).sum();
    for line in lines {
        reading += number(line, "grams");
        assert!((number(line, "reading") - reading).abs() < 1e-9);
        let parts = number(line, "grams") * number(line, "bottle_percent") / 100.0 / neat * 1000.0;
        assert!((number(line, "parts_weighed") - parts).abs() < 1e-9);
        assert!((parts / number(line, "parts") - 1.0).abs() < 0.011, "{line}");
    }
    assert!((number(&json, "poured_grams") - reading).abs() < 1e-9);
    assert!((number(&json, "neat_grams") - 10.0).abs() < 0.01);
    assert!(json["rounding"]["fidelity_weighed"].is_null());
    let judged = weigh(ROSE, &[&ON[..], &["--format", "json", "--brief", BRIEF]].concat()).ended(0).json();
    assert!(
        (number(&judged["rounding"], "fidelity_weighed") - number(&judged["rounding"], "fidelity_wanted")).abs() < 0.1
    );
    let csv = weigh(SIX, &[&ON[..], &["--format", "csv"]].concat()).ended(0).stdout;
    assert_snapshot!("six_in_csv", csv);
}

#[test]
fn the_same_seed_gives_the_same_sheet() {
    let sheet = |seed: &str| weigh(SIX, &[&ON[..], &["--seed", seed, "--format", "json"]].concat()).ended(0).stdout;
    assert_eq!(sheet("3"), sheet("3"));
    assert_ne!(sheet("3"), sheet("4"));
}

#[test]
fn a_final_mass() {
    let with =
        |more: &[&str]| weigh(ROSE, &[&["--balance", "0.001", "--format", "json"], more].concat()).ended(0).json();
    let json = with(&["--batch", "2", "--total", "10"]);
    let top = &json["top_up"];
    assert_eq!((&top["carrier"], &top["reading"]), (&"Dipropylene glycol".into(), &10.0.into()));
    assert!((top["concentration_percent"].as_f64().unwrap() - 20.0).abs() < 0.05);
    assert_eq!(with(&["--total", "10", "--concentration", "20"])["lines"], json["lines"]);
    // As much as fits.
    let json = with(&["--total", "10"]);
    assert!((json["poured_grams"].as_f64().unwrap() - 10.0).abs() < 0.01);
    let json = with(&["--batch", "10", "--total", "5"]);
    assert!(json["top_up"]["too_much_grams"].as_f64().unwrap() > 5.0);
    assert!(json["top_up"]["batch_that_fits"].as_f64().unwrap() < 5.0);
}

#[test]
fn the_pharmacopoeia_marks_what_a_percent_does_not() {
    let marked = |more: &[&str]| {
        let json = weigh(SIX, &[&ON[..], &["--format", "json"], more].concat()).ended(0).json();
        let lines = json["lines"].as_array().unwrap();
        let below = lines.iter().filter(|line| line["below_least"] == true).count();
        (json["least"].as_f64().unwrap(), below)
    };
    assert_eq!(marked(&[]), (0.05, 0));
    assert_eq!(marked(&["--pharmacopoeia"]), (0.82, 3));
    assert_eq!(marked(&["--error", "0.1"]), (0.5, 3));
}

/// Common practice, no source: for a trial of a gram even medium materials are
/// cut to 50 %, strong ones stand at 10 % or 20 %.
#[test]
fn a_trial_of_a_gram() {
    let json = weigh(SIX, &["--batch", "1", "--balance", "0.001", "--format", "json"]).ended(0).json();
    let lines = json["lines"].as_array().unwrap().iter();
    let remedies: Vec<(String, f64)> = lines
        .filter(|line| !line["remedy"].is_null())
        .map(|line| (line["material"].as_str().unwrap().to_owned(), line["remedy"]["percent"].as_f64().unwrap()))
        .collect();
    let wanted = [("cis-3-Hexenol", 10.0), ("Eugenol", 20.0), ("Linalool", 50.0)];
    assert_eq!(remedies, wanted.map(|(name, percent)| (name.to_owned(), percent)));
    // The advice, followed, leaves nothing marked.
    let folder = Folder::copy_of("profiles/six-materials");
    for (name, percent) in wanted {
        let bottle = format!("name = \"{name}\"\nbottle = {{ percent = {percent}, carrier = \"Dipropylene glycol\" }}");
        folder.change("palette.toml", &format!("name = \"{name}\""), &bottle);
    }
    let arguments = ["--batch", "1", "--balance", "0.001", "--format", "json"];
    let json = weigh(&folder.path("formula.toml"), &arguments).ended(0).json();
    assert!(json["lines"].as_array().unwrap().iter().all(|line| line["below_least"] == false), "{json}");
}

#[test]
fn a_page_to_print() {
    let folder = Folder::copy_of("profiles/six-materials");
    folder.change("formula.toml", "Small rose, worked by hand", "<script>alert(1)</script> & rose");
    folder.change("palette.toml", "name = \"Eugenol\"", "name = \"Eugenol\"\nhandling = \"<b>gloves</b>\"");
    let page = folder.path("sheet.html");
    weigh(&folder.path("formula.toml"), &[&ON[..], &["--html", &page]].concat()).ended(0);
    let html = folder.read("sheet.html");
    assert!(!html.contains("<script") && !html.contains("<b>") && html.contains("&lt;b&gt;gloves"), "{html}");
    assert!(!html.contains("http") && !html.contains("src=") && html.contains("@page { size: A4"));
    assert_eq!(html.matches("class=\"box\"").count(), 6);
    for said in ["Lot", "Observations", "NO LIMITS APPLIED", "not a safety assessment", "4.860", "Eugenol"] {
        assert!(html.contains(said), "{said}");
    }
    // No input is overwritten, and nothing but a page is written.
    let formula = folder.path("formula.toml");
    weigh(&formula, &[&ON[..], &["--html", &formula]].concat()).ended(2);
    std::fs::hard_link(&formula, folder.path("formula.html")).unwrap();
    assert!(folder.read("formula.toml").contains("[parts]"));
}

#[test]
fn wrong_input() {
    for (arguments, said) in [
        (&["--batch", "0", "--balance", "0.001"][..], "a number of grams above 0"),
        (&["--batch", "-1", "--balance", "0.001"], "a number of grams above 0"),
        (&["--batch", "nan", "--balance", "0.001"], "a number of grams above 0"),
        (&["--batch", "0.5", "--balance", "1"], "cannot weigh a batch of 0.5 g"),
        (&["--batch", "10", "--balance", "0"], "above 0"),
        (&["--batch", "10", "--balance", "1e-9"], "at least 0.000001"),
        (&["--balance", "0.001"], "--batch"),
        (&["--batch", "10"], "--balance"),
        (&["--batch", "10", "--balance", "0.001", "--error", "0"], "percent above 0"),
        (&["--batch", "10", "--balance", "0.001", "--error", "2", "--pharmacopoeia"], "cannot be used with"),
        (&["--batch", "1", "--balance", "0.001", "--total", "5", "--carrier", "Eugenol"], "no carrier"),
        (&["--batch", "1", "--balance", "0.001", "--poured", "Eugenol"], "expected a material"),
        (&["--batch", "1", "--balance", "0.001", "--poured", "Eugenl=1"], "did you mean \"Eugenol\""),
        (&["--batch", "1", "--balance", "0.001", "--poured", "Eugenol=0.0105"], "cannot have shown that"),
        (&["--batch", "1", "--balance", "0.001", "--poured", "Dipropylene glycol=1"], "not in the formula"),
        (&["--batch", "1", "--balance", "0.001", "--html", "sheet.pdf"], "ends in .html"),
        (&["--batch", "1", "--balance", "0.001", "--html", "nowhere/at/all.html"], "nowhere"),
    ] {
        let ran = weigh(SIX, arguments).ended(2);
        assert!(ran.stderr.contains(said), "{arguments:?}: {}", ran.stderr);
        assert!(ran.stdout.is_empty(), "{arguments:?}");
    }
}

#[test]
fn wrong_files() {
    let folder = Folder::copy_of("profiles/six-materials");
    let page = folder.path("sheet.html");
    let on = [&ON[..], &["--html", &page]].concat();
    let formula = folder.path("formula.toml");
    folder.change("formula.toml", "\"Eugenol\" = 10", "\"Eugenol\" = 20");
    let ran = weigh(&formula, &on).ended(1);
    assert!(ran.stderr.contains("add up to 1010, not 1000; --rescale"), "{}", ran.stderr);
    assert!(ran.stdout.is_empty());
    weigh(&formula, &[&ON[..], &["--rescale"]].concat()).ended(0);
    folder.change("formula.toml", "\"Eugenol\" = 20", "\"Eugenoll\" = 10");
    let ran = weigh(&formula, &on).ended(2);
    assert!(ran.stderr.contains("no material of the palette is named \"Eugenoll\""), "{}", ran.stderr);
    folder.change("formula.toml", "palette = \"palette.toml\"", "palette = \"other.toml\"");
    let ran = weigh(&formula, &on).ended(2);
    assert!(ran.stderr.contains("other.toml") && !ran.stderr.contains("Eugenoll"), "{}", ran.stderr);
    folder.change("formula.toml", "palette = \"other.toml\"\n", "");
    let ran = weigh(&formula, &on).ended(2);
    assert!(ran.stderr.contains("`palette` is missing"), "{}", ran.stderr);
    folder.change("palette.toml", "price = 5", "price = 5\nbottle = { percent = 0 }");
    folder.change("formula.toml", "basis = \"neat\"", "basis = \"neat\"\npalette = \"palette.toml\"");
    let ran = weigh(&formula, &on).ended(2);
    assert!(ran.stderr.contains("percent"), "{}", ran.stderr);
    assert!(!folder.names().contains(&"sheet.html".to_owned()));
}

#[test]
fn bottles_that_hold_too_little() {
    let folder = Folder::copy_of("profiles/six-materials");
    folder.change("palette.toml", "name = \"Geraniol\"", "name = \"Geraniol\"\nstock = 1.08");
    let json = weigh(&folder.path("formula.toml"), &[&ON[..], &["--format", "json"]].concat()).ended(0).json();
    assert_eq!(json["largest_batch"], 5.0);
    let text = weigh(&folder.path("formula.toml"), &ON).ended(0).stdout;
    reads_well(&text);
    assert!(text.contains("Geraniol: 1.08 g on hand, 1.080 g are missing."), "{text}");
}

#[test]
fn help() {
    let ran = permil(&["weigh", "--help"]).ended(0);
    let help: Vec<&str> = ran.stdout.lines().map(str::trim_end).collect();
    assert_snapshot!("help", help.join("\n"));
}

/// The way out of an overshoot stands in every format.
#[test]
fn an_overshoot_in_table_and_page() {
    let folder = Folder::copy_of("profiles/six-materials");
    let page = folder.path("sheet.html");
    let poured = [&ON[..], &["--poured", "Eugenol=0.15", "--html", &page]].concat();
    let json = weigh(SIX, &[&poured[..], &["--format", "json"]].concat()).ended(0).json();
    let csv = weigh(SIX, &[&poured[..], &["--format", "csv"]].concat()).ended(0).stdout;
    let html = folder.read("sheet.html");
    let mut rows = csv::Reader::from_reader(csv.as_bytes());
    let head: Vec<String> = rows.headers().unwrap().iter().map(str::to_owned).collect();
    let at = |name: &str| head.iter().position(|own| own == name).unwrap();
    let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
    for (way, column) in [("larger", "add_in_larger_batch"), ("same", "add_in_same_batch")] {
        for line in json["overshoot"][way]["lines"].as_array().unwrap() {
            let row = rows.iter().find(|row| line["material"] == row[0]).unwrap();
            assert_eq!(row[at(column)].parse::<f64>().unwrap(), line["add_grams"].as_f64().unwrap());
        }
    }
    for said in ["With 0.150 g of Eugenol in the vessel", "Either a larger batch of 15.0 g", "Or 10 g as meant"] {
        assert!(html.contains(said), "{said}");
    }
}
