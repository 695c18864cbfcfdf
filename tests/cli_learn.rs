//! `permil learn` as it is run.

mod support;

use std::fs;

use insta::assert_snapshot;
use permil::files::load_palette;
use support::program::permil;

const ROSE: &str = "profiles/rose-otto/trials.toml";

/// The rose trials in a folder of their own, with some text in the place of
/// another.
fn copy(changes: &[(&str, &str)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for name in ["palette.toml", "mod-1.toml", "brief.toml", "limits.toml", "trials.toml"] {
        let mut text = fs::read_to_string(format!("profiles/rose-otto/{name}")).unwrap();
        if name == "trials.toml" {
            for (from, to) in changes {
                assert!(text.contains(from), "{from}");
                text = text.replacen(from, to, 1);
            }
        }
        fs::write(folder.path().join(name), text).unwrap();
    }
    folder
}

fn path(folder: &tempfile::TempDir, name: &str) -> String {
    folder.path().join(name).to_string_lossy().into_owned()
}

#[test]
fn text() {
    assert_snapshot!(permil(&["learn", ROSE]).stdout);
}

#[test]
fn formats_tell_the_same() {
    let json = permil(&["learn", ROSE, "--format", "json"]).json();
    let changes = json["changes"].as_array().unwrap();
    let first = &changes[0];
    assert_eq!((first["material"].as_str(), first["what"].as_str()), (Some("Rose oxide"), Some("strength")));
    for key in ["before", "after", "sd"] {
        assert!(first[key].is_number(), "{key}");
    }
    let csv = permil(&["learn", ROSE, "--format", "csv"]).stdout;
    assert_eq!(csv.lines().count(), changes.len() + json["lasting"].as_array().unwrap().len() + 1);
    assert!(csv.starts_with("material,what,before,after,sd,"), "{csv}");
}

#[test]
fn a_saved_palette_keeps_comments_and_order_and_overwrites_nothing() {
    let folder = copy(&[]);
    let (trials, new) = (path(&folder, "trials.toml"), path(&folder, "new.toml"));
    assert_eq!(permil(&["learn", &trials, "--save", &new]).status, 0);
    let (old, saved) =
        (fs::read_to_string("profiles/rose-otto/palette.toml").unwrap(), fs::read_to_string(&new).unwrap());
    let comments =
        |text: &str| -> Vec<String> { text.lines().filter(|line| line.starts_with('#')).map(str::to_owned).collect() };
    assert_eq!(comments(&old), comments(&saved));
    let (before, after) =
        (load_palette("profiles/rose-otto/palette.toml".as_ref()).unwrap(), load_palette(new.as_ref()).unwrap());
    let names = |palette: &permil::palette::Palette| -> Vec<String> {
        palette.materials.iter().map(|it| it.name.clone()).collect()
    };
    assert_eq!(names(&before), names(&after));
    let oxide = |palette: &permil::palette::Palette| {
        palette.materials.iter().find(|it| it.name == "Rose oxide").unwrap().clone()
    };
    assert!(
        oxide(&after).strength > oxide(&before).strength
            && oxide(&after).strength_factor < oxide(&before).strength_factor
    );
    // What no trial touches stays as it was written.
    let of = |text: &str, name: &str| {
        text.split("[[material]]").find(|part| part.contains(&format!("name = \"{name}\""))).unwrap().to_owned()
    };
    assert_eq!(of(&old, "beta-Ionone"), of(&saved, "beta-Ionone"));
    assert!(!saved.contains(" ,"), "a blank before a comma");

    let again = permil(&["learn", &trials, "--save", &new]);
    assert!(again.status == 2 && again.stderr.contains("--force overwrites it"), "{}", again.stderr);
    assert_eq!(permil(&["learn", &trials, "--save", &new, "--force"]).status, 0);
    let own = permil(&["learn", &trials, "--save", &path(&folder, "palette.toml"), "--force"]);
    assert!(own.status == 2 && own.stderr.contains("which the trials start from"), "{}", own.stderr);
    assert_eq!(fs::read_to_string(path(&folder, "palette.toml")).unwrap(), old);
}

#[test]
fn a_stamp_notices_that_the_palette_changed() {
    let folder = copy(&[]);
    let trials = path(&folder, "trials.toml");
    let before = fs::read_to_string(&trials).unwrap();
    assert_eq!(permil(&["learn", &trials, "--stamp"]).status, 0);
    let stamped = fs::read_to_string(&trials).unwrap();
    let added: Vec<&str> = stamped.lines().filter(|line| !before.contains(line)).collect();
    assert!(matches!(&added[..], [line] if line.starts_with("palette_fingerprint = \"")), "{added:?}");
    let quiet = permil(&["learn", &trials]);
    assert!(quiet.stderr.is_empty(), "{}", quiet.stderr);
    let palette = fs::read_to_string(path(&folder, "palette.toml")).unwrap();
    fs::write(path(&folder, "palette.toml"), palette.replacen("strength = 2600", "strength = 4500", 1)).unwrap();
    let noticed = permil(&["learn", &trials]);
    assert!(noticed.status == 0 && noticed.stderr.contains("would count twice"), "{}", noticed.stderr);
}

#[test]
fn a_planted_contradiction_is_named() {
    let from = "scores = { rosy = 6, fresh = 2.5, spicy = 1, honeyed = 2, fruity = 0.5, green = 1.5, metallic = 1, tea = 0.5 }";
    let to = "scores = { rosy = 1, fresh = 0, spicy = 6, honeyed = 0, fruity = 0.5, green = 6, metallic = 1, tea = 5 }";
    let folder = copy(&[(from, to)]);
    let json = permil(&["learn", &path(&folder, "trials.toml"), "--format", "json"]).json();
    let misfits = json["misfits"].as_array().unwrap();
    assert_eq!(misfits[0]["code"], "104", "{misfits:?}");
}

#[test]
fn sums_and_nothing_to_learn() {
    let folder = copy(&[("\"Citronellol\" = 330.7", "\"Citronellol\" = 331.7")]);
    let trials = path(&folder, "trials.toml");
    let odd = permil(&["learn", &trials]);
    assert!(odd.status == 1 && odd.stderr.contains("102 to 1001; --rescale"), "{}", odd.stderr);
    assert_eq!(permil(&["learn", &trials, "--rescale"]).status, 0);
    let text = "palette = \"palette.toml\"\n[[trial]]\ncode = \"1\"\nparts = { \"Rose oxide\" = 1000 }\n";
    fs::write(&trials, text).unwrap();
    let nothing = permil(&["learn", &trials]);
    assert!(nothing.status == 1 && nothing.stdout.contains("No trial says anything yet"), "{}", nothing.stdout);
    fs::write(&trials, "").unwrap();
    let empty = permil(&["learn", &trials]);
    assert!(empty.status == 2 && empty.stderr.contains("`trial` is missing"), "{}", empty.stderr);
}

#[test]
fn help() {
    assert_snapshot!(permil(&["learn", "--help"]).stdout);
}

/// The trials of a nose whose scores are now low and now high: their balance says
/// what it said, their level says nothing.
fn restless() -> tempfile::TempDir {
    let folder = copy(&[]);
    let text = fs::read_to_string(path(&folder, "trials.toml")).unwrap();
    let mut by = [0.3, 1.5, 0.6].into_iter().cycle();
    let line = |line: &str| match line.strip_prefix("scores = {").and_then(|rest| rest.strip_suffix('}')) {
        Some(scores) => {
            let by = by.next().unwrap();
            let scaled = |pair: &str| {
                let (word, points) = pair.split_once('=').unwrap();
                format!("{word}= {:.2}", by * points.trim().parse::<f64>().unwrap())
            };
            format!("scores = {{{} }}", scores.split(',').map(scaled).collect::<Vec<_>>().join(","))
        }
        None => line.replace("give_or_take = 0.5", "give_or_take = 0.1"),
    };
    let text: Vec<String> = text.lines().map(line).collect();
    fs::write(folder.path().join("trials.toml"), text.join("\n")).unwrap();
    folder
}

#[test]
fn nonsense_learned_from_the_level_is_neither_told_nor_kept() {
    let folder = restless();
    let trials = path(&folder, "trials.toml");
    let told = permil(&["learn", &trials, "--format", "json"]).json();
    assert_eq!((told["match"].as_str(), told["matches"]["of_file"].as_str()), (Some("balance"), Some("level")));
    assert!(told["untrusted"].is_null());
    let text = permil(&["learn", &trials]).stdout;
    assert!(text.contains("The file says level"), "{text}");
    let saved = path(&folder, "palette-2.toml");
    for keep in [&["--save", &saved][..], &["--apply"]] {
        let mut forced = vec!["learn", &trials, "--match", "level"];
        forced.extend(keep);
        let refused = permil(&forced);
        assert_eq!(refused.status, 1, "{}", refused.stderr);
        let reasons = ["do not fit the others", "did not come to rest"];
        assert!(reasons.iter().any(|reason| refused.stderr.contains(reason)), "{}", refused.stderr);
        assert!(fs::metadata(&saved).is_err() && fs::metadata(path(&folder, "palette.history.toml")).is_err());
    }
    assert_eq!(permil(&["learn", &trials, "--match", "level", "--save", &saved, "--force"]).status, 0);
    assert!(fs::metadata(&saved).is_ok());
}

#[test]
fn an_applied_correction_can_be_taken_back_and_is_not_counted_twice() {
    let folder = copy(&[]);
    let (trials, palette) = (path(&folder, "trials.toml"), path(&folder, "palette.toml"));
    let before = fs::read_to_string(&palette).unwrap();
    let applied = permil(&["learn", &trials, "--apply", "--format", "json"]);
    assert_eq!(applied.status, 0, "{}", applied.stderr);
    let told = applied.json();
    let after = fs::read_to_string(&palette).unwrap();
    assert_ne!(before, after);
    let comments = |text: &str| text.matches('#').count();
    assert_eq!(comments(&before), comments(&after));
    let history = fs::read_to_string(path(&folder, "palette.history.toml")).unwrap();
    assert!(history.contains("by = \"learn\"") && history.contains("trials.toml: "), "{history}");
    // The brief sees the new numbers without being pointed at another file.
    let corrected = load_palette(palette.as_ref()).expect("no faults");
    // Mods early and late on a blotter tell how long their materials last.
    let lasting = told["lasting"].as_array().unwrap();
    assert!(lasting.len() > 5, "{lasting:?}");
    for line in lasting {
        let material = corrected.materials.iter().find(|it| Some(&*it.name) == line["material"].as_str()).unwrap();
        let number = |key: &str| line[key].as_f64().unwrap();
        let (hours, factor) = (material.lasting_hours.unwrap(), material.lasting_factor.unwrap());
        assert!((hours / number("after") - 1.0).abs() < 0.006 && (factor - number("factor")).abs() < 0.001, "{line}");
        assert!(number("factor") < number("factor_before") && number("times") == 2.0, "{line}");
    }
    assert!(told["dried"].as_array().unwrap().iter().any(|line| line["code"] == "104b"), "{told}");
    let again = permil(&["learn", &trials, "--apply"]);
    assert!(again.status == 2 && again.stderr.contains("count twice"), "{}", again.stderr);
    assert_eq!(fs::read_to_string(&palette).unwrap(), after);
    // A mod that was smelled before says under which numbers.
    let journal = permil(&["journal", &trials]);
    assert!(journal.stdout.contains("judged under older numbers"), "{}", journal.stdout);
    let back = permil(&["learn", &trials, "--undo"]);
    assert_eq!(back.status, 0, "{}", back.stderr);
    let now = fs::read_to_string(&palette).unwrap();
    assert_eq!(now, before);
    let nothing = permil(&["learn", &trials, "--undo"]);
    assert!(nothing.status == 2 && nothing.stderr.contains("nothing to take back"), "{}", nothing.stderr);
    assert!(!permil(&["journal", &trials]).stdout.contains("older numbers"));
}
