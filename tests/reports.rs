//! Every key that a report writes stands in profiles/REPORTS.md.

mod support;

use std::collections::BTreeSet;

use serde_json::Value;
use support::program::permil;

/// Keys that are names of the user's own: what they hold is described.
const NAMED: &[&str] = &[
    "grams",
    "grams_poured",
    "parts",
    "neat",
    "shares",
    "brings",
    "carriers",
    "from",
    "reserve",
    "in_vessel",
    "left",
    "lasting",
    "materials",
];

fn keys(value: &Value, into: &mut BTreeSet<String>) {
    match value {
        Value::Object(object) => {
            for (key, value) in object {
                into.insert(key.clone());
                if !NAMED.contains(&key.as_str()) || !value.is_object() {
                    keys(value, into);
                }
            }
        }
        Value::Array(list) => list.iter().for_each(|value| keys(value, into)),
        _ => {}
    }
}

/// A status that a report carries is written as the word that is printed.
#[test]
fn a_status_is_written_as_its_word() {
    use permil::solve::Status;
    let all = [Status::Optimal, Status::Feasible, Status::Infeasible, Status::Unknown];
    let written = all.map(|status| serde_json::to_value(status).expect("a word"));
    assert_eq!(written, ["optimal", "feasible", "infeasible", "unknown"]);
    assert_eq!(written, all.map(Status::word));
}

#[test]
fn every_key_is_documented() {
    let rose = "profiles/rose-otto/brief.toml";
    let cannot = "tests/reference/cases/17-infeasible-budget/brief.toml";
    let runs: &[&[&str]] = &[
        &["propose", rose],
        &["propose", cannot],
        &["compare", rose, "profiles/rose-otto/mod-1.toml"],
        &["check", rose],
        &["buy", rose, "--from", "profiles/rose-otto/wishlist.toml"],
        &["replace", rose, "profiles/rose-otto/mod-1.toml", "--out", "Linalool"],
        &["check", cannot],
        &["leeway", rose],
        &[
            "product",
            "profiles/rose-otto/mod-1.toml",
            "--limits",
            "profiles/limits/eu.toml",
            "--limits",
            "profiles/limits/eu-allergens.toml",
            "--category",
            "leave-on",
            "--dosage",
            "18",
            "--batch",
            "50",
        ],
        &["tradeoff", rose],
        &["tradeoff", rose, "--against", "effect"],
        &["tradeoff", rose, "--against", "strength"],
        &["tradeoff", rose, "--against", "Rose otto"],
        &["tradeoff", "profiles/six-materials/brief.toml", "--against", "count"],
        &["shelf", "profiles/rose-otto/palette.toml", "--find", "rosy", "--not", "metallic"],
        &["push", rose, "beta-Damascenone", "--whole"],
        &["strengths", "profiles/rose-otto/palette.toml", "profiles/rose-otto/matches.toml"],
        &["doubt", rose, "profiles/rose-otto/mod-1.toml", "profiles/rose-otto/mod-1.toml"],
        &["strip", "profiles/rose-otto/mod-1.toml", "--brief", rose],
        &["compare", "profiles/rose-otto/stages.toml", "profiles/rose-otto/mod-1.toml"],
        &["propose", "profiles/rose-otto/stages.toml", "--no-worth"],
        &["propose", rose, "--steady", "--no-worth"],
        &["starts", rose, "-n", "2"],
        &["learn", "profiles/rose-otto/trials.toml"],
        &["journal", "profiles/rose-otto/trials.toml", "--brief", rose],
        &["next", rose, "profiles/rose-otto/trials.toml", "--node-limit", "2000"],
        &["weigh", "profiles/rose-otto/mod-1.toml", "--batch", "1", "--balance", "0.001", "--total", "5"],
        &["weigh", "profiles/rose-otto/mod-1.toml", "--batch", "10", "--balance", "0.01", "--poured", "Rose oxide=0.5"],
        &["adjust", rose, "profiles/rose-otto/mod-1.toml", "--less", "metallic"],
        &["adjust", rose, "profiles/rose-otto/mod-1.toml", "--less", "metallic", "--add-only", "--batch", "20"],
        &[
            "adjust",
            rose,
            "profiles/rose-otto/mod-1.toml",
            "--less",
            "fresh",
            "--by",
            "0.01",
            "--add-only",
            "--batch",
            "20",
        ],
    ];
    let text = std::fs::read_to_string("profiles/REPORTS.md").expect("the document");
    let mut written = BTreeSet::new();
    for run in runs {
        let mut arguments = run.to_vec();
        arguments.extend(["--format", "json", "--quiet"]);
        // Long enough for every answer on a slow machine.
        if permil(&[run[0], "--help"]).stdout.contains("--node-limit") {
            arguments.extend(["--time-limit", "300"]);
        }
        let mut own = BTreeSet::new();
        keys(&permil(&arguments).json(), &mut own);
        let words = spoken_of(&text, run[0]);
        let missing: Vec<&String> = own.iter().filter(|key| !words.contains(&format!("`{key}`"))).collect();
        assert!(missing.is_empty(), "not in REPORTS.md of {}: {missing:?}", run[0]);
        written.append(&mut own);
    }
    assert!(written.len() > 100, "only {} keys", written.len());
}

/// What the document says of a command: its own section, those that hold for
/// all, and those that it refers to.
fn spoken_of(text: &str, command: &str) -> String {
    let mut sections = text.split("\n## ");
    let mut words = sections.next().expect("what all reports have").to_owned();
    let sections: Vec<(&str, &str)> = sections.filter_map(|section| section.split_once('\n')).collect();
    let own = sections.iter().find(|(title, _)| *title == command).expect("a section").1;
    for (title, section) in &sections {
        let is_common = title.starts_with(char::is_uppercase);
        let is_named = ["in", "under"].iter().any(|word| own.contains(&format!("{word} `{title}`")));
        if is_common || is_named || *title == command {
            words += section;
        }
    }
    words
}
