//! The program as a user meets it: arguments in, text and exit status out.

mod support;

use std::io::Read;
use std::process::Stdio;
use std::time::{Duration, Instant};

use insta::assert_snapshot;
use support::assert_close;
use support::program::{Folder, Ran, command, permil, reads_well, reference_cases, settled};

const ROSE: &str = "profiles/rose-otto/brief.toml";
const ROSE_MOD: &str = "profiles/rose-otto/mod-1.toml";
const SIX: &str = "profiles/six-materials/brief.toml";
const SIX_FORMULA: &str = "profiles/six-materials/formula.toml";
/// A brief that takes long to prove.
const LONG: &str = "tests/reference/cases/15-count-alone/brief.toml";

#[test]
fn rose_in_text() {
    let ran = permil(&["propose", ROSE]).ended(0);
    reads_well(&ran.stdout);
    assert_eq!(ran.stderr, "");
    assert_snapshot!(ran.stdout);
}

#[test]
fn rose_in_json() {
    let json = permil(&["propose", ROSE, "--format", "json"]).ended(0).json();
    let close = |value: &serde_json::Value, wanted: f64, what: &str| {
        assert_close(value.as_f64().unwrap(), wanted, 1e-6, what);
    };
    assert_eq!((&json["schema"], &json["command"], &json["status"]), (&1.into(), &"propose".into(), &"optimal".into()));
    close(&json["fidelity"], 93.632_407, "fidelity");
    close(&json["loss"], 3.151_958_6, "loss");
    let parts: f64 = json["formula"]["parts"].as_object().unwrap().values().map(|part| part.as_f64().unwrap()).sum();
    assert_close(parts, 1000.0, 1e-12, "sum of parts");
    for map in ["shares", "price_shares"] {
        let shares = json["materials"].as_array().unwrap().iter().map(|line| match map {
            "shares" => json["shares"][line["material"].as_str().unwrap()].as_f64().unwrap(),
            _ => line["price_share"].as_f64().unwrap(),
        });
        assert_close(shares.sum(), 100.0, 1e-9, map);
    }
    // What the materials bring adds up to the profile.
    for line in json["profile"].as_array().unwrap() {
        let descriptor = line["descriptor"].as_str().unwrap();
        let brought = json["materials"].as_array().unwrap().iter().filter_map(|it| it["brings"][descriptor].as_f64());
        close(&line["blend"], brought.sum(), descriptor);
    }
    // 1.9 parts at 10 % and 1.1 at 1 % pour 19 and 110, and so on.
    let poured: f64 = json["materials"].as_array().unwrap().iter().map(|line| line["poured"].as_f64().unwrap()).sum();
    close(&json["poured"]["total"], poured, "poured");
    close(&json["poured"]["concentration_percent"], 100_000.0 / poured, "concentration");
    close(&json["replaces"]["grams_per_gram"], 150.0 / json["strength"].as_f64().unwrap(), "replaces");
    for line in json["limits"].as_array().unwrap() {
        let (used, limit) = (line["use_percent"].as_f64().unwrap(), line["limit_percent"].as_f64().unwrap());
        assert!(used <= limit, "{line}");
        let from: f64 = line["from"].as_object().unwrap().values().map(|part| part.as_f64().unwrap()).sum();
        assert_close(from + line["reserve_percent"].as_f64().unwrap(), used, 1e-9, "sources");
    }
}

#[test]
fn threads_change_nothing() {
    for brief in [ROSE, SIX] {
        // Long enough for every question on a slow machine too.
        let limit = ["--time-limit", "300"];
        let on = |threads| {
            permil(&[&["propose", brief, "--format", "json", "--threads", threads][..], &limit].concat())
                .ended(0)
                .stdout
        };
        let one = on("1");
        assert!(one.lines().all(|line| !line.trim_end_matches(',').ends_with(" -0.0")), "{one}");
        assert_eq!(on("2"), one);
        assert_eq!(on("8"), one);
    }
}

#[test]
fn six_materials_in_text() {
    let ran = permil(&["propose", SIX]).ended(0);
    reads_well(&ran.stdout);
    assert_snapshot!(ran.stdout);
}

#[test]
fn six_materials_in_json_and_csv() {
    let ran = permil(&["propose", SIX, "--format", "json"]).ended(0);
    assert_snapshot!("six_materials_in_json", settled(&ran.stdout));
    let json = ran.json();
    assert_close(json["loss"].as_f64().unwrap(), 0.354_932, 1e-6, "loss");
    assert_close(json["bound"].as_f64().unwrap(), 0.354_932, 2e-6, "bound");
    assert_snapshot!("six_materials_in_csv", settled(&permil(&["propose", SIX, "--format", "csv"]).ended(0).stdout));
}

#[test]
fn comparisons_in_text() {
    let ran = permil(&["compare", ROSE, ROSE_MOD]).ended(0);
    reads_well(&ran.stdout);
    assert_snapshot!("compare_rose", ran.stdout);
    let case = "tests/reference/cases/22-everything";
    let formulas = ["a", "b", "c"].map(|name| format!("{case}/formula-{name}.toml"));
    let ran = permil(&["compare", &format!("{case}/brief.toml"), &formulas[0], &formulas[1], &formulas[2]]).ended(0);
    reads_well(&ran.stdout);
    assert_snapshot!("compare_broken", ran.stdout);
    let ran = permil(&["compare", SIX, SIX_FORMULA, SIX_FORMULA, "--format", "csv"]).ended(0);
    assert_snapshot!("compare_csv", settled(&ran.stdout));
}

#[test]
fn help_manual_and_completions() {
    for (name, arguments) in
        [("help", &["--help"][..]), ("help_propose", &["propose", "--help"]), ("help_compare", &["compare", "--help"])]
    {
        let ran = permil(arguments).ended(0);
        let help: Vec<&str> = ran.stdout.lines().map(str::trim_end).collect();
        assert_snapshot!(name, help.join("\n"));
    }
    assert!(permil(&["man"]).ended(0).stdout.starts_with(".ie"));
    assert!(permil(&["man", "PROPOSE"]).ended(0).stdout.contains("time\\-limit"));
    permil(&["man", "nothing"]).ended(2);
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        assert!(permil(&["completions", shell]).ended(0).stdout.contains("propose"));
    }
}

#[test]
fn wrong_usage() {
    for arguments in [
        &[][..],
        &["nothing"],
        &["propose"],
        &["propose", ROSE, "--time-limit", "0"],
        &["propose", ROSE, "--time-limit", "nan"],
        &["propose", ROSE, "--time-limit", "inf"],
        &["propose", ROSE, "--node-limit", "0"],
        &["propose", ROSE, "--threads", "0"],
        &["propose", ROSE, "--force"],
        &["propose", ROSE, "--format", "html"],
        &["propose", ROSE, "--solver", "clarabel"],
        &["compare", ROSE],
        &["compare", ROSE, "profiles/rose-otto/none.toml"],
        &["compare", ROSE, ROSE],
    ] {
        let ran = permil(arguments).ended(2);
        assert_eq!(ran.stdout, "", "{arguments:?}");
        assert!(!ran.stderr.is_empty(), "{arguments:?}");
    }
}

#[test]
fn faults_go_to_standard_error_with_their_place() {
    let folder = Folder::copy_of("profiles/six-materials");
    folder.change("brief.toml", "max_price = 19", "max_price = -19");
    folder.change("palette.toml", "60-12-8", "60-12-9");
    let ran = permil(&["propose", &folder.path("brief.toml")]).ended(2);
    assert_eq!(ran.stdout, "");
    assert!(ran.stderr.contains("brief.toml:22"), "{}", ran.stderr);
    assert!(ran.stderr.contains("check digit"), "{}", ran.stderr);
    let ran = permil(&["propose", "nothing.toml"]).ended(2);
    assert!(ran.stderr.contains("nothing.toml does not exist"), "{}", ran.stderr);
    permil(&["propose", "profiles"]).ended(2);
}

#[test]
fn a_brief_that_nothing_meets() {
    let folder = Folder::copy_of("profiles/six-materials");
    folder.change("brief.toml", "max_price = 19", "max_price = 9");
    let brief = folder.path("brief.toml");
    let ran = permil(&["propose", &brief]).ended(1);
    assert!(ran.stdout.contains("No blend can meet this brief (proven)."), "{}", ran.stdout);
    let json = permil(&["propose", &brief, "--format", "json"]).ended(1).json();
    assert_eq!(json["schema"], 1);
    assert_eq!(json["command"], "propose");
    assert_eq!(json["status"], "infeasible");
    assert!(json["formula"].is_null() && json["loss"].is_null());
    // A table without rows would not say why.
    let ran = permil(&["propose", &brief, "--format", "csv"]).ended(1);
    assert_eq!(ran.stdout.lines().count(), 1);
    assert_eq!(ran.stderr, "permil: no blend can meet this brief (proven)\n");
    let saved = folder.path("none.toml");
    permil(&["propose", &brief, "--save", &saved]).ended(1);
    assert_eq!(folder.names().len(), 4);
}

#[test]
fn saving() {
    let folder = Folder::copy_of("profiles/six-materials");
    let (brief, saved) = (folder.path("brief.toml"), folder.path("best.toml"));
    permil(&["propose", &brief, "--save", &saved]).ended(0);
    assert_eq!(folder.names(), ["README.md", "best.toml", "brief.toml", "formula.toml", "palette.toml"]);
    assert_snapshot!("saved_formula", folder.read("best.toml"));

    let compared = permil(&["compare", &brief, &saved, "--format", "json"]).ended(0).json();
    assert_close(compared["formulas"][0]["fidelity"].as_f64().unwrap(), 98.225_339, 1e-6, "fidelity");
    assert_eq!(compared["formulas"][0]["broken"], serde_json::json!([]));

    folder.write("best.toml", "mine");
    let ran = permil(&["propose", &brief, "--save", &saved]).ended(2);
    assert!(ran.stderr.contains("--force overwrites it"), "{}", ran.stderr);
    assert_eq!((ran.stdout.as_str(), folder.read("best.toml").as_str()), ("", "mine"));
    permil(&["propose", &brief, "--save", &saved, "--force"]).ended(0);
    assert!(folder.read("best.toml").contains("[parts]"));

    for refused in [folder.path(""), folder.path("none/best.toml"), folder.path("new/"), String::new(), "/".into()] {
        let ran = permil(&["propose", &brief, "--save", &refused, "--force"]).ended(2);
        assert_eq!(ran.stdout, "", "{refused}");
    }
    for input in ["brief.toml", "palette.toml"] {
        let before = folder.read(input);
        let ran = permil(&["propose", &brief, "--save", &folder.path(input), "--force"]).ended(2);
        assert!(ran.stderr.contains("which the brief needs"), "{}", ran.stderr);
        assert_eq!(folder.read(input), before);
    }
    assert_eq!(folder.names(), ["README.md", "best.toml", "brief.toml", "formula.toml", "palette.toml"]);
}

#[test]
fn a_save_that_must_fail_fails_before_the_search() {
    let begun = Instant::now();
    permil(&["propose", LONG, "--time-limit", "60", "--save", "/nowhere/at/all.toml"]).ended(2);
    assert!(begun.elapsed() < Duration::from_secs(20));
}

#[test]
fn a_pipe_that_closes_early_is_no_fault() {
    for format in ["text", "json"] {
        let mut child = command(&["propose", ROSE, "--format", format])
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let mut stderr = String::new();
        child.stderr.take().unwrap().read_to_string(&mut stderr).unwrap();
        assert_eq!((child.wait().unwrap().code(), stderr.as_str()), (Some(0), ""));
    }
}

#[test]
fn colour_is_for_terminals_and_for_those_who_ask() {
    let coloured = |arguments: &[&str]| permil(arguments).ended(0).stdout.contains('\u{1b}');
    assert!(!coloured(&["propose", SIX]));
    assert!(!coloured(&["propose", SIX, "--color", "never"]));
    assert!(coloured(&["propose", SIX, "--color", "always"]));
    assert!(!coloured(&["propose", SIX, "--color", "always", "--format", "json"]));
    let ran: Ran = command(&["propose", SIX]).env("NO_COLOR", "1").output().unwrap().into();
    assert!(!ran.stdout.contains('\u{1b}'));
}

/// A stopped search says what it has, and its bound is true.
#[test]
fn limits_of_the_search_end_in_an_honest_answer() {
    let best = 3.151_958_6;
    for limit in [["--node-limit", "1"], ["--node-limit", "50"], ["--time-limit", "0.000001"], ["--time-limit", "0.02"]]
    {
        let ran = permil(&["propose", ROSE, "--format", "json", limit[0], limit[1]]);
        let json = ran.json();
        let bound = json["bound"].as_f64().unwrap();
        assert!(bound <= best + 1e-6, "{limit:?}: {bound}");
        match json["status"].as_str().unwrap() {
            "feasible" => assert!(json["loss"].as_f64().unwrap() >= best - 1e-6),
            "optimal" => assert_close(json["loss"].as_f64().unwrap(), best, 1e-6, "loss"),
            other => assert_eq!((other, ran.status), ("unknown", 3)),
        }
        assert_eq!(ran.status == 3, json["formula"].is_null());
    }
    let ran = permil(&["propose", LONG, "--time-limit", "0.3"]);
    if ran.status == 0 && !ran.stdout.contains("(proven)") {
        assert!(ran.stdout.contains("not proven best: it could still be up to"), "{}", ran.stdout);
    }
    reads_well(&ran.stdout);
    assert_eq!(ran.stderr, "", "no progress without a terminal");
}

#[cfg(unix)]
#[test]
fn interrupting_returns_the_best_so_far() {
    let child = command(&["propose", LONG, "--time-limit", "60", "--format", "json"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    std::thread::sleep(Duration::from_millis(700));
    let begun = Instant::now();
    let id = child.id().to_string();
    std::process::Command::new("kill").args(["-INT", &id]).status().unwrap();
    let ran = Ran::from(child.wait_with_output().unwrap()).ended(0);
    assert!(begun.elapsed() < Duration::from_secs(20));
    assert!(["optimal", "feasible"].contains(&ran.json()["status"].as_str().unwrap()));
}

#[test]
fn parts_that_do_not_add_up() {
    let folder = Folder::copy_of("profiles/six-materials");
    folder.change("formula.toml", "\"Linalool\" = 40", "\"Linalool\" = 39.5");
    let (brief, short) = (folder.path("brief.toml"), folder.path("formula.toml"));
    let ran = permil(&["compare", &brief, &short]).ended(1);
    assert!(ran.stdout.contains("add up to 999.5: 0.5 are missing"), "{}", ran.stdout);
    let json = permil(&["compare", &brief, &short, SIX_FORMULA, "--format", "json"]).ended(1).json();
    let [first, second] = [&json["formulas"][0], &json["formulas"][1]];
    assert_eq!((first["sum"].as_f64(), first["missing"].as_f64()), (Some(999.5), Some(0.5)));
    assert!(first["fidelity"].is_null() && first["broken"].is_null());
    assert_close(second["fidelity"].as_f64().unwrap(), 89.869_230, 1e-6, "fidelity");
    let json = permil(&["compare", &brief, &short, "--rescale", "--format", "json"]).ended(0).json();
    assert_eq!(json["formulas"][0]["rescaled"], true);
    // Scaling leaves the grid of whole parts, and the report says so.
    assert!(json["formulas"][0]["broken"].to_string().contains("dose:Geraniol.step"));
}

#[test]
fn formulas_of_another_basis_are_converted() {
    let folder = Folder::copy_of("profiles/rose-otto");
    let neat = folder.read("mod-1.toml");
    // What the bottles pour of mod 1, in all 1061.5 parts.
    let poured = neat
        .replace("basis = \"neat\"", "basis = \"bottle\"")
        .replace("\"Rose oxide\" = 1.5", "\"Rose oxide\" = 15")
        .replace("\"beta-Damascenone\" = 0.5", "\"beta-Damascenone\" = 50");
    folder.write("poured.toml", &poured);
    let (brief, paths) = (folder.path("brief.toml"), [folder.path("mod-1.toml"), folder.path("poured.toml")]);
    let ran = permil(&["compare", &brief, &paths[0], &paths[1], "--rescale", "--format", "json"]).ended(0);
    let json = ran.json();
    let [first, second] = [&json["formulas"][0], &json["formulas"][1]];
    assert_eq!(second["converted_from"], "bottle");
    assert_eq!(second["formula"]["basis"], "neat");
    assert_eq!(second["broken"], serde_json::json!([]));
    for key in ["fidelity", "loss", "price", "strength"] {
        assert_close(second[key].as_f64().unwrap(), first[key].as_f64().unwrap(), 1e-7, key);
    }
}

#[test]
fn materials_that_the_brief_leaves_out() {
    let folder = Folder::copy_of("profiles/rose-otto");
    folder.change("brief.toml", "\"Rose otto\" = { fixed = 5 }\n", "");
    let formula = "palette = \"palette.toml\"\n[parts]\n\"Rose otto\" = 900\n\"Dipropylene glycol\" = 100\n";
    folder.write("odd.toml", formula);
    let json = permil(&["compare", &folder.path("brief.toml"), &folder.path("odd.toml"), "--format", "json"]).json();
    let broken = json["formulas"][0]["broken"].as_array().unwrap();
    let find = |rule: &str| broken.iter().find(|line| line["rule"] == rule).unwrap();
    assert!(find("dose:Rose otto.never")["line"].as_u64().is_some());
    assert!(find("dose:Dipropylene glycol.never")["file"].as_str().unwrap().ends_with("brief.toml"));
}

#[test]
fn a_formula_without_odour_has_no_numbers() {
    let folder = Folder::copy_of("profiles/six-materials");
    folder.write("none.toml", "palette = \"palette.toml\"\n[parts]\n\"Dipropylene glycol\" = 1000\n");
    let arguments = ["compare", &folder.path("brief.toml"), &folder.path("none.toml")];
    let ran = permil(&arguments).ended(0);
    assert!(ran.stdout.contains("nothing in the formula has an odour"), "{}", ran.stdout);
    assert!(!ran.stdout.contains("Met within"), "{}", ran.stdout);
    let json = permil(&[&arguments[..], &["--format", "json"]].concat()).ended(0).json();
    assert_eq!(json["formulas"][0]["status"], "unjudged");
    assert!(json["formulas"][0]["loss"].is_null());
}

const ODD_PALETTE: &str = r#"
[descriptors]
"ro\u001b[31msy" = "red"
[[material]]
name = "=HYPERLINK(\"x\"), \u001b[31mred\u202e"
strength = 10
scores = { "ro\u001b[31msy" = 5 }
natural = true
[[material]]
name = "薔薇の香りがするとても長い名前の材料でありこの行には収まらないものである"
strength = 5
price = 3
scores = { "ro\u001b[31msy" = 4 }
"#;
const ODD_BRIEF: &str = r#"
title = "odd \u001b]0;x\u0007"
palette = "palette.toml"
limits = "limits.toml"
[target]
"ro\u001b[31msy" = 4.5
[[use]]
category = "4"
dosage = 20
[doses]
"=HYPERLINK(\"x\"), \u001b[31mred\u202e" = { use = "must", min = 10 }
"#;
const ODD_LIMITS: &str = r#"
[[restriction]]
substance = "Eu\u009bgenol"
cas = ["97-53-0"]
source = "a \u001b[2J source"
limits = { "4" = 1 }
"#;

#[test]
fn names_can_neither_steer_a_terminal_nor_a_spreadsheet() {
    let folder = Folder::of(&[("palette.toml", ODD_PALETTE), ("brief.toml", ODD_BRIEF), ("limits.toml", ODD_LIMITS)]);
    let (brief, saved) = (folder.path("brief.toml"), folder.path("odd.toml"));
    permil(&["propose", &brief, "--save", &saved]).ended(0);
    let first = "=HYPERLINK(\"x\"), \u{1b}[31mred\u{202e}";
    let second = ODD_PALETTE.split("name = \"").nth(2).and_then(|rest| rest.split('"').next()).unwrap();
    // Two alike that could be bought, and that could replace the second.
    folder.write(
        "wishlist.toml",
        &ODD_PALETTE.replace("name = \"", "name = \"-").replace("strength = 5", "strength = 6"),
    );
    let more = ODD_PALETTE.split("[[material]]").nth(1).unwrap().replace("name = \"", "name = \"@");
    folder.write("palette.toml", &format!("{ODD_PALETTE}\n[[material]]{more}"));
    let written = ODD_PALETTE.split("name = ").nth(1).and_then(|rest| rest.lines().next()).unwrap();
    folder.write("both.toml", &format!("[parts]\n{written} = 500\n\"{second}\" = 500\n"));
    let (wishlist, both) = (folder.path("wishlist.toml"), folder.path("both.toml"));
    for command in [
        &["propose", &brief][..],
        &["compare", &brief, &saved],
        &["buy", &brief, "--from", &wishlist],
        &["replace", &brief, &both, "--out", second],
        &["replace", &brief, &both, "--out", first],
    ] {
        for format in ["text", "json", "csv"] {
            let ran = permil(&[command, &["--format", format]].concat());
            // The brief says that the first must be used.
            let ran = ran.ended(i32::from(command.contains(&first)));
            for character in ran.stdout.chars().chain(ran.stderr.chars()) {
                let steers = (character.is_control() && character != '\n') || character == '\u{202e}';
                assert!(!steers, "{command:?} {format}: {character:?}");
            }
            for line in ran.stdout.lines().filter(|_| format == "csv") {
                assert!(!line.starts_with('=') && !line.contains(",=") && !line.contains("\"="), "{line}");
            }
        }
    }
    let text = permil(&["propose", &brief, "--full"]).stdout;
    let unknown = text.find("Not fully checked").expect("the natural is named");
    assert!(unknown < text.find("Percent of").unwrap(), "{text}");
}

#[test]
fn care_is_taken_in_every_report() {
    let text = permil(&["propose", SIX]).ended(0).stdout;
    assert!(text.contains("NO LIMITS APPLIED"));
    let json = permil(&["propose", SIX, "--format", "json"]).json();
    assert_eq!(json["care"]["limits_applied"], false);
    for arguments in [&["propose", ROSE, "--full"][..], &["compare", ROSE, ROSE_MOD, "--full"]] {
        let text = permil(arguments).ended(0).stdout.replace('\n', " ");
        for said in ["not a safety assessment", "qualified assessor", "gloves", "from memory", "49th Amendment"] {
            assert!(text.contains(said), "{said}");
        }
        assert!(!text.contains("NO LIMITS APPLIED"));
    }
}

#[test]
fn text_of_every_reference_case_reads_well() {
    for folder in reference_cases() {
        let brief = folder.join("brief.toml");
        let ran = permil(&["propose", brief.to_str().unwrap(), "--time-limit", "1", "--quiet"]);
        assert!([0, 1].contains(&ran.status), "{}", ran.stderr);
        reads_well(&ran.stdout);
    }
}
