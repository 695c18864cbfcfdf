//! `permil strip`: a formula as it dries on a blotter.

mod support;

use support::assert_close;
use support::program::{Folder, permil, reads_well};

const ROSE: &str = "profiles/rose-otto/brief.toml";
const ROSE_MOD: &str = "profiles/rose-otto/mod-1.toml";

/// Two materials of one molar mass, half and half: the first goes in 2 h alone, the other
/// in 20 h. The film is gone after 11 h; at 6 h 0.00097466 and 0.49990253 are left (the
/// closed form, and the law followed step by step in src/film.rs).
const PALETTE: &str = r#"
[descriptors]
light = "a light smell"
heavy = "a heavy smell"

[[material]]
name = "Quick"
strength = 10
scores = { light = 8 }
lasting = 2
molar_mass = 150

[[material]]
name = "Slow"
strength = 10
scores = { heavy = 8 }
lasting = 20
molar_mass = 150
"#;

const BRIEF: &str = r#"
palette = "palette.toml"

[target]
light = 4
heavy = 4
"#;

const FORMULA: &str = r#"
title = "Half and half"
palette = "palette.toml"
basis = "neat"

[parts]
Quick = 500
Slow = 500
"#;

fn number(value: &serde_json::Value) -> f64 {
    value.as_f64().expect("a number")
}

#[test]
fn half_and_half_by_hand() {
    let folder = Folder::of(&[("palette.toml", PALETTE), ("brief.toml", BRIEF), ("half.toml", FORMULA)]);
    let (brief, half) = (folder.path("brief.toml"), folder.path("half.toml"));
    let asked = ["strip", &half, "--brief", &brief, "--at", "0,360,700", "--format", "json"];
    let json = permil(&asked).ended(0).json();
    assert_close(number(&json["life_hours"]), 11.0, 1e-9, "the life of the film");
    let stages = json["stages"].as_array().unwrap();
    assert_eq!(stages.len(), 3);
    let (start, six, gone) = (&stages[0], &stages[1], &stages[2]);
    assert_close(number(&start["fidelity"]), 100.0, 1e-9, "the match when dipped");
    assert_eq!((number(&start["kept"]), number(&start["film_left"])), (100.0, 100.0));
    assert_close(number(&six["left"]["Quick"]), 0.097_466, 1e-6, "percent of the quick one");
    assert_close(number(&six["left"]["Slow"]), 49.990_253, 1e-6, "percent of the slow one");
    let share = 100.0 * 0.000_974_66 / (0.000_974_66 + 0.499_902_53);
    assert_close(number(&six["shares"]["Quick"]), share, 1e-5, "who carries it");
    assert_close(number(&six["kept"]), (0.097_466 + 49.990_253) / 2.0, 1e-6, "strength kept");
    // Half of what is wanted is missing, and too much of the other.
    assert!(number(&six["fidelity"]) < 51.0);
    // A dip of a tenth, where tenacities were noted undiluted, is gone in a tenth of the time.
    let thin = permil(&[&asked[..6], &["--percent", "10", "--format", "json"]].concat()).ended(0).json();
    assert_close(number(&thin["life_hours"]), 1.1, 1e-9, "a thin film");
    assert_eq!((&gone["fidelity"], &gone["clock"]), (&serde_json::Value::Null, &serde_json::Value::Null));
    let ran = permil(&asked[..6]).ended(0);
    reads_well(&ran.stdout);
    assert!(ran.stdout.contains("the last of it is gone after 11 h"), "{}", ran.stdout);
    assert!(!ran.stdout.contains("does not say how long"), "{}", ran.stdout);
}

#[test]
fn what_is_not_known_is_assumed_and_said() {
    let palette = PALETTE.replace("lasting = 20\n", "").replace("molar_mass = 150\n", "");
    let folder = Folder::of(&[("palette.toml", &palette), ("brief.toml", BRIEF), ("half.toml", FORMULA)]);
    let (brief, half) = (folder.path("brief.toml"), folder.path("half.toml"));
    let ran = permil(&["strip", &half, "--brief", &brief, "--at", "30"]).ended(0);
    let words: Vec<&str> = ran.stdout.split_whitespace().collect();
    assert!(words.join(" ").contains("The palette does not say how long this lasts: Slow."), "{}", ran.stdout);
    let json = permil(&["strip", &half, "--brief", &brief, "--at", "30", "--format", "json"]).ended(0).json();
    let line = json["materials"].as_array().unwrap().iter().find(|line| line["material"] == "Slow").unwrap();
    assert_eq!((&line["lasting_from"], number(&line["lasting"])), (&"the shelf".into(), 2.0));
    assert_eq!((&line["molar_mass_known"], number(&line["molar_mass"])), (&false.into(), 160.0));

    // A vapour pressure tells what no note does: benzyl alcohol's rate by Mackay and van
    // Wesenbeeck (2014), 20 g/m2.
    let pressed = palette
        .replace("scores = { heavy = 8 }", "scores = { heavy = 8 }\nvapour_pressure = 13.12\nmolar_mass = 108.138");
    let folder = Folder::of(&[("palette.toml", &pressed), ("brief.toml", BRIEF), ("half.toml", FORMULA)]);
    let (brief, half) = (folder.path("brief.toml"), folder.path("half.toml"));
    let asked = ["strip", &half, "--brief", &brief, "--film-weight", "20", "--format", "json"];
    let json = permil(&asked).ended(0).json();
    let line = json["materials"].as_array().unwrap().iter().find(|line| line["material"] == "Slow").unwrap();
    assert_eq!(line["lasting_from"], "vapour pressure");
    assert_close(number(&line["lasting"]), 9.629, 1e-3, "hours by its pressure");

    let bare = palette.replace("lasting = 2\n", "");
    let folder = Folder::of(&[("palette.toml", &bare), ("brief.toml", BRIEF), ("half.toml", FORMULA)]);
    let ran = permil(&["strip", &folder.path("half.toml"), "--brief", &folder.path("brief.toml")]).ended(2);
    assert!(ran.stderr.contains("nothing on the shelf says how long it lasts"), "{}", ran.stderr);
}

#[test]
fn the_rose() {
    let ran = permil(&["strip", ROSE_MOD, "--brief", ROSE]).ended(0);
    reads_well(&ran.stdout);
    assert!(ran.stdout.lines().count() <= 40 && ran.stdout.contains("--full"), "{}", ran.stdout);
    let json = permil(&["strip", ROSE_MOD, "--brief", ROSE, "--at", "0", "--format", "json"]).ended(0).json();
    // When it is dipped it is what `compare` says of it.
    let compared = permil(&["compare", ROSE, ROSE_MOD, "--format", "json"]).ended(0).json();
    let (stage, whole) = (&json["stages"][0], &compared["formulas"][0]);
    for key in ["fidelity", "strength", "loss"] {
        assert_close(number(&stage[key]), number(&whole[key]), 1e-9, key);
    }
    // On the draws of every report, too: a tenacity is of no account yet.
    assert_close(number(&stage["range"]["low"]), number(&whole["range"]["low"]), 1e-9, "the range");
    let csv = permil(&["strip", ROSE_MOD, "--brief", ROSE, "--format", "csv"]).ended(0).stdout;
    assert_eq!(csv.lines().count(), 5);
    let many = permil(&["strip", ROSE_MOD, "--brief", ROSE, "--at", "1,2,3,4,5,6,7"]).ended(2);
    assert!(many.stderr.contains("up to 6 times"), "{}", many.stderr);
    let wrong = permil(&["strip", ROSE_MOD, "--brief", ROSE, "--at=-1"]).ended(2);
    assert!(wrong.stderr.contains("minutes from 0"), "{}", wrong.stderr);
}
