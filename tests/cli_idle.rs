//! Idle weight, as a user meets it.

mod support;

use serde_json::Value;
use support::program::{Folder, permil};

/// Most of the odour is two strong materials'; the rest fills the bottle. Made-up
/// numbers.
const PALETTE: &str = r#"
[descriptors]
rosy = "petals"
green = "leaves"
sweet = "honey"
[[material]]
name = "Natural"
strength = 120
price = 9000
scores = { rosy = 6, green = 3, sweet = 2 }
[[material]]
name = "Loud rose"
strength = 400
price = 100
scores = { rosy = 8 }
[[material]]
name = "Loud leaf"
strength = 300
price = 200
scores = { green = 8 }
[[material]]
name = "Honey"
strength = 40
price = 500
scores = { sweet = 7 }
[[material]]
name = "Faint"
strength = 0.1
price = 5
scores = { rosy = 4, sweet = 4 }
[[material]]
name = "Filler"
strength = 0.2
price = 4
scores = { sweet = 2, rosy = 2 }
"#;

fn brief(more: &str, price: f64) -> String {
    format!(
        "palette = \"palette.toml\"\ntarget_from = \"Natural\"\n[budget]\nmax_price = {price}\n\
         [formula]\nstep = 5\n{more}\n"
    )
}

fn folder(more: &str, price: f64) -> Folder {
    Folder::of(&[("palette.toml", PALETTE), ("brief.toml", &brief(more, price))])
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

#[test]
fn a_report_says_how_much_is_idle_and_the_way_out() {
    let folder = folder("", 40.0);
    let path = folder.path("brief.toml");
    let json = permil(&["propose", &path, "--format", "json"]).ended(0).json();
    let idle = &json["idle"];
    assert!(number(&idle["parts"]) > 250.0, "{idle}");
    assert!(number(&idle["share"]) < 5.0, "{idle}");
    let sum: f64 = idle["materials"].as_object().expect("names").values().map(number).sum();
    assert!((sum - number(&idle["parts"])).abs() < 1e-9);
    let ways = idle["ways_out"].as_array().expect("ways out");
    let rules: Vec<&str> = ways.iter().map(|way| way["rule"].as_str().expect("an id")).collect();
    assert_eq!(rules, ["max_idle", "strength.min"]);
    for way in ways {
        match way["status"].as_str().expect("a status") {
            "optimal" => {
                assert!(number(&way["fidelity"]) <= number(&json["fidelity"]) + 1e-6, "{way}");
                assert!(way["formula"]["parts"].is_object());
            }
            status => assert_eq!(status, "infeasible", "{way}"),
        }
    }
    assert_eq!(number(&ways[1]["at"]), 60.0);
    let text = permil(&["propose", &path]).ended(0).stdout;
    let lines: Vec<&str> = text.lines().collect();
    let at = lines.iter().position(|line| line.starts_with("  Match on paper")).expect("a verdict");
    assert!(lines[at + 1..at + 8].iter().any(|line| line.starts_with("  Idle weight: ")), "{text}");
    assert!(text.contains("More that is heard") && text.contains("max_idle = 250"), "{text}");
    // Nothing is solved again, and that is said.
    let short = permil(&["propose", &path, "--no-worth", "--format", "json"]).ended(0).json();
    for way in short["idle"]["ways_out"].as_array().expect("ways out") {
        assert!(way["status"].is_null() && way["sentence"].as_str().expect("words").contains("not computed"), "{way}");
    }
}

#[test]
fn the_rule_is_kept_proven_and_certified() {
    let free = folder("", 150.0);
    let loose = permil(&["propose", &free.path("brief.toml"), "--format", "json"]).ended(0).json();
    let folder = folder("max_idle = 100", 150.0);
    let (path, formula, proof) = (folder.path("brief.toml"), folder.path("mod.toml"), folder.path("proof.txt"));
    let ran = ["propose", &path, "--format", "json", "--save", &formula, "--certificate", &proof];
    let json = permil(&ran).ended(0).json();
    assert_eq!(json["status"], "optimal");
    assert!(number(&json["idle"]["parts"]) <= 100.0 && json["idle"]["ways_out"].is_null(), "{}", json["idle"]);
    assert!(number(&json["fidelity"]) <= number(&loose["fidelity"]) + 1e-9);
    assert!(folder.read("proof.txt").contains("\nsplit-ladder "), "the proof goes rung by rung");
    let verified = permil(&["verify", &path, &formula, &proof, "--format", "json"]).ended(0).json();
    assert_eq!(verified["status"], "proven", "{verified}");
    // A formula that breaks it is told so, and by how much.
    let filler = "palette = \"palette.toml\"\n[parts]\n\"Loud rose\" = 300\n\"Loud leaf\" = 200\nFiller = 500\n";
    std::fs::write(folder.path("filler.toml"), filler).expect("written");
    let compared = permil(&["compare", &path, &folder.path("filler.toml"), "--format", "json"]).ended(0).json();
    let broken = &compared["formulas"][0]["broken"];
    let line = broken.as_array().expect("a list").iter().find(|line| line["rule"] == "max_idle");
    assert_eq!(number(&line.expect("it is broken")["has"]), 500.0, "{broken}");
    let text = permil(&["check", &path, &folder.path("filler.toml")]).ended(0).stdout;
    assert!(text.contains("500 of 1000 parts bring"), "{text}");
}

#[test]
fn check_says_what_would_be_idle_before_anything_is_solved() {
    let free = folder("", 40.0);
    let json = permil(&["check", &free.path("brief.toml"), "--format", "json"]).ended(0).json();
    let kinds = |json: &Value| -> Vec<String> {
        let all = json["findings"].as_array().expect("findings").iter();
        all.map(|line| line["kind"].as_str().expect("a kind").to_owned()).collect()
    };
    assert!(kinds(&json).contains(&"idle weight".to_owned()), "{:?}", kinds(&json));
    let ruled = folder("max_idle = 200", 40.0);
    let json = permil(&["check", &ruled.path("brief.toml"), "--format", "json"]).ended(0).json();
    assert!(!kinds(&json).contains(&"idle weight".to_owned()), "{:?}", kinds(&json));
}

/// What holds it back, and what mends a brief that asks for too much.
#[test]
fn the_rule_has_its_worth_and_its_repair() {
    let tight = folder("max_idle = 30\nstrength = { max = 20 }", 40.0);
    let json = permil(&["propose", &tight.path("brief.toml"), "--format", "json"]).json();
    if json["status"] == "optimal" {
        assert!(number(&json["idle"]["parts"]) <= 30.0);
    } else {
        assert_eq!(json["status"], "infeasible");
    }
    // 600 of the filler, 30 more beside what the budget leaves of the strong ones.
    let doses = "[doses]\nFiller = { fixed = 600 }\n\"Loud rose\" = { use = \"must\", min = 200 }";
    let impossible = folder(&format!("max_idle = 0\n{doses}"), 40.0);
    let ran = permil(&["propose", &impossible.path("brief.toml"), "--format", "json"]);
    assert_eq!(ran.status, 1, "{}", ran.stdout);
    let json = ran.json();
    let named = json["conflict"].as_array().expect("a conflict").iter().any(|line| line["rule"] == "max_idle");
    assert!(named, "{}", json["conflict"]);
    let to = json["repairs"]
        .as_array()
        .expect("repairs")
        .iter()
        .flat_map(|repair| repair["changes"].as_array().expect("changes"));
    let to = to.filter(|change| change["rule"] == "max_idle").map(|change| number(&change["to"])).next();
    assert!(to.is_some_and(|to| (630.0..=637.0).contains(&to)), "{}", json["repairs"]);
}

/// Starts are told apart by what is heard.
#[test]
fn no_two_starts_differ_in_idle_weight_alone() {
    let folder = folder("", 40.0);
    let json =
        permil(&["starts", &folder.path("brief.toml"), "-n", "4", "--margin", "5", "--format", "json"]).ended(0).json();
    let formulas = json["formulas"].as_array().expect("formulas");
    let heard = |formula: &Value| -> Vec<(String, f64)> {
        let idle = formula["idle"]["materials"].as_object().expect("names");
        let shares = formula["shares"].as_object().expect("shares").iter();
        let heard: Vec<(String, f64)> = shares
            .filter(|(name, _)| !idle.contains_key(*name))
            .map(|(name, share)| (name.clone(), number(share)))
            .collect();
        let all: f64 = heard.iter().map(|(_, share)| share).sum();
        heard.into_iter().map(|(name, share)| (name, 100.0 * share / all)).collect()
    };
    let share =
        |of: &[(String, f64)], name: &str| of.iter().find(|(it, _)| it == name).map_or(0.0, |(_, share)| *share);
    for a in 0..formulas.len() {
        for b in 0..a {
            let (one, other) = (heard(&formulas[a]), heard(&formulas[b]));
            let names =
                one.iter().chain(&other).map(|(name, _)| name.as_str()).collect::<std::collections::BTreeSet<_>>();
            let apart: f64 =
                names.iter().map(|name| (share(&one, name) - share(&other, name)).abs()).sum::<f64>() / 2.0;
            assert!(apart >= 1.0 - 1e-9, "{a} and {b} are {apart} apart in what is heard");
        }
    }
}

#[test]
fn a_new_brief_has_the_rule() {
    let place = Folder::of(&[]);
    permil(&["new", &place.path("mine"), "--like", "six"]).ended(0);
    assert!(place.read("mine/brief.toml").lines().any(|line| line.starts_with("max_idle = 250")));
    permil(&["propose", &place.path("mine/brief.toml"), "--no-worth"]).ended(0);
}
