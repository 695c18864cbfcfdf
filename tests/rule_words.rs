//! Every rule in words, and how it is sorted: one list, to be read after a change.
//!
//! `PERMIL_WRITE=1 cargo test --test rule_words` writes it anew.

use std::collections::HashSet;
use std::fmt::Write as _;
use std::mem::discriminant;
use std::path::Path;
use std::sync::Arc;

use permil::brief::Basis;
use permil::files;
use permil::formula::Formula;
use permil::problem::rules::ForAll;
use permil::problem::{Absence, Change, Problem, Rule, RuleId, RuleKind, Subject};
use permil::units::Ppt;

const PALETTE: &str = r#"
[descriptors]
rosy = "rose"
green = "leaf"
[[material]]
name = "Rose"
cas = "106-24-1"
strength = 10
price = 100
min = 5
max = 400
max_in_concentrate = 30
max_in_product = 3
usual = [100, 500]
scores = { rosy = 8 }
[[material]]
name = "Leaf"
cas = "5392-40-5"
strength = 5
price = 10
have = false
usual = [10, 20]
scores = { green = 6 }
[[material]]
name = "Musk"
strength = 0.6
price = 1
scores = { rosy = 2, green = 2 }
[[material]]
name = "Glycol"
strength = 0
price = 1
[[material]]
name = "Wood"
strength = 1
price = 1
scores = { green = 1 }
"#;

const LIMITS: &str = r#"
[[restriction]]
substance = "Geraniol"
cas = ["106-24-1"]
source = "made up for this test"
joint = "both"
limits = { "4" = 1, "5" = 1 }
[[restriction]]
substance = "Citral"
cas = ["5392-40-5"]
source = "made up for this test"
joint = "both"
limits = { "4" = 2, "5" = 2 }
"#;

const BRIEF: &str = r#"
palette = "palette.toml"
limits = ["limits.toml"]
match = "level"
target_from = "Wood"
[target]
rosy = { score = 5, min = 1, max = 7 }
green = 3
[formula]
step = 1
min_dose = 2
max_materials = 3
max_idle = 50
max_unusual = 1
strength = { min = 4, max = 8 }
ONLY
[budget]
max_price = 50
max_price_of_effect = 5
PRODUCTS
[doses]
Rose = { use = "must", min = 5 }
Leaf = { use = "never" }
Musk = { fixed = 400 }
[[group]]
name = "both"
materials = ["Rose", "Leaf"]
min = 100
max = 700
[[ratio]]
of = "Rose"
to = "Musk"
min = 1
max = 2
[near]
formula = "gc.toml"
within = 20
"#;

const NAMED: &str =
    "[[use]]\nname = \"Spray\"\ncategory = \"4\"\ndosage = 20\n[[use]]\nname = \"Soap\"\ncategory = \"5\"\ndosage = 20";
const ALONE: &str = "[use]\ncategory = \"4\"\ndosage = 20";

fn problem(only: &str, products: &str, title: &str) -> Problem {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).expect("written");
    write("palette.toml", PALETTE);
    write("limits.toml", LIMITS);
    write("gc.toml", &format!("{title}[parts]\nRose = 500\nMusk = 500\n"));
    write("brief.toml", &BRIEF.replace("ONLY", only).replace("PRODUCTS", products));
    match files::load_scenario(&folder.path().join("brief.toml")) {
        Ok(scenario) => Problem::new(scenario.palette, &scenario.brief, &scenario.limits),
        Err(faults) => panic!("{}", faults.render(false)),
    }
}

/// All that is said of one rule, and how it is sorted.
fn describe(problem: &Problem, rule: &Rule, into: &mut String) {
    let kind = &rule.kind;
    let mut say = |text: String| writeln!(into, "  {text}").expect("a text");
    let looser = if kind.loosens_upwards() == Some(false) { rule.at / 2.0 } else { rule.at * 2.0 };
    say(problem.sentence(rule));
    say(problem.order(rule, Change::To(looser)));
    say(problem.order(rule, Change::Dropped));
    if kind.limits_product().is_some() {
        say(problem.order_of_worth(rule, Change::To(looser)));
        say(problem.order_of_worth(rule, Change::Dropped));
    }
    problem.sentence_of_all(rule).into_iter().for_each(&mut say);
    let about = [0, 1].map(|material| kind.is_about(material));
    say(format!("{:?}, about the first two {about:?}, leaves out {:?}", kind.subject(), kind.leaves_out()));
    let ways = (kind.has_distance(), kind.loosens_upwards(), kind.limits_product(), kind.asks_for(), kind.for_all());
    say(format!("distance, upwards, product, asks for, for all: {ways:?}; at {:?}", problem.stands_at(kind)));
}

fn list() -> String {
    let mut list = String::new();
    let mut known = HashSet::new();
    let named = problem("", NAMED, "title = \"The known one\"\n");
    let alone = problem("only = [\"Rose\", \"Leaf\", \"Musk\"]", ALONE, "");
    let own = problem("own_only = true", ALONE, "");
    for (title, problem) in [("two products", &named), ("one product, only", &alone), ("the shelf", &own)] {
        writeln!(list, "# {title}").expect("a text");
        for rule in &problem.rules {
            // What is said of a dose is said of the first that has such a rule.
            let is_new = known.insert((discriminant(&rule.kind), rule.kind.limits_product(), title == "two products"));
            let is_said = matches!(rule.kind.subject(), Subject::Blend | Subject::Amounts | Subject::Selection)
                && title != "two products"
                && !matches!(rule.kind, RuleKind::Near(_) | RuleKind::Only(_) | RuleKind::OwnOnly);
            if !is_new || is_said {
                continue;
            }
            writeln!(list, "{}", rule.id).expect("a text");
            describe(problem, rule, &mut list);
        }
    }
    writeln!(list, "# asked by questions").expect("a text");
    let rule = |id: RuleId, kind: RuleKind, at: f64| Rule { id, kind, place: named.rules[0].place.clone(), at };
    let half = Ppt::from_ppt(500.0);
    let usual = || named.usual_doses();
    for (id, kind, at) in [
        (RuleId::With, RuleKind::MostOf([0, 1, 2, 4].into()), 2.0),
        (RuleId::With, RuleKind::MostOf([0, 1, 2, 3, 4].into()), 2.0),
        (RuleId::Moves, RuleKind::Moves([(0, half), (2, half)].into()), 1.0),
        (RuleId::MaxUnusual, RuleKind::MaxUnusual(usual()), 0.0),
        (RuleId::MaxUnusual, RuleKind::MaxUnusual(usual()), 0.5),
        (RuleId::MaxUnusual, RuleKind::MaxUnusual(usual()), 2.0),
        (RuleId::Budget, RuleKind::AtLeast(Arc::new(RuleKind::Budget)), 50.0),
        (RuleId::Budget, RuleKind::NeatMax(0), 50.0),
        (RuleId::Budget, RuleKind::StageShareMax { stage: 0, members: [0, 1, 2, 4].into() }, 50.0),
        (RuleId::Budget, RuleKind::StageShareMax { stage: 0, members: [0, 1, 2, 3, 4].into() }, 50.0),
    ] {
        writeln!(list, "{id}").expect("a text");
        describe(&named, &rule(id, kind, at), &mut list);
    }
    beside(&named, &alone, &own, &mut list);
    // Without the folders that the files stand in.
    let folders = [&named, &alone, &own].map(|problem| problem.palette.file.replace("palette.toml", ""));
    folders.into_iter().fold(list, |list, folder| list.replace(&folder, ""))
}

/// What is said beside the rules themselves.
fn beside(named: &Problem, alone: &Problem, own: &Problem, list: &mut String) {
    let formula =
        |ppt: &[f64]| Formula::from_doses(Basis::Neat, &ppt.iter().map(|ppt| Ppt::from_ppt(*ppt)).collect::<Vec<_>>());
    let mut say = |text: String| writeln!(list, "{text}").expect("a text");
    say("# orders of all".to_owned());
    say(named.order_of_all(ForAll::Step, 1.0, 0.5));
    say(named.order_of_all(ForAll::MinDose, 2.0, 0.5));
    say(named.order_of_dosage(1, 20.0, 12.5));
    say(alone.order_of_dosage(0, 20.0, 12.5));
    say("# breaches".to_owned());
    let all = formula(&[50.0, 50.0, 400.0, 250.0, 250.0]);
    for problem in [named, alone, own] {
        for rule in &problem.rules {
            let said = problem.sentence_of_breach(rule, &all);
            if said != problem.sentence(rule) {
                say(said);
            }
        }
    }
    say("# left out".to_owned());
    for problem in [named, alone, own] {
        for (material, domain) in problem.domains().into_iter().enumerate() {
            say(format!("{:?}", problem.sentence_of_set_aside(material)));
            if let Err(absence) = domain {
                say(problem.sentence_of_absence(material, absence));
                say(problem.reason_of_absence(absence));
                say(format!("{:?}", problem.absence_in_short(absence)));
            }
        }
    }
    say(named.reason_of_absence(Absence::TargetItself));
    say("# of a batch".to_owned());
    say(named.sentence_of_vessel(0, None, 0.25));
    say(named.sentence_of_vessel(0, Some(100.0), 0.25));
    say(named.sentence_of_vessel(0, Some(10.0), 0.25));
    say(named.sentence_of_stock(0, 3.0, None));
    say(named.sentence_of_stock(0, 3.0, Some(4.5)));
    say(named.sentence_of_least(0, 0.03, 0.05));
    say(named.sentence_of_no_less(0, 0.05));
    say(named.sentence_of_what_stays());
}

#[test]
fn every_rule_is_said_and_sorted_as_the_list_has_it() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/rule_words.txt");
    let list = list();
    if std::env::var_os("PERMIL_WRITE").is_some() {
        std::fs::write(&path, &list).expect("written");
    }
    let known = std::fs::read_to_string(&path).expect("the list");
    for (at, (line, known)) in list.lines().zip(known.lines()).enumerate() {
        assert_eq!(line, known, "line {}", at + 1);
    }
    assert_eq!(list.lines().count(), known.lines().count());
}
