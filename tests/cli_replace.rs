//! `permil replace` as a user meets it.

mod support;

use insta::assert_snapshot;
use support::assert_close;
use support::program::{Folder, permil, reads_well, settled};

const ROSE: &str = "profiles/rose-otto/brief.toml";
const ROSE_MOD: &str = "profiles/rose-otto/mod-1.toml";
const SIX: &str = "profiles/six-materials/brief.toml";
const SIX_FORMULA: &str = "profiles/six-materials/formula.toml";

#[test]
fn rose_without_linalool() {
    let ran = permil(&["replace", ROSE, ROSE_MOD, "--out", "LINALOOL"]).ended(0);
    reads_well(&ran.stdout);
    assert_eq!(ran.stderr, "");
    assert_snapshot!("rose_in_text", ran.stdout);
    let json = permil(&["replace", ROSE, ROSE_MOD, "--out", "linalool", "--format", "json"]).ended(0).json();
    assert_eq!((&json["status"], &json["out"]), (&"optimal".into(), &serde_json::json!(["Linalool"])));
    assert_close(json["before"]["fidelity"].as_f64().unwrap(), 100.0, 1e-9, "its own profile");
    assert_close(json["before"]["to_brief"]["fidelity"].as_f64().unwrap(), 85.05, 1e-4, "the brief");
    let after = &json["after"]["formula"]["parts"];
    assert!(after["Linalool"].is_null());
    // The largest dose makes up the sum, the others keep their proportions.
    assert_eq!((&json["makes_up_the_sum"], &json["in_proportion"]), (&"Citronellol".into(), &true.into()));
    assert_eq!(json["not_enough"], serde_json::json!([]));
    let grown = after["Phenylethyl alcohol"].as_f64().unwrap() / 300.0;
    for (name, parts) in json["before"]["formula"]["parts"].as_object().unwrap() {
        let (was, now) = (parts.as_f64().unwrap(), after[name].as_f64().unwrap_or(0.0));
        let kept = (now - grown * was).abs() <= 0.5 * grown + 1e-9;
        assert!(["Linalool", "Citronellol"].contains(&name.as_str()) || kept, "{name} from {was} to {now}");
    }
    let alternatives = json["alternatives"].as_array().unwrap();
    assert_eq!(alternatives.len(), 5);
    assert_eq!(alternatives[0]["formula"], json["after"]["formula"]);
}

#[test]
fn six_materials_in_json_and_csv() {
    let arguments = ["replace", SIX, SIX_FORMULA, "--limit", "Geraniol=150", "--free", "2"];
    let ran = permil(&arguments).ended(0);
    reads_well(&ran.stdout);
    assert_snapshot!("six_in_text", ran.stdout);
    for format in ["json", "csv"] {
        let ran = permil(&[&arguments[..], &["--format", format]].concat()).ended(0);
        assert_snapshot!(format!("six_in_{format}"), settled(&ran.stdout));
    }
}

#[test]
fn nothing_out_leaves_it_as_it_is() {
    for more in [&[][..], &["--free", "3", "--with", "2"], &["--limit", "nerol=60"]] {
        let arguments = [&["replace", ROSE, ROSE_MOD, "--format", "json"][..], more].concat();
        let json = permil(&arguments).ended(0).json();
        let [mut before, mut after] = [json["before"].clone(), json["after"].clone()];
        // What is not to be replaced needs no bound, but has one.
        for side in [&mut before, &mut after] {
            side.as_object_mut().unwrap().remove("bound");
            // A formula is as often nearer than itself as not.
            side["to_brief"].as_object_mut().unwrap().remove("nearer_in_percent");
        }
        assert_eq!(before, after);
        assert_eq!((&json["changes"], &json["alternatives"]), (&serde_json::json!([]), &serde_json::json!([])));
    }
    let text = permil(&["replace", ROSE, ROSE_MOD]).ended(0).stdout;
    reads_well(&text);
    assert!(text.contains("it stays as it is"), "{text}");
}

#[test]
fn a_rule_that_stands_in_the_way() {
    // The brief says that Nerol must be used. One line says what was not enough.
    let ran = permil(&["replace", ROSE, ROSE_MOD, "--out", "Nerol"]).ended(1);
    reads_well(&ran.stdout);
    assert!(ran.stdout.contains("Not enough: ") && ran.stdout.contains("--why"), "{}", ran.stdout);
    assert!(!ran.stdout.contains("cannot stand together"), "{}", ran.stdout);
    let ran = permil(&["replace", ROSE, ROSE_MOD, "--out", "Nerol", "--why"]).ended(1);
    reads_well(&ran.stdout);
    assert_snapshot!("nerol_must_be_used", ran.stdout);
    let json = permil(&["replace", ROSE, ROSE_MOD, "--out", "Nerol", "--format", "json"]).ended(1).json();
    assert!(json["after"].is_null() && json["status"] == "infeasible");
    let rules: Vec<&str> =
        json["conflict"].as_array().unwrap().iter().map(|line| line["rule"].as_str().unwrap()).collect();
    assert_eq!(rules, ["dose:Nerol.must", "dose:Nerol.never"]);
    assert!(json["conflict"][1]["line"].is_null() && json["conflict"][1]["file"] == "--out");
    let ran = permil(&["replace", ROSE, ROSE_MOD, "--out", "Nerol", "--format", "csv"]).ended(1);
    assert!(ran.stderr.contains("nothing can take its place"), "{}", ran.stderr);
    let folder = Folder::copy_of("profiles/six-materials");
    let (brief, old) = (folder.path("brief.toml"), folder.path("formula.toml"));
    // What stays breaks a rule: 486 of phenylethyl alcohol, where 480 are the cap.
    folder.change("brief.toml", "{ max = 500 }", "{ max = 480 }");
    let arguments = ["replace", &brief, &old, "--out", "Linalool", "--free", "0", "--format", "json"];
    let json = permil(&arguments).ended(1).json();
    let rules: Vec<&str> =
        json["conflict"].as_array().unwrap().iter().map(|line| line["rule"].as_str().unwrap()).collect();
    assert_eq!(rules, ["dose:Phenylethyl alcohol.max", "dose:Phenylethyl alcohol.fixed"]);
    assert_eq!(json["conflict"][1]["line"], 8);
    assert_eq!(json["before"]["broken"][0]["rule"], "dose:Phenylethyl alcohol.max");
    // Three that may move mend it within the budget.
    let json =
        permil(&["replace", &brief, &old, "--out", "Linalool", "--free", "3", "--format", "json"]).ended(0).json();
    assert!(json["after"]["formula"]["parts"]["Phenylethyl alcohol"].as_f64().unwrap() <= 480.0);
    assert_eq!(json["after"]["broken"], serde_json::json!([]));
}

#[test]
fn saving_and_other_ways_of_writing_a_formula() {
    let folder = Folder::copy_of("profiles/six-materials");
    let (brief, old, new) = (folder.path("brief.toml"), folder.path("formula.toml"), folder.path("new.toml"));
    let arguments = ["replace", &brief, &old, "--limit", "geraniol = 150", "--free", "2", "--save", &new];
    permil(&arguments).ended(0);
    assert_snapshot!("saved", folder.read("new.toml"));
    permil(&arguments).ended(2);
    permil(&[&arguments[..], &["--force"]].concat()).ended(0);
    permil(&["compare", &brief, &new]).ended(0);

    folder.change("formula.toml", "\"Linalool\" = 40", "\"Linalool\" = 20");
    let ran = permil(&["replace", &brief, &old, "--out", "Linalool"]).ended(1);
    assert!(ran.stderr.contains("add up to 980, not 1000; --rescale"), "{}", ran.stderr);
    let json =
        permil(&["replace", &brief, &old, "--limit", "Geraniol=150", "--free", "6", "--rescale", "--format", "json"]);
    assert_eq!(json.ended(0).json()["rescaled"], true);
    let json = permil(&["replace", ROSE, ROSE_MOD, "--out", "eugenol", "--format", "json"]).ended(0).json();
    let rose = Folder::copy_of("profiles/rose-otto");
    rose.change("mod-1.toml", "basis = \"neat\"", "basis = \"bottle\"");
    rose.change("mod-1.toml", "\"Rose oxide\" = 1.5", "\"Rose oxide\" = 15");
    rose.change("mod-1.toml", "\"beta-Damascenone\" = 0.5", "\"beta-Damascenone\" = 50");
    let arguments = ["replace", &rose.path("brief.toml"), &rose.path("mod-1.toml"), "--out", "eugenol", "--rescale"];
    let converted = permil(&[&arguments[..], &["--format", "json"]].concat()).ended(0).json();
    assert_eq!(converted["converted_from"], "bottle");
    assert_eq!(converted["alternatives"][0]["materials"], json["alternatives"][0]["materials"]);
}

#[test]
fn wrong_usage() {
    for (arguments, said) in [
        (&["--out", "Geranoil"][..], "did you mean \"Geraniol\"?"),
        (&["--out", "Dipropylene glycol"], "it is not in the formula"),
        (&["--out", "Linalool", "--limit", "linalool=3"], "both taken out and lowered"),
        (&["--limit", "linalool=3", "--limit", "Linalool=4"], "lowered twice"),
        (&["--limit", "Linalool"], "expected MATERIAL=DOSE"),
        (&["--limit", "Linalool=much"], "expected a dose from 0 to 1000"),
        (&["--limit", "Linalool=-1"], "expected a dose from 0 to 1000"),
        (&["--limit", "Linalool=nan"], "expected a dose from 0 to 1000"),
        (&["--out", "Linalool", "--with", "0"], "0"),
        (&["--out", "Linalool", "--save", SIX, "--force"], "which the brief needs"),
        (&["--out", "\u{1b}[31m"], "no part of the formula"),
    ] {
        let ran = permil(&[&["replace", SIX, SIX_FORMULA][..], arguments].concat()).ended(2);
        assert!(ran.stderr.contains(said), "{arguments:?}: {}", ran.stderr);
        assert!(ran.stdout.is_empty() && !ran.stderr.contains('\u{1b}'), "{arguments:?}");
    }
    permil(&["replace", SIX]).ended(2);
    permil(&["replace", SIX, "nowhere.toml", "--out", "Linalool"]).ended(2);
    let folder = Folder::copy_of("profiles/six-materials");
    folder.write("water.toml", "[parts]\n\"Dipropylene glycol\" = 1000\n");
    let ran =
        permil(&["replace", &folder.path("brief.toml"), &folder.path("water.toml"), "--out", "dipropylene glycol"]);
    assert!(ran.ended(2).stderr.contains("has an odour"), "no odour, no answer");
}

#[test]
fn help() {
    let ran = permil(&["replace", "--help"]).ended(0);
    let help: Vec<&str> = ran.stdout.lines().map(str::trim_end).collect();
    assert_snapshot!("help", help.join("\n"));
}

/// One formula has one profile, one price and one match, whichever command says
/// so.
#[test]
fn a_formula_has_the_same_numbers_in_adjust_and_replace() {
    for (brief, formula, out) in [(ROSE, ROSE_MOD, "Linalool"), (SIX, SIX_FORMULA, "Linalool")] {
        let replace = permil(&["replace", brief, formula, "--out", out, "--format", "json"]);
        let adjust = permil(&["adjust", brief, formula, "--format", "json"]).ended(0).json();
        let replace: serde_json::Value = serde_json::from_str(&replace.stdout).expect("JSON");
        let (one, other) = (&adjust["before"], &replace["before"]);
        for key in ["profile", "price", "strength", "shares", "materials", "limits", "price_of_effect"] {
            assert_eq!(one[key], other[key], "{key} of {formula}");
        }
        assert_eq!(one["fidelity"], other["to_brief"]["fidelity"]);
    }
}

/// Where the first step leaves nothing the next ones are tried, and the answer
/// says in one line what was not enough.
#[test]
fn what_does_not_fit_widens_by_itself() {
    let folder = Folder::copy_of("profiles/six-materials");
    folder.change("brief.toml", "{ max = 500 }", "{ max = 480 }");
    let arguments = ["replace", &folder.path("brief.toml"), &folder.path("formula.toml"), "--out", "Linalool"];
    let json = permil(&[&arguments[..], &["--format", "json"]].concat()).ended(0).json();
    let tried = json["not_enough"].as_array().unwrap().len();
    let text = permil(&arguments).ended(0).stdout;
    reads_well(&text);
    assert_eq!(text.contains("Not enough: "), tried > 0, "{text}");
    assert_eq!(json["after"]["broken"], serde_json::json!([]));
}
