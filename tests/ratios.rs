//! Linear-fractional programmes whose answer is known by construction, and the
//! cases that have none.

mod support;

use permil::control::Control;
use permil::model::programme::{Programme, Relation, Sense};
use permil::solve::backend::{Backend, SolveError};
use permil::solve::ratio::{self, Ratio, RatioError};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use support::{assert_close, random};

/// Any numerator over a denominator that is at least 1 inside the bounds.
fn random_ratio(programme: &Programme, seed: u64) -> Ratio {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut draw = || -> Vec<f64> { programme.columns.iter().map(|_| random.random_range(-3.0..3.0)).collect() };
    let (numerator, denominator) = (draw(), draw());
    let least: f64 =
        programme.columns.iter().zip(&denominator).map(|(column, q)| (q * column.lower).min(q * column.upper)).sum();
    Ratio { numerator, numerator_constant: 2.0, denominator, denominator_constant: 1.0 - least }
}

#[test]
fn both_methods_agree_on_random_ratios() {
    for seed in 0..60 {
        let programme = random::feasible_and_bounded(seed);
        let ratio = random_ratio(&programme, seed + 1000);
        let mut values = Vec::new();
        for &backend in Backend::ALL {
            let what = format!("seed {seed}, {}", backend.name());
            let one = ratio::charnes_cooper(backend, &programme, &ratio, &Control::default())
                .unwrap_or_else(|error| panic!("{what}, in one programme: {error}"));
            let many = ratio::dinkelbach(backend, &programme, &ratio, None, &Control::default())
                .unwrap_or_else(|error| panic!("{what}, in steps: {error}"));
            assert!(many.converged, "{what}");
            // The lambdas only improve, and F turns towards 0.
            let improves = |pair: &[ratio::Step]| match programme.sense {
                Sense::Minimise => pair[1].lambda < pair[0].lambda,
                Sense::Maximise => pair[1].lambda > pair[0].lambda,
            };
            assert!(many.steps.windows(2).all(improves), "{what}: {:?}", many.steps);
            values.extend([one.value, many.value]);
        }
        for value in &values {
            assert_close(*value, values[0], 1e-6, &format!("seed {seed}"));
        }
    }
}

/// maximise (4x + y) / (x + y + 1) over whole x, y <= 3, 2x + 2y <= 7.
#[test]
fn dinkelbach_takes_whole_numbers() {
    let mut programme = Programme { sense: Sense::Maximise, ..Programme::default() };
    let x = programme.integer_column(0.0, 0.0, 3.0);
    let y = programme.integer_column(0.0, 0.0, 3.0);
    programme.row(vec![(x, 2.0), (y, 2.0)], Relation::AtMost, 7.0);
    let ratio = Ratio {
        numerator: vec![4.0, 1.0],
        numerator_constant: 0.0,
        denominator: vec![1.0, 1.0],
        denominator_constant: 1.0,
    };
    for &backend in Backend::ALL.iter().filter(|backend| backend.takes_integers()) {
        let run = ratio::dinkelbach(backend, &programme, &ratio, Some(&[0.0, 1.0]), &Control::default()).unwrap();
        assert!(run.converged);
        assert_eq!((run.x, run.value), (vec![3.0, 0.0], 3.0), "{}", backend.name());
        let one = ratio::charnes_cooper(backend, &programme, &ratio, &Control::default());
        assert!(matches!(one, Err(RatioError::Solve(SolveError::Unsupported(_)))));
    }
    let run = ratio::dinkelbach(Backend::Microlp, &programme, &ratio, Some(&[0.5, 0.0]), &Control::default());
    assert_eq!(run, Err(RatioError::Start(0.5)));
}

/// One column from 0 without end, and one row that never binds.
fn half_line(sense: Sense) -> Programme {
    let mut programme = Programme { sense, ..Programme::default() };
    let x = programme.column(0.0, 0.0, f64::INFINITY);
    programme.row(vec![(x, 1.0)], Relation::AtLeast, 0.0);
    programme
}

#[test]
fn a_ratio_that_no_point_attains_is_an_error() {
    // x / (x + 1) comes as near to 1 as one likes.
    let ratio =
        Ratio { numerator: vec![1.0], numerator_constant: 0.0, denominator: vec![1.0], denominator_constant: 1.0 };
    for &backend in Backend::ALL {
        let programme = half_line(Sense::Maximise);
        let one = ratio::charnes_cooper(backend, &programme, &ratio, &Control::default());
        assert_eq!(one, Err(RatioError::Recession), "{}", backend.name());
        let many = ratio::dinkelbach(backend, &programme, &ratio, Some(&[0.0]), &Control::default());
        assert_eq!(many, Err(RatioError::Solve(SolveError::Unbounded)), "{}", backend.name());
        // The other way there is an end, at 0.
        let programme = half_line(Sense::Minimise);
        let one = ratio::charnes_cooper(backend, &programme, &ratio, &Control::default()).unwrap();
        assert_close(one.value, 0.0, 1e-7, backend.name());
    }
}

#[test]
fn a_denominator_that_is_never_positive_is_an_error() {
    let ratio =
        Ratio { numerator: vec![1.0], numerator_constant: 1.0, denominator: vec![-1.0], denominator_constant: 0.0 };
    let programme = half_line(Sense::Minimise);
    for &backend in Backend::ALL {
        let one = ratio::charnes_cooper(backend, &programme, &ratio, &Control::default());
        assert_eq!(one, Err(RatioError::Solve(SolveError::Infeasible)), "{}", backend.name());
        let many = ratio::dinkelbach(backend, &programme, &ratio, Some(&[1.0]), &Control::default());
        assert_eq!(many, Err(RatioError::Denominator(-1.0)), "{}", backend.name());
    }
    let nothing = Ratio { denominator: vec![0.0], ..ratio };
    let one = ratio::charnes_cooper(Backend::Microlp, &programme, &nothing, &Control::default());
    assert_eq!(one, Err(RatioError::Denominator(0.0)));
}

#[test]
fn a_ratio_of_the_wrong_shape_is_refused() {
    let programme = half_line(Sense::Minimise);
    let fits =
        Ratio { numerator: vec![1.0], numerator_constant: 0.0, denominator: vec![1.0], denominator_constant: 1.0 };
    let short = Ratio { numerator: Vec::new(), ..fits.clone() };
    let odd = Ratio { denominator_constant: f64::NAN, ..fits };
    for ratio in [short, odd] {
        let one = ratio::charnes_cooper(Backend::Microlp, &programme, &ratio, &Control::default());
        let many = ratio::dinkelbach(Backend::Microlp, &programme, &ratio, None, &Control::default());
        assert!(matches!(one, Err(RatioError::Solve(SolveError::Invalid(_)))));
        assert!(matches!(many, Err(RatioError::Solve(SolveError::Invalid(_)))));
    }
}
