//! `permil strengths` as a user meets it.

mod support;

use insta::assert_snapshot;
use support::program::{Folder, permil, reads_well, settled};

const PALETTE: &str = "profiles/rose-otto/palette.toml";
const MATCHES: &str = "profiles/rose-otto/matches.toml";

#[test]
fn rose_in_text_json_and_csv() {
    let ran = permil(&["strengths", PALETTE, MATCHES]).ended(0);
    reads_well(&ran.stdout);
    assert_eq!(ran.stderr, "");
    assert_snapshot!("strengths_text", ran.stdout);
    let ran = permil(&["strengths", PALETTE, MATCHES, "--format", "json"]).ended(0);
    assert_snapshot!("strengths_json", settled(&ran.stdout));
    let json = ran.json();
    let csv = permil(&["strengths", PALETTE, MATCHES, "--format", "csv"]).ended(0).stdout;
    assert_eq!(csv.lines().count(), 1 + json["materials"].as_array().unwrap().len());
    assert!(csv.starts_with("material,before,before_factor,after,factor,low,high,ratio,tie,pairs\n"), "{csv}");
    assert_eq!(json["pairs"].as_array().unwrap().iter().filter(|pair| pair["contradicts"] == true).count(), 1);
    assert_eq!(json["pairs"][0]["line"], 47);
}

#[test]
fn help() {
    let ran = permil(&["strengths", "--help"]).ended(0);
    let help: Vec<&str> = ran.stdout.lines().map(str::trim_end).collect();
    assert_snapshot!("help_strengths", help.join("\n"));
}

#[test]
fn a_saved_palette_keeps_comments_and_order() {
    let folder = Folder::copy_of("profiles/rose-otto");
    let (palette, matches, saved) = (folder.path("palette.toml"), folder.path("matches.toml"), folder.path("new.toml"));
    let json = permil(&["strengths", &palette, &matches, "--save", &saved, "--format", "json"]).ended(0).json();
    let (old, new) = (folder.read("palette.toml"), folder.read("new.toml"));
    let is_number = |line: &&str| line.starts_with("strength = ") || line.starts_with("strength_factor = ");
    let rest = |text: &str| text.lines().filter(|line| !is_number(line)).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(rest(&old), rest(&new));
    let shelf = permil(&["shelf", &saved, "--format", "json"]).ended(0).json();
    for line in json["materials"].as_array().unwrap() {
        let is_it = |it: &&serde_json::Value| it["material"] == line["material"];
        let strength = shelf["materials"].as_array().unwrap().iter().find(is_it).unwrap()["strength"].as_f64().unwrap();
        let wanted = line["after"].as_f64().unwrap();
        assert!((strength / wanted - 1.0).abs() < 6e-4, "{line}: {strength}");
    }
    // An older file stays, and what is read is never overwritten.
    let ran = permil(&["strengths", &palette, &matches, "--save", &saved]).ended(2);
    assert!(ran.stderr.contains("exists already; --force overwrites it") && ran.stdout.is_empty(), "{}", ran.stderr);
    permil(&["strengths", &palette, &matches, "--save", &saved, "--force"]).ended(0);
    for input in [&palette, &matches] {
        let ran = permil(&["strengths", &palette, &matches, "--save", input, "--force"]).ended(2);
        assert!(ran.stderr.contains("which is read"), "{}", ran.stderr);
        let plot = permil(&["strengths", &palette, &matches, "--plot", input]).ended(2);
        assert!(plot.stderr.contains(".svg or .png"), "{}", plot.stderr);
    }
    assert_eq!((folder.read("palette.toml"), folder.read("new.toml")), (old, new));
}

const SHELF: &str = "scale = 10\n[descriptors]\nrosy = \"\"\n\
    [[material]]\nname = \"A\"\nstrength = 10\nscores = { rosy = 5 }\n\
    [[material]]\nname = \"Beta\"\nstrength = 20\nscores = { rosy = 5 }\n\
    [[material]]\nname = \"Water\"\nstrength = 0\n";

fn of(matches: &str) -> support::program::Ran {
    let folder = Folder::of(&[("palette.toml", SHELF), ("matches.toml", matches)]);
    permil(&["strengths", &folder.path("palette.toml"), &folder.path("matches.toml")])
}

fn one(a: &str, a_percent: &str, b: &str, b_percent: &str) -> String {
    format!(
        "a = {{ material = \"{a}\", percent = {a_percent} }}\nb = {{ material = \"{b}\", percent = {b_percent} }}\n"
    )
}

#[test]
fn what_is_wrong_is_told_with_its_place() {
    let head = "reference = \"A\"\n[[equal]]\n";
    for (text, told) in [
        (String::new(), "`reference` is missing"),
        ("reference = \"A\"\n".to_owned(), "there are no matches in this file"),
        ("reference = \"A\"\nequal = []\n".to_owned(), "there are no matches in this file"),
        (format!("reference = \"Water\"\n[[equal]]\n{}", one("A", "1", "Beta", "1")), "\"Water\" has strength 0"),
        (format!("{head}{}", one("Betta", "1", "A", "1")), "did you mean `Beta`?"),
        (format!("{head}{}", one("Water", "1", "A", "1")), "\"Water\" has strength 0"),
        (format!("{head}{}", one("Beta", "0", "A", "1")), "`percent` is out of range: 0"),
        (format!("{head}{}", one("Beta", "100.1", "A", "1")), "expected a number, above 0, up to 100"),
        (format!("{head}{}", one("Beta", "nan", "A", "1")), "not a finite number"),
        (format!("{head}{}", one("A", "1", "A", "2")), "compares a material with itself"),
        (format!("{head}{}give_or_take_factor = 1\n", one("Beta", "1", "A", "2")), "`give_or_take_factor` is out"),
        (format!("exponent = 0\n{head}{}", one("Beta", "1", "A", "2")), "`exponent` is out of range"),
        (format!("{head}{}strenght = 1\n", one("Beta", "1", "A", "2")), "unknown key `strenght`"),
        (format!("{head}a = {{ material = \"Beta\", percent = 1 }}\n"), "`b` is missing in [[equal]]"),
        (format!("{head}a = 3\nb = 4\n"), "`a` is a number"),
    ] {
        let ran = of(&text).ended(2);
        assert!(ran.stderr.contains(told), "{told}:\n{}", ran.stderr);
        assert!(ran.stderr.contains("matches.toml:"), "{}", ran.stderr);
        assert_eq!(ran.stdout, "");
    }
    // All faults in one run.
    let ran = of(&format!("{head}{}", one("Betta", "0", "Water", "200"))).ended(2);
    assert!(ran.stderr.contains("4 faults"), "{}", ran.stderr);
}

#[test]
fn what_is_odd_is_a_warning() {
    let pair = one("Beta", "1", "A", "2");
    let text = format!("reference = \"A\"\n[[equal]]\n{pair}[[equal]]\n{}", one("A", "2", "Beta", "1"));
    let ran = of(&text).ended(0);
    assert!(ran.stderr.contains("says of A at 2 % and Beta at 1 % what line 2 says already"), "{}", ran.stderr);
    let text = format!("reference = \"A\"\n[[stronger]]\n{pair}[[stronger]]\n{}", one("A", "2", "Beta", "1"));
    let ran = of(&text).ended(0);
    assert!(ran.stderr.contains("contradicts line 2"), "{}", ran.stderr);
    // Neither is more likely than the other: the palette stands.
    assert!(ran.stdout.contains("Tied by order alone"), "{}", ran.stdout);
    let text = format!("reference = \"A\"\n[[equal]]\n{pair}");
    let ran = of(&text).ended(0);
    assert_eq!(ran.stderr, "");
    assert!(!ran.stdout.contains("contradicts"), "{}", ran.stdout);
}

#[test]
fn hostile_names_do_no_harm() {
    let name = "=1+1 \u{1b}[31m\u{202e}";
    let shelf = SHELF.replace("Beta", "=1+1 \\u001b[31m\\u202e");
    let matches = format!("reference = \"A\"\n[[equal]]\n{}", one("=1+1 \\u001b[31m\\u202e", "1", "A", "2"));
    let folder = Folder::of(&[("palette.toml", &shelf), ("matches.toml", &matches)]);
    let (palette, matches) = (folder.path("palette.toml"), folder.path("matches.toml"));
    for format in ["text", "json", "csv"] {
        let ran = permil(&["strengths", &palette, &matches, "--format", format]).ended(0);
        assert!(!ran.stdout.contains(['\u{1b}', '\u{202e}']), "{}", ran.stdout);
    }
    let csv = permil(&["strengths", &palette, &matches, "--format", "csv"]).ended(0).stdout;
    assert!(csv.contains("'=1+1"), "{csv}");
    let json = permil(&["strengths", &palette, &matches, "--format", "json"]).ended(0).json();
    assert_eq!(json["materials"][0]["material"], name);
}

#[test]
fn the_chart_says_what_the_report_says() {
    let folder = Folder::of(&[]);
    let plot = folder.path("strengths.svg");
    let json = permil(&["strengths", PALETTE, MATCHES, "--plot", &plot, "--format", "json"]).ended(0).json();
    let svg = folder.read("strengths.svg");
    let document = roxmltree::Document::parse(&svg).expect("an SVG");
    let rows: Vec<_> = document.descendants().filter(|node| node.attribute("class") == Some("strength")).collect();
    assert_eq!(rows.len(), json["materials"].as_array().unwrap().len());
    for line in json["materials"].as_array().unwrap() {
        let row = rows.iter().find(|row| row.attribute("data-material") == line["material"].as_str()).expect("a row");
        for key in ["before", "after", "low", "high"] {
            let drawn: f64 = row.attribute(format!("data-{key}").as_str()).unwrap().parse().unwrap();
            assert_eq!(drawn, line[key].as_f64().unwrap(), "{key}");
        }
    }
}
