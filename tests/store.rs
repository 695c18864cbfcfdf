//! Files held in memory are read as those of a disk: the same scenarios, the same
//! answers, the same words for what is wrong.

use std::path::{Path, PathBuf};

use permil::analysis::explain::Explanation;
use permil::control::Control;
use permil::files::{self, Scenario};
use permil::problem::Problem;
use permil::results::propose::ProposeReport;
use permil::solve::{self, Method};
use permil::store::{Disk, Held, Store, Unread};

/// Everything below `profiles/`, by the paths that the disk has.
fn shipped() -> Held {
    fn below(folder: &Path, into: &mut Held) {
        for entry in std::fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            match path.is_dir() {
                true => below(&path, into),
                false => into.insert(&path, std::fs::read(&path).expect("a file")),
            }
        }
    }
    let mut held = Held::new();
    below(Path::new("profiles"), &mut held);
    held
}

fn problem(scenario: Scenario) -> Problem {
    Problem::new(scenario.palette, &scenario.brief, &scenario.limits)
}

#[test]
fn every_shipped_scenario_is_the_same_from_memory() {
    let held = shipped();
    let mut seen = 0;
    for name in ["rose-otto", "rose-base", "six-materials"] {
        let path = PathBuf::from(format!("profiles/{name}/brief.toml"));
        let on_disk = files::load_scenario(&path).expect("no faults");
        let from_memory = files::load_scenario_in(&held, &path).expect("no faults");
        // Warnings are part of it: that of a foreign palette hangs on identities.
        assert_eq!(format!("{from_memory:?}"), format!("{on_disk:?}"), "{name}");
        assert_eq!(format!("{:?}", problem(from_memory)), format!("{:?}", problem(on_disk)), "{name}");
        seen += 1;
    }
    assert_eq!(seen, 3);
}

#[test]
fn formulas_trials_and_matches_are_the_same_from_memory() {
    let held = shipped();
    let rose = Path::new("profiles/rose-otto");
    let palette = files::load_palette_in(&held, &rose.join("palette.toml")).expect("no faults");
    let same = |one: &dyn std::fmt::Debug, other: &dyn std::fmt::Debug| {
        assert_eq!(format!("{one:?}"), format!("{other:?}"));
    };
    let formula = rose.join("mod-1.toml");
    same(
        &files::load_formula_with_warnings_in(&held, &formula, &palette).unwrap(),
        &files::load_formula_with_warnings(&formula, &palette).unwrap(),
    );
    let trials = rose.join("trials.toml");
    same(&files::load_trials_in(&held, &trials).unwrap(), &files::load_trials(&trials).unwrap());
    let matches = rose.join("matches.toml");
    same(
        &files::load_matches_in(&held, &matches, &palette).unwrap(),
        &files::load_matches(&matches, &palette).unwrap(),
    );
    let base = Path::new("profiles/rose-base/mod-1.toml");
    same(&files::load_mixed_in(&held, base).unwrap(), &files::load_mixed(base).unwrap());
}

#[test]
fn an_answer_from_memory_has_the_same_json() {
    let json = |store: &dyn Store| {
        let path = Path::new("profiles/six-materials/brief.toml");
        let scenario = files::load_scenario_in(store, path).expect("no faults");
        let (brief, warnings) = (scenario.brief.clone(), scenario.warnings.clone());
        let problem = problem(scenario);
        let solution = solve::propose(&problem, Method::Auto, &Control::default()).expect("a solution");
        let report = ProposeReport::new(&problem, &brief, &solution, &Explanation::default(), warnings);
        serde_json::to_string_pretty(&report).expect("JSON")
    };
    let from_memory = json(&shipped());
    assert!(from_memory.contains("\"optimal\""), "{from_memory}");
    assert_eq!(from_memory, json(&Disk));
}

#[test]
fn faults_of_missing_and_wrong_files_have_the_same_words() {
    let texts = [
        (
            "shelf/palette.toml",
            "scale = 10\n[descriptors]\nrosy = \"rose\"\n[[material]]\nname = \"A\"\nformula = \"none.toml\"\n",
        ),
        (
            "brief.toml",
            "palette = \"shelf/palette.toml\"\nlimits = [\"shelf\", \"nowhere.toml\"]\n[target]\nrosy = 5\n",
        ),
        ("other.toml", "palette = \"./nowhere/palette.toml\"\n[parts]\nA = 1000\n"),
    ];
    let folder = tempfile::tempdir().unwrap();
    let mut held = Held::new();
    std::fs::create_dir(folder.path().join("shelf")).unwrap();
    for (name, text) in texts {
        std::fs::write(folder.path().join(name), text).unwrap();
        held.insert(folder.path().join(name), text);
    }
    for name in ["brief.toml", "none.toml", "shelf"] {
        let path = folder.path().join(name);
        let words = |store: &dyn Store| files::load_scenario_in(store, &path).unwrap_err().render(false);
        let from_memory = words(&held);
        assert!(!from_memory.contains("os error"), "{from_memory}");
        assert_eq!(from_memory, words(&Disk), "{name}");
        assert!(from_memory.contains(if name == "shelf" { "is a folder" } else { "does not exist" }), "{from_memory}");
    }
    let alone = folder.path().join("other.toml");
    assert_eq!(
        files::load_formula_alone_in(&held, &alone).unwrap_err().render(false),
        files::load_formula_alone(&alone).unwrap_err().render(false)
    );
}

#[test]
fn a_link_and_two_spellings_are_one_palette() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::create_dir(at("shelf")).unwrap();
    std::fs::copy("profiles/six-materials/palette.toml", at("shelf/palette.toml")).unwrap();
    let formula = std::fs::read_to_string("profiles/six-materials/formula.toml").unwrap();
    let spelled = |path: &str| formula.replace("\"palette.toml\"", &format!("\"{path}\""));
    std::fs::write(at("a.toml"), spelled("shelf/../shelf/./palette.toml")).unwrap();
    assert!(formula.contains("\"palette.toml\""));
    let palette = files::load_palette(&at("shelf/palette.toml")).unwrap();
    let warnings = |name: &str| files::load_formula_with_warnings(&at(name), &palette).unwrap().1;
    assert_eq!(warnings("a.toml"), [""; 0]);
    std::fs::copy(at("shelf/palette.toml"), at("copy.toml")).unwrap();
    std::fs::write(at("b.toml"), spelled("copy.toml")).unwrap();
    assert_eq!(warnings("b.toml").len(), 1, "a copy is another palette");
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(at("shelf/palette.toml"), at("link.toml")).unwrap();
        std::fs::write(at("c.toml"), spelled("link.toml")).unwrap();
        assert_eq!(warnings("c.toml"), [""; 0]);
    }
}

#[test]
fn a_missing_file_is_told_from_one_that_cannot_be_read() {
    let missing = Path::new("profiles/nowhere.toml");
    assert_eq!(Disk.text(missing, files::LARGEST_FILE), Err(Unread::Missing));
    assert_eq!(shipped().text(missing, files::LARGEST_FILE), Err(Unread::Missing));
}
