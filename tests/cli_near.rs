//! Staying near a known formula, as a user meets it.

mod support;

use serde_json::json;
use support::page::Server;
use support::program::{Folder, permil, reads_well};

/// Invented, with one part that the shelf lacks.
const COMPOSITION: &str = r#"
title = "An analysis (invented)"
source = "invented for this test"
[parts]
"Phenylethyl alcohol" = { percent = 30 }
"Another name for geraniol" = { percent = 25, cas = "106-24-1" }
"Nerolidol" = { percent = 5 }
"#;

/// The six materials near the analysis.
fn folder(near: &str) -> (Folder, String) {
    let folder = Folder::copy_of("profiles/six-materials");
    let brief = folder.read("brief.toml") + &format!("\n[near]\nformula = \"gc.toml\"\n{near}\n");
    folder.write("near.toml", &brief);
    folder.write("gc.toml", COMPOSITION);
    let path = folder.path("near.toml");
    (folder, path)
}

fn in_one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_rule_is_kept_and_told() {
    let (folder, brief) = folder("within = 40");
    let free = permil(&["propose", &folder.path("brief.toml"), "--format", "json", "--no-worth"]).ended(0).json();
    assert!(free.get("near").is_none());
    let ran = permil(&["propose", &brief]).ended(0);
    reads_well(&ran.stdout);
    for told in [
        "is elsewhere than in An analysis (invented), and at most 40 % may be",
        "The shelf lacks Nerolidol",
        "No strength is known of Nerolidol",
    ] {
        assert!(in_one_line(&ran.stdout).contains(told), "{told}\n{}", ran.stdout);
    }
    let json = permil(&["propose", &brief, "--format", "json"]).ended(0).json();
    let near = &json["near"];
    let moved = near["moved"].as_f64().unwrap();
    assert!(moved <= 40.0 + 1e-4 && near["within"] == 40.0 && near["by"] == "odour", "{near}");
    assert!(json["fidelity"].as_f64() < free["fidelity"].as_f64());
    assert_eq!(near["lacking"][0]["name"], "Nerolidol");
    assert_eq!(near["lacking"][0]["strength_assumed"], true);
    let more: Vec<&String> = near["more"].as_object().unwrap().keys().collect();
    assert_eq!(near["lacking"][0]["replaced_by"].as_array().unwrap().len(), more.len());
    // What there is more of is as much as what is missing, and that is what moved.
    let sum = |key: &str| near[key].as_object().unwrap().values().map(|by| by.as_f64().unwrap()).sum::<f64>();
    assert!((sum("more") - moved).abs() < 1e-3, "{near}");
    assert!((sum("less") + near["least_by_lack"].as_f64().unwrap() - moved).abs() < 1e-3, "{near}");
    assert!(json["binding"].as_array().unwrap().iter().any(|line| line["rule"] == "near"), "{}", json["binding"]);
}

#[test]
fn its_proof_is_verified() {
    let (folder, brief) = folder("within = 40");
    let (saved, proof) = (folder.path("near-mod.toml"), folder.path("near.proof"));
    permil(&["propose", &brief, "--no-worth", "--save", &saved, "--certificate", &proof]).ended(0);
    assert!(folder.read("near.proof").contains(" k0="), "the rule is no part of the proof");
    permil(&["verify", &brief, &saved, &proof]).ended(0);
    // Of the brief without the rule it proves nothing.
    permil(&["verify", &folder.path("brief.toml"), &saved, &proof]).ended(1);
    let broken = permil(&["compare", &brief, &folder.path("formula.toml"), "--format", "json"]).ended(0).json();
    let lines = broken["formulas"][0]["broken"].as_array().unwrap();
    assert!(lines.iter().any(|line| line["rule"] == "near"), "{lines:?}");
}

#[test]
fn match_is_given_away_and_told() {
    let (_folder, brief) = folder("give = 2");
    let json = permil(&["propose", &brief, "--format", "json"]).ended(0).json();
    let near = &json["near"];
    let given = near["best_fidelity"].as_f64().unwrap() - json["fidelity"].as_f64().unwrap();
    assert!((0.0..=2.0 + 1e-4).contains(&given), "{given}");
    assert!(near["moved"].as_f64().unwrap() < near["best_moved"].as_f64().unwrap() - 0.1, "{near}");
    assert_eq!((&near["nearest_proven"], &near["best_proven"]), (&true.into(), &true.into()));
    assert_eq!(json["status"], "feasible", "it is not the best match");
    let ran = permil(&["propose", &brief]).ended(0);
    reads_well(&ran.stdout);
    assert!(in_one_line(&ran.stdout).contains("nearer to a known formula"), "{}", ran.stdout);
}

#[test]
fn an_analysis_is_a_starting_point() {
    let (folder, _) = folder("within = 40");
    let (brief, gc) = (folder.path("brief.toml"), folder.path("gc.toml"));
    let ran = permil(&["starts", &brief, "--from", &gc, "-n", "3"]).ended(0);
    reads_well(&ran.stdout);
    assert!(ran.stdout.contains("elsewhere, %"), "{}", ran.stdout);
    let json = permil(&["starts", &brief, "--from", &gc, "-n", "3", "--format", "json"]).ended(0).json();
    assert_eq!(json["from"], "An analysis (invented)");
    let formulas = json["formulas"].as_array().unwrap();
    assert!(formulas.len() > 1, "{json}");
    for pair in formulas.windows(2) {
        let number = |formula: &serde_json::Value, path: &str| formula.pointer(path).unwrap().as_f64().unwrap();
        assert!(number(&pair[1], "/near/moved") < number(&pair[0], "/near/moved"), "{json}");
        assert!(number(&pair[1], "/fidelity") <= number(&pair[0], "/fidelity"), "{json}");
    }
    assert!(formulas.iter().skip(1).all(|formula| formula["near"]["nearest_proven"] == true), "{json}");
    let wrong = permil(&["starts", &brief, "--from", &gc, "--blind", "--key", &folder.path("k")]).ended(2);
    assert!(wrong.stderr.contains("--from"), "{}", wrong.stderr);
}

#[test]
fn the_known_formula_is_not_written_over() {
    let (folder, brief) = folder("within = 40");
    let ran = permil(&["propose", &brief, "--save", &folder.path("gc.toml"), "--force"]).ended(2);
    assert!(ran.stderr.contains("which the brief needs"), "{}", ran.stderr);
}

/// The page shows the rule with its number, answers a changed one, and knows when
/// the file of the known formula has changed.
#[test]
fn the_page_has_the_rule_as_a_control() {
    let (folder, brief) = folder("within = 40");
    let server = Server::of(&brief);
    let page = server.get("/").body;
    assert!(
        page.contains("Near An analysis (invented)")
            && page.contains("percent elsewhere than in the known formula at most")
    );
    let last = |edits: &serde_json::Value| {
        let pieces = server.solve("a", edits);
        let solved = pieces.into_iter().find(|piece| piece["kind"] == "final").expect("a formula");
        (solved["html"]["near"].as_str().expect("how near").to_owned(), solved["disk"].clone())
    };
    let (told, disk) = last(&json!({}));
    assert!(told.contains("and at most 40 % may be"), "{told}");
    let (told, same) = last(&json!({"rules": {"within": 35.0, "give": 1.0}}));
    assert!(told.contains("and at most 35 % may be") && told.contains("That none is nearer is proven"), "{told}");
    assert_eq!(disk, same);
    folder.write("gc.toml", &COMPOSITION.replace("percent = 30", "percent = 31"));
    assert_ne!(last(&json!({})).1, disk, "a changed composition is another state");
    // Nothing asked any more: the table goes, and nothing is told of it.
    let (told, _) = last(&json!({"rules": {"within": null}}));
    assert_eq!(told, "");
}

#[test]
fn the_report_tells_of_it() {
    let (folder, brief) = folder("give = 2");
    let saved = folder.path("report.html");
    permil(&["report", &brief, "--save", &saved]).ended(0);
    let html = folder.read("report.html");
    for told in [
        "is elsewhere than in An analysis (invented)",
        "The shelf lacks Nerolidol",
        "gc.toml",
        "nearer to a known formula",
    ] {
        assert!(html.contains(told), "{told}");
    }
    let client = folder.path("client.html");
    permil(&["report", &brief, "--for", "client", "--save", &client]).ended(0);
    let html = folder.read("client.html");
    assert!(!html.contains("Nerolidol") && !html.contains("An analysis"), "a client sees nothing of the formula");
}

#[test]
fn faults_point_at_their_line() {
    for (near, composition, told) in [
        ("", COMPOSITION, "neither `within` nor `give`"),
        ("within = 101", COMPOSITION, "`within` is out of range"),
        ("within = 30\nby = \"taste\"", COMPOSITION, "not a value of `by`"),
        ("within = 30", "[parts]\nNerolidol = 3\n", "nothing of this formula is on the shelf"),
        ("within = 30", "[parts]\nNerolidol = { percent = 3, cas = \"1-1\" }\n", "not a CAS number"),
    ] {
        let (folder, brief) = folder(near);
        folder.write("gc.toml", composition);
        let ran = permil(&["propose", &brief]).ended(2);
        assert!(ran.stderr.contains(told) && ran.stderr.contains(".toml:"), "{told}\n{}", ran.stderr);
    }
    // Too near for what the shelf lacks: said beside the proof that there is nothing.
    let (_folder, brief) = folder("within = 1\nby = \"parts\"");
    let ran = permil(&["propose", &brief, "--no-worth"]).ended(1);
    assert!(ran.stderr.contains("the shelf lacks 8.33 % of An analysis"), "{}", ran.stderr);
}
