//! Many briefs in one run: each by itself, one line of JSON each, in the order given.

mod support;

use std::collections::BTreeMap;
use std::fs;

use support::program::{Ran, permil};

const SIX: &str = "profiles/six-materials";

/// A folder with briefs of one shelf: (name, what stands in place of its title).
struct Briefs(tempfile::TempDir);

impl Briefs {
    fn new(count: usize) -> Briefs {
        let folder = tempfile::tempdir().expect("a folder");
        let read = |name: &str| fs::read_to_string(format!("{SIX}/{name}")).expect("a file");
        fs::write(folder.path().join("palette.toml"), read("palette.toml")).expect("a file");
        let brief = read("brief.toml");
        for at in 0..count {
            // Prices differ, so that answers do.
            let text = priced(&brief, 30.0 + at as f64);
            fs::write(folder.path().join(format!("brief-{at:02}.toml")), text).expect("a file");
        }
        Briefs(folder)
    }

    fn path(&self, name: &str) -> String {
        self.0.path().join(name).to_string_lossy().into_owned()
    }

    fn put(&self, name: &str, text: &str) {
        fs::write(self.0.path().join(name), text).expect("a file");
    }

    fn ask(&self, more: &[&str]) -> Ran {
        let folder = self.path("");
        let mut args = vec!["propose", &folder, "--format", "jsonl", "--no-worth"];
        args.extend(more);
        permil(&args)
    }
}

/// A brief with another budget.
fn priced(brief: &str, most: f64) -> String {
    let line = |line: &str| if line.starts_with("max_price") { format!("max_price = {most}") } else { line.to_owned() };
    let text: Vec<String> = brief.lines().map(line).collect();
    assert_ne!(text.join("\n"), brief);
    text.join("\n")
}

fn lines(text: &str) -> Vec<serde_json::Value> {
    text.lines().map(|line| serde_json::from_str(line).unwrap_or_else(|error| panic!("{error} in {line}"))).collect()
}

fn asked(lines: &[serde_json::Value]) -> Vec<String> {
    let name = |line: &serde_json::Value| {
        line["asked"].as_str().expect("a path").rsplit('/').next().expect("a name").to_owned()
    };
    lines.iter().map(name).collect()
}

#[test]
fn every_brief_of_a_folder_in_its_order_whatever_the_number_of_threads() {
    let briefs = Briefs::new(7);
    // What is no brief is passed over, what is hidden too.
    briefs.put("notes.toml", "a = 1\n");
    briefs.put(".hidden.toml", "palette = \"palette.toml\"\n[target]\n");
    let one = briefs.ask(&["--threads", "1"]).ended(0);
    let two = briefs.ask(&["--threads", "2"]).ended(0);
    assert_eq!(one.stdout, two.stdout);
    let told = lines(&one.stdout);
    let names: Vec<String> = (0..7).map(|at| format!("brief-{at:02}.toml")).collect();
    assert_eq!(asked(&told), names);
    // Each line is what the brief alone is told.
    let alone = permil(&["propose", &briefs.path("brief-03.toml"), "--format", "json", "--no-worth"]).ended(0).json();
    let mut third: BTreeMap<String, serde_json::Value> = serde_json::from_value(told[3].clone()).expect("an object");
    third.remove("asked");
    let alone: BTreeMap<String, serde_json::Value> = serde_json::from_value(alone).expect("an object");
    assert_eq!(third, alone);
}

#[test]
fn a_broken_brief_stops_no_other() {
    let briefs = Briefs::new(3);
    briefs.put("brief-01.toml", "palette = \"palette.toml\"\n[target]\nrosie = 3\n");
    let ran = briefs.ask(&[]).ended(2);
    let told = lines(&ran.stdout);
    assert_eq!(
        told.iter().map(|line| line["status"].as_str().expect("a status")).collect::<Vec<_>>(),
        ["optimal", "wrong", "optimal"]
    );
    let errors = told[1]["errors"][0].as_str().expect("an error");
    assert!(errors.contains("rosie") && errors.contains("brief-01.toml:3"), "{errors}");
    // No formula is the third kind of answer.
    briefs.put("brief-01.toml", &priced(&fs::read_to_string(format!("{SIX}/brief.toml")).expect("a file"), 0.001));
    let told = lines(&briefs.ask(&[]).ended(1).stdout);
    assert_eq!(told[1]["status"], "infeasible");
}

#[test]
fn a_run_goes_on_where_another_stopped() {
    let briefs = Briefs::new(5);
    let whole = briefs.ask(&[]).ended(0).stdout;
    // Two lines, and one that was broken off.
    let kept: Vec<&str> = whole.split_inclusive('\n').take(2).collect();
    let torn = &whole.split_inclusive('\n').nth(2).expect("a line")[..40];
    briefs.put("answers.jsonl", &format!("{}{torn}", kept.concat()));
    let ran = briefs.ask(&["--resume", &briefs.path("answers.jsonl")]).ended(0);
    assert_eq!(ran.stdout, "");
    assert!(ran.stderr.contains("2 of 5 briefs are in"), "{}", ran.stderr);
    assert_eq!(fs::read_to_string(briefs.path("answers.jsonl")).expect("the file"), whole);
    // All are there: nothing is done again.
    briefs.ask(&["--resume", &briefs.path("answers.jsonl")]).ended(0);
    assert_eq!(fs::read_to_string(briefs.path("answers.jsonl")).expect("the file"), whole);
    // A file of something else is not written to.
    briefs.put("other.jsonl", "{\"a\": 1}\n");
    let ran = briefs.ask(&["--resume", &briefs.path("other.jsonl")]).ended(2);
    assert!(ran.stderr.contains("other.jsonl:1 is no line that propose has written"), "{}", ran.stderr);
    assert_eq!(fs::read_to_string(briefs.path("other.jsonl")).expect("the file"), "{\"a\": 1}\n");
}

#[test]
fn several_briefs_need_lines_and_no_file_of_their_own() {
    let briefs = Briefs::new(2);
    let (one, two) = (briefs.path("brief-00.toml"), briefs.path("brief-01.toml"));
    let ran = permil(&["propose", &one, &two]).ended(2);
    assert!(ran.stderr.contains("--format jsonl"), "{}", ran.stderr);
    let ran = permil(&["propose", &one, &two, "--format", "jsonl", "--save", &briefs.path("x.toml")]).ended(2);
    assert!(ran.stderr.contains("for one brief"), "{}", ran.stderr);
    // Each by itself, as a job of its own answers it: the same lines as of both at once.
    let line =
        |briefs: &[&str]| permil(&[&["propose"], briefs, &["--format", "jsonl", "--no-worth"]].concat()).ended(0);
    let apart = format!("{}{}", line(&[&one]).stdout, line(&[&two]).stdout);
    assert_eq!((apart.lines().count(), apart), (2, line(&[&one, &two]).stdout));
    let empty = tempfile::tempdir().expect("a folder");
    let ran = permil(&["propose", &empty.path().to_string_lossy(), "--format", "jsonl"]).ended(2);
    assert!(ran.stderr.contains("holds no brief"), "{}", ran.stderr);
}
