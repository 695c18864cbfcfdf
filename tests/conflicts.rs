//! Why no blend can meet a brief, and what would mend it: hand-made briefs with
//! a known answer, and the infeasible reference cases.

use std::collections::BTreeSet;
use std::path::Path;

use permil::analysis::conflict::conflicts;
use permil::analysis::repair::repairs;
use permil::control::Control;
use permil::files;
use permil::problem::{Change, DoseKey, Problem, Rule, RuleId, RuleKind};
use permil::solve::{Feasibility, feasibility};

const PALETTE: &str = r#"
[descriptors]
rosy = "rose"
green = "leaf"

[[material]]
name = "Cheap"
strength = 10
scores = { rosy = 2 }
price = 10

[[material]]
name = "Dear"
strength = 10
scores = { rosy = 8 }
price = 100

[[material]]
name = "Leaf"
strength = 10
scores = { green = 8 }
price = 40
"#;

fn problem(brief: &str) -> Problem {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("palette.toml"), PALETTE).expect("written");
    let brief = format!("palette = \"palette.toml\"\nmatch = \"level\"\n{brief}");
    std::fs::write(folder.path().join("brief.toml"), brief).expect("written");
    load(&folder.path().join("brief.toml"))
}

fn load(brief: &Path) -> Problem {
    match files::load_scenario(brief) {
        Ok(scenario) => Problem::new(scenario.palette, &scenario.brief, &scenario.limits),
        Err(faults) => panic!("{}", faults.render(false)),
    }
}

fn ids(problem: &Problem, rules: &[usize]) -> BTreeSet<String> {
    rules.iter().map(|&rule| problem.rules[rule].id.to_string()).collect()
}

fn named(names: &[&str]) -> BTreeSet<String> {
    names.iter().map(|name| (*name).to_owned()).collect()
}

fn is_possible(problem: &Problem) -> bool {
    match feasibility(problem, &Control::default()) {
        Feasibility::Possible(_) => true,
        Feasibility::Impossible => false,
        Feasibility::Unknown => panic!("not known"),
    }
}

/// Every set is a conflict, and none of its rules is there for nothing.
fn assert_irreducible(problem: &Problem, rules: &[usize]) {
    assert!(!is_possible(&problem.with_rules(|rule| rules.contains(&rule))), "{:?}", ids(problem, rules));
    for &left_out in rules {
        let rest = problem.with_rules(|rule| rules.contains(&rule) && rule != left_out);
        assert!(is_possible(&rest), "{:?} stands without {}", ids(problem, rules), problem.rules[left_out].id);
    }
}

/// A repair makes room, and 1 % less of any of its moves does not.
fn assert_least(problem: &Problem, changes: &[(usize, Change)]) {
    assert!(is_possible(&problem.with_changes(changes)), "{changes:?}");
    for (index, &(rule, change)) in changes.iter().enumerate() {
        let at = problem.rules[rule].at;
        let mut less = changes.to_vec();
        match change {
            Change::To(to) if problem.rules[rule].kind.loosens_upwards().is_some() => {
                less[index].1 = Change::To(at + 0.99 * (to - at));
            }
            Change::To(_) => continue,
            Change::Dropped => {
                less.remove(index);
            }
        }
        assert!(!is_possible(&problem.with_changes(&less)), "less than {changes:?} suffices");
    }
}

#[test]
fn a_budget_and_a_floor_that_cannot_stand_together() {
    // rosy >= 5 needs half of it Dear: (2 + 8) / 2, at 55 per kg. Leaf is no
    // help: it smells of nothing rosy.
    let problem = problem("[target]\nrosy = { score = 6, min = 5 }\n[budget]\nmax_price = 40\n");
    let found = conflicts(&problem, &Control::default());
    assert_eq!(found.len(), 1);
    assert_eq!(ids(&problem, &found[0].rules), named(&["budget", "target:rosy.min"]));
    assert_irreducible(&problem, &found[0].rules);

    let repairs = repairs(&problem, &found, &Control::default());
    assert_eq!(repairs.len(), 2, "either of the two may give way");
    for repair in &repairs {
        assert_least(&problem, &repair.changes);
        let [(rule, Change::To(to))] = repair.changes[..] else { panic!("{repair:?}") };
        // Worked by hand: 55 per kg; or a third of Dear at 40 per kg: rosy 4.
        let expected = if problem.rules[rule].id == RuleId::Budget { 55.0 } else { 4.0 };
        assert!((to - expected).abs() < 0.15, "{} to {to}", problem.rules[rule].id);
    }
}

#[test]
fn must_and_never_are_dropped_rather_than_moved() {
    let problem = problem(
        "[target]\nrosy = 6\n[formula]\nonly = [\"Cheap\", \"Dear\"]\n[doses]\n\"Leaf\" = { use = \"must\", min = 10 }\n",
    );
    let found = conflicts(&problem, &Control::default());
    assert_eq!(found.len(), 1);
    assert_eq!(ids(&problem, &found[0].rules), named(&["only", "dose:Leaf.must"]));
    let repairs = repairs(&problem, &found, &Control::default());
    assert_eq!(repairs.len(), 2);
    assert!(repairs.iter().all(|repair| matches!(repair.changes[..], [(_, Change::Dropped)])), "{repairs:?}");
}

#[test]
fn two_conflicts_are_both_named_and_mended_together() {
    let problem = problem(
        "[target]\nrosy = { score = 6, min = 5 }\n[budget]\nmax_price = 40\n[doses]\n\"Leaf\" = { max = 100 }\n\
         [[group]]\nname = \"leaves\"\nmaterials = [\"Leaf\"]\nmin = 200\n",
    );
    let found = conflicts(&problem, &Control::default());
    assert_eq!(found.len(), 2, "{found:?}");
    found.iter().for_each(|conflict| assert_irreducible(&problem, &conflict.rules));
    let repairs = repairs(&problem, &found, &Control::default());
    let [repair] = &repairs[..] else { panic!("{repairs:?}") };
    assert!(repair.changes.len() >= 2, "{repair:?}");
    assert_least(&problem, &repair.changes);
}

#[test]
fn a_brief_that_can_be_met_has_no_conflict() {
    let problem = problem("[target]\nrosy = 6\n[budget]\nmax_price = 60\n");
    assert!(conflicts(&problem, &Control::default()).is_empty());
}

#[test]
fn conflicts_of_the_reference_cases_are_irreducible_and_mended() {
    let cases = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/cases");
    let mut infeasible = 0;
    for entry in std::fs::read_dir(cases).expect("cases") {
        let path = entry.expect("a case").path();
        if !path.to_string_lossy().contains("infeasible") {
            continue;
        }
        infeasible += 1;
        let problem = load(&path.join("brief.toml"));
        let found = conflicts(&problem, &Control::default());
        assert!(!found.is_empty(), "{}", path.display());
        found.iter().for_each(|conflict| assert_irreducible(&problem, &conflict.rules));
        let repairs = repairs(&problem, &found, &Control::default());
        assert!(!repairs.is_empty(), "{}", path.display());
        repairs.iter().for_each(|repair| assert_least(&problem, &repair.changes));
    }
    assert!(infeasible >= 5);
}

/// Of two least doses of one material the one that stands in the way is named,
/// also where the other is written after it.
#[test]
fn a_conflict_names_the_greater_of_two_least_doses() {
    let mut problem = problem("[target]\nrosy = 5\n[doses]\nCheap = { use = \"must\", min = 50, max = 300 }\n");
    let place = problem.palette.materials[0].place.clone();
    for (id, at) in [("least:greater", 400.0), ("least:lesser", 100.0)] {
        problem.rules.push(Rule {
            id: id.parse().expect("an id"),
            kind: RuleKind::DoseMin(0),
            place: place.clone(),
            at,
        });
    }
    let found = conflicts(&problem, &Control::default());
    let sets: Vec<BTreeSet<String>> = found.iter().map(|conflict| ids(&problem, &conflict.rules)).collect();
    assert_eq!(sets, [named(&["dose:Cheap.max", "dose:Cheap.must", "least:greater"])]);
    assert_irreducible(&problem, &found[0].rules);
}

/// A hundred doses that are capped so low that 1000 parts cannot be had: the
/// conflict names all of them, and what ends in time says so.
#[test]
fn a_conflict_of_a_hundred_doses_is_found_in_its_time() {
    let mut palette = String::from("[descriptors]\nrosy = \"rose\"\ngreen = \"leaf\"\n");
    let mut brief = String::from("palette = \"palette.toml\"\n[target]\nrosy = 5\ngreen = 2\n");
    brief += "[formula]\nstep = 1\n[doses]\n";
    for at in 0..100 {
        let (rosy, green) = (1 + at % 7, at % 5);
        palette += &format!("[[material]]\nname = \"M{at}\"\nstrength = {}\n", 1 + at % 13);
        palette += &format!("scores = {{ rosy = {rosy}, green = {green} }}\n");
        brief += &format!("M{at} = {{ max = {} }}\n", 3 + at % 6);
    }
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("palette.toml"), palette).expect("written");
    std::fs::write(folder.path().join("brief.toml"), brief).expect("written");
    let problem = load(&folder.path().join("brief.toml"));
    let found = conflicts(&problem, &Control::default());
    assert_eq!((found.len(), found[0].rules.len()), (1, 100));
    assert!(found[0].rules.iter().all(|&rule| matches!(problem.rules[rule].id, RuleId::Dose(_, DoseKey::Max))));
    // After its time nothing is begun, neither a search nor the making of one.
    let control = Control::default().within(std::time::Duration::ZERO);
    assert_eq!(conflicts(&problem, &control), []);
    assert_eq!(repairs(&problem, &found, &control), []);
}
