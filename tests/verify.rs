//! What `verify` makes of a formula beside a certificate that holds: the best
//! only where the formula keeps every rule and nothing better is left open.

mod support;

use permil::analysis::verify::{Verdict, Verification};
use permil::brief::Brief;
use permil::certificate::{self, Certificate, Claim};
use permil::control::Control;
use permil::files::{self, Scenario};
use permil::formula::Formula;
use permil::problem::Problem;
use permil::solve::certify::certify;
use permil::solve::{Method, Status, propose};
use permil::units::Ppt;

const PALETTE: &str = r#"
[descriptors]
rosy = ""
green = ""
[[material]]
name = "Alpha"
strength = 30
scores = { rosy = 8 }
price = 90
[[material]]
name = "Beta"
strength = 30
scores = { green = 8 }
price = 10
[[material]]
name = "Gamma"
strength = 30
scores = { rosy = 2, green = 2 }
price = 10
"#;

const BRIEF: &str = r#"
palette = "palette.toml"
match = "level"
[target]
rosy = 6
green = 1
[formula]
step = 50
[budget]
max_price = 50
"#;

struct Case {
    problem: Problem,
    brief: Brief,
    best: Formula,
    certificate: Certificate,
}

fn case() -> Case {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("palette.toml"), PALETTE).expect("written");
    std::fs::write(folder.path().join("brief.toml"), BRIEF).expect("written");
    let Scenario { palette, brief, limits, .. } = files::load_scenario(&folder.path().join("brief.toml"))
        .unwrap_or_else(|faults| panic!("{}", faults.render(false)));
    let problem = Problem::new(palette, &brief, &limits);
    let solution = propose(&problem, Method::Auto, &Control::default()).expect("solved");
    assert_eq!(solution.status, Status::Optimal);
    let text = certify(&problem, &solution, &Control::default()).expect("sound").expect("finished");
    let certificate = certificate::read(&text).expect("readable");
    Case { best: solution.answer.expect("a formula").formula, problem, brief, certificate }
}

impl Case {
    fn of(&self, doses: &[f64], certificate: &Certificate) -> Verification {
        let doses: Vec<Ppt> = doses.iter().map(|&ppt| Ppt::from_ppt(ppt)).collect();
        let formula = Formula::from_doses(self.problem.basis, &doses);
        Verification::of(&self.problem, &self.brief, Some(&formula), certificate)
    }
}

#[test]
fn the_best_formula_is_proven() {
    let case = case();
    let verification = Verification::of(&case.problem, &case.brief, Some(&case.best), &case.certificate);
    assert!(matches!(verification.verdict, Verdict::Proven), "{verification:?}");
}

/// A formula over the budget comes nearer than any within it. It is no answer to
/// the brief, whatever the certificate proves of those that are.
#[test]
fn a_formula_that_breaks_a_rule_is_never_called_the_best() {
    let case = case();
    // Over the budget; off the step, though within the budget.
    for doses in [[700.0, 0.0, 300.0], [1000.0, 0.0, 0.0], [489.0, 511.0, 0.0]] {
        let verification = case.of(&doses, &case.certificate);
        let Verdict::Refuted(why) = &verification.verdict else { panic!("{doses:?}: {verification:?}") };
        assert!(why.iter().any(|why| why.contains("breaks rules")), "{why:?}");
        assert!(!verification.broken.is_empty());
    }
    // The first of them is nearer than what is proven of all that keep the rules.
    let nearer = case.of(&[700.0, 0.0, 300.0], &case.certificate);
    assert!(nearer.loss() < nearer.bound, "{nearer:?}");
    // Not 1000 parts.
    let short = case.of(&[450.0, 500.0, 0.0], &case.certificate);
    assert!(matches!(short.verdict, Verdict::Refuted(_)), "{short:?}");
}

/// A bound a thousandth below the loss leaves a better formula open: that is no
/// proof that this one is the best.
#[test]
fn a_gap_is_not_a_proof() {
    let case = case();
    let Claim::NoneBelow(bound) = case.certificate.claim else { panic!("{:?}", case.certificate.claim) };
    for (gap, proven) in [(1e-3, false), (1e-5, false), (3e-6, false), (0.0, true)] {
        // What holds of a loss holds of a lower one.
        let claim = Claim::NoneBelow(bound - gap * bound.max(1.0));
        let lower = Certificate { claim, ..case.certificate.clone() };
        let verification = Verification::of(&case.problem, &case.brief, Some(&case.best), &lower);
        match proven {
            true => assert!(matches!(verification.verdict, Verdict::Proven), "{gap}: {verification:?}"),
            false => assert!(matches!(verification.verdict, Verdict::Bounded), "{gap}: {verification:?}"),
        }
    }
    // Nor is another formula that keeps the rules.
    let other = case.of(&[0.0, 500.0, 500.0], &case.certificate);
    assert!(matches!(other.verdict, Verdict::Bounded), "{other:?}");
    // Nor any formula under a certificate that does not hold.
    let claim = Claim::NoneBelow(bound + 1e-3 * bound.max(1.0));
    let unsound = Certificate { claim, ..case.certificate.clone() };
    let verification = Verification::of(&case.problem, &case.brief, Some(&case.best), &unsound);
    assert!(matches!(verification.verdict, Verdict::Refuted(_)), "{verification:?}");
    assert_eq!(verification.bound, None);
}

/// "There is none" is refuted by a formula, and stands without one only where
/// the certificate proves it.
#[test]
fn that_there_is_none_needs_its_own_proof() {
    let case = case();
    let none = Certificate { claim: Claim::None, ..case.certificate.clone() };
    for formula in [Some(&case.best), None] {
        let verification = Verification::of(&case.problem, &case.brief, formula, &none);
        assert!(matches!(verification.verdict, Verdict::Refuted(_)), "{verification:?}");
    }
}
