//! Every backend against programmes whose answer is known by construction, and
//! the claims of solvers that must not be believed.

mod support;

use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use permil::control::Control;
use permil::model::programme::{Programme, Relation, Sense};
use permil::solve::backend::{self, Backend, FEASIBILITY, SolveError};
use support::{assert_close, random, solve};

/// maximise 3x + 2y, x + y <= 4, x + 3y <= 9, x <= 3: 11 at (3, 1).
fn two_columns() -> Programme {
    let mut programme = Programme { sense: Sense::Maximise, ..Programme::default() };
    let x = programme.column(3.0, 0.0, 3.0);
    let y = programme.column(2.0, 0.0, f64::INFINITY);
    programme.row(vec![(x, 1.0), (y, 1.0)], Relation::AtMost, 4.0);
    programme.row(vec![(x, 1.0), (y, 3.0)], Relation::AtMost, 9.0);
    programme
}

#[test]
fn the_backends_agree_on_random_programmes() {
    for seed in 0..120 {
        let programme = random::feasible_and_bounded(seed);
        let solutions: Vec<_> = Backend::ALL
            .iter()
            .map(|&backend| {
                solve(backend, &programme).unwrap_or_else(|error| panic!("seed {seed}, {}: {error}", backend.name()))
            })
            .collect();
        for (solution, backend) in solutions.iter().zip(Backend::ALL) {
            let what = format!("seed {seed}, {}", backend.name());
            assert_close(solution.objective, solutions[0].objective, 1e-6, &what);
            assert!(programme.violation(&solution.x) <= FEASIBILITY, "{what}");
            assert_eq!(solution.duals.is_some(), backend.gives_duals(), "{what}");
        }
    }
}

/// A programme of [`random::anything`] on which microlp 0.6 goes in circles.
const CIRCLES: u64 = 1190;

#[test]
fn circles_of_the_simplex_end_at_the_deadline() {
    let programme = random::anything(CIRCLES);
    let within = |seconds| Control::default().within(seconds);
    let simplex = backend::solve(Backend::Microlp, &programme, &within(Duration::from_millis(200)));
    let default = backend::solve_default(&programme, &within(Duration::from_secs(2)));
    let clarabel = solve(Backend::Clarabel, &programme);
    // A microlp that has learnt to end there is welcome.
    assert!(simplex == Err(SolveError::TimeLimit) || verdict(&simplex) == verdict(&clarabel), "{simplex:?}");
    assert_eq!(verdict(&default), verdict(&clarabel));
}

/// The objective to eight digits, or the error.
fn verdict(answer: &Result<backend::LpSolution, SolveError>) -> Result<String, SolveError> {
    answer.as_ref().map(|solution| format!("{:.7e}", solution.objective)).map_err(Clone::clone)
}

#[test]
fn verdicts_never_contradict() {
    let (mut optimal, mut infeasible, mut unbounded, mut open) = (0, 0, 0, 0);
    for seed in (0..2000).filter(|&seed| seed != CIRCLES) {
        let programme = random::anything(seed);
        let mut settled: Option<Result<f64, SolveError>> = None;
        for &backend in Backend::ALL {
            let verdict = match solve(backend, &programme) {
                Ok(solution) => Ok(solution.objective),
                Err(error @ (SolveError::Infeasible | SolveError::Unbounded)) => Err(error),
                Err(SolveError::NotCertain(_) | SolveError::Failed(_)) => {
                    open += 1;
                    continue;
                }
                Err(other) => panic!("seed {seed}, {}: {other}", backend.name()),
            };
            match (&settled, &verdict) {
                (Some(Ok(first)), Ok(second)) => assert_close(*second, *first, 1e-6, &format!("seed {seed}")),
                (Some(first), second) => assert_eq!(first, second, "seed {seed}, {}", backend.name()),
                (None, _) => {}
            }
            settled.get_or_insert(verdict);
        }
        match settled {
            Some(Ok(_)) => optimal += 1,
            Some(Err(SolveError::Infeasible)) => infeasible += 1,
            Some(Err(_)) => unbounded += 1,
            None => {}
        }
    }
    let told = format!("{optimal} optimal, {infeasible} infeasible, {unbounded} unbounded, {open} without a verdict");
    assert!(optimal > 200 && infeasible > 200 && unbounded > 200 && open <= 40, "{told}");
    println!("{told}");
}

#[test]
fn duals_are_derivatives_of_the_objective() {
    let mut tried = 0;
    for &backend in Backend::ALL.iter().filter(|backend| backend.gives_duals()) {
        for seed in 200..240 {
            let programme = random::feasible_and_bounded(seed);
            let solution = solve(backend, &programme).unwrap();
            for (index, dual) in solution.duals.unwrap().into_iter().enumerate() {
                let moved = |by: f64| {
                    let mut moved = programme.clone();
                    moved.rows[index].rhs += by;
                    solve(Backend::Microlp, &moved).map(|solution| solution.objective)
                };
                let (Ok(below), Ok(above)) = (moved(-1e-4), moved(1e-4)) else { continue };
                let left = (solution.objective - below) / 1e-4;
                let right = (above - solution.objective) / 1e-4;
                // At a kink the derivative is not one number; any between
                // those of the two sides is a multiplier.
                let (least, most) = (left.min(right), left.max(right));
                assert!(
                    dual >= least - 1e-3 && dual <= most + 1e-3,
                    "{}, seed {seed}, row {index}: {dual} outside {least} to {most}",
                    backend.name()
                );
                tried += 1;
            }
        }
    }
    assert!(tried > 200, "only {tried} rows could be moved");
}

#[test]
fn signs_of_duals_follow_the_convention() {
    for &backend in Backend::ALL.iter().filter(|backend| backend.gives_duals()) {
        let solution = solve(backend, &two_columns()).unwrap();
        let duals = solution.duals.unwrap();
        assert_close(duals[0], 2.0, 1e-6, backend.name());
        assert_close(duals[1], 0.0, 1e-6, backend.name());
        assert_close(solution.bound.unwrap(), 11.0, 1e-6, backend.name());

        // minimise 2x + 3y, x + y >= 4, x <= 3 as a row: one more unit wanted
        // costs 3, one more unit of x allowed saves 1.
        let mut programme = Programme::default();
        let x = programme.column(2.0, 0.0, f64::INFINITY);
        let y = programme.column(3.0, 0.0, f64::INFINITY);
        programme.row(vec![(x, 1.0), (y, 1.0)], Relation::AtLeast, 4.0);
        programme.row(vec![(x, 1.0)], Relation::AtMost, 3.0);
        let duals = solve(backend, &programme).unwrap().duals.unwrap();
        assert_close(duals[0], 3.0, 1e-6, backend.name());
        assert_close(duals[1], -1.0, 1e-6, backend.name());
    }
}

#[test]
fn an_unbounded_programme_is_never_a_solution() {
    let mut along_a_row = Programme { sense: Sense::Maximise, ..Programme::default() };
    let x = along_a_row.column(1.0, 0.0, f64::INFINITY);
    let y = along_a_row.column(1.0, 0.0, f64::INFINITY);
    along_a_row.row(vec![(x, 1.0), (y, -1.0)], Relation::AtMost, 1.0);

    let mut free_column = Programme::default();
    let x = free_column.column(1.0, f64::NEG_INFINITY, f64::INFINITY);
    let y = free_column.column(0.0, 0.0, 1.0);
    free_column.row(vec![(x, 1.0), (y, 1.0)], Relation::AtMost, 1.0);

    for &backend in Backend::ALL {
        for programme in [&along_a_row, &free_column] {
            assert_eq!(solve(backend, programme), Err(SolveError::Unbounded), "{}", backend.name());
        }
    }
}

#[test]
fn an_infeasible_programme_is_told_so() {
    let mut contradiction = Programme::default();
    let x = contradiction.column(1.0, 0.0, f64::INFINITY);
    let y = contradiction.column(1.0, 0.0, f64::INFINITY);
    contradiction.row(vec![(x, 1.0), (y, 1.0)], Relation::AtMost, 1.0);
    contradiction.row(vec![(x, 1.0), (y, 2.0)], Relation::AtLeast, 3.0);

    let mut beyond_a_bound = Programme::default();
    let x = beyond_a_bound.column(1.0, 0.0, 2.0);
    let y = beyond_a_bound.column(-1.0, 1.0, 1.0);
    beyond_a_bound.row(vec![(x, 1.0), (y, -1.0)], Relation::Equal, 4.0);

    // Infeasible, and with a ray as well.
    let mut both = Programme { sense: Sense::Maximise, ..Programme::default() };
    let x = both.column(1.0, 0.0, f64::INFINITY);
    let y = both.column(1.0, 0.0, f64::INFINITY);
    both.row(vec![(x, 1.0), (y, -1.0)], Relation::AtMost, -2.0);
    both.row(vec![(x, 1.0), (y, -1.0)], Relation::AtLeast, 2.0);

    let mut crossing = two_columns();
    crossing.columns[0].lower = 3.5;

    for &backend in Backend::ALL {
        for (programme, name) in [
            (&contradiction, "contradiction"),
            (&beyond_a_bound, "beyond a bound"),
            (&both, "both"),
            (&crossing, "crossing bounds"),
        ] {
            assert_eq!(solve(backend, programme), Err(SolveError::Infeasible), "{}: {name}", backend.name());
        }
    }
}

#[test]
fn a_malformed_programme_is_refused() {
    let mut not_a_number = two_columns();
    not_a_number.rows[0].coefficients[0].1 = f64::NAN;
    let mut cost = two_columns();
    cost.columns[0].cost = f64::INFINITY;
    let mut bound = two_columns();
    bound.columns[0].upper = f64::NAN;
    let mut rhs = two_columns();
    rhs.rows[1].rhs = f64::NAN;
    let mut twice = two_columns();
    twice.rows[0].coefficients.push((0, 1.0));
    let mut nowhere = two_columns();
    nowhere.rows[0].coefficients.push((2, 1.0));
    for &backend in Backend::ALL {
        for programme in [&not_a_number, &cost, &bound, &rhs, &twice, &nowhere] {
            assert!(matches!(solve(backend, programme), Err(SolveError::Invalid(_))), "{}", backend.name());
        }
    }
}

#[test]
fn degenerate_shapes_are_no_trouble() {
    let empty = Programme::default();
    let mut without_rows = Programme::default();
    without_rows.column(2.0, -1.0, 5.0);
    without_rows.column(-1.0, 0.0, 3.0);
    without_rows.column(0.0, 4.0, 6.0);
    let mut open = without_rows.clone();
    open.column(-1.0, 0.0, f64::INFINITY);
    // A row of nothing, once true and once false.
    let mut hollow = two_columns();
    hollow.row(Vec::new(), Relation::AtMost, 1.0);
    let mut false_row = two_columns();
    false_row.row(vec![(0, 0.0)], Relation::AtLeast, 1.0);
    for &backend in Backend::ALL {
        assert_eq!(solve(backend, &empty).unwrap().objective, 0.0);
        let solution = solve(backend, &without_rows).unwrap();
        assert_eq!((solution.x, solution.objective), (vec![-1.0, 3.0, 4.0], -5.0));
        assert_eq!(solve(backend, &open), Err(SolveError::Unbounded));
        assert_close(solve(backend, &hollow).unwrap().objective, 11.0, 1e-6, backend.name());
        assert_eq!(solve(backend, &false_row), Err(SolveError::Infeasible), "{}", backend.name());
    }
}

#[test]
fn whole_numbers_come_back_whole() {
    // maximise 5x + 4y, 6x + 4y <= 24, x + 2y <= 6: 21 at (3, 1.5) in parts,
    // 20 at (4, 0) in whole numbers.
    let mut programme = Programme { sense: Sense::Maximise, ..Programme::default() };
    let x = programme.integer_column(5.0, 0.0, 10.0);
    let y = programme.integer_column(4.0, 0.0, f64::INFINITY);
    programme.row(vec![(x, 6.0), (y, 4.0)], Relation::AtMost, 24.0);
    programme.row(vec![(x, 1.0), (y, 2.0)], Relation::AtMost, 6.0);
    for &backend in Backend::ALL {
        if !backend.takes_integers() {
            assert!(matches!(solve(backend, &programme), Err(SolveError::Unsupported(_))));
            continue;
        }
        let solution = solve(backend, &programme).unwrap();
        assert_eq!((solution.x, solution.duals), (vec![4.0, 0.0], None), "{}", backend.name());
        assert_close(solution.objective, 20.0, 1e-9, backend.name());
    }
    programme.row(vec![(x, 2.0), (y, -2.0)], Relation::Equal, 1.0);
    assert_eq!(solve(Backend::Microlp, &programme), Err(SolveError::Infeasible));
}

#[test]
fn a_mixed_programme_without_end_is_not_called_infeasible() {
    let mut programme = Programme { sense: Sense::Maximise, ..Programme::default() };
    let x = programme.integer_column(1.0, 0.0, f64::INFINITY);
    let y = programme.column(1.0, 0.0, f64::INFINITY);
    programme.row(vec![(x, 1.0), (y, -1.0)], Relation::AtMost, 0.5);
    for &backend in Backend::ALL.iter().filter(|backend| backend.takes_integers()) {
        let answer = solve(backend, &programme);
        let honest = matches!(answer, Err(SolveError::Unbounded | SolveError::NotCertain(_)));
        assert!(honest, "{}: {answer:?}", backend.name());
    }
}

#[test]
fn a_deadline_or_a_stop_that_has_come_is_honoured() {
    let late = Control::default().within(Duration::ZERO);
    let stopped = Control { stop: Arc::new(AtomicBool::new(true)), ..Control::default() };
    for &backend in Backend::ALL {
        for control in [&late, &stopped] {
            assert_eq!(backend::solve(backend, &two_columns(), control), Err(SolveError::TimeLimit));
        }
    }
}

#[test]
fn the_default_settles_what_the_simplex_does_and_refuses_the_rest() {
    let solution = backend::solve_default(&two_columns(), &Control::default()).unwrap();
    assert_close(solution.objective, 11.0, 1e-6, "default");
    let mut bad = two_columns();
    bad.columns[0].cost = f64::NAN;
    assert!(matches!(backend::solve_default(&bad, &Control::default()), Err(SolveError::Invalid(_))));
}
