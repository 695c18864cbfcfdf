//! `permil doubt`, and what other commands say of doubt, as a user meets it.

mod support;

use insta::assert_snapshot;
use support::assert_close;
use support::program::{Folder, permil, reads_well, settled};

const ROSE: &str = "profiles/rose-otto/brief.toml";
const ROSE_MOD: &str = "profiles/rose-otto/mod-1.toml";
const SIX: &str = "profiles/six-materials/brief.toml";

#[test]
fn the_proposal() {
    let ran = permil(&["doubt", ROSE]).ended(0);
    reads_well(&ran.stdout);
    assert_eq!(ran.stderr, "");
    assert_snapshot!("doubt_text", ran.stdout);
    let json = permil(&["doubt", ROSE, "--format", "json"]).ended(0).json();
    assert_eq!((&json["draws"], &json["seed"], &json["status"]), (&10_000.into(), &1.into(), &"optimal".into()));
    let number = |value: &serde_json::Value| value.as_f64().unwrap();
    let fidelity = &json["fidelity"];
    assert_eq!(fidelity, &json["formulas"][0]["fidelity"]);
    assert!(
        number(&fidelity["p5"]) < number(&fidelity["mean"]) && number(&fidelity["mean"]) < number(&fidelity["p95"])
    );
    assert_close(number(&json["formulas"][0]["on_paper"]), 93.632_407, 1e-6, "on paper");
    let numbers = json["formulas"][0]["numbers"].as_array().unwrap();
    assert_eq!((&numbers[0]["material"], &numbers[0]["number"]), (&"beta-Damascenone".into(), &"strength".into()));
    assert!(numbers.windows(2).all(|pair| number(&pair[0]["share"]) >= number(&pair[1]["share"])));
    // The text names what has the greatest share.
    let first = json["formulas"][0]["by_material"][0]["material"].as_str().unwrap();
    assert!(ran.stdout.contains(&format!("{first} again first")), "{}", ran.stdout);
    let csv = permil(&["doubt", ROSE, "--format", "csv"]).ended(0).stdout;
    assert_eq!(csv.lines().count(), 1 + numbers.len());
}

#[test]
fn several_formulas() {
    let folder = Folder::copy_of("profiles/rose-otto");
    let (brief, mod_1, best) = (folder.path("brief.toml"), folder.path("mod-1.toml"), folder.path("best.toml"));
    permil(&["propose", &brief, "--no-worth", "--save", &best]).ended(0);
    folder.change("mod-1.toml", "mod 1, from the nose", "mod 2");
    folder.change("mod-1.toml", "\"Nerol\" = 60", "\"Nerol\" = 70");
    folder.change("mod-1.toml", "\"Geraniol\" = 235", "\"Geraniol\" = 225");
    let ran = permil(&["doubt", &brief, &best, ROSE_MOD, &mod_1, "--draws", "2000"]).ended(0);
    reads_well(&ran.stdout);
    assert_snapshot!("doubt_of_three", ran.stdout);
    let words: Vec<&str> = ran.stdout.split_whitespace().collect();
    assert!(words.join(" ").contains("of 100 draws"), "{}", ran.stdout);
    let json =
        permil(&["doubt", &brief, &best, &mod_1, "--draws", "2000", "--seed", "9", "--format", "json"]).ended(0).json();
    let nearer = json["nearer"].as_array().unwrap();
    assert_eq!(nearer.len(), 1);
    let difference = json["formulas"][0]["fidelity"]["mean"].as_f64().unwrap()
        - json["formulas"][1]["fidelity"]["mean"].as_f64().unwrap();
    assert_close(nearer[0]["difference"]["mean"].as_f64().unwrap(), difference, 1e-9, "the difference");
    assert!(nearer[0]["chance"].as_f64().unwrap() > 80.0);
}

#[test]
fn threads_and_seeds() {
    let with = |more: &[&str]| {
        let all = [&["doubt", ROSE, ROSE_MOD, "--draws", "700", "--format", "json"][..], more].concat();
        permil(&all).ended(0).stdout
    };
    let one = with(&["--threads", "1"]);
    assert_eq!(one, with(&["--threads", "2"]));
    assert_eq!(one, with(&["--threads", "8", "--seed", "1"]));
    assert_ne!(one, with(&["--seed", "2"]));
}

#[test]
fn what_cannot_be_done_is_said() {
    let folder = Folder::copy_of("profiles/six-materials");
    let (brief, formula) = (folder.path("brief.toml"), folder.path("formula.toml"));
    folder.change("formula.toml", "\"Linalool\" = 40", "\"Linalool\" = 20");
    let ran = permil(&["doubt", &brief, &formula]).ended(1);
    assert!(ran.stderr.contains("--rescale scales them"), "{}", ran.stderr);
    permil(&["doubt", &brief, &formula, "--rescale", "--draws", "100"]).ended(0);
    permil(&["doubt", &brief, "--draws", "99"]).ended(2);
    permil(&["doubt", &brief, &folder.path("missing.toml")]).ended(2);
    let cannot = "tests/reference/cases/17-infeasible-budget/brief.toml";
    let ran = permil(&["doubt", cannot]).ended(1);
    reads_well(&ran.stdout);
    assert!(ran.stdout.contains("No blend can meet this brief (proven)"), "{}", ran.stdout);
    let json = permil(&["doubt", cannot, "--format", "json"]).ended(1).json();
    assert_eq!((&json["status"], &json["fidelity"]), (&"infeasible".into(), &serde_json::Value::Null));
}

#[test]
fn the_chart_says_what_the_report_says() {
    let folder = Folder::of(&[]);
    let plot = folder.path("doubt.svg");
    let json = permil(&["doubt", SIX, "--plot", &plot, "--format", "json"]).ended(0).json();
    let svg = folder.read("doubt.svg");
    let document = roxmltree::Document::parse(&svg).expect("an SVG");
    let of_class = |class: &str| document.descendants().filter(|node| node.attribute("class") == Some(class)).collect();
    let (rows, parts): (Vec<roxmltree::Node>, Vec<roxmltree::Node>) = (of_class("spread"), of_class("part"));
    let number = |node: &roxmltree::Node, key: &str| node.attribute(key).unwrap().parse::<f64>().unwrap();
    assert_eq!(number(&rows[0], "data-mean"), json["fidelity"]["mean"].as_f64().unwrap());
    assert_eq!(number(&rows[0], "data-p5"), json["fidelity"]["p5"].as_f64().unwrap());
    let shares = json["formulas"][0]["by_material"].as_array().unwrap();
    for (part, line) in parts.iter().zip(shares) {
        assert_eq!(part.attribute("data-material"), line["material"].as_str());
        assert_eq!(number(part, "data-share"), line["share"].as_f64().unwrap());
    }
}

#[test]
fn comparisons_say_what_cannot_be_told_apart() {
    let folder = Folder::copy_of("profiles/rose-otto");
    let (brief, mod_1) = (folder.path("brief.toml"), folder.path("mod-1.toml"));
    let other = folder.read("mod-1.toml").replace("\"Nerol\" = 60", "\"Nerol\" = 70").replace(" = 235", " = 225");
    folder.write("mod-2.toml", &other);
    let ran = permil(&["compare", &brief, &mod_1, &folder.path("mod-2.toml")]).ended(0);
    reads_well(&ran.stdout);
    assert!(ran.stdout.contains("may not be noticeable"), "{}", ran.stdout);
    let best = folder.path("best.toml");
    permil(&["propose", &brief, "--no-worth", "--save", &best]).ended(0);
    let files = [mod_1.as_str(), &folder.path("mod-2.toml"), &best];
    let json = permil(&["compare", &brief, files[0], files[1], files[2], "--format", "json"]).ended(0).json();
    let apart = json["apart"].as_array().unwrap();
    assert_eq!(apart.len(), 3);
    for line in apart {
        let difference = line["difference"].as_f64().unwrap();
        let (nearer, doubt) = (line["nearer_in_percent"].as_f64().unwrap(), line["give_or_take"].as_f64().unwrap());
        assert_eq!(line["inside_doubt"].as_bool().unwrap(), nearer.max(100.0 - nearer) < 84.0);
        let of = |key: &str| &json["formulas"][line[key].as_u64().unwrap() as usize];
        let own = of("a")["fidelity"].as_f64().unwrap() - of("b")["fidelity"].as_f64().unwrap();
        assert_close(difference, own, 1e-9, "the difference");
        // What both have in common moves both.
        let (a, b) = (of("a")["give_or_take"].as_f64().unwrap(), of("b")["give_or_take"].as_f64().unwrap());
        assert!(doubt < a + b, "{doubt} of {a} and {b}");
    }
    assert_eq!((&apart[0]["inside_doubt"], &apart[1]["inside_doubt"]), (&true.into(), &false.into()));
}

#[test]
fn a_steady_proposal() {
    let folder = Folder::copy_of("profiles/rose-otto");
    let (brief, saved) = (folder.path("brief.toml"), folder.path("steady.toml"));
    let ran = permil(&["propose", &brief, "--steady", "--save", &saved, "--time-limit", "600"]).ended(0);
    reads_well(&ran.stdout);
    assert_snapshot!("steady_text", ran.stdout);
    let json = permil(&["propose", &brief, "--steady", "--format", "json", "--time-limit", "600"]).ended(0).json();
    let steady = &json["steady"];
    assert_eq!((&steady["buys"], &steady["proven"]), (&true.into(), &false.into()));
    assert_eq!(json["status"], "feasible");
    assert_eq!(json["formula"], steady["found"]["formula"]);
    let figure = |line: &str, key: &str| steady[line][key].as_f64().unwrap();
    assert!(figure("found", "on_paper") < figure("best_on_paper", "on_paper"));
    assert!(figure("found", "worst_tenth") > figure("best_on_paper", "worst_tenth"));
    assert_close(figure("best_on_paper", "on_paper"), 93.632_407, 1e-6, "the best on paper");
    // It keeps the rules, and `doubt` says the same of it.
    let judged = permil(&["compare", &brief, &saved, "--format", "json"]).ended(0).json();
    assert_eq!(judged["formulas"][0]["status"], "feasible");
    let drawn = permil(&["doubt", &brief, &saved, "--format", "json"]).ended(0).json();
    assert_close(drawn["fidelity"]["mean"].as_f64().unwrap(), figure("found", "mean"), 1e-9, "the mean");
    // Not asked for, not said.
    assert!(permil(&["propose", SIX, "--no-worth", "--format", "json"]).ended(0).json().get("steady").is_none());
    permil(&["propose", SIX, "--steady", "--certificate", &folder.path("proof")]).ended(2);
    let text = settled(&ran.stdout);
    assert!(text.contains("the steadiest found, not proven"), "{text}");
}

#[test]
fn every_command_tells_the_range_and_the_pairs_of_doubt() {
    // Two formulas of one shelf: what `doubt` says of them is what `compare` says, to the last digit, and the
    // headline of a proposal is the range of the same draws.
    let folder = Folder::copy_of("profiles/rose-otto");
    let (brief, mod_1, mod_2) = (folder.path("brief.toml"), folder.path("mod-1.toml"), folder.path("mod-2.toml"));
    let other = folder.read("mod-1.toml").replace("\"Nerol\" = 60", "\"Nerol\" = 90").replace(" = 235", " = 205");
    folder.write("mod-2.toml", &other);
    let doubt = permil(&["doubt", &brief, &mod_1, &mod_2, "--time-limit", "600", "--format", "json"]).ended(0).json();
    let compare = permil(&["compare", &brief, &mod_1, &mod_2, "--format", "json"]).ended(0).json();
    for at in 0..2 {
        let (own, range) = (&doubt["formulas"][at]["fidelity"], &compare["formulas"][at]["range"]);
        assert_eq!((&range["low"], &range["high"]), (&own["p5"], &own["p95"]));
        assert_eq!((&range["draws"], &range["seed"]), (&doubt["draws"], &doubt["seed"]));
        assert_eq!(compare["formulas"][at]["give_or_take"], own["sd"]);
    }
    assert_eq!(compare["apart"][0]["nearer_in_percent"], doubt["nearer"][0]["chance"]);
    let text = permil(&["compare", &brief, &mod_1, &mod_2]).ended(0).stdout;
    assert!(!text.contains('\u{b1}') && text.contains("of 100 draws"), "{text}");
}

#[test]
fn a_headline_says_a_range_and_of_each_line_in_how_many_draws_it_is_nearer() {
    let json = permil(&["propose", SIX, "--format", "json"]).ended(0).json();
    let drawn = permil(&["doubt", SIX, "--time-limit", "600", "--format", "json"]).ended(0).json();
    assert_eq!(json["range"]["low"], drawn["fidelity"]["p5"]);
    assert_eq!(json["range"]["high"], drawn["fidelity"]["p95"]);
    // And of every descriptor.
    let spread = drawn["formulas"][0]["profile"].as_array().unwrap();
    assert_eq!(json["profile"].as_array().unwrap().len(), spread.len());
    for (line, spread) in json["profile"].as_array().unwrap().iter().zip(spread) {
        assert_eq!((&line["low"], &line["high"]), (&spread["p5"], &spread["p95"]), "{}", line["descriptor"]);
    }
    let text = permil(&["propose", SIX]).ended(0).stdout;
    assert!(text.contains("likely") && !text.contains('\u{b1}') && !text.contains("the doubt"), "{text}");
    for key in ["binding", "without"] {
        for line in json[key].as_array().unwrap() {
            let is_formula = key == "binding" || line["outcome"] == "possible";
            let nearer = line["nearer_in_percent"].as_f64();
            assert_eq!(is_formula, nearer.is_some_and(|nearer| (0.0..=100.0).contains(&nearer)), "{line}");
        }
    }
}

/// Draws follow the brief's law: on paper a formula has what `compare` says.
#[test]
fn doubt_follows_the_law_of_the_brief() {
    let folder = Folder::copy_of("profiles/rose-otto");
    let (brief, formula) = (folder.path("brief.toml"), folder.path("mod-1.toml"));
    let fidelity = |law: &str| {
        let text = folder.read("brief.toml");
        let text = text.lines().filter(|line| !line.starts_with("law")).collect::<Vec<_>>().join("\n");
        folder.write("brief.toml", &format!("law = \"{law}\"\n{text}"));
        let doubt = permil(&["doubt", &brief, &formula, "--draws", "100", "--format", "json"]).ended(0).json();
        let compared = permil(&["compare", &brief, &formula, "--format", "json"]).json();
        let told = doubt["formulas"][0]["on_paper"].as_f64().expect("a fidelity");
        assert_close(told, compared["formulas"][0]["fidelity"].as_f64().expect("a fidelity"), 1e-9, law);
        told
    };
    let [linear, compressive, both] = ["linear", "compressive", "both"].map(fidelity);
    assert!((linear - compressive).abs() > 0.1, "{linear} {compressive}");
    assert_close(both, linear.min(compressive), 1e-9, "the worse");
}
