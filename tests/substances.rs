//! A material without a CAS number is told, or counted by a name that a limits
//! file lists, and never passes in silence.

mod support;

use serde_json::Value;
use support::program::{Folder, permil, reads_well};

const PALETTE: &str = r#"
[descriptors]
rosy = "rose"
spicy = "clove"

[[material]]
name = "Phenylethyl alcohol"
cas = "60-12-8"
strength = 1
scores = { rosy = 7 }

[[material]]
name = "ISO-EUGENOL"
strength = 1
scores = { spicy = 7 }
"#;

const BRIEF: &str = r#"
palette = "palette.toml"
limits = "limits.toml"
[target]
rosy = 5
spicy = 5
[formula]
step = 0.1
[use]
category = "4"
dosage = 20
"#;

/// Half of the accord would be best; 0.02 % at 20 % concentrate leaves 1 ppt.
const UNNAMED: &str = r#"
[[restriction]]
substance = "Isoeugenol of the law"
cas = ["97-54-1"]
source = "made up"
limits = { "4" = 0.02 }

[[allergen]]
name = "ISOEUGENOL"
cas = ["97-54-1"]
source = "made up"
label_above = { "4" = 0.001 }
"#;

fn named() -> String {
    UNNAMED.replace("cas = [\"97-54-1\"]", "cas = [\"97-54-1\"]\nnames = [\"Isoeugenol\"]")
}

fn folder(palette: &str, limits: &str) -> Folder {
    Folder::of(&[("palette.toml", palette), ("brief.toml", BRIEF), ("limits.toml", limits)])
}

fn dose(json: &Value, material: &str) -> f64 {
    json["formula"]["parts"][material].as_f64().unwrap_or(0.0)
}

fn not_checked(json: &Value) -> String {
    json["care"]["not_checked"].to_string()
}

#[test]
fn what_a_limits_file_does_not_name_is_told_by_its_likely_number() {
    let folder = folder(PALETTE, UNNAMED);
    let brief = folder.path("brief.toml");
    let ran = permil(&["propose", &brief, "-q"]).ended(0);
    reads_well(&ran.stdout);
    let flat = ran.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    let told = "ISO-EUGENOL has no CAS number; by its name it may be Isoeugenol, 97-54-1: limits pass it by until the \
                number is written.";
    assert!(flat.contains(told), "{flat}");
    let json = permil(&["propose", &brief, "--format", "json"]).ended(0).json();
    assert_eq!(dose(&json, "ISO-EUGENOL"), 500.0, "a guess never counts");
    assert_eq!(json["care"]["identities"][0]["kind"], "may be");
    assert_eq!(json["care"]["identities"][0]["cas"], "97-54-1");
    let check = permil(&["check", &brief, "--format", "json"]).ended(0).json();
    let finding = &check["findings"].as_array().expect("findings")[0];
    assert_eq!((&finding["kind"], &finding["severity"]), (&"may be".into(), &"warning".into()));
    assert!(finding["remedy"].as_str().is_some_and(|text| text.contains("cas = \"97-54-1\"")), "{finding}");
}

#[test]
fn a_name_that_limits_list_counts_like_a_number_and_is_said() {
    let by_name = folder(PALETTE, &named());
    let by_number =
        folder(&PALETTE.replace("name = \"ISO-EUGENOL\"", "name = \"ISO-EUGENOL\"\ncas = \"97-54-1\""), UNNAMED);
    let propose =
        |folder: &Folder| permil(&["propose", &folder.path("brief.toml"), "--format", "json"]).ended(0).json();
    let (name, number) = (propose(&by_name), propose(&by_number));
    assert_eq!(dose(&name, "ISO-EUGENOL"), 1.0);
    assert_eq!(name["formula"], number["formula"]);
    assert_eq!(name["limits"][0]["use_percent"], 0.02);
    assert_eq!(name["limits"][0]["use_percent"], number["limits"][0]["use_percent"]);
    let said = "ISO-EUGENOL has no CAS number and is matched by its name: limits count it as Isoeugenol of the law";
    assert!(not_checked(&name).contains(said), "{name}");
    assert!(!not_checked(&number).contains("by its name"), "{number}");
    let text = permil(&["propose", &by_name.path("brief.toml"), "-q"]).ended(0).stdout;
    assert!(text.contains("is matched by its name"), "{text}");
}

#[test]
fn the_proof_of_a_formula_limited_by_a_name_checks() {
    let folder = folder(PALETTE, &named());
    let [brief, formula, proof] = ["brief.toml", "mod.toml", "mod.proof"].map(|name| folder.path(name));
    permil(&["propose", &brief, "--save", &formula, "--certificate", &proof, "-q"]).ended(0);
    permil(&["verify", &brief, &formula, &proof, "-q"]).ended(0);
    // Where the name is not listed the limit is another, and so is the proof.
    folder.write("limits.toml", UNNAMED);
    assert_ne!(permil(&["verify", &brief, &formula, &proof, "-q"]).status, 0);
}

#[test]
fn a_formula_one_step_over_a_limit_by_name_is_told_exactly() {
    let folder = folder(PALETTE, &named());
    let brief = folder.path("brief.toml");
    for (parts, broken) in [("1", false), ("1.1", true)] {
        let rest = 1000.0 - parts.parse::<f64>().expect("a number");
        let text = format!("[parts]\n\"Phenylethyl alcohol\" = {rest}\n\"ISO-EUGENOL\" = {parts}\n");
        folder.write("mod.toml", &text);
        let json = permil(&["compare", &brief, &folder.path("mod.toml"), "--format", "json"]);
        assert_eq!(json.stdout.contains("limit:Isoeugenol of the law"), broken, "{parts}: {}", json.stdout);
    }
}

#[test]
fn the_number_goes_before_the_name() {
    // Eugenol's number under the name of isoeugenol.
    let palette = PALETTE.replace("name = \"ISO-EUGENOL\"", "name = \"ISO-EUGENOL\"\ncas = \"97-53-0\"");
    let folder = folder(&palette, &named());
    let json = permil(&["propose", &folder.path("brief.toml"), "--format", "json"]).ended(0).json();
    assert_eq!(dose(&json, "ISO-EUGENOL"), 500.0);
    assert_eq!(json["care"]["identities"][0]["kind"], "other number");
    assert!(not_checked(&json).contains("the CAS number of another substance, Eugenol, 97-53-0"), "{json}");
}

#[test]
fn labels_and_the_highest_dosage_go_by_the_name_too() {
    let folder = folder(PALETTE, &named());
    folder
        .write("mod.toml", "palette = \"palette.toml\"\n[parts]\n\"Phenylethyl alcohol\" = 998\n\"ISO-EUGENOL\" = 2\n");
    let product = |limits: &str| {
        folder.write("limits.toml", limits);
        let (formula, limits) = (folder.path("mod.toml"), folder.path("limits.toml"));
        permil(&["product", &formula, "--limits", &limits, "--category", "4", "--dosage", "20", "--format", "json"])
            .json()
    };
    let json = product(&named());
    assert_eq!(json["highest_dosage_percent"], Value::Null, "nothing is known of the other material");
    assert_eq!(json["highest_dosage_by_figures_percent"], 10.0);
    assert_eq!(json["label"][0]["name"], "ISOEUGENOL");
    assert!(not_checked(&json).contains("matched by its name: the label list counts it as ISOEUGENOL"), "{json}");
    let json = product(UNNAMED);
    assert_eq!(json["label"].as_array().map(Vec::len), Some(0));
    assert!(not_checked(&json).contains("the label list passes it by until the number is written"), "{json}");
}

#[test]
fn what_stands_in_a_base_counts_by_its_name() {
    let base = r#"
[[material]]
name = "Spice base"
formula = "base.toml"
"#;
    let folder = folder(&format!("{PALETTE}{base}"), &named());
    folder
        .write("base.toml", "palette = \"inner.toml\"\n[parts]\n\"Phenylethyl alcohol\" = 500\n\"Isoeugenol\" = 500\n");
    folder.write("inner.toml", &PALETTE.replace("ISO-EUGENOL", "Isoeugenol"));
    folder.write("mod.toml", "[parts]\n\"Phenylethyl alcohol\" = 998\n\"Spice base\" = 2\n");
    let json = permil(&["compare", &folder.path("brief.toml"), &folder.path("mod.toml"), "--format", "json"]).json();
    let text = json.to_string();
    assert!(text.contains("Isoeugenol (in Spice base) has no CAS number and is matched by its name"), "{text}");
    assert_eq!(json["formulas"][0]["limits"][0]["use_percent"], 0.02, "{text}");
}

#[test]
fn an_isomer_that_a_limits_file_leaves_out_is_told() {
    let limits = r#"
[[restriction]]
substance = "Rose ketones"
cas = ["23696-85-7"]
source = "made up"
limits = { "4" = 0.02 }
"#;
    let palette = PALETTE.replace("name = \"ISO-EUGENOL\"", "name = \"beta-Damascone\"\ncas = \"23726-91-2\"");
    let folder = folder(&palette, limits);
    let json = permil(&["propose", &folder.path("brief.toml"), "--format", "json"]).ended(0).json();
    assert_eq!(json["care"]["identities"][0]["kind"], "left out");
    assert!(not_checked(&json).contains("does not count 23726-91-2 (beta-Damascone)"), "{json}");
    let shipped = limits.replace("[\"23696-85-7\"]", "[\"23696-85-7\", \"23726-91-2\"]");
    folder.write("limits.toml", &shipped);
    let json = permil(&["propose", &folder.path("brief.toml"), "--format", "json"]).ended(0).json();
    assert_eq!(dose(&json, "beta-Damascone"), 1.0);
}

#[test]
fn two_files_that_share_one_phototoxic_sum_count_an_oil_once() {
    let row = |limit: f64| {
        format!(
            "[[restriction]]\nsubstance = \"Bergamot at {limit}\"\ncas = [\"8007-75-8\"]\nsource = \"made up\"\n\
             joint = \"phototoxic\"\nlimits = {{ \"4\" = {limit} }}\n"
        )
    };
    let palette = PALETTE.replace("name = \"ISO-EUGENOL\"", "name = \"Bergamot oil\"\ncas = \"8007-75-8\"");
    let folder = folder(&palette, &row(0.4));
    folder.write("more.toml", &row(2.0));
    folder.change("brief.toml", "limits = \"limits.toml\"", "limits = [\"limits.toml\", \"more.toml\"]");
    let json = permil(&["propose", &folder.path("brief.toml"), "--format", "json"]).ended(0).json();
    // 0.4 % / 20 % = 20 ppt; counted under both figures it would be 16.6.
    assert_eq!(dose(&json, "Bergamot oil"), 20.0);
    assert_eq!(json["care"]["phototoxic"][0], "Bergamot oil");
    // Two oils of one file share.
    let both = format!("{}{}", row(0.4), row(2.0).replace("8007-75-8", "8008-56-8"));
    folder.write("limits.toml", &both);
    let lemon = "\n[[material]]\nname = \"Lemon oil\"\ncas = \"8008-56-8\"\nstrength = 1\nscores = { rosy = 7 }\n";
    folder.write("palette.toml", &format!("{palette}{lemon}"));
    folder.write("mod.toml", "[parts]\n\"Phenylethyl alcohol\" = 930\n\"Bergamot oil\" = 18\n\"Lemon oil\" = 52\n");
    folder.change("brief.toml", "limits = [\"limits.toml\", \"more.toml\"]", "limits = \"limits.toml\"");
    let compare = permil(&["compare", &folder.path("brief.toml"), &folder.path("mod.toml"), "--format", "json"]);
    assert!(compare.stdout.contains("joint:phototoxic"), "18/20 + 52/100 is more than 1: {}", compare.stdout);
}

#[test]
fn import_asks_for_the_numbers() {
    let sheet = "material,cas,strength,rosy\nIsoeugenol 10 % in DPG,,600,1\nβ-Damascone,,900,5\nGrandmother's base,,10,1\n\
                 Geraniol,CAS 106-24-1,70,8\n";
    let folder = Folder::of(&[("shelf.csv", sheet)]);
    let said = permil(&["import", &folder.path("shelf.csv"), "--save", &folder.path("palette.toml")]).ended(0).stdout;
    for line in [
        "Isoeugenol 10 % in DPG has no CAS number: Isoeugenol, 97-54-1?",
        "β-Damascone has no CAS number: beta-Damascone, 35044-68-9?",
        "1 more material has no CAS number.",
        "Limits and label lists pass by what has no number.",
    ] {
        assert!(said.contains(line), "{said}");
    }
    assert!(!folder.read("palette.toml").contains("97-54-1"), "a number is never written for the user");
}

#[test]
fn a_fault_in_names_shows_its_line() {
    let folder =
        folder(PALETTE, &UNNAMED.replacen("source", "names = [\"Isoeugenol\", \"iso eugenol\", \"--\"]\nsource", 1));
    let ran = permil(&["propose", &folder.path("brief.toml")]).ended(2);
    assert!(ran.stderr.contains("stands twice in `names`") && ran.stderr.contains("limits.toml:5"), "{}", ran.stderr);
    assert!(ran.stderr.contains("without a letter or a digit"), "{}", ran.stderr);
}

#[test]
fn sheet_and_report_carry_every_caution() {
    let folder = folder(PALETTE, &named());
    let [brief, formula, sheet, report] =
        ["brief.toml", "mod.toml", "sheet.html", "report.html"].map(|name| folder.path(name));
    permil(&["propose", &brief, "--save", &formula, "-q"]).ended(0);
    permil(&["weigh", &formula, "--brief", &brief, "--batch", "10", "--balance", "0.001", "--html", &sheet, "-q"])
        .ended(0);
    permil(&["report", &brief, "--save", &report, "-q"]).ended(0);
    for page in ["sheet.html", "report.html"] {
        let html = folder.read(page);
        for caution in permil::results::cautions(&[]) {
            assert!(html.contains(caution.about) && html.contains(&caution.text), "{page}: {}", caution.about);
        }
    }
    let text = permil(&["weigh", &formula, "--brief", &brief, "--batch", "10", "--balance", "0.001"]).ended(0).stdout;
    assert!(text.contains("no flame"), "{text}");
    let lines: Vec<&str> = text.lines().skip_while(|line| !line.starts_with("A starting point")).collect();
    assert!(lines.len() <= 6, "{lines:?}");
}
