//! Usual doses as a user meets them: in files, in every answer, on the page.

mod support;

use serde_json::{Value, json};
use support::page::{Server, of_kind};
use support::program::{Folder, permil, reads_well};

/// Ranges for the six materials, of which the best formula without a rule leaves
/// four.
const RANGES: [(&str, &str); 6] = [
    ("Phenylethyl alcohol", "usual = [50, 300]"),
    ("Citronellol", "usual = [20, 250]"),
    ("Geraniol", "usual_in_concentrate = [2, 20]"),
    ("Linalool", "usual = [50, 400]"),
    ("Eugenol", "usual = [2, 40]"),
    ("cis-3-Hexenol", "usual = [0.5, 5]"),
];

/// The six materials with usual doses, and a brief that lets so many be others.
fn six(most: &str) -> Folder {
    let folder = Folder::copy_of("profiles/six-materials");
    let mut palette = folder.read("palette.toml");
    for (name, range) in RANGES {
        palette = palette.replace(&format!("name = \"{name}\"\n"), &format!("name = \"{name}\"\n{range}\n"));
    }
    let rule = if most.is_empty() { String::new() } else { format!("max_unusual = {most}\n") };
    let brief = folder.read("brief.toml").replace("max_materials = 6\n", &format!("max_materials = 6\n{rule}"));
    std::fs::write(folder.path("palette.toml"), palette).unwrap();
    std::fs::write(folder.path("brief.toml"), brief).unwrap();
    folder
}

fn ask(folder: &Folder, command: &str, more: &[&str]) -> Value {
    let brief = folder.path("brief.toml");
    let arguments: Vec<&str> = [&[command, brief.as_str()], more, &["--format", "json"]].concat();
    permil(&arguments).ended(0).json()
}

/// (material, usual, is_usual) of each line of a formula.
fn told(lines: &Value) -> Vec<(&str, &Value, &Value)> {
    lines
        .as_array()
        .unwrap()
        .iter()
        .map(|it| (it["material"].as_str().unwrap(), &it["usual"], &it["is_usual"]))
        .collect()
}

#[test]
fn doses_outside_are_marked_and_counted() {
    let folder = six("");
    let brief = folder.path("brief.toml");
    let free = ask(&folder, "propose", &["--no-worth"]);
    let lines = told(&free["materials"]);
    let outside = lines.iter().filter(|(_, _, is_usual)| **is_usual == json!(false)).count();
    assert_eq!(free["unusual"], json!(outside));
    assert!(outside > 1, "{lines:?}");
    let geraniol = lines.iter().find(|(name, ..)| *name == "Geraniol").unwrap();
    assert_eq!(*geraniol.1, json!([20, 200]), "1 percent of the concentrate is 10 ppt");
    let text = permil(&["propose", &brief, "--no-worth"]).ended(0).stdout;
    reads_well(&text);
    assert!(text.contains("  unusual\n") && text.contains("  above 300\n"), "{text}");
    assert!(text.contains(&format!("{outside} doses are outside their usual range: ")), "{text}");
    let csv = permil(&["propose", &brief, "--no-worth", "--format", "csv"]).ended(0).stdout;
    assert!(csv.lines().next().unwrap().ends_with(",usual_least,usual_most,is_usual"), "{csv}");
    assert!(csv.contains(",50,300,false\n"), "{csv}");

    let mut best = free["fidelity"].as_f64().unwrap();
    for most in [1, 0] {
        let folder = six(&most.to_string());
        let counted = ask(&folder, "propose", &[]);
        assert_eq!((&counted["status"], &counted["unusual"]), (&json!("optimal"), &json!(most)));
        let fidelity = counted["fidelity"].as_f64().unwrap();
        assert!(fidelity < best, "{most}: {fidelity} of {best}");
        best = fidelity;
        let holding = counted["binding"].as_array().unwrap().iter().find(|line| line["rule"] == "max_unusual");
        let holding = holding.expect("it holds the proposal back");
        let numbers = [&holding["at"], &holding["loosened_to"]].map(Value::as_f64);
        assert_eq!(numbers, [most, most + 1].map(|it| Some(f64::from(it))));
        assert_eq!(holding["unit"], "fidelity percent per material");
    }
}

#[test]
fn a_palette_without_usual_doses_says_nothing_of_them() {
    let folder = Folder::copy_of("profiles/six-materials");
    let with = folder.read("brief.toml").replace("max_materials = 6\n", "max_materials = 6\nmax_unusual = 0\n");
    std::fs::write(folder.path("counted.toml"), with).unwrap();
    let run = |brief: &str| permil(&["propose", &folder.path(brief), "--format", "json"]).ended(0).json();
    let (plain, mut counted) = (run("brief.toml"), run("counted.toml"));
    assert!(plain["unusual"].is_null() && plain["materials"][0].get("usual").is_none());
    // Another file, and its lines moved by one; nothing else did.
    for line in counted["binding"].as_array_mut().unwrap() {
        line["line"] = json!(line["line"].as_u64().unwrap() - u64::from(line["line"].as_u64() > Some(18)));
        line["file"] = json!(folder.path("brief.toml"));
    }
    for key in ["formula", "fidelity", "bound", "binding", "without", "materials"] {
        assert_eq!(plain[key], counted[key], "{key}");
    }
}

/// `check` names a rule that counts nothing, and a material of which every dose
/// that the rules leave is unusual.
#[test]
fn check_says_what_is_in_vain() {
    let of_kind = |folder: &Folder, kind: &str| -> Vec<Value> {
        let report = ask(folder, "check", &[]);
        report["findings"].as_array().unwrap().iter().filter(|line| line["kind"] == kind).cloned().collect()
    };
    let plain = Folder::copy_of("profiles/six-materials");
    plain.change("brief.toml", "max_materials = 6\n", "max_materials = 6\nmax_unusual = 2\n");
    let [idle] = &of_kind(&plain, "nothing usual")[..] else { panic!("no finding") };
    assert_eq!((&idle["line"], &idle["severity"]), (&json!(19), &json!("note")));
    let folder = six("1");
    assert!(of_kind(&folder, "nothing usual").is_empty() && of_kind(&folder, "never usual").is_empty());
    folder.change("palette.toml", "usual = [50, 300]", "usual = [600, 800]");
    let [never] = &of_kind(&folder, "never usual")[..] else { panic!("no finding") };
    assert_eq!(never["materials"], json!(["Phenylethyl alcohol"]));
    assert!(never["message"].as_str().unwrap().contains("600 to 800"), "{never}");
}

#[test]
fn what_is_wrong_points_at_its_line() {
    let folder = six("1");
    let cases = [
        ("usual = [300, 50]", "begins above its end"),
        ("usual = [50]", "has 1 of two ends"),
        ("usual = 50", "expected a list"),
        ("usual = [50, \"300\"]", "a text in quotes"),
        ("usual = [50, 1001]", "out of range"),
        ("usual_in_concentrate = [1, 101]", "out of range"),
        ("usual = [50, 300]\nusual_in_concentrate = [5, 30]", "say the same thing"),
    ];
    let palette = folder.read("palette.toml");
    for (written, message) in cases {
        std::fs::write(folder.path("palette.toml"), palette.replace("usual = [50, 300]", written)).unwrap();
        let ran = permil(&["propose", &folder.path("brief.toml")]).ended(2);
        let row = palette.lines().position(|line| line == "usual = [50, 300]").unwrap() + written.lines().count();
        assert!(ran.stderr.contains(message), "{written}: {}", ran.stderr);
        assert!(ran.stderr.contains(&format!("palette.toml:{row}:")), "{written}, line {row}: {}", ran.stderr);
    }
    std::fs::write(folder.path("palette.toml"), palette).unwrap();
    let brief = folder.read("brief.toml");
    for (written, message) in [("max_unusual = -1", "out of range"), ("max_unusual = 1.5", "out of range")] {
        std::fs::write(folder.path("brief.toml"), brief.replace("max_unusual = 1", written)).unwrap();
        let ran = permil(&["propose", &folder.path("brief.toml")]).ended(2);
        assert!(ran.stderr.contains(message) && ran.stderr.contains(written), "{}", ran.stderr);
    }
}

#[test]
fn every_question_answers_under_the_rule() {
    let folder = six("1");
    let formula = folder.path("mod.toml");
    let most = |count: &Value| count.as_u64().expect("a count") <= 1;
    permil(&["propose", &folder.path("brief.toml"), "--no-worth", "-q", "--save", &formula]).ended(0);
    let starts = ask(&folder, "starts", &["--count", "3"]);
    assert!(starts["formulas"].as_array().unwrap().iter().all(|one| most(&one["unusual"])), "{starts}");
    for (command, more) in [("tradeoff", vec![]), ("tradeoff", vec!["--against", "count"]), ("push", vec!["Eugenol"])] {
        let answer = ask(&folder, command, &more);
        let points = answer["points"].as_array().or(answer["curve"].as_array()).expect("points");
        let wide = |parts: &Value| {
            let above = |name: &str, low: f64, high: f64| {
                parts[name].as_f64().is_some_and(|dose| dose > 0.0 && !(low..=high).contains(&dose))
            };
            [
                above("Phenylethyl alcohol", 50.0, 300.0),
                above("Citronellol", 20.0, 250.0),
                above("Geraniol", 20.0, 200.0),
                above("Linalool", 50.0, 400.0),
                above("Eugenol", 2.0, 40.0),
                above("cis-3-Hexenol", 0.5, 5.0),
            ]
            .into_iter()
            .filter(|wide| *wide)
            .count()
        };
        assert!(points.len() > 2 && points.iter().all(|point| wide(&point["parts"]) <= 1), "{command} {more:?}");
    }
    let replaced = ask(&folder, "replace", &[&formula, "--out", "Eugenol"]);
    assert!(most(&replaced["after"]["unusual"]), "{replaced}");
    let adjusted = ask(&folder, "adjust", &[&formula, "--more", "spicy", "--by", "0.2"]);
    assert!(most(&adjusted["after"]["unusual"]), "{adjusted}");
    let leeway = ask(&folder, "leeway", &[]);
    assert!(most(&leeway["proposal"]["unusual"]));
    let lines = leeway["materials"].as_array().unwrap();
    let eugenol = lines.iter().find(|line| line["material"] == "Eugenol").unwrap();
    // Phenylethyl alcohol is the one outside, and cannot do without.
    assert!(eugenol["max"].as_f64() <= Some(40.0), "{eugenol}");
    let compared = ask(&folder, "compare", &[&formula, &folder.path("formula.toml")]);
    let broken: Vec<&Value> = compared["formulas"].as_array().unwrap().iter().map(|one| &one["broken"]).collect();
    assert_eq!(*broken[0], json!([]));
    let one = &broken[1][0];
    assert_eq!((&one["rule"], one["has"].as_f64()), (&json!("max_unusual"), Some(3.0)), "{broken:?}");

    let weighed =
        permil(&["weigh", &formula, "--batch", "10", "--balance", "0.01", "--format", "json"]).ended(0).json();
    assert_eq!(told(&weighed["lines"]).iter().filter(|(.., is)| **is == json!(false)).count(), 1, "{weighed}");
    let report = folder.path("report.html");
    permil(&["report", &folder.path("brief.toml"), "--save", &report, "-q"]).ended(0);
    assert_eq!(folder.read("report.html").matches("unusual dose: above 300").count(), 1);
}

#[test]
fn a_certificate_speaks_of_the_columns() {
    let folder = six("1");
    let (brief, formula, proof) = (folder.path("brief.toml"), folder.path("mod.toml"), folder.path("proof.txt"));
    let save = ["--no-worth", "-q", "--save", &formula, "--certificate", &proof];
    permil(&[&["propose", brief.as_str()], &save[..]].concat()).ended(0);
    let verified = permil(&["verify", &brief, &formula, &proof]).ended(0).stdout;
    assert!(verified.contains("The formula is the best that these numbers allow"), "{verified}");
    let text = folder.read("proof.txt");
    assert!(text.contains("\"Eugenol (at a usual dose)\"\n") && text.contains("\"Eugenol (at any dose)\"\n"), "{text}");
    // One for a brief that allows fewer proves nothing of this one.
    let strict = six("0");
    let ran = permil(&["verify", &strict.path("brief.toml"), &formula, &proof]);
    assert_eq!(ran.status, 1, "{}", ran.stdout);
}

#[test]
fn sheets_carry_both_keys() {
    let folder = six("1");
    let [palette, sheet, back, again] = ["palette.toml", "six.csv", "back.toml", "again.csv"].map(|it| folder.path(it));
    for decimal in ["point", "comma"] {
        for (place, force) in [(&sheet, "--force"), (&again, "--force")] {
            let from = if place == &sheet { &palette } else { &back };
            permil(&["export", from, "--decimal", decimal, "--save", place, force]).ended(0);
            permil(&["import", &sheet, "--save", &back, force]).ended(0);
        }
        assert_eq!(folder.read("six.csv"), folder.read("again.csv"));
        assert!(folder.read("six.csv").contains("0.5 to 5") && folder.read("six.csv").contains("2 to 20 %"));
        let read = folder.read("back.toml");
        assert!(read.contains("usual = [0.5, 5]\n") && read.contains("usual_in_concentrate = [2, 20]\n"), "{read}");
    }
    let text = "material,strength,usual,usual_in_concentrate,rosy\nA,1,CELL,,5\nB,2,,0.2-4 %,3\n";
    for (cell, message) in [
        ("40", "is no usual dose"),
        ("40 to 2", "begins above its end"),
        ("2 to 2000", "is not in range"),
        ("02-04-2026", "is no usual dose"),
    ] {
        std::fs::write(folder.path("x.csv"), text.replace("CELL", cell)).unwrap();
        let ran = permil(&["import", &folder.path("x.csv"), "--save", &folder.path("x.toml")]).ended(2);
        assert!(ran.stderr.contains(message) && ran.stderr.contains("usual"), "{cell}: {}", ran.stderr);
    }
    for cell in ["2 to 40", "2-40", "2 \u{2013} 40", "2..40"] {
        std::fs::write(folder.path("x.csv"), text.replace("CELL", cell)).unwrap();
        permil(&["import", &folder.path("x.csv"), "--save", &folder.path("x.toml"), "--force"]).ended(0);
        let read = folder.read("x.toml");
        assert!(read.contains("usual = [2, 40]\n") && read.contains("usual_in_concentrate = [0.2, 4]\n"), "{read}");
    }
}

#[test]
fn the_page_marks_them_and_moves_the_rule() {
    let folder = six("1");
    let server = Server::of(&folder.path("brief.toml"));
    let page = server.get("/").body;
    assert!(page.contains("Unusual doses, at most") && page.contains("max_unusual"), "the control");
    let marks = |edits: &Value| {
        let pieces = server.solve("a", edits);
        let [last] = of_kind(&pieces, "final")[..] else { panic!("{pieces:?}") };
        last["html"].to_string().matches("unusual dose: ").count()
    };
    assert_eq!(marks(&json!({})), 1);
    assert_eq!(marks(&json!({"rules": {"max_unusual": 0}})), 0);
    assert!(marks(&json!({"rules": {"max_unusual": null}})) > 1);
}
