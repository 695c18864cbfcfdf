//! Certificates with lines of every kind, and what becomes of them when they
//! are forged: nobody may be told that a formula is the best when a better one
//! is known, or that there is none when there is.

mod support;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

use permil::certificate::{self, Certificate, Claim, Entry, check};
use permil::model::{Blend, BlendView, CapColumn, LossCap};
use permil::problem::{Problem, Target};
use permil::units::Ppt;
use proptest::prelude::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use support::certificates::FOUR_MATERIALS;
use support::forge::{Fate, Subject, changed_text, kinds, model_json};
use support::listing::least_by_listing;
use support::near::near_problem;
use support::random::{scenario, unusual_scenario};
use support::views::viewed;
use support::{load, problem_at};

/// Every kind of line and of multiplier.
const ALL_KINDS: [&str; 19] = [
    "remainder",
    "d least",
    "d most",
    "closed 0",
    "closed 1",
    "narrowed",
    "on-grid",
    "empty",
    "split",
    "split-remainder",
    "split-ladder",
    "t=",
    "r=",
    "c=",
    "m=",
    "l=",
    "d=",
    "k=",
    "k.=",
];

/// What stands in a palette beside the four.
const EPSILON: &str = r#"
[[material]]
name = "Epsilon"
strength = 400
scores = { green = 9, spicy = 4 }
price = 300
"#;

/// Coarse steps beside fine ones, counts, a budget: small enough to list.
fn mixed(step: &str, more: &str) -> Problem {
    let brief = format!(
        r#"
palette = "palette.toml"
match = "level"
[target]
rosy = 5
green = 3
spicy = {{ score = 2, max = 3 }}
[formula]
step = {step}
min_dose = 50
max_materials = 4
[budget]
max_price = 75
{more}
"#
    );
    load(&format!("{FOUR_MATERIALS}{EPSILON}"), &brief)
}

/// The same shelf, with materials of which some are idle beside the strong ones.
fn idle(most: u32, matching: &str) -> Problem {
    let palette = FOUR_MATERIALS.to_owned()
        + EPSILON
        + r#"
[[material]]
name = "Zeta"
strength = 4
scores = { rosy = 7 }
price = 5
[[material]]
name = "Eta"
strength = 9
scores = { rosy = 5, spicy = 2 }
price = 5
"#;
    let brief = format!(
        r#"
palette = "palette.toml"
match = "{matching}"
[target]
rosy = 5
green = 4
spicy = 2
[formula]
step = 20
max_idle = {most}
[budget]
max_price = 60
"#
    );
    load(&palette, &brief)
}

fn subjects() -> Vec<Subject> {
    let doses = [
        "[doses]\n\"Gamma\" = { step = 7.5, min = 15 }\n\"Epsilon\" = { step = 0.5, min = 1, max = 40 }",
        "[doses]\n\"Beta\" = { step = 12.5 }\n\"Epsilon\" = { step = 12.5, max = 200 }",
        "[doses]\n\"Alpha\" = { fixed = 333 }\n\"Epsilon\" = { step = 1, min = 3, max = 100 }",
        "[doses]\n\"Delta\" = { use = \"must\", min = 60 }\n\"Gamma\" = { step = 3, max = 90 }",
    ];
    let problems = doses.iter().flat_map(|doses| [mixed("50", doses), mixed("20", doses)]);
    let more = (0..40).map(|seed| {
        let (palette, brief) = scenario(seed);
        load(&palette, &brief)
    });
    let problems = problems.chain([50, 20, 120].map(|most| idle(most, "level")));
    let problems = problems.chain([60, 200].map(|most| idle(most, "balance")));
    let unusual = (0..20).map(|seed| {
        let (palette, brief) = unusual_scenario(seed, (seed % 3) as usize);
        load(&palette, &brief)
    });
    // Near a known formula: a cap beside the loss.
    let near = (0..60).map(|seed| near_problem(seed).0);
    // Several views: a cap for each further one, at the loss that is claimed.
    let viewed = (0..40).map(|seed| {
        let (palette, brief) = scenario(seed);
        viewed(load(&palette, &brief), seed)
    });
    problems
        .chain(more)
        .chain(near)
        .chain(viewed)
        .chain(unusual)
        .filter_map(|problem| Subject::of(&problem, 5000))
        .collect()
}

#[test]
fn no_forgery_of_any_kind_of_line_passes() {
    let mut random = ChaCha8Rng::seed_from_u64(20_261_129);
    let mut found = BTreeSet::new();
    let (mut refused, mut unreadable, mut passed) = (0, 0, 0);
    for subject in subjects() {
        found.extend(kinds(&subject.certificate));
        assert!(subject.passes(&subject.certificate));
        for _ in 0..400 {
            match subject.forge(&mut random) {
                Ok(Fate::Refused) => refused += 1,
                Ok(Fate::Unreadable) => unreadable += 1,
                Ok(Fate::Passed) => passed += 1,
                Err(text) => panic!("{:?} is known, and this passes:\n{text}", subject.known),
            }
        }
    }
    let missing: Vec<&str> = ALL_KINDS.into_iter().filter(|kind| !found.contains(kind)).collect();
    assert!(missing.is_empty(), "no certificate has {missing:?}");
    // Enough of each for this to mean something: some changes prove as much.
    assert!(refused > 4000 && unreadable > 1000 && passed > 300, "{refused}, {unreadable}, {passed}");
}

/// A real certificate proves its own claim and nothing beyond the best formula
/// there is, for every line of it: without the line, or with the claim raised.
#[test]
fn every_line_is_needed_or_narrows_only() {
    for subject in subjects() {
        for at in 0..subject.certificate.entries.len() {
            let mut entries = subject.certificate.entries.clone();
            let gone = entries.remove(at);
            let without = Certificate { entries, ..subject.certificate.clone() };
            if !matches!(gone, Entry::Narrowed(..) | Entry::OnGrid(_)) {
                assert!(!subject.passes(&without), "without line {}:\n{}", at + 1, subject.text);
            }
        }
        for more in [Entry::Empty, subject.certificate.entries.last().expect("a line").clone()] {
            let mut longer = subject.certificate.clone();
            longer.entries.push(more);
            let at = longer.entries.len();
            assert_eq!(
                check(&longer, &subject.blend, &subject.names),
                Err(certificate::Fault::AfterEnd(at)),
                "after the end"
            );
        }
    }
}

/// Bounds on D are proven to their last digit: the next double beyond is not.
#[test]
fn a_bound_on_d_is_the_last_that_its_multipliers_prove() {
    let mut tried = 0;
    for subject in subjects() {
        for place in 0..2 {
            let mut beyond = subject.certificate.clone();
            let Some(bound) = &mut beyond.d[place] else { continue };
            bound.at = if place == 0 { bound.at.next_up() } else { bound.at.next_down() };
            let which = ["least", "greatest"][place];
            assert_eq!(check(&beyond, &subject.blend, &subject.names), Err(certificate::Fault::D(which)));
            tried += 1;
        }
    }
    assert!(tried > 40, "{tried}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, rng_seed: proptest::test_runner::RngSeed::Fixed(17), failure_persistence: None, ..ProptestConfig::default() })]

    /// On briefs that can be listed, no claim above the least loss passes, and
    /// that there is none only where listing finds none.
    #[test]
    fn what_passes_is_true_of_every_formula(seed in 0u64..1_000_000, changes in any::<u64>()) {
        let problem = match seed % 3 {
            0 => near_problem(seed).0,
            1 => {
                let (palette, brief) = scenario(seed);
                viewed(load(&palette, &brief), seed)
            }
            _ => {
                let (palette, brief) = scenario(seed);
                load(&palette, &brief)
            }
        };
        let Some(least) = least_by_listing(&problem) else { return Ok(()) };
        let Some(mut subject) = Subject::of(&problem, 3000) else { return Ok(()) };
        match subject.certificate.claim {
            Claim::None => prop_assert!(least.is_infinite(), "{least} is there"),
            Claim::NoneBelow(loss) => prop_assert!(loss <= least, "{loss}, and {least} is there"),
        }
        subject.known = least.is_finite().then_some(least);
        let mut random = ChaCha8Rng::seed_from_u64(changes);
        for _ in 0..60 {
            if let Err(text) = subject.forge(&mut random) {
                return Err(TestCaseError::fail(format!("{least} is there, and this passes:\n{text}")));
            }
        }
    }
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference")
}

/// What the second checker says of cases: one letter for each certificate.
fn second_opinion(cases: &[Value]) -> Option<Vec<String>> {
    let place = tempfile::tempdir().expect("a folder");
    let paths = (0..cases.len()).map(|index| place.path().join(format!("{index}.json")));
    let paths: Vec<PathBuf> = paths.collect();
    for (path, case) in paths.iter().zip(cases) {
        std::fs::write(path, case.to_string()).expect("written");
    }
    let ran = Command::new("python3").arg(folder().join("certify.py")).args(&paths).output().ok()?;
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    Some(String::from_utf8(ran.stdout).expect("text").lines().map(str::to_owned).collect())
}

/// A subject with its certificate as it is, under other claims, and forged.
fn case(subject: &Subject, random: &mut ChaCha8Rng, forgeries: usize) -> Value {
    let mut texts = vec![subject.text.clone()];
    for _ in 0..forgeries {
        let mut text = subject.text.clone();
        if random.random_bool(0.5) {
            let claim = subject.lie(random);
            text = certificate::write(&Certificate { claim, ..subject.certificate.clone() });
        }
        text = changed_text(random, &text);
        texts.push(text);
    }
    // Forgeries of structure that can be written down.
    for _ in 0..forgeries {
        texts.push(subject.forged_text(random));
    }
    json!({"model": model_json(&subject.blend), "names": subject.names, "certificates": texts})
}

/// What the crate says of the same.
fn own_opinion(case: &Value) -> String {
    let (blend, names) = (blend_of(&case["model"]), names_of(case));
    let texts = case["certificates"].as_array().expect("certificates");
    let verdict = |text: &Value| {
        let read = certificate::read(text.as_str().expect("text"));
        if read.is_ok_and(|certificate| check(&certificate, &blend, &names).is_ok()) { 'y' } else { 'n' }
    };
    texts.iter().map(verdict).collect()
}

fn names_of(case: &Value) -> Vec<String> {
    let names = case["names"].as_array().expect("names").iter();
    names.map(|name| name.as_str().expect("text").to_owned()).collect()
}

/// A model from its JSON.
fn blend_of(model: &Value) -> Blend {
    use permil::model::ladder::{Ladder, Step};
    use permil::model::{BlendColumn, BlendCount, BlendRow};
    let pairs = |list: &Value| -> Vec<(usize, f64)> { serde_json::from_value(list.clone()).expect("pairs") };
    let number = |value: &Value| value.as_f64().expect("a number");
    let units = |value: &Value| Ppt::from_units(value.as_i64().expect("units"));
    let list = |key: &str| model[key].as_array().expect("a list").iter();
    let columns = list("columns").enumerate().map(|(material, column)| BlendColumn {
        material,
        role: permil::model::Role::Any,
        weight: number(&column["q"]),
        odours: pairs(&column["odours"]),
        least: units(&column["least"]),
        most: units(&column["most"]),
        step: units(&column["step"]),
        must: column["must"].as_bool().expect("true or false"),
        price: None,
    });
    let targets = list("targets").enumerate().map(|(descriptor, target)| Target {
        descriptor,
        score: number(&target["score"]),
        weight: number(&target["weight"]),
        excess: number(&target["excess"]),
    });
    let row = |row: &Value| BlendRow {
        rule: 0,
        coefficients: pairs(&row["entries"]),
        upper: number(&row["upper"]),
        cancelled: pairs(&row["cancelled"]),
        upper_cancelled: number(&row["upper_cancelled"]),
    };
    let step = |step: &Value| Step { strength: number(&step["strength"]), weight: pairs(&step["entries"]) };
    let ladder = |ladder: &Value| Ladder {
        rule: 0,
        most: number(&ladder["most"]),
        strength: serde_json::from_value(ladder["strength"].clone()).expect("numbers"),
        steps: ladder["steps"].as_array().expect("a list").iter().map(step).collect(),
    };
    let count = |count: &Value| BlendCount {
        columns: serde_json::from_value(count["columns"].clone()).expect("columns"),
        most: count["most"].as_u64().expect("a number") as usize,
    };
    Blend {
        materials: columns.len(),
        columns: columns.collect(),
        targets: targets.collect(),
        rows: list("rows").map(row).collect(),
        counts: list("counts").map(count).collect(),
        contradiction: model["contradiction"].as_bool().expect("true or false").then_some(0),
        ladder: Some(&model["ladder"]).filter(|it| !it.is_null()).map(ladder),
        caps: caps_of(model),
        views: views_of(model),
    }
}

/// The caps of a model; cases that were written before there were any have none.
fn caps_of(model: &Value) -> Vec<LossCap> {
    let caps = model["caps"].as_array().into_iter().flatten();
    let of = |cap: &Value| {
        let (targets, columns) = ratio_of(cap);
        LossCap { rule: Some(0), targets, columns, most: cap["most"].as_f64().expect("a number"), room: 0.0 }
    };
    caps.map(of).collect()
}

/// The further views of a model, likewise.
fn views_of(model: &Value) -> Vec<BlendView> {
    let views = model["views"].as_array().into_iter().flatten();
    let of = |view: &Value| {
        let (targets, columns) = ratio_of(view);
        BlendView { targets, columns }
    };
    views.map(of).collect()
}

fn ratio_of(json: &Value) -> (Vec<Target>, Vec<CapColumn>) {
    let number = |value: &Value| value.as_f64().expect("a number");
    let target = |target: &Value| Target {
        descriptor: 0,
        score: number(&target["score"]),
        weight: number(&target["weight"]),
        excess: number(&target["excess"]),
    };
    let column = |column: &Value| CapColumn {
        weight: number(&column["q"]),
        odours: serde_json::from_value(column["odours"].clone()).expect("pairs"),
    };
    let list = |key: &str| json[key].as_array().expect("a list").iter();
    (list("targets").map(target).collect(), list("columns").map(column).collect())
}

/// Real and forged certificates of many briefs, judged by the crate and by
/// certify.py, which was written from the document alone: the same of every one.
#[test]
fn a_second_checker_agrees_on_every_case() {
    let mut random = ChaCha8Rng::seed_from_u64(17);
    let cases: Vec<Value> = subjects().iter().map(|subject| case(subject, &mut random, 30)).collect();
    let Some(second) = second_opinion(&cases) else { return };
    let own: Vec<String> = cases.iter().map(own_opinion).collect();
    assert_eq!(second.len(), own.len());
    let mut counts = [0; 2];
    for ((case, own), second) in cases.iter().zip(&own).zip(&second) {
        let differs = own.chars().zip(second.chars()).position(|(own, second)| own != second);
        if let Some(at) = differs {
            panic!(
                "{} here, {} there:\n{}",
                &own[at..=at],
                &second[at..=at],
                case["certificates"][at].as_str().unwrap()
            );
        }
        own.chars().for_each(|verdict| counts[usize::from(verdict == 'y')] += 1);
    }
    assert!(counts[0] > 1000 && counts[1] > 100, "{counts:?} refused and passed");
}

/// Committed cases with what certify.py said of them, for machines without
/// Python. PERMIL_WRITE=1 writes them anew.
#[test]
fn committed_cases_have_the_second_checkers_verdicts() {
    let path = folder().join("certificates.json");
    if std::env::var_os("PERMIL_WRITE").is_some() {
        let mut random = ChaCha8Rng::seed_from_u64(4);
        let (several, one): (Vec<Subject>, Vec<Subject>) =
            subjects().into_iter().partition(|subject| !subject.blend.views.is_empty());
        let some = one.iter().take(12).chain(several.iter().take(4));
        let mut cases: Vec<Value> = some.map(|subject| case(subject, &mut random, 3)).collect();
        cases.retain(|case| case.to_string().len() < 60_000);
        let second = second_opinion(&cases).expect("python3");
        for (case, verdicts) in cases.iter_mut().zip(second) {
            case["verdicts"] = json!(verdicts);
        }
        std::fs::write(&path, serde_json::to_string(&cases).expect("JSON") + "\n").expect("written");
    }
    let cases: Vec<Value> = serde_json::from_slice(&std::fs::read(&path).expect("committed")).expect("JSON");
    let with_views = |case: &&Value| case["model"]["views"].as_array().is_some_and(|views| !views.is_empty());
    assert!(cases.len() >= 6 && cases.iter().filter(with_views).count() >= 2);
    for case in &cases {
        assert_eq!(own_opinion(case), case["verdicts"].as_str().expect("verdicts"));
    }
}

#[test]
fn the_rose_proof_has_what_the_format_says() {
    let brief = Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles/rose-otto/brief.toml");
    let subject = Subject::of(&problem_at(&brief), 20_000).expect("a certificate");
    let mut random = ChaCha8Rng::seed_from_u64(5);
    for _ in 0..30 {
        if let Err(text) = subject.forge(&mut random) {
            panic!("this passes:\n{text}");
        }
    }
}
