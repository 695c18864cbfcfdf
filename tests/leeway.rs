//! How far each dose may go over any doses: hand-solved cases, an independent
//! reference, and what holds for any brief. What formulas in the brief's own
//! doses reach is listed in tests/curves.rs.

mod support;

use permil::analysis::leeway::{Asked, Leeway, Without, leeway};
use permil::control::Control;
use permil::formula::Formula;
use permil::problem::Problem;
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::solve::{Answer, Method, propose};
use support::questions::{self, assert_near};
use support::random::scenario;
use support::{assert_close, load};

const TWO: &str = r#"
[descriptors]
a = "one"
b = "other"
[[material]]
name = "A"
strength = 1
scores = { a = 10 }
[[material]]
name = "B"
strength = 1
scores = { b = 10 }
[[material]]
name = "Both"
strength = 1
scores = { a = 5, b = 5 }
"#;

fn look(problem: &Problem, formula: &Formula, margin: f64, threads: Option<usize>) -> Leeway {
    let control = Control { threads, ..Control::default() };
    let asked = Asked { margin, any_doses: true, method: Method::Auto, best: None };
    leeway(problem, formula, asked, &control, &|_, _| {}).expect("no failure")
}

fn best(problem: &Problem) -> Option<Answer> {
    propose(problem, Method::Auto, &Control::default()).expect("no failure").answer
}

/// [least, greatest] of a material by name.
fn span(problem: &Problem, leeway: &Leeway, name: &str) -> [f64; 2] {
    let span = leeway.spans.iter().find(|span| problem.material(span.material).name == name).expect("it may be used");
    [span.least().unwrap().as_f64(), span.greatest().unwrap().as_f64()]
}

#[test]
fn two_materials_by_hand() {
    // Loss = 2 |10 x - 5| for x of A in 1, of 10 at worst: within 10 points
    // it is 1, and x lies from 0.45 to 0.55.
    let brief = "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\na = 5\nb = 5\n[formula]\nstep = 1\n\
                 [doses]\n\"Both\" = { use = \"never\" }\n";
    let problem = load(TWO, brief);
    let formula = best(&problem).expect("a formula").formula;
    let found = look(&problem, &formula, 10.0, None);
    assert_close(found.ceiling, 1.0, 1e-9, "the greatest loss");
    for name in ["A", "B"] {
        let [least, greatest] = span(&problem, &found, name);
        assert_close(least, 450.0, 1e-6, name);
        assert_close(greatest, 550.0, 1e-6, name);
    }
    assert!(found.spans.iter().all(|span| span.is_indispensable() == Some(true)));
    // Alone either is all a or all b: a loss of 10.
    for (_, without) in &found.without {
        let Without::Blend(answer, proven) = without else { panic!("{without:?}") };
        assert_close(answer.evaluation.loss, 10.0, 1e-9, "alone");
        assert!(proven);
    }
}

#[test]
fn what_does_the_same_makes_the_others_dispensable() {
    let brief = "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\na = 5\nb = 5\n[formula]\nstep = 1\n";
    let problem = load(TWO, brief);
    let formula = best(&problem).expect("a formula").formula;
    let found = look(&problem, &formula, 0.0, None);
    // x A + x B + (1 - 2 x) Both for any x.
    for (name, most) in [("A", 500.0), ("B", 500.0), ("Both", 1000.0)] {
        let [least, greatest] = span(&problem, &found, name);
        assert_close(least, 0.0, 1e-6, name);
        assert_close(greatest, most, 1e-6, name);
    }
}

#[test]
fn a_reference_finds_the_same_ends() {
    let mut seen = 0;
    for case in questions::cases() {
        let answer = best(&case.problem).expect(&case.name);
        let found = look(&case.problem, &answer.formula, 1.0, None);
        assert_near(found.ceiling, &case.expected["ceiling"], 1e-5, &format!("{}: the greatest loss", case.name));
        let expected = case.expected["leeway"].as_object().unwrap();
        for (name, ends) in expected {
            let is = |span: &&permil::analysis::leeway::Span| case.problem.material(span.material).name == *name;
            if !found.spans.iter().any(|it| is(&it)) {
                // No column at all is no dose at all.
                assert!(ends[1].as_f64().unwrap() < 1e-6, "{}: {name} may be used", case.name);
                continue;
            }
            let [least, greatest] = span(&case.problem, &found, name);
            assert_near(least, &ends[0], 2e-4, &format!("{}: least {name}", case.name));
            assert_near(greatest, &ends[1], 2e-4, &format!("{}: most {name}", case.name));
            seen += 1;
        }
        for span in &found.spans {
            let name = &case.problem.material(span.material).name;
            let none = span.greatest().unwrap().as_f64() < 1e-3;
            assert!(expected.contains_key(name) || none, "{}: {name} is not in the reference", case.name);
        }
    }
    assert!(seen > 100, "only {seen} spans");
}

#[test]
fn ends_are_blends_and_hold_the_proposal() {
    let (mut solved, mut ends) = (0, 0);
    for seed in 0..60 {
        let (palette, brief) = scenario(seed);
        let problem = load(&palette, &brief);
        let Some(answer) = best(&problem) else { continue };
        solved += 1;
        let relaxed = problem.relaxed();
        let checker = Checker::new(&relaxed);
        let found = look(&problem, &answer.formula, 2.0, None);
        for span in &found.spans {
            let name = &problem.material(span.material).name;
            let (least, greatest) = (span.least().expect(name), span.greatest().expect(name));
            assert_eq!(span.at, answer.formula.dose(span.material));
            assert!(least <= span.at && span.at <= greatest, "seed {seed}: {name} {least} {} {greatest}", span.at);
            for end in [span.min.as_ref().unwrap(), span.max.as_ref().unwrap()] {
                assert!(checker.breaches(&end.answer.formula, REPORT_TOLERANCE).is_empty(), "seed {seed}: {name}");
                assert!(end.answer.evaluation.loss <= found.ceiling + 1e-7 * found.ceiling.max(1.0), "seed {seed}");
                assert!(end.proven, "seed {seed}: {name}");
                ends += 1;
            }
        }
        // A wider margin never leaves less room.
        let wider = look(&problem, &answer.formula, 6.0, None);
        for (narrow, wide) in found.spans.iter().zip(&wider.spans) {
            assert!(wide.least().unwrap().as_f64() <= narrow.least().unwrap().as_f64() + 1e-5, "seed {seed}");
            assert!(wide.greatest().unwrap().as_f64() >= narrow.greatest().unwrap().as_f64() - 1e-5, "seed {seed}");
        }
    }
    assert!(solved > 20 && ends > 150, "{solved} solved, {ends} ends");
}

#[test]
fn without_a_material_is_a_fresh_solve() {
    let case = questions::cases().into_iter().find(|case| case.name == "rose-otto").unwrap();
    let formula = best(&case.problem).unwrap().formula;
    let found = look(&case.problem, &formula, 1.0, None);
    let mut compared = 0;
    for (material, without) in &found.without {
        let fresh = best(&case.problem.relaxed().leaving_out(*material));
        match without {
            Without::Blend(answer, _) => {
                assert_close(answer.evaluation.loss, fresh.unwrap().evaluation.loss, 1e-7, "loss");
                compared += 1;
            }
            _ => assert!(fresh.is_none()),
        }
    }
    assert!(compared >= 3);
}

#[test]
fn threads_change_nothing() {
    let case = questions::cases().into_iter().find(|case| case.name == "rose-otto").unwrap();
    let formula = best(&case.problem).unwrap().formula;
    let ends = |threads| {
        let found = look(&case.problem, &formula, 1.0, Some(threads));
        found.spans.iter().map(|span| (span.material, span.least(), span.greatest())).collect::<Vec<_>>()
    };
    assert_eq!(ends(1), ends(4));
}
