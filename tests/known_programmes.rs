//! Programmes with known optima, on every backend.
//!
//! Data and optima stand in `tests/data/worked_lp.toml`, each with its source
//! and with what of it is from memory. Published are the NETLIB programmes and
//! the data that a source is named for; several textbook examples are from
//! memory, or made in the style of one, and every optimum and every step was
//! recomputed. Objectives are pinned and points only where they are unique;
//! never the path of a solver.

mod support;

use permil::control::Control;
use permil::model::programme::Programme;
use permil::solve::backend::{Backend, FEASIBILITY, LpSolution};
use permil::solve::ratio::{self, RatioError};
use support::published::{self, entry, number, numbers};
use support::{assert_close, mps, solve};

/// Relative tolerance of every objective.
const OBJECTIVE: f64 = 1e-7;
/// Relative tolerance of multipliers and of points that are unique.
const DETAIL: f64 = 1e-5;

/// Solves on every backend and checks the objective and the rows.
fn on_every_backend(programme: &Programme, optimum: f64, what: &str) -> Vec<(Backend, LpSolution)> {
    Backend::ALL
        .iter()
        .map(|&backend| {
            let what = format!("{what}, {}", backend.name());
            let solution = solve(backend, programme).unwrap_or_else(|error| panic!("{what}: {error}"));
            assert_close(solution.objective, optimum, OBJECTIVE, &what);
            assert!(programme.violation(&solution.x) <= FEASIBILITY, "{what}");
            (backend, solution)
        })
        .collect()
}

fn assert_all_close(got: &[f64], wanted: &[f64], what: &str) {
    for (index, (&got, &wanted)) in got.iter().zip(wanted).enumerate() {
        assert_close(got, wanted, DETAIL, &format!("{what} {index}"));
    }
}

/// An entry with its matrix in the file.
fn dense(id: &str) -> (Programme, Vec<(Backend, LpSolution)>) {
    let entry = entry("lp", id);
    let programme = published::dense(&entry);
    let solutions = on_every_backend(&programme, number(&entry["optimum"]), id);
    if let Some(x) = entry.get("x") {
        for (backend, solution) in &solutions {
            assert_all_close(&solution.x, &numbers(x), &format!("{id}, {}, x", backend.name()));
        }
    }
    (programme, solutions)
}

/// G. J. Stigler 1945. The optimum is the exact value; the historical figures
/// of 39.69 and 39.93 dollars a year, from memory, are not asserted.
#[test]
fn stiglers_diet() {
    let entry = entry("lp", "stigler");
    let (programme, names) = published::diet();
    assert_eq!((programme.columns.len(), programme.rows.len()), (77, 9));
    let basis = entry["basis_dollars_per_year"].as_table().unwrap();
    for (backend, solution) in on_every_backend(&programme, number(&entry["optimum_per_day"]), "diet") {
        assert_close(solution.objective * 365.0, number(&entry["optimum_per_365_days"]), OBJECTIVE, backend.name());
        for (name, dollars_per_day) in names.iter().zip(&solution.x) {
            let wanted = basis.get(name).map_or(0.0, number);
            assert_close(dollars_per_day * 365.0, wanted, DETAIL, &format!("{}: {name}", backend.name()));
        }
        let reached = numbers(&entry["nutrients_reached"]);
        for (row, wanted) in programme.rows.iter().zip(reached) {
            let sum = row.coefficients.iter().map(|&(j, a)| a * solution.x[j]).sum();
            assert_close(sum, wanted, DETAIL, backend.name());
        }
        if let Some(duals) = solution.duals {
            assert_all_close(&duals, &numbers(&entry["duals_per_day"]), "dual of nutrient");
        }
    }
}

/// NETLIB lp/data.
#[test]
fn netlib() {
    for (id, text) in [
        ("netlib_afiro", include_str!("data/lp/afiro.mps")),
        ("netlib_blend", include_str!("data/lp/blend.mps")),
        ("netlib_adlittle", include_str!("data/lp/adlittle.mps")),
    ] {
        let entry = entry("lp", id);
        let programme = mps::read(text).unwrap();
        assert_eq!(programme.rows.len() as f64, number(&entry["rows"]), "{id}");
        assert_eq!(programme.columns.len() as f64, number(&entry["cols"]), "{id}");
        on_every_backend(&programme, number(&entry["optimum"]), id);
        let published: f64 = entry["published_optimum"]
            .as_str()
            .map_or_else(|| number(&entry["published_optimum"]), |text| text.parse().unwrap());
        assert_close(number(&entry["optimum"]), published, 1e-10, id);
    }
}

/// The reader's RANGES and BOUNDS, which none of the files above needs.
#[test]
fn mps_ranges_and_bounds() {
    let text = "\
NAME          SMALL
ROWS
 N  COST
 L  ROOM
 E  BAND
COLUMNS
    X  COST  -1.0  ROOM  1.0
    X  BAND  1.0
    Y  COST  -2.0  ROOM  1.0
    Z  COST  1.0  BAND  -1.0
RHS
    RHS  ROOM  10.0  BAND  1.0
RANGES
    RNG  ROOM  4.0  BAND  -3.0
BOUNDS
 UP BND  Y  4.0
 LO BND  X  0.5
 MI BND  Z
 UP BND  Z  2.0
ENDATA
";
    let programme = mps::read(text).unwrap();
    assert_eq!((programme.rows.len(), programme.columns.len()), (4, 3));
    // y goes to 4, and x = z + 1 at the upper end of the band, where x and z
    // cancel; the range of the room asks for x >= 2.
    on_every_backend(&programme, -9.0, "ranges");
    assert!(mps::read("ROWS\n N COST\nCOLUMNS\n    X  NOWHERE  1.0\n").unwrap_err().starts_with("line 4"));
}

/// The textbook pet food: 0.52 for 100 g, and 0.07 for a gram less of fat.
#[test]
fn pet_food_blend() {
    let entry = entry("lp", "pet_food_blend");
    for (_, solution) in dense("pet_food_blend").1 {
        if let Some(duals) = solution.duals {
            let (upper, sum) = duals.split_at(4);
            assert_all_close(upper, &numbers(&entry["duals_ub"]), "dual of row");
            assert_close(sum[0], number(&entry["dual_sum"]), DETAIL, "dual of the sum");
        }
    }
}

/// H. P. Williams, section 1.2 (its optimum is from memory, and
/// recomputed).
#[test]
fn oil_blending_one_month() {
    let entry = entry("lp", "oil_blending_one_month");
    let (_, solutions) = dense("oil_blending_one_month");
    for (backend, solution) in solutions {
        assert_close(solution.objective, 17592.59, 1e-6, backend.name());
        if let Some(duals) = solution.duals {
            assert_all_close(&duals[..4], &numbers(&entry["duals_ub_max"]), "dual of row");
        }
    }
}

/// H. P. Williams, problem 12.1 (storage figures and its optimum are from
/// memory, and recomputed).
#[test]
fn food_manufacture_six_months() {
    let entry = entry("lp", "food_manufacture_1");
    let optimum = number(&entry["optimum"]);
    assert_close(optimum, number(&entry["remembered_optimum"]), 1e-5, "remembered");
    on_every_backend(&published::food_manufacture(), optimum, "food manufacture");
}

/// A SAS/OR example (upper bounds and optimum from memory, and recomputed).
#[test]
fn jet_fuel() {
    dense("jet_fuel_blending");
}

/// An ILOG example (production cost, effect of advertising and optimum from
/// memory, and recomputed). The blend is not unique; the advertising is.
#[test]
fn gasoline() {
    let entry = entry("lp", "gasoline_blending");
    let programme = published::gasoline();
    for (backend, solution) in on_every_backend(&programme, number(&entry["optimum"]), "gasoline") {
        let advertising = numbers(&entry["advertising_at_optimum"]);
        assert_all_close(&solution.x[9..], &advertising, &format!("{}, advertising", backend.name()));
    }
}

/// Textbook programmes whose data are from memory, and whose optima are
/// recomputed: Taha's feed mix, Beale's cycling programme, the cube of Klee
/// and Minty.
#[test]
fn from_memory() {
    for id in ["feed_mix", "beale_cycling", "klee_minty_3"] {
        dense(id);
    }
}

/// HiGHS check/instances/blending.mps.
#[test]
fn two_product_blend() {
    dense("two_product_blend");
}

/// The three linear-fractional programmes are from memory or made in the style
/// of a textbook; their optima and the steps of the runs were computed with
/// SciPy and stand in no source.
const FRACTIONAL: [&str; 3] = ["three_variables", "two_variables", "two_variables_b"];

#[test]
fn charnes_and_cooper_find_the_recomputed_ratios() {
    for id in FRACTIONAL {
        let entry = entry("lfp", id);
        let (programme, ratio) = published::fractional(&entry);
        for &backend in Backend::ALL {
            let what = format!("{id}, {}", backend.name());
            let solution = ratio::charnes_cooper(backend, &programme, &ratio, &Control::default())
                .unwrap_or_else(|error| panic!("{what}: {error}"));
            assert_close(solution.value, number(&entry["optimum"]), OBJECTIVE, &what);
            assert_all_close(&solution.x, &numbers(&entry["x"]), &what);
            assert_close(solution.tau * ratio.denominator_at(&solution.x), 1.0, 1e-7, &what);
            if let Some(tau) = entry.get("charnes_cooper_t") {
                assert_close(solution.tau, number(tau), DETAIL, &what);
            }
            if let Some(bound) = solution.bound {
                assert_close(bound, number(&entry["optimum"]), OBJECTIVE, &what);
            }
        }
    }
}

#[test]
fn dinkelbach_takes_the_recomputed_steps() {
    for id in FRACTIONAL {
        let entry = entry("lfp", id);
        let (programme, ratio) = published::fractional(&entry);
        let start = numbers(&entry["dinkelbach_from_x0"]);
        for &backend in Backend::ALL {
            let what = format!("{id}, {}", backend.name());
            let run = ratio::dinkelbach(backend, &programme, &ratio, Some(&start), &Control::default())
                .unwrap_or_else(|error| panic!("{what}: {error}"));
            assert!(run.converged, "{what}: {run:?}");
            assert_close(run.value, number(&entry["optimum"]), OBJECTIVE, &what);
            assert_all_close(&run.x, &numbers(&entry["x"]), &what);
            let wanted = numbers(&entry["dinkelbach_lambda"]).into_iter().zip(numbers(&entry["dinkelbach_F"]));
            for (step, (lambda, f)) in run.steps.iter().zip(wanted) {
                assert_close(step.lambda, lambda, DETAIL, &format!("{what}, lambda"));
                assert_close(step.f, f, DETAIL, &format!("{what}, F"));
            }
            if let Some(points) = entry.get("dinkelbach_x") {
                for (step, point) in run.steps.iter().zip(published::matrix(points)) {
                    // The last step ends where every point of the optimal
                    // ratio is as good as another.
                    if step.f > DETAIL {
                        assert_all_close(&step.x, &point, &format!("{what}, x"));
                    }
                }
            }
            // Without a start the end is the same.
            let run = ratio::dinkelbach(backend, &programme, &ratio, None, &Control::default()).unwrap();
            assert_close(run.value, number(&entry["optimum"]), OBJECTIVE, &what);
        }
    }
}

#[test]
fn dinkelbach_refuses_a_start_outside_the_rules() {
    let (programme, ratio) = published::fractional(&entry("lfp", "two_variables"));
    for start in [&[100.0, 0.0][..], &[0.0][..], &[f64::NAN, 0.0][..]] {
        let run = ratio::dinkelbach(Backend::Microlp, &programme, &ratio, Some(start), &Control::default());
        assert!(matches!(run, Err(RatioError::Start(_))), "{start:?}");
    }
}
