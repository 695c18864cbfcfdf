//! `permil new`, and that what it writes works by itself; the lists of help and
//! man page.

mod support;

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use permil::files::shipped::Shipped;
use support::program::{Folder, Ran, command, permil};

fn shipped(path: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles").join(path)).unwrap()
}

/// Runs the program in a folder, with nothing of the sources in sight.
fn within(folder: &Folder, line: &str) -> Ran {
    let arguments: Vec<&str> = line.split(' ').collect();
    command(&arguments).current_dir(folder.path("")).output().unwrap().into()
}

#[test]
fn what_is_carried_within_is_what_is_shipped() {
    for (name, scenario) in Shipped::ALL {
        let mut own: BTreeSet<String> = BTreeSet::new();
        for file in scenario.files() {
            assert!(file.text == shipped(file.path), "{}", file.path);
            own.extend(file.path.strip_prefix(&format!("{}/", scenario.folder())).map(str::to_owned));
        }
        // Nothing of the scenario stays behind.
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles").join(scenario.folder());
        let there = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
        assert_eq!(own, there.collect(), "{name}");
    }
}

#[test]
fn paths_lead_to_what_was_written() {
    for (name, scenario) in Shipped::ALL {
        let places: Vec<&str> = scenario.files().map(|file| scenario.place(file)).collect();
        assert_eq!(places.iter().collect::<BTreeSet<_>>().len(), places.len(), "{name}");
        for file in scenario.files() {
            let text = scenario.text(file);
            assert!(!text.contains("../") && !text.contains("profiles/rose-otto/"), "{}", file.path);
            // Every file that is spoken of in quotes is there, beside the one that speaks of it.
            let folder = Path::new(scenario.place(file)).parent().unwrap();
            for path in text.split('"').filter(|word| word.ends_with(".toml") && !word.contains(char::is_whitespace)) {
                let is_there = file.path.ends_with(".md") || places.iter().any(|at| folder.join(path) == Path::new(at));
                assert!(is_there, "{name}: {} names {path}", file.path);
            }
        }
    }
}

#[test]
fn every_scenario_works_by_itself() {
    for (like, scenario) in Shipped::ALL {
        let folder = Folder::of(&[]);
        let told = within(&folder, &format!("new deep/mine --like {like}")).ended(0).stdout;
        assert!(told.lines().all(|line| line.chars().count() <= 80), "{told}");
        for file in scenario.files() {
            let place = scenario.place(file);
            assert!(told.contains(&format!("\n  {place} ")), "{place}: {told}");
            assert_eq!(folder.read(&format!("deep/mine/{place}")), scenario.text(file));
        }
        let brief = folder.read("deep/mine/brief.toml");
        assert_eq!(brief.matches("\nmax_unusual = 2 ").count(), 1, "{brief}");
        // A shelf to fill has no formula yet: the one that is proposed for its examples.
        if like == "empty" {
            within(&folder, "propose deep/mine/brief.toml --no-worth --save deep/mine/mod-1.toml").ended(0);
        }
        let formula = if like == "six" { "formula" } else { "mod-1" };
        for line in [
            "propose deep/mine/brief.toml --no-worth".to_owned(),
            "check deep/mine/brief.toml".to_owned(),
            "shelf deep/mine/palette.toml".to_owned(),
            format!("weigh deep/mine/{formula}.toml --batch 10 --balance 0.001"),
            format!(
                "product deep/mine/{formula}.toml --limits deep/mine/limits/eu.toml --category leave-on --dosage 9"
            ),
        ] {
            assert_eq!(within(&folder, &line).ended(0).stderr.matches("error").count(), 0, "{line}");
        }
        if like == "rose" {
            within(&folder, "learn deep/mine/trials.toml").ended(0);
            within(&folder, "journal deep/mine/trials.toml --brief deep/mine/brief.toml").ended(0);
            within(&folder, "strengths deep/mine/palette.toml deep/mine/matches.toml").ended(0);
        }
        if like == "base" {
            within(&folder, &format!("weigh deep/mine/{formula}.toml --batch 10 --balance 0.001 --unfold")).ended(0);
        }
        // What it says to type next exists; `explore` would go on, and `propose` was run.
        for line in told.lines().filter_map(|line| line.strip_prefix("  permil ")) {
            if !line.starts_with("explore") && !line.starts_with("propose") {
                within(&folder, line).ended(0);
            }
        }
    }
}

#[test]
fn nothing_is_written_over() {
    let folder = Folder::of(&[("brief.toml", "mine")]);
    let ran = permil(&["new", &folder.path("")]).ended(2);
    assert!(ran.stderr.contains("is not empty: it holds brief.toml"), "{}", ran.stderr);
    assert_eq!((folder.names(), folder.read("brief.toml")), (vec!["brief.toml".to_owned()], "mine".to_owned()));
    let ran = permil(&["new", &folder.path("brief.toml")]).ended(2);
    assert!(ran.stderr.contains("is no folder"), "{}", ran.stderr);
    let ran = permil(&["new", &folder.path("brief.toml/mine")]).ended(2);
    assert!(ran.stdout.is_empty() && folder.read("brief.toml") == "mine", "{}", ran.stderr);
    // An empty one is fine, whatever it is called.
    fs::create_dir(folder.path("my own")).unwrap();
    let told = permil(&["new", &folder.path("my own"), "--like", "six"]).ended(0).stdout;
    assert!(told.contains("permil propose '") && told.contains("my own'/brief.toml"), "{told}");
    permil(&["propose", &folder.path("my own/brief.toml"), "--no-worth"]).ended(0);
}

#[test]
fn help_has_groups_and_a_short_form() {
    let short = permil(&["propose", "-h"]).ended(0).stdout;
    let long = permil(&["propose", "--help"]).ended(0).stdout;
    for option in ["--time-limit", "--node-limit", "--threads", "--solver"] {
        let lists = |help: &str| help.lines().any(|line| line.trim_start().starts_with(option));
        assert!(lists(&long) && !lists(&short), "{option}");
    }
    for arguments in [&["-h"][..], &["--help"], &["help"], &[]] {
        let ran = permil(arguments);
        let help = format!("{}{}", ran.stdout, ran.stderr);
        let at = |word: &str| help.find(word).unwrap_or_else(|| panic!("{word}: {help}"));
        assert!(at("Shelf:") < at("  import ") && at("  import ") < at("Compose:"), "{help}");
        assert!(help.contains("[also: variants]") && help.contains("Options:"), "{help}");
    }
    assert!(permil(&["--version"]).ended(0).stdout.contains("permil new mine"));
    assert_eq!(permil(&["-V"]).ended(0).stdout.lines().count(), 1);
}

#[test]
fn other_names_lead_to_the_same() {
    for (alias, name) in [("variants", "starts"), ("range", "push"), ("certainty", "doubt")] {
        let help = permil(&[alias, "-h"]).ended(0).stdout;
        assert_eq!(help, permil(&[name, "-h"]).ended(0).stdout);
        let page = permil(&["man", alias]).ended(0).stdout;
        assert!(page.contains(&format!("OTHER NAMES\"\n{alias}")), "{page}");
        for shell in ["bash", "zsh", "fish"] {
            assert!(permil(&["completions", shell]).ended(0).stdout.contains(alias), "{shell}: {alias}");
        }
    }
    let page = permil(&["man"]).ended(0).stdout;
    assert!(page.contains(".SS Bench and product\n.TP\npermil\\-weigh(1)\n"), "{page}");
    assert!(!page.contains("SUBCOMMANDS"), "{page}");
}
