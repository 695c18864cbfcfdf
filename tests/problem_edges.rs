//! Rules at their very edge, in decimals; and what a problem keeps apart: rules of products,
//! substances of two files, the rows of each rule. Worked by hand.

mod support;

use permil::brief::Basis;
use permil::evaluate::evaluate;
use permil::files::load_scenario;
use permil::formula::Formula;
use permil::model::Blend;
use permil::problem::check::{Checker, SEARCH_TOLERANCE};
use permil::problem::rules::Regulated;
use permil::problem::{Nearby, Problem, RuleId, RuleKind};
use permil::units::Ppt;
use support::{assert_close, load, load_beside};

const PALETTE: &str = r#"
[descriptors]
rosy = "rose"
[[material]]
name = "Strong"
strength = 100
price = 33.3
scores = { rosy = 8 }
max_in_product = 5
bottle = { percent = 25, carrier = "Glycol" }
[[material]]
name = "Faint"
strength = 1
price = 20.7
scores = { rosy = 1 }
[[material]]
name = "Weak"
strength = 2
price = 1.1
scores = { rosy = 2 }
[[material]]
name = "Glycol"
cas = "57-55-6"
strength = 0
price = 1
"#;
const GLYCOL: usize = 3;
const BRIEF: &str = "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\nrosy = 5\n";

/// Parts in tenths of one per thousand.
fn tenths(problem: &Problem, tenths: [u32; 3]) -> Formula {
    Formula::from_doses(problem.basis, &tenths.map(|tenths| Ppt::from_units(i64::from(tenths) * Ppt::UNITS / 10)))
}

/// The problem with its rule of that name at another number.
fn at(problem: &Problem, id: &RuleId, at: f64) -> Problem {
    let mut problem = problem.clone();
    let rule = problem.rules.iter_mut().find(|rule| rule.id == *id).expect("a rule");
    rule.at = at;
    problem
}

/// Whether a formula keeps all rules, as the search asks it.
fn keeps(problem: &Problem, formula: &Formula) -> bool {
    Checker::new(problem).breaches(formula, SEARCH_TOLERANCE).is_empty()
}

/// A number of hundred thousandths as a file would say it.
fn decimal(hundred_thousandths: u64) -> f64 {
    format!("{}.{:05}", hundred_thousandths / 100_000, hundred_thousandths % 100_000).parse().expect("a number")
}

#[test]
fn a_budget_is_kept_to_the_last_digit_of_its_decimals() {
    let problem = load(PALETTE, &format!("{BRIEF}[formula]\nstep = 0.1\n[budget]\nmax_price = 30\n"));
    let mut binary_above = 0;
    for case in 0..400_u32 {
        let (a, b) = (1 + 7 * case, 3 + 11 * case);
        let formula = tenths(&problem, [a, b, 10_000 - a - b]);
        let [a, b] = [a, b].map(u64::from);
        let price = decimal(333 * a + 207 * b + 11 * (10_000 - a - b));
        assert!(keeps(&at(&problem, &RuleId::Budget, price), &formula), "{case}: {price}");
        assert!(!keeps(&at(&problem, &RuleId::Budget, price * (1.0 - 1e-13)), &formula), "{case}: {price}");
        binary_above += usize::from(evaluate(&problem, &formula).expect("an odour").price_per_kg > Some(price));
    }
    assert!(binary_above > 20, "{binary_above} of the sums lie above in binary");
}

#[test]
fn idle_weight_is_kept_to_the_last_digit_of_its_decimals() {
    let problem = load(PALETTE, &format!("{BRIEF}[formula]\nstep = 0.1\nmax_idle = 30\n"));
    let mut binary_above = 0;
    for (a, b) in (1..30_u32).flat_map(|a| (1..30).map(move |b| (a, b))) {
        let formula = tenths(&problem, [10_000 - a - b, a, b]);
        let idle = decimal(u64::from(a + b) * 10_000);
        assert!(keeps(&at(&problem, &RuleId::MaxIdle, idle), &formula), "{a} {b}");
        assert!(!keeps(&at(&problem, &RuleId::MaxIdle, idle * (1.0 - 1e-13)), &formula), "{a} {b}");
        binary_above += usize::from(f64::from(a) / 10.0 + f64::from(b) / 10.0 > idle);
    }
    assert!(binary_above > 20, "{binary_above} of the sums lie above in binary");
}

/// One product needs no name in the names of its rules, whatever it is called; of several
/// each rule says which.
#[test]
fn rules_of_products_name_them_where_there_are_several() {
    let ids = |names: &[&str]| -> Vec<String> {
        let uses: Vec<String> =
            names.iter().map(|name| format!("[[use]]\nname = \"{name}\"\ncategory = \"4\"\ndosage = 10\n")).collect();
        let problem = load(PALETTE, &format!("{BRIEF}{}", uses.concat()));
        let of_products = problem.rules.iter().filter(|rule| matches!(rule.kind, RuleKind::Product { .. }));
        of_products.map(|rule| rule.id.to_string()).collect()
    };
    let alone = ids(&["soap"]);
    assert_eq!(alone.len(), 1);
    assert!(!alone[0].contains("soap"), "{alone:?}");
    assert_eq!(ids(&["soap", "mist"]), ["soap", "mist"].map(|name| format!("{}@{name}", alone[0])));
}

/// One substance in two files counts twice in a limit that is shared where one file counts
/// what is added as such alone: those are two limits.
#[test]
fn limits_on_what_is_added_and_on_all_of_it_stay_two() {
    let limit = |at: f64, more: &str| {
        format!(
            "[[restriction]]\nsubstance = \"Glycol\"\ncas = [\"57-55-6\"]\nsource = \"made up\"\njoint = \"both\"\n{more}\
             limits = {{ \"4\" = {at} }}\n"
        )
    };
    let members = |more: &str| {
        let brief = format!("limits = [\"one.toml\", \"two.toml\"]\n{BRIEF}[use]\ncategory = \"4\"\ndosage = 10\n");
        let files = [("one.toml", limit(2.0, "")), ("two.toml", limit(1.0, more))];
        let files = files.each_ref().map(|(name, text)| (*name, text.as_str()));
        let problem = load_beside(PALETTE, &brief, &files);
        let shared = problem.rules.iter().find_map(|rule| match rule.kind.regulated() {
            Some(Regulated::Shared { members, .. }) => Some(members.to_vec()),
            _ => None,
        });
        shared.expect("a shared limit")
    };
    assert_eq!(members(""), [(1, 1.0)]);
    assert_eq!(members("applies = \"added\"\n"), [(0, 2.0), (1, 1.0)]);
}

/// A formula that no brief names is a skeleton all the same.
#[test]
fn a_known_formula_needs_no_brief() {
    let folder = tempfile::tempdir().expect("a folder");
    let known = "title = \"The known one\"\n[parts]\nFaint = 500\nWeak = 250\n";
    let brief = format!("{BRIEF}[near]\nformula = \"known.toml\"\ngive = 1\n");
    for (name, text) in [("palette.toml", PALETTE), ("known.toml", known), ("brief.toml", &brief)] {
        std::fs::write(folder.path().join(name), text).expect("written");
    }
    let scenario =
        load_scenario(&folder.path().join("brief.toml")).unwrap_or_else(|faults| panic!("{}", faults.render(false)));
    let composition = scenario.brief.near.expect("a known formula").composition;
    let nearby = Nearby::of(&scenario.palette, &composition).expect("it is on the shelf");
    assert_eq!((nearby.name(), nearby.give), ("The known one", None));
    // 500 of 1 and 250 of 2.
    assert_close(nearby.skeleton.share(1), 0.5, 1e-12, "the faint one");
    assert_close(nearby.skeleton.share(2), 0.5, 1e-12, "the weak one");
}

/// What a row is in the way of is told by its rule.
#[test]
fn rows_name_the_rule_that_they_are_of() {
    let mut problem = load(PALETTE, &format!("{BRIEF}[formula]\nbasis = \"bottle\"\nstrength = {{ min = 5 }}\n"));
    problem.named[GLYCOL] = true;
    problem.rules.truncate(1);
    let place = problem.rules[0].place.clone();
    for (kind, at) in [(RuleKind::Budget, 15.0), (RuleKind::NeatMax(GLYCOL), 300.0)] {
        problem.rules.push(permil::problem::Rule { id: RuleId::Budget, kind, place: place.clone(), at });
    }
    assert_eq!(problem.basis, Basis::Bottle);
    let rows = Blend::new(&problem).rows;
    let rule_at = |upper: f64| rows.iter().filter(|row| row.upper == upper).map(|row| row.rule).collect::<Vec<_>>();
    assert_eq!((rule_at(-5.0), rule_at(15.0), rule_at(300.0)), (vec![0], vec![1], vec![2]));
}
