//! Limits never promise more than the files know: small shelves worked by
//! hand, through every command that speaks of limits.

mod support;

use serde_json::Value;
use support::program::{Folder, permil, reads_well};

const HEAD: &str = "[descriptors]\nfloral = \"flowers\"\n";

fn material(name: &str, rest: &str) -> String {
    format!("[[material]]\nname = \"{name}\"\nstrength = 10\nprice = 10\nscores = {{ floral = 5 }}\n{rest}\n")
}

fn restriction(substance: &str, cas: &str, limits: &str) -> String {
    format!(
        "[[restriction]]\nsubstance = \"{substance}\"\ncas = [\"{cas}\"]\nsource = \"S\"\nlimits = {{ {limits} }}\n"
    )
}

const GERANIOL: &str = "106-24-1";
const AMYL: &str = "101-86-0";

/// A folder with a palette, one limits file or several, and a formula of equal
/// parts of every material.
fn folder(materials: &[(&str, &str)], limits: &[&str]) -> Folder {
    let palette: String = materials.iter().map(|(name, rest)| material(name, rest)).collect();
    let share = 1000.0 / materials.len() as f64;
    assert_eq!(share.fract(), 0.0, "parts that add up");
    let parts: String = materials.iter().map(|(name, _)| format!("\"{name}\" = {share}\n")).collect();
    let folder = Folder::of(&[
        ("palette.toml", &format!("{HEAD}{palette}")),
        ("formula.toml", &format!("palette = \"palette.toml\"\n[parts]\n{parts}")),
    ]);
    for (at, text) in limits.iter().enumerate() {
        folder.write(&format!("limits-{at}.toml"), text);
    }
    folder
}

fn arguments(folder: &Folder, files: usize, category: &str, dosage: &str) -> Vec<String> {
    let mut all = vec!["product".to_owned(), folder.path("formula.toml")];
    for at in 0..files {
        all.extend(["--limits".to_owned(), folder.path(&format!("limits-{at}.toml"))]);
    }
    all.extend(["--category", category, "--dosage", dosage].map(str::to_owned));
    all
}

fn json(folder: &Folder, files: usize, category: &str, dosage: &str, status: i32) -> Value {
    let mut all = arguments(folder, files, category, dosage);
    all.extend(["--format", "json"].map(str::to_owned));
    permil(&all.iter().map(String::as_str).collect::<Vec<_>>()).ended(status).json()
}

fn text(folder: &Folder, files: usize, category: &str, dosage: &str) -> String {
    let all = arguments(folder, files, category, dosage);
    let all = all.iter().map(String::as_str).chain(["--full"]);
    let ran = permil(&all.collect::<Vec<_>>()).ended(0);
    reads_well(&ran.stdout);
    // Lines are broken for the page.
    ran.stdout.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// (substance, category, reason) of everything without a figure.
fn lacking(report: &Value) -> Vec<(String, String, String)> {
    let word = |line: &Value, key: &str| line[key].as_str().unwrap_or("-").to_owned();
    let lines = report["without_figure"].as_array().unwrap().iter();
    lines.map(|line| (word(line, "substance"), word(line, "category"), word(line, "reason"))).collect()
}

fn told(lines: &[(&str, &str, &str)]) -> Vec<(String, String, String)> {
    lines.iter().map(|(a, b, c)| ((*a).to_owned(), (*b).to_owned(), (*c).to_owned())).collect()
}

/// Half the accord is in no file; the other half is restricted, in one of two
/// categories.
#[test]
fn no_limit_is_never_said_where_none_was_on_file() {
    let materials = [("Geraniol", "cas = \"106-24-1\""), ("Amyl", "cas = \"101-86-0\"")];
    let limits = restriction("Geraniol", GERANIOL, "\"4\" = 4.7") + &restriction("Eugenol", "97-53-0", "\"9\" = 1");
    let folder = folder(&materials, &[&limits]);
    let report = json(&folder, 1, "4,9", "5", 0);
    assert_eq!(report["highest_dosage_percent"], Value::Null);
    // Half of the concentrate: 4.7 % at 9.4 % dosage.
    assert_eq!(
        (&report["highest_dosage_by_figures_percent"], &report["highest_dosage_by"]),
        (&9.4.into(), &"Geraniol".into())
    );
    let wanted =
        [("Geraniol", "9", "no figure for this category"), ("Amyl", "4", "in no file"), ("Amyl", "9", "in no file")];
    assert_eq!(lacking(&report), told(&wanted));
    assert_eq!(report["without_figure"][1]["cas"], AMYL);
    // By itself, a category in which nothing has a figure promises nothing.
    let nine = &report["categories"][1];
    assert_eq!((&nine["category"], &nine["highest_dosage_percent"]), (&"9".into(), &Value::Null));
    assert_eq!(nine["highest_dosage_by_figures_percent"], Value::Null);
    let text = text(&folder, 1, "4,9", "5");
    assert!(text.contains("not established; by the figures on file 9.400 %"), "{text}");
    assert!(text.contains("In no limits file: Amyl."), "{text}");
    assert!(text.contains("Restricted, but no figure for category 9: Geraniol."), "{text}");
    assert!(!text.contains("No limit") && !text.contains("100"), "{text}");
}

#[test]
fn a_number_that_was_searched_for_is_free_and_the_highest_dosage_is_one() {
    let materials = [("Geraniol", "cas = \"106-24-1\""), ("Amyl", "cas = \"101-86-0\"")];
    let rows = restriction("Geraniol", GERANIOL, "\"4\" = 4.7") + &restriction("Eugenol", "97-53-0", "\"9\" = 1");
    let reviewed = format!("reviewed = [\"{GERANIOL}\", \"{AMYL}\"]\nreviewed_in = \"Edition 7\"\n{rows}");
    let all = folder(&materials, &[&reviewed]);
    let report = json(&all, 1, "4", "5", 0);
    assert_eq!(report["highest_dosage_percent"], 9.4);
    assert_eq!(lacking(&report), []);
    let answers: Vec<&str> = report["care"]["coverage"]["answers"]
        .as_array()
        .unwrap()
        .iter()
        .map(|it| it["answer"].as_str().unwrap())
        .collect();
    assert_eq!(answers, ["limit", "free"]);
    assert!(text(&all, 1, "4", "5").contains("Looked up in: Edition 7."));
    // Searched for, restricted, and no figure for 9: that stays open.
    let nine = json(&all, 1, "4,9", "5", 0);
    assert_eq!(lacking(&nine), told(&[("Geraniol", "9", "no figure for this category")]));
    assert_eq!(nine["highest_dosage_percent"], Value::Null);
}

/// The law was searched for a material; of the trade's categories that says
/// nothing.
#[test]
fn a_search_of_one_list_frees_nothing_in_the_categories_of_another() {
    let law = format!("reviewed = [\"{AMYL}\"]\n") + &restriction("Eugenol (law)", "97-53-0", "\"leave-on\" = 1");
    let trade = restriction("Eugenol", "97-53-0", "\"4\" = 1");
    let folder = folder(&[("Amyl", "cas = \"101-86-0\"")], &[&law, &trade]);
    assert_eq!(lacking(&json(&folder, 2, "4,leave-on", "5", 0)), told(&[("Amyl", "4", "in no file")]));
    assert_eq!(json(&folder, 2, "leave-on", "5", 0)["highest_dosage_percent"], 100.0);
}

/// The figure of one file does not answer for another that knows the category
/// and restricts the substance without a figure.
#[test]
fn a_gap_in_one_file_is_not_hidden_by_the_figure_of_another() {
    let trade = restriction("Geraniol", GERANIOL, "\"4\" = 4.7") + &restriction("Eugenol", "97-53-0", "\"9\" = 1");
    let law = restriction("Geraniol (law)", GERANIOL, "\"*\" = 8");
    let folder = folder(&[("Geraniol", "cas = \"106-24-1\"")], &[&trade, &law]);
    let report = json(&folder, 2, "9", "5", 0);
    assert_eq!(lacking(&report), told(&[("Geraniol", "9", "no figure for this category")]));
    assert_eq!(
        (&report["highest_dosage_percent"], &report["highest_dosage_by_figures_percent"]),
        (&Value::Null, &8.0.into())
    );
    assert_eq!(json(&folder, 2, "4", "5", 1)["highest_dosage_percent"], 4.7);
}

#[test]
fn a_closed_list_of_names_for_the_label_frees_nothing_from_a_limit() {
    let limits = restriction("Geraniol", GERANIOL, "\"leave-on\" = 4.7");
    let labels = "reviewed = \"all\"\nreviewed_in = \"Edition 7\"\n[[allergen]]\nname = \"GERANIOL\"\ncas = [\"106-24-1\"]\n\
                  source = \"S\"\nlabel_above = { \"leave-on\" = 0.001 }\n";
    let folder = folder(&[("Amyl", "cas = \"101-86-0\"")], &[&limits, labels]);
    let report = json(&folder, 2, "leave-on", "5", 0);
    assert_eq!(report["label_list_complete"], true);
    assert_eq!(lacking(&report), told(&[("Amyl", "leave-on", "in no file")]));
    // The shipped list says so of itself.
    let shipped = ["product", &folder.path("formula.toml"), "--limits", "profiles/limits/eu-allergens.toml"];
    let eu = ["--limits", "profiles/limits/eu.toml", "--category", "leave-on", "--dosage", "5", "--format", "json"];
    let report = permil(&[&shipped[..], &eu[..]].concat()).ended(0).json();
    assert_eq!(report["label_list_complete"], true);
    assert_eq!(report["highest_dosage_percent"], Value::Null);
}

/// A closed list of restrictions: what it does not name it does not restrict,
/// in its own categories.
#[test]
fn a_closed_list_of_restrictions_frees_what_it_does_not_name() {
    let closed = format!(
        "reviewed = \"all\"\nreviewed_in = \"Edition 7\"\n{}",
        restriction("Geraniol", GERANIOL, "\"4\" = 4.7")
    );
    let folder = folder(&[("Amyl", "cas = \"101-86-0\""), ("Nameless", "")], &[&closed]);
    let report = json(&folder, 1, "4", "5", 0);
    assert_eq!(lacking(&report), told(&[("Nameless", "4", "no CAS number")]));
    folder.write("limits-0.toml", &closed.replace("reviewed_in = \"Edition 7\"\n", ""));
    let all = arguments(&folder, 1, "4", "5");
    let ran = permil(&all.iter().map(String::as_str).collect::<Vec<_>>()).ended(2);
    assert!(ran.stderr.contains("`reviewed` says \"all\", and nothing says of what"), "{}", ran.stderr);
}

#[test]
fn limits_do_not_pass_by_what_has_no_number_in_silence() {
    let folder = folder(
        &[("Geraniol", "cas = \"106-24-1\""), ("Isoeugenol", "")],
        &[&(restriction("Geraniol", GERANIOL, "\"4\" = 4.7") + &restriction("Isoeugenol", "97-54-1", "\"4\" = 0.02"))],
    );
    let report = json(&folder, 1, "4", "5", 0);
    assert_eq!(lacking(&report), told(&[("Isoeugenol", "4", "no CAS number")]));
    let shown = text(&folder, 1, "4", "5");
    assert!(shown.contains("1 of 2 materials has a figure on file."), "{shown}");
    assert!(shown.contains("No CAS number, so that limits pass it by: Isoeugenol."), "{shown}");
    assert!(
        shown.contains("not established; by the figures on file 9.400 %, Geraniol reaches its limit first"),
        "{shown}"
    );
    // In every place where limits are spoken of.
    let brief = "palette = \"palette.toml\"\nlimits = \"limits-0.toml\"\n[target]\nfloral = 5\n[use]\ncategory = \"4\"\ndosage = 5\n\
                 [formula]\nmax_materials = 2\n[doses]\nIsoeugenol = { min = 100, use = \"must\" }\nGeraniol = { min = 100, use = \"must\" }\n";
    folder.write("brief.toml", brief);
    let (brief, formula) = (folder.path("brief.toml"), folder.path("formula.toml"));
    let page = folder.path("report.html");
    for command in [
        vec!["propose", &brief],
        vec!["check", &brief],
        vec!["compare", &brief, &formula],
        vec!["weigh", &formula, "--batch", "10", "--balance", "0.001", "--brief", &brief],
        vec!["report", &brief, "--save", &page],
    ] {
        let shown = permil(&command).ended(0).stdout;
        let shown = if command[0] == "report" { std::fs::read_to_string(&page).unwrap() } else { shown };
        let shown = shown.split_whitespace().collect::<Vec<_>>().join(" ");
        let named = [
            "No CAS number, so that limits pass it by: Isoeugenol.",
            "No CAS number, so limits pass it by: Isoeugenol.",
        ];
        assert!(named.iter().any(|said| shown.contains(said)), "{command:?}\n{shown}");
    }
}

/// What a natural says it contains is asked about like any material; what it
/// does not say is unknown; a base is what it is mixed from.
#[test]
fn constituents_that_no_file_knows_are_listed() {
    let oil =
        "cas = \"8000-28-0\"\nnatural = true\nconstituents = { \"106-24-1\" = 5, \"78-70-6\" = 35, \"60-12-8\" = 0 }";
    let limits = "reviewed = [\"8000-28-0\"]\n".to_owned() + &restriction("Geraniol", GERANIOL, "\"4\" = 4.7");
    let folder = folder(&[("Oil", oil), ("Resin", "natural = true\ncas = \"8016-37-3\"")], &[&limits]);
    let report = json(&folder, 1, "4", "5", 0);
    assert_eq!(lacking(&report), told(&[("-", "4", "in no file"), ("Resin", "4", "constituents unknown")]));
    assert_eq!(report["without_figure"][0]["cas"], "78-70-6");
    let shown = text(&folder, 1, "4", "5");
    assert!(shown.contains("Not fully checked: Resin is a natural of unknown constituents"), "{shown}");
    assert!(shown.contains("In no limits file: 78-70-6 in Oil."), "{shown}");
}

/// A ban on adding a substance has no figure for what naturals bring of it.
#[test]
fn a_row_that_counts_another_way_in_is_no_figure() {
    let ban = restriction("Safrole", "94-59-7", "\"4\" = 0").replace("source", "applies = \"added\"\nsource");
    let folder = folder(
        &[("Oil", "cas = \"8000-28-0\"\nconstituents = { \"94-59-7\" = 1 }")],
        &[&(format!("reviewed = [\"8000-28-0\"]\n{ban}"))],
    );
    assert_eq!(lacking(&json(&folder, 1, "4", "5", 0)), told(&[("Safrole", "4", "no figure for this category")]));
}

#[test]
fn a_shared_limit_that_is_full_keeps_its_marks() {
    let row = |name: &str, cas: &str, verified: &str| {
        restriction(name, cas, "\"4\" = 2")
            .replace("source", &format!("joint = \"phototoxic\"\nverified = {verified}\nsource"))
    };
    let limits = row("Lemon", "8008-56-8", "true") + &row("Bergamot", "8007-75-8", "false");
    let folder = folder(&[("Lemon oil", "cas = \"8008-56-8\""), ("Bergamot oil", "cas = \"8007-75-8\"")], &[&limits]);
    let report = json(&folder, 1, "4", "2", 0);
    assert_eq!((&report["highest_dosage_percent"], &report["highest_dosage_by"]), (&2.0.into(), &"phototoxic".into()));
    assert_eq!(report["highest_dosage_verified"], false);
    assert_eq!(
        (&report["categories"][0]["by"], &report["categories"][0]["verified"]),
        (&"phototoxic".into(), &false.into())
    );
    assert_eq!(report["joints"][0]["verified"], false);
    let shown = text(&folder, 1, "4", "2");
    assert!(shown.contains("phototoxic reaches its limit first (unverified, from memory)"), "{shown}");
    assert!(shown.contains("phototoxic *"), "{shown}");
}

#[test]
fn one_substance_in_two_files_keeps_the_mark_and_source_of_each() {
    let row = |limit: &str, verified: &str, source: &str| {
        restriction("Geraniol", GERANIOL, &format!("\"4\" = {limit}"))
            .replace("source = \"S\"", &format!("verified = {verified}\nsource = \"{source}\""))
    };
    let folder =
        folder(&[("Geraniol", "cas = \"106-24-1\"")], &[&row("8", "true", "Read"), &row("4", "false", "Remembered")]);
    let report = json(&folder, 2, "4", "3", 0);
    assert_eq!(report["highest_dosage_percent"], 4.0);
    assert_eq!(report["highest_dosage_verified"], false);
    assert_eq!(report["categories"][0]["verified"], false);
    let marks: Vec<(bool, &str)> = report["limits"]
        .as_array()
        .unwrap()
        .iter()
        .map(|line| (line["verified"].as_bool().unwrap(), line["source"].as_str().unwrap()))
        .collect();
    assert_eq!(marks, [(false, "Remembered"), (true, "Read")]);
}

/// A brief whose best formula stands at a limit and at a budget.
#[test]
fn what_the_law_forbids_is_no_lever() {
    let palette = format!(
        "{HEAD}woody = \"wood\"\n[[material]]\nname = \"Rose\"\ncas = \"106-24-1\"\nstrength = 10\nprice = 50\nscores = {{ floral = 9 }}\n\
         [[material]]\nname = \"Wood\"\ncas = \"101-86-0\"\nstrength = 10\nprice = 10\nscores = {{ woody = 9 }}\n"
    );
    let brief = "palette = \"palette.toml\"\nlimits = \"limits.toml\"\n[target]\nfloral = 9\nwoody = 1\n[formula]\nstep = 1\n\
                 [use]\ncategory = \"4\"\ndosage = 20\n";
    let limits = restriction("Geraniol", GERANIOL, "\"4\" = 10");
    let folder = Folder::of(&[("palette.toml", &palette), ("brief.toml", brief), ("limits.toml", &limits)]);
    let brief = folder.path("brief.toml");
    let report = permil(&["propose", &brief, "--format", "json"]).ended(0).json();
    assert_eq!(report["formula"]["parts"]["Rose"], 500);
    let rules: Vec<&str> =
        report["binding"].as_array().unwrap().iter().map(|line| line["rule"].as_str().unwrap()).collect();
    assert_eq!(rules, ["dosage"]);
    assert_eq!(report["limits_full"][0]["name"], "Geraniol");
    let shown = permil(&["propose", &brief, "--full"]).ended(0).stdout;
    let shown = shown.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(shown.contains("Geraniol has reached its limit; limits are not loosened here."), "{shown}");
    assert!(!shown.contains("raise the limit"), "{shown}");
}

/// The dose of a natural is fixed; let loose, it goes, and something of
/// unknown constituents takes its place.
#[test]
fn a_lever_that_brings_in_the_unknown_says_so_beside_it() {
    let palette = format!(
        "{HEAD}woody = \"wood\"\n[[material]]\nname = \"Otto\"\nstrength = 10\nprice = 9\nnatural = true\nconstituents = {{}}\nscores = {{ floral = 5, woody = 5 }}\n\
         [[material]]\nname = \"Absolute\"\nstrength = 10\nprice = 9\nnatural = true\nscores = {{ floral = 9 }}\n"
    );
    let brief =
        "palette = \"palette.toml\"\n[target]\nfloral = 9\n[formula]\nstep = 1\n[doses]\nOtto = { fixed = 400 }\n";
    let folder = Folder::of(&[("palette.toml", &palette), ("brief.toml", brief)]);
    let brief = folder.path("brief.toml");
    let report = permil(&["propose", &brief, "--format", "json"]).ended(0).json();
    let line = &report["binding"][0];
    assert_eq!(line["order"], "let the dose of Otto vary");
    assert_eq!(line["naturals_left_out"][0], "Otto");
    assert_eq!(
        (&line["unknown_brought_in"][0]["material"], &line["unknown_brought_in"][0]["parts"]),
        (&"Absolute".into(), &1000.into())
    );
    let shown = permil(&["propose", &brief]).ended(0).stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(shown.contains("it puts in 1000 ‰ of Absolute, of unknown constituents, not checked"), "{shown}");
}
