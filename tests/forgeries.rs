//! Certificates that an enemy wrote. Each of these claims what is false of a
//! brief with formulas that are known, and none of them may pass: whoever
//! believes `verify` would take a poor formula for the best there is.

mod support;

use permil::certificate::{self, check};
use permil::model::{Blend, BlendRow};
use permil::problem::Problem;
use support::certificates::{self, FOUR_MATERIALS, names_of, passes, verdict};
use support::listing::least_by_listing;
use support::load;

const BRIEF: &str = r#"
palette = "palette.toml"
match = "level"
[target]
rosy = { score = 5, min = 3, max = 6 }
green = 3
spicy = 2
[formula]
step = 50
min_dose = 100
max_materials = 3
[budget]
max_price = 80
"#;

/// A certificate of the brief above.
fn forged(claim: &str, above: &str, tree: &str) -> String {
    certificates::forged(&["Alpha", "Beta", "Gamma", "Delta"].map(str::to_owned), claim, above, tree)
}

/// The brief, and claims that are false of it.
fn problem_and_lies() -> (Problem, [String; 2]) {
    let problem = load(FOUR_MATERIALS, BRIEF);
    let least = least_by_listing(&problem).expect("few formulas");
    assert!(least > 0.1 && least < 5.0, "{least}");
    (problem, [format!("none-below {}", least + 0.5), "none".to_owned()])
}

#[test]
fn a_remainder_that_lists_a_column_twice_proves_nothing() {
    let (problem, lies) = problem_and_lies();
    for claim in lies {
        for columns in ["0,0,1,1,2,2,3,3", "0,1,2,3,0,1,2,3", "3,3,2,2,1,1,0,0", "0,1,2,3,3"] {
            let between = format!("remainder 0 step 50 columns {columns}\n");
            let text = forged(&claim, &between, "closed 0 s=2 m0=-1\n");
            assert!(!passes(&problem, &text), "{text}");
        }
    }
}

#[test]
fn a_bound_on_d_whose_arithmetic_overflows_proves_nothing() {
    let (problem, lies) = problem_and_lies();
    for claim in lies {
        for (which, at) in [("least", "1e300"), ("most", "-1e300"), ("least", "1e58"), ("most", "-1e58")] {
            for by in ["s=1e308", "s=-1e308", "d=1e308", "s=1e308 c0=1e308", "s=1e308 r0=1e308"] {
                for end in ["empty\n", "closed 0\n", "closed 1\n"] {
                    let text = forged(&claim, &format!("d {which} {at} by 0 {by}\n"), end);
                    assert!(!passes(&problem, &text), "{text}");
                }
            }
        }
    }
}

#[test]
fn multipliers_near_the_end_of_all_numbers_prove_nothing() {
    let (problem, lies) = problem_and_lies();
    let blend = Blend::new(&problem);
    // Rows against 0, one of which adds what the other takes away.
    let against_zero: Vec<usize> = (0..blend.rows.len()).filter(|&row| blend.rows[row].upper == 0.0).collect();
    let &[first, second] = &against_zero[..] else { panic!("{:?}", blend.rows) };
    for claim in lies {
        for huge in ["1e308", "1.7e308", "1e307", "1e60"] {
            for objective in [0, 1] {
                let text = forged(&claim, "", &format!("closed {objective} s=1 r{first}={huge} r{second}={huge}\n"));
                assert!(!passes(&problem, &text), "{text}");
            }
        }
    }
}

/// The tree narrows nothing away for nothing: a line that leaves out the best
/// formulas has to show why, and none can.
#[test]
fn narrowing_needs_multipliers_that_rule_out_the_rest() {
    let (problem, lies) = problem_and_lies();
    for claim in lies {
        for by in ["0", "1", "0 s=1", "1 s=0.01"] {
            for changes in ["0 out, 1 out, 2 out, 3 out", "0 <=0, 1 <=0, 2 <=0, 3 <=0", "0 in>=1000, 1 in>=1000"] {
                let text = forged(&claim, "", &format!("narrowed {by} : {changes}\nempty\n"));
                assert!(!passes(&problem, &text), "{text}");
                let text = forged(&claim, "", &format!("on-grid : {changes}\nempty\n"));
                assert!(!passes(&problem, &text), "{text}");
            }
        }
    }
}

/// A rule may only be held against what breaks it. Here every formula without
/// Gamma stays below the price allowed, and a negative multiplier of the budget
/// would make of that a reason against them all.
#[test]
fn a_rule_is_no_reason_against_formulas_that_keep_it() {
    let problem = load(FOUR_MATERIALS, &BRIEF.replace("max_price = 80", "max_price = 95"));
    let blend = Blend::new(&problem);
    let budget = blend.rows.iter().position(|row| row.upper == 95.0).expect("a row of the budget");
    let tree = format!("split 2 : out, in>=100\nclosed 0 s=-0.09 r{budget}=-1\nclosed 0 s=-0.09 r{budget}=-1\n");
    let read = certificate::read(&forged("none", "", &tree)).expect("as the format says");
    assert_eq!(verdict(&problem, &read), Err(certificate::Fault::Unknown(2)));
    // Counts likewise.
    let tree = "closed 0 s=1e-9 c0=-1\n";
    assert!(!passes(&problem, &forged("none", "", tree)));
}

/// Bounds on D that cross within rounding are no reason that there is no formula;
/// beyond it they are, and multipliers of the row are either way.
#[test]
fn bounds_on_d_that_rounding_crosses_close_nothing() {
    let brief = "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\nrosy = 5\n[formula]\nonly = [\"Alpha\"]\n";
    let problem = load(FOUR_MATERIALS, brief);
    let names = names_of(&problem);
    assert_eq!(names, ["Alpha"]);
    for (short, is_empty) in [(1e-11, false), (1e-10, false), (1e-8, true), (1e-3, true)] {
        // All of it is Alpha, and the row leaves a little less than all of it.
        let mut blend = Blend::new(&problem);
        let (row, upper) = (blend.rows.len(), 1000.0 * (1.0 - short));
        blend.rows.push(BlendRow { coefficients: vec![(0, 1.0)], upper, ..BlendRow::default() });
        let (most, weight) = (30.0 * upper * (1.0 + 1e-13), blend.columns[0].weight);
        assert_eq!(weight, 30.0);
        let between = format!("d least 30000 by 0 s=30\nd most {most} by 0 r{row}=30\n");
        let passes = |tree: &str| {
            let text = certificates::forged(&names, "none", &between, &format!("{tree}\n"));
            check(&certificate::read(&text).expect("a certificate"), &blend, &names)
        };
        assert_eq!(passes("empty").is_ok(), is_empty, "{short}: {:?}", passes("empty"));
        let by_row = format!("closed 0 s=1 r{row}=1");
        assert_eq!(passes(&by_row), Ok(1), "{short}");
    }
}

/// The brief near a known formula of which little may move: the least loss is
/// well above that of the brief without the rule.
fn near_problem_and_lies() -> (Problem, f64, [String; 2]) {
    let brief = BRIEF.to_owned() + "[near]\nformula = \"gc.toml\"\nwithin = 25\n";
    let problem = support::load_beside(FOUR_MATERIALS, &brief, &[("gc.toml", "[parts]\nAlpha = 600\nBeta = 200\n")]);
    let least = least_by_listing(&problem).expect("few formulas");
    assert!(least.is_finite(), "{least}");
    (problem, least, [format!("none-below {}", least + 0.3), "none".to_owned()])
}

/// A cap is held against what breaks it alone: multipliers of it below 0, of its
/// targets without it, of targets that it does not have, twice, or so large that
/// arithmetic stumbles prove nothing; nor does a target's beyond the cap's own.
#[test]
fn a_cap_is_no_reason_against_formulas_that_keep_it() {
    let (problem, _, lies) = near_problem_and_lies();
    let blend = Blend::new(&problem);
    assert_eq!((blend.caps.len(), blend.caps[0].targets.len()), (1, 2));
    for claim in lies {
        for by in [
            "k0=-1",
            "k0=0",
            "k0.0=-1",
            "k0.0=-1 k0=1",
            "k1=1",
            "k0=1 k0.2=-1",
            "k0=1 k0.0=-1 k0.0=-1",
            "k0=1 k0=1",
            "k0=1 k0.1=-1 k0.0=-1",
            "k=1",
            "k0.=1",
            "k.0=1",
            "k0=1 k0.00=-1",
            "k0=1e308",
            "k0=1e60 k0.0=-1e60",
            "k0=1 k0.0=-1e60",
            "k0=1 k0.0=1e60 k0.1=-1e60",
            "k0=1 k0.0=-7 k0.1=-7",
            "k0=1 k0.99999999999999999999=-1",
            "k0=1 k0.18446744073709551615=-1",
            "k0=1 m0=1",
            "k0=nan",
            "k0=inf",
        ] {
            for start in ["0", "0 s=1", "0 s=-1", "1", "1 s=0.01 t0=-1 t1=-1"] {
                let text = forged(&claim, "", &format!("closed {start} {by}\n"));
                assert!(!passes(&problem, &text), "{text}");
                let text = forged(&claim, "", &format!("narrowed {start} {by} : 0 out, 1 out, 2 out, 3 out\nempty\n"));
                assert!(!passes(&problem, &text), "{text}");
            }
        }
    }
}

/// What a target's multiplier says beyond the cap's own is cut off, by hand: of
/// formulas of Alpha alone all of the known formula is missing, 100 of 25 %.
#[test]
fn a_cap_weighs_its_targets_no_more_than_it_says() {
    let brief = "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\nrosy = 5\n[formula]\nonly = [\"Alpha\"]\n\
                 [near]\nformula = \"gc.toml\"\nwithin = 25\n";
    let problem = support::load_beside(FOUR_MATERIALS, brief, &[("gc.toml", "[parts]\nBeta = 3\nGamma = 1\n")]);
    let passes = |by: &str| {
        let tree = format!("closed 1 s=1 {by}\n");
        passes(&problem, &certificates::forged(&["Alpha".to_owned()], "none-below 6", "", &tree))
    };
    // Shares 150 and 90 of 240, and each ppt adds 30 to D: of the loss 6 times 30
    // is to be shown, and the cap shows 30 (1 - 0.25) for each of its multiplier.
    assert!(passes("k0=8.001 k0.0=-8.001 k0.1=-8.001"));
    assert!(!passes("k0=7.999 k0.0=-7.999 k0.1=-7.999"));
    assert!(!passes("k0=7.999 k0.0=-40 k0.1=-40"));
    // One target alone leaves 30 (0.625 - 0.25), however much more is said.
    assert!(passes("k0=16.001 k0.0=-16.001"));
    assert!(!passes("k0=15.999 k0.0=-15.999"));
    assert!(!passes("k0=15.999 k0.0=-400"));
    // What is too much weighs nothing in this cap.
    assert!(!passes("k0=16.001 k0.0=400"));
}
