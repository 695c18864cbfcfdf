//! What limits, labels and budgets mean, worked by hand where a slip in the
//! arithmetic would let too much of a substance into a product, or leave its
//! name off the label.

mod support;

use permil::balance::product::{Plan, highest_dosages, label, problem_of};
use permil::brief::Basis;
use permil::control::Control;
use permil::files::{self, Scenario};
use permil::formula::Formula;
use permil::model::{Blend, BlendRow};
use permil::problem::Problem;
use permil::problem::check::{Checker, REPORT_TOLERANCE, SEARCH_TOLERANCE};
use permil::solve::{Method, Status, propose};
use permil::units::Ppt;

const PALETTE: &str = r#"
[descriptors]
floral = "flowers"
woody = "wood"
[[material]]
name = "Oil"
cas = "8000-28-0"
strength = 10
price = 50
natural = true
constituents = { "78-70-6" = 35, "93-15-2" = 4 }
scores = { floral = 8 }
[[material]]
name = "Concrete"
cas = "8022-96-6"
strength = 10
price = 50
natural = true
constituents = { "78-70-6" = 70, "93-15-2" = 40 }
scores = { floral = 8 }
[[material]]
name = "Wood"
cas = "68155-66-8"
strength = 10
price = 50
scores = { woody = 8 }
[[material]]
name = "Dear wood"
strength = 10
price = 50.00001
scores = { woody = 8 }
"#;

/// A brief and its limits beside the palette above.
fn scenario(brief: &str, limits: &str) -> Scenario {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).expect("written");
    write("palette.toml", PALETTE);
    write("limits.toml", limits);
    write("brief.toml", &format!("palette = \"palette.toml\"\nmatch = \"level\"\n{brief}"));
    files::load_scenario(&folder.path().join("brief.toml")).unwrap_or_else(|faults| panic!("{}", faults.render(false)))
}

fn made(brief: &str, limits: &str) -> Problem {
    let Scenario { palette, brief, limits, .. } = scenario(brief, limits);
    Problem::new(palette, &brief, &limits)
}

/// A formula of doses in ppt, in the order of the palette.
fn formula(problem: &Problem, ppt: &[f64]) -> Formula {
    let doses: Vec<Ppt> = ppt.iter().map(|&ppt| Ppt::from_ppt(ppt)).collect();
    Formula::from_doses(problem.basis, &doses)
}

fn breaks(problem: &Problem, ppt: &[f64], tolerance: f64) -> bool {
    !Checker::new(problem).breaches(&formula(problem, ppt), tolerance).is_empty()
}

const TWO_NUMBERS: &str = r#"
[[restriction]]
substance = "Of two numbers"
cas = ["78-70-6", "93-15-2"]
source = "made up"
limits = { "4" = 0.78 }
"#;

const IN_PRODUCT: &str = r#"
limits = ["limits.toml"]
[target]
floral = 6
woody = 2
[formula]
step = 10
[use]
category = ["4"]
dosage = 10
"#;

/// 39 % of the oil counts, the second number of the restriction with the first:
/// 0.78 % of a product with 10 % of concentrate is reached at 200 ppt.
#[test]
fn a_natural_counts_with_every_number_of_a_restriction() {
    let problem = made(IN_PRODUCT, TWO_NUMBERS);
    assert!(!breaks(&problem, &[200.0, 0.0, 800.0, 0.0], SEARCH_TOLERANCE), "200 ppt are allowed");
    assert!(breaks(&problem, &[210.0, 0.0, 790.0, 0.0], REPORT_TOLERANCE), "210 ppt bring 0.819 %");
    // Exact fractions count the same: the limit a two-billionth lower is passed.
    let lower = made(IN_PRODUCT, &TWO_NUMBERS.replace("0.78", "0.7799999996"));
    assert!(breaks(&lower, &[200.0, 0.0, 800.0, 0.0], SEARCH_TOLERANCE), "0.78 is above 0.7799999996");
    // The rows that the search works on rule out the same.
    let blend = Blend::new(&problem);
    let allows = |ppt: [f64; 4]| {
        let within = blend.columns.iter().all(|column| column.most.as_f64() >= ppt[column.material]);
        let holds = |row: &BlendRow| {
            let sum: f64 = row.coefficients.iter().map(|&(k, a)| a * ppt[blend.columns[k].material]).sum();
            sum <= row.upper + 1e-9
        };
        within && blend.rows.iter().all(holds)
    };
    assert!(allows([200.0, 0.0, 800.0, 0.0]) && !allows([210.0, 0.0, 790.0, 0.0]), "{:?}", blend.rows);
    let solution = propose(&problem, Method::Auto, &Control::default()).expect("solved");
    assert_eq!(solution.status, Status::Optimal);
    let answer = solution.answer.expect("a formula");
    let brought: f64 = answer.formula.parts.iter().map(|&(k, dose)| [0.39, 1.0, 0.0, 0.0][k] * dose.as_f64()).sum();
    assert!(brought <= 78.0 + 1e-9 && brought > 74.0, "{brought} ppt of it");
}

/// The concrete's two figures, of two analyses, add up to 110 %. All of it is the
/// most that it can bring: 200 ppt in 10 % of concentrate are 2 % of a product.
#[test]
fn no_material_brings_more_than_all_of_itself() {
    let problem = made(IN_PRODUCT, &TWO_NUMBERS.replace("0.78", "2"));
    assert!(!breaks(&problem, &[0.0, 200.0, 800.0, 0.0], SEARCH_TOLERANCE), "exactly 2 %");
    assert!(breaks(&problem, &[0.0, 210.0, 790.0, 0.0], SEARCH_TOLERANCE), "2.1 %");
}

/// A budget is kept to the last part: a price a five-hundred-millionth above it
/// is above it.
#[test]
fn a_budget_is_passed_by_the_least_bit_too_much_and_kept_by_exactly_as_much() {
    let brief = "[target]\nfloral = 6\nwoody = 2\n[formula]\nstep = 0.01\n[budget]\nmax_price = 50\n";
    let problem = made(brief, "");
    assert!(!breaks(&problem, &[500.0, 0.0, 500.0, 0.0], SEARCH_TOLERANCE), "exactly 50");
    // 50.00000001, 50.0000001 and 50.000001.
    for dear in [1.0, 10.0, 100.0] {
        for tolerance in [SEARCH_TOLERANCE, REPORT_TOLERANCE] {
            assert!(breaks(&problem, &[500.0, 0.0, 500.0 - dear, dear], tolerance), "{dear} ppt of the dear wood");
        }
    }
}

const LABELS: &str = r#"
[[restriction]]
substance = "First of two"
cas = ["78-70-6"]
source = "made up"
limits = { "4" = 0.35 }
joint = "shared"
[[restriction]]
substance = "Second of two"
cas = ["93-15-2"]
source = "made up"
limits = { "4" = 0.02 }
joint = "shared"
[[allergen]]
name = "LINALOOL"
cas = ["78-70-6"]
source = "made up"
label_above = { "leave-on" = 0.001, "rinse-off" = 0.01, "*" = 0.5 }
"#;

fn plan(categories: &[&str], dosage_percent: f64) -> Plan {
    let categories = categories.iter().map(|&category| category.to_owned()).collect();
    Plan { categories, dosage_percent, accord_share_percent: 100.0 }
}

/// 10 ppt of the oil in 10 % of concentrate: 0.035 % of the first, a tenth of
/// its limit, and 0.004 % of the second, a fifth of its own: three tenths of what
/// they share. The shared limit is full at 10 / 0.3 = 33.3 %; each alone would
/// allow 50 % or more.
#[test]
fn substances_that_share_a_limit_set_the_highest_dosage_together() {
    let Scenario { palette, limits, .. } =
        scenario("limits = [\"limits.toml\"]\n[target]\nfloral = 6\n[use]\ncategory = [\"4\"]\ndosage = 10\n", LABELS);
    for (dosage, is_passed) in [(10.0, false), (33.0, false), (34.0, true)] {
        let problem = problem_of(palette.clone(), &limits, Basis::Neat, &[plan(&["4"], dosage)]);
        let (highest, passed) = highest_dosages(&problem, &[10.0, 0.0, 990.0, 0.0]).remove(0);
        support::assert_close(highest.dosage_percent, 100.0 / 3.0, 1e-12, "the highest dosage");
        assert_eq!(highest.by.as_deref(), Some("shared"));
        assert_eq!(passed.iter().any(|passed| passed.what == "shared"), is_passed, "at {dosage} %");
    }
}

/// A product that is both left on and rinsed off has the name on its label from
/// the smaller share on.
#[test]
fn of_several_label_thresholds_the_strictest_counts() {
    let Scenario { palette, limits, .. } =
        scenario("limits = [\"limits.toml\"]\n[target]\nfloral = 6\n[use]\ncategory = [\"4\"]\ndosage = 10\n", LABELS);
    let problem = problem_of(palette, &limits, Basis::Neat, &[plan(&["4"], 10.0)]);
    // 1 ppt of the oil: 0.0035 % of the product.
    let neat_ppt = [1.0, 0.0, 999.0, 0.0];
    for (categories, above, is_named) in [
        (vec!["leave-on"], 0.001, true),
        (vec!["rinse-off"], 0.01, false),
        (vec!["leave-on", "rinse-off"], 0.001, true),
        (vec!["rinse-off", "leave-on"], 0.001, true),
        (vec![], 0.5, false),
    ] {
        let named = label(&problem, &limits, &plan(&categories, 10.0), &neat_ppt).remove(0);
        assert_eq!((named.above_percent, named.is_named), (above, is_named), "{categories:?}");
        support::assert_close(named.percent, 0.0035, 1e-9, "the share");
    }
}
