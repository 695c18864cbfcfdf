//! trials.toml: what is read, and what is said of what is wrong, with its place.

use std::fs;
use std::path::PathBuf;

use permil::brief::Match;
use permil::files::load_trials;
use permil::trials::{Date, Medium, Trials, fingerprint};

const PALETTE: &str = include_str!("files/palette.toml");
const OLD: &str = include_str!("files/old.toml");
const TRIALS: &str = r#"palette = "palette.toml"
match = "level"

[[trial]]
code = "402"
parts = { "Phenylethyl alcohol" = 600, Geraniol = 399.5, "Rose otto" = 0.5 }
scores = { rosy = 6.5, green = 2 }

[[trial]]
code = "417"
date = 2026-11-02
from = "402"
minutes = 30
age_days = 3
medium = "blotter"
percent = 10
formula = "old.toml"
scores = { woody = 0, rosy = 7 }
strength = 40
give_or_take = 0.7
remarks = "opens harsh"
"#;

struct Folder(tempfile::TempDir);

impl Folder {
    fn new(trials: &str) -> Folder {
        let folder = Folder(tempfile::tempdir().unwrap());
        folder.write("palette.toml", PALETTE).write("old.toml", OLD).write("trials.toml", trials);
        folder
    }

    fn write(&self, name: &str, text: &str) -> &Folder {
        fs::write(self.0.path().join(name), text).unwrap();
        self
    }

    fn path(&self) -> PathBuf {
        self.0.path().join("trials.toml")
    }

    /// (line, column, message, help) of every fault.
    fn faults(&self) -> Vec<(usize, usize, String, String)> {
        let Err(faults) = load_trials(&self.path()) else { return Vec::new() };
        let of = |fault: &permil::files::Fault| {
            let (line, column) = fault.place.as_ref().map_or((0, 0), |place| (place.line, place.column));
            (line, column, fault.message.clone(), fault.help.clone().unwrap_or_default())
        };
        faults.iter().map(of).collect()
    }
}

fn good() -> Trials {
    load_trials(&Folder::new(TRIALS).path()).unwrap().1
}

/// The only fault of the trials with some text in the place of another: where
/// it stands, and words that it says.
fn wrong(from: &str, to: &str, at: (usize, usize), words: &[&str]) {
    assert_eq!(TRIALS.matches(from).count(), 1, "{from}");
    let faults = Folder::new(&TRIALS.replace(from, to)).faults();
    let [(line, column, message, help)] = &faults[..] else { panic!("{to}: {faults:?}") };
    assert_eq!((*line, *column), at, "{to}: {message}");
    for word in words {
        assert!(message.contains(word) || help.contains(word), "{to}: {message} ({help})");
    }
}

#[test]
fn everything_is_read() {
    let trials = good();
    assert_eq!(trials.matching, Match::Level);
    let [first, second] = &trials.trials[..] else { panic!("{}", trials.trials.len()) };
    assert_eq!((first.code.as_str(), first.from, first.date), ("402", None, None));
    assert_eq!(first.scores, [(0, 6.5), (1, 2.0)]);
    assert_eq!(first.formula.sum(), permil::units::Ppt::WHOLE);
    assert_eq!(second.date, Some(Date { year: 2026, month: 11, day: 2 }));
    assert_eq!(second.from, Some(0));
    assert_eq!((second.minutes, second.age_days, second.percent), (Some(30.0), Some(3.0), Some(10.0)));
    assert_eq!(second.medium, Some(Medium::Blotter));
    assert_eq!(second.scores, [(0, 7.0), (2, 0.0)]);
    assert_eq!((second.strength, second.give_or_take), (Some(40.0), Some(0.7)));
    assert!(!second.formula.parts.is_empty());
}

#[test]
fn balance_unless_said() {
    let folder = Folder::new(&TRIALS.replace("match = \"level\"\n", ""));
    assert_eq!(load_trials(&folder.path()).unwrap().1.matching, Match::Balance);
}

#[test]
fn codes() {
    wrong("code = \"417\"", "code = \"402\"", (10, 8), &["two trials", "402", "line 4"]);
    wrong("code = \"417\"", "code = 417", (10, 8), &["a number", "text in quotes"]);
    wrong("code = \"417\"\n", "", (9, 1), &["`code` is missing"]);
    wrong("code = \"417\"", "kode = \"417\"\ncode = \"417\"", (10, 1), &["unknown key", "did you mean `code`"]);
}

#[test]
fn where_a_trial_comes_from() {
    wrong("from = \"402\"", "from = \"403\"", (12, 8), &["no trial has the code", "did you mean `402`"]);
    wrong("from = \"402\"", "from = \"417\"", (12, 8), &["comes from itself"]);
    let circle = TRIALS.replace("code = \"402\"\n", "code = \"402\"\nfrom = \"417\"\n");
    let faults = Folder::new(&circle).faults();
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert!(faults[0].2.contains("comes from itself by way of 417"), "{}", faults[0].2);
}

#[test]
fn scores_and_numbers() {
    wrong("rosy = 6.5", "rosy = 10.5", (7, 19), &["out of range", "from 0 to 10"]);
    wrong("rosy = 6.5", "rosie = 6.5", (7, 12), &["no descriptor", "did you mean `rosy`"]);
    wrong("minutes = 30", "minutes = -1", (13, 11), &["out of range"]);
    wrong("age_days = 3", "age_days = \"3\"", (14, 12), &["text in quotes"]);
    wrong("percent = 10", "percent = 0", (16, 11), &["above 0, up to 100"]);
    wrong("give_or_take = 0.7", "give_or_take = 0", (20, 16), &["above 0"]);
    wrong("strength = 40", "strength = 0", (19, 12), &["above 0"]);
    wrong("medium = \"blotter\"", "medium = \"bloter\"", (15, 10), &["blotter", "skin", "product"]);
    wrong("match = \"level\"", "match = \"levl\"", (2, 9), &["did you mean \"level\""]);
}

#[test]
fn dates() {
    wrong("date = 2026-11-02", "date = \"2026-11-02\"", (11, 8), &["a day without quotes"]);
    wrong("date = 2026-11-02", "date = 2026-11-02T10:00:00", (11, 8), &["time of day"]);
}

#[test]
fn what_was_smelled() {
    let both = "formula = \"old.toml\"\nparts = { Geraniol = 1000 }";
    wrong("formula = \"old.toml\"", both, (18, 1), &["one trial", "one of the two"]);
    wrong("formula = \"old.toml\"\n", "", (9, 1), &["does not say what was smelled"]);
    wrong("formula = \"old.toml\"", "formula = \"new.toml\"", (17, 11), &["new.toml does not exist"]);
    wrong("Geraniol = 399.5", "Geranial = 399.5", (6, 40), &["no material", "did you mean `Geraniol`"]);
    wrong("Geraniol = 399.5", "Geraniol = -1", (6, 51), &["out of range"]);
    let none = "formula = \"old.toml\"\nparts = {}";
    wrong("formula = \"old.toml\"", &none["formula = \"old.toml\"\n".len()..], (17, 1), &["no parts"]);
}

#[test]
fn faults_of_a_named_formula_stand_in_it() {
    let folder = Folder::new(TRIALS);
    folder.write("old.toml", "[parts]\n\"Rose oto\" = 1000\n");
    let faults = folder.faults();
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert_eq!((faults[0].0, faults[0].1), (2, 1));
    assert!(faults[0].3.contains("did you mean `Rose otto`"), "{}", faults[0].3);
}

#[test]
fn files_without_trials() {
    let messages = |text: &str| -> Vec<String> { Folder::new(text).faults().into_iter().map(|it| it.2).collect() };
    assert_eq!(messages(""), ["`palette` is missing", "`trial` is missing"]);
    assert_eq!(messages("palette = \"palette.toml\"\n"), ["`trial` is missing"]);
    assert_eq!(messages("palette = \"palette.toml\"\ntrial = []\n"), ["the file has no trials"]);
    assert_eq!(messages("palette = \"palette.toml\"\ntrial = 3\n"), ["`trial` is a number"]);
}

#[test]
fn without_a_palette_names_are_not_checked() {
    let folder = Folder::new(&TRIALS.replace("rosy = 6.5", "rosie = 6.5"));
    folder.write("palette.toml", "[[material]\n");
    let text = load_trials(&folder.path()).unwrap_err().to_string();
    assert!(text.contains("were not held against the") && !text.contains("rosie"), "{text}");
}

#[test]
fn a_material_without_scores_is_warned_of() {
    let folder = Folder::new(TRIALS);
    let bare = PALETTE.replace("scores = { rosy = 8, green = 2 }\nprice = 28", "price = 28");
    assert_ne!(bare, PALETTE);
    folder.write("palette.toml", &bare);
    let (_, trials, warnings) = load_trials(&folder.path()).unwrap();
    assert_eq!(trials.trials.len(), 2);
    assert!(warnings.iter().any(|it| it.starts_with("Geraniol has no scores") && it.contains("402")), "{warnings:?}");
}

#[test]
fn a_fingerprint_notices_scores_and_strengths_alone() {
    let of = |text: &str| {
        let folder = Folder::new(TRIALS);
        folder.write("palette.toml", text);
        fingerprint(&load_trials(&folder.path()).unwrap().0)
    };
    let same = PALETTE.replace("price = 28", "price = 29").replace("strength = 70", "strength = 70.0 # as smelled");
    assert_eq!(of(PALETTE), of(&same));
    for (from, to) in [("strength = 70", "strength = 71"), ("rosy = 8,", "rosy = 8.1,"), ("scale = 10", "scale = 11")] {
        assert_ne!(of(PALETTE), of(&PALETTE.replacen(from, to, 1)), "{to}");
    }
    assert_ne!(of(PALETTE), of(&PALETTE.replace("score_error = 1.0", "score_error = 0.9")));
}

/// No text whatever brings the reader down: bytes cut out, doubled and exchanged.
#[test]
fn broken_texts_are_told_of() {
    use rand::{RngExt, SeedableRng};
    let random = &mut rand_chacha::ChaCha8Rng::seed_from_u64(5);
    let folder = Folder::new(TRIALS);
    let mut told = 0;
    for _ in 0..400 {
        let mut bytes = TRIALS.as_bytes().to_vec();
        for _ in 0..random.random_range(1..4) {
            let at = random.random_range(0..bytes.len());
            let to = (at + random.random_range(1..12)).min(bytes.len());
            match random.random_range(0..3) {
                0 => drop(bytes.drain(at..to)),
                1 => bytes.splice(at..at, bytes[at..to].to_vec()).for_each(drop),
                _ => bytes[at] = b"\"[]{}=,.#9x\n"[random.random_range(0..12)],
            }
        }
        folder.write("trials.toml", &String::from_utf8(bytes).unwrap());
        if let Err(faults) = load_trials(&folder.path()) {
            assert!(!faults.to_string().is_empty());
            told += 1;
        }
    }
    assert!(told > 200, "{told}");
}
