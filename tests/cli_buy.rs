//! `permil buy` as a user meets it.

mod support;

use insta::assert_snapshot;
use support::assert_close;
use support::program::{Folder, permil, reads_well, settled};

const ROSE: &str = "profiles/rose-otto/brief.toml";
const WISHLIST: &str = "profiles/rose-otto/wishlist.toml";
const SIX: &str = "profiles/six-materials/brief.toml";

/// Two more for the six: one that could be used, one that makes up nothing.
const TWO: &str = r#"
[descriptors]
rosy = "rose petals"
spicy = "clove"
[[material]]
name = "Rhodinol"
strength = 12
scores = { rosy = 9, spicy = 1 }
price = 14
packs = [{ grams = 2, price = 3 }, { grams = 10, price = 9.5 }]
[[material]]
name = "Pepper oil"
strength = 8
scores = { spicy = 6 }
price = 90
natural = true
"#;

fn six_and_two() -> Folder {
    let folder = Folder::copy_of("profiles/six-materials");
    folder.write("two.toml", TWO);
    folder
}

#[test]
fn rose_with_a_wishlist() {
    let ran = permil(&["buy", ROSE, "--from", WISHLIST]).ended(0);
    reads_well(&ran.stdout);
    assert_eq!(ran.stderr, "");
    assert_snapshot!("rose_in_text", ran.stdout);
    let json = permil(&["buy", ROSE, "--from", WISHLIST, "--format", "json"]).ended(0).json();
    let candidates = json["candidates"].as_array().unwrap();
    let gains: Vec<f64> = candidates.iter().map(|it| it["gain"].as_f64().unwrap()).collect();
    assert!(gains.is_sorted_by(|a, b| a >= b), "{gains:?}");
    let base = json["base"]["fidelity"].as_f64().unwrap();
    for it in candidates {
        assert_close(it["fidelity"].as_f64().unwrap() - base, it["gain"].as_f64().unwrap(), 1e-9, "gain");
        assert_eq!(it["formula"].is_null(), it["gain"].as_f64().unwrap() == 0.0, "{}", it["materials"]);
        assert_eq!(it["status"], "optimal");
    }
    let pair = candidates.iter().find(|it| it["materials"].as_array().unwrap().len() == 2).unwrap();
    assert_eq!(pair["materials"], json["pair"]["materials"]);
    assert_eq!(json["left_out"][0]["material"], "Triethyl citrate");
}

#[test]
fn six_materials_in_every_format() {
    let folder = six_and_two();
    let (brief, wishlist) = (folder.path("brief.toml"), folder.path("two.toml"));
    let arguments = ["buy", &brief, "--from", &wishlist, "--batch", "20"];
    let ran = permil(&arguments).ended(0);
    reads_well(&ran.stdout);
    // The folder of the test has another name on every run.
    let folder_name = folder.path("");
    let stable = |text: &str| settled(&text.replace(folder_name.as_str(), ""));
    assert_snapshot!("six_in_text", stable(&ran.stdout));
    for format in ["json", "csv"] {
        let ran = permil(&[&arguments[..], &["--format", format]].concat()).ended(0);
        assert_snapshot!(format!("six_in_{format}"), stable(&ran.stdout));
    }
}

#[test]
fn the_rules_of_the_brief_hold_for_what_is_bought() {
    let folder = six_and_two();
    let arguments = ["buy", &folder.path("brief.toml"), "--from", &folder.path("two.toml"), "--format", "json"];
    let names = |json: &serde_json::Value| -> Vec<String> {
        let left_out = json["left_out"].as_array().unwrap().iter();
        left_out.map(|it| it["material"].as_str().unwrap().to_owned()).collect()
    };
    let before = permil(&arguments).ended(0).json();
    assert_eq!(names(&before), Vec::<String>::new());
    // The brief may speak of what is on the wishlist.
    folder.change("brief.toml", "max = 500 }\n", "max = 500 }\n\"Rhodinol\" = { use = \"never\" }\n");
    let after = permil(&arguments).ended(0).json();
    assert_eq!(names(&after), ["Rhodinol"]);
    assert!(after["left_out"][0]["why"].as_str().unwrap().contains("must not be used"));
    // own_only says what the shelf is, not what may be bought.
    folder.change("brief.toml", "\"Rhodinol\" = { use = \"never\" }\n", "");
    folder.change("brief.toml", "step = 1\n", "step = 1\nown_only = true\n");
    let own = permil(&arguments).ended(0).json();
    assert_eq!(own["candidates"][0]["gain"], before["candidates"][0]["gain"]);
    // What propose finds on the larger shelf is what buy promised.
    let best =
        before["candidates"].as_array().unwrap().iter().find(|it| it["materials"] == serde_json::json!(["Rhodinol"]));
    let promised = best.unwrap()["fidelity"].as_f64().unwrap();
    let material = TWO.split("[[material]]").nth(1).unwrap();
    folder.write("palette.toml", &format!("{}\n[[material]]{material}", folder.read("palette.toml")));
    let found = permil(&["propose", &folder.path("brief.toml"), "--format", "json"]).ended(0).json();
    assert_close(found["fidelity"].as_f64().unwrap(), promised, 1e-7, "fidelity");
}

#[test]
fn when_the_shelf_is_not_enough() {
    let folder = six_and_two();
    folder.change("brief.toml", "rosy = 6\n", "rosy = { score = 6, min = 7.8 }\n");
    let (brief, wishlist) = (folder.path("brief.toml"), folder.path("two.toml"));
    // Rhodinol, nine parts in ten rosy, makes it possible.
    let ran = permil(&["buy", &brief, "--from", &wishlist]).ended(0);
    reads_well(&ran.stdout.replace(&folder.path(""), ""));
    let json = permil(&["buy", &brief, "--from", &wishlist, "--format", "json"]).ended(0).json();
    assert_eq!((&json["base"]["status"], json["base"]["formula"].is_null()), (&"infeasible".into(), true));
    assert_eq!(json["candidates"][0]["materials"][0], "Rhodinol");
    assert!(json["candidates"][0]["gain"].is_null() && json["candidates"][0]["fidelity"].is_f64());
    assert_eq!(json["candidates"][1]["status"], "infeasible");
    // And nothing makes this possible.
    folder.change("brief.toml", "min = 7.8", "min = 9.9");
    let ran = permil(&["buy", &brief, "--from", &wishlist]).ended(1);
    assert!(ran.stdout.contains("Nor can any, whatever of it is bought (proven)."), "{}", ran.stdout);
    let json = permil(&["buy", &brief, "--from", &wishlist, "--format", "json"]).ended(1).json();
    assert!(json["conflict"].as_array().unwrap().iter().any(|line| line["rule"] == "target:rosy.min"), "{json}");
    let ran = permil(&["buy", &brief, "--from", &wishlist, "--format", "csv"]).ended(1);
    assert!(ran.stderr.contains("whatever is bought"), "{}", ran.stderr);
}

#[test]
fn nothing_to_buy_and_wrong_usage() {
    let ran = permil(&["buy", SIX]).ended(0);
    assert!(ran.stdout.contains("no material that the brief can use has have = false"), "{}", ran.stdout);
    for arguments in [
        &["buy"][..],
        &["buy", SIX, "--batch", "0"],
        &["buy", SIX, "--batch", "-3"],
        &["buy", SIX, "--batch", "nan"],
        &["buy", SIX, "--batch", "1e9"],
        &["buy", SIX, "--from", "nowhere.toml"],
        &["buy", SIX, "--from", "profiles/six-materials/palette.toml"],
        &["buy", SIX, "--from", WISHLIST],
    ] {
        let ran = permil(arguments).ended(2);
        assert_eq!(ran.stdout, "", "{arguments:?}");
        assert!(!ran.stderr.is_empty(), "{arguments:?}");
    }
}

#[test]
fn threads_change_nothing() {
    let on =
        |threads| permil(&["buy", ROSE, "--from", WISHLIST, "--threads", threads, "--format", "csv"]).ended(0).stdout;
    assert_eq!(settled(&on("1")), settled(&on("2")));
}

#[test]
fn a_stop_is_owned_up_to() {
    let ran = permil(&["buy", ROSE, "--from", WISHLIST, "--time-limit", "0.000001"]);
    assert_eq!(ran.status, 3, "{}", ran.stdout);
    let ran = permil(&["buy", ROSE, "--from", WISHLIST, "--node-limit", "3", "--format", "json"]);
    let json = ran.json();
    for it in json["candidates"].as_array().unwrap().iter().filter(|it| it["status"] == "unknown") {
        assert!(it["formula"].is_null(), "{it}");
        assert!(it["most_gain"].is_null() || it["most_gain"].as_f64().unwrap() >= 1.3, "{it}");
    }
    let text = permil(&["buy", ROSE, "--from", WISHLIST, "--node-limit", "3"]).stdout;
    reads_well(&text);
}

#[test]
fn help() {
    let ran = permil(&["buy", "--help"]).ended(0);
    let help: Vec<&str> = ran.stdout.lines().map(str::trim_end).collect();
    assert_snapshot!("help", help.join("\n"));
}
