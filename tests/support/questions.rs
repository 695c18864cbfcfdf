//! What an independent computation says of the questions around a proposal:
//! tests/reference/questions.json, made by make_questions.py beside it.

use std::path::{Path, PathBuf};

use permil::files;
use permil::problem::Problem;
use serde_json::Value;

/// One brief with what is expected of it.
pub struct Case {
    pub name: String,
    pub folder: PathBuf,
    pub problem: Problem,
    pub expected: Value,
}

/// All cases of questions.json, in the order of their names.
pub fn cases() -> Vec<Case> {
    let cases = read("questions.json");
    assert!(cases.len() > 10, "only {} cases", cases.len());
    cases
}

/// All cases of curves.json, made by make_curves.py.
pub fn curves() -> Vec<Case> {
    let cases = read("curves.json");
    assert!(cases.len() > 5, "only {} cases", cases.len());
    cases
}

/// The rose scenario.
pub fn rose() -> Problem {
    let scenario = files::load_scenario("profiles/rose-otto/brief.toml".as_ref()).expect("no faults");
    Problem::new(scenario.palette, &scenario.brief, &scenario.limits)
}

fn read(file: &str) -> Vec<Case> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(root.join("tests/reference").join(file)).expect("it is there");
    let all: Value = serde_json::from_str(&text).expect("JSON");
    let cases = all["cases"].as_object().expect("cases by name");
    let case = |(name, expected): (&String, &Value)| {
        let folder = match name.as_str() {
            "rose-otto" => root.join("profiles/rose-otto"),
            _ => root.join("tests/reference/cases").join(name),
        };
        let scenario = files::load_scenario(&folder.join("brief.toml"))
            .unwrap_or_else(|faults| panic!("{}", faults.render(false)));
        let problem = Problem::new(scenario.palette, &scenario.brief, &scenario.limits);
        Case { name: name.clone(), folder, problem, expected: expected.clone() }
    };
    cases.iter().map(case).collect()
}

/// Fails unless a number is within `relative` of what is expected, of the
/// larger of 1 and its size.
#[track_caller]
pub fn assert_near(got: f64, expected: &Value, relative: f64, what: &str) {
    super::assert_close(got, expected.as_f64().unwrap_or_else(|| panic!("{what}: no number")), relative, what);
}
