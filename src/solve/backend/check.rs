//! Plain arithmetic around a solver: what goes in, and what came out.

use super::{Claimed, FEASIBILITY, GAP, LpSolution, SolveError, translate};
use crate::model::programme::{Column, Programme, Relation, Sense};
use crate::tolerance::borrowed::RESIDUE;
use crate::tolerance::borrowed::WHOLE;

/// Refuses what a solver would let pass in silence or stumble over.
pub(super) fn input(programme: &Programme) -> Result<(), SolveError> {
    let invalid = |what: String| Err(SolveError::Invalid(what));
    for (j, column) in programme.columns.iter().enumerate() {
        if !column.cost.is_finite() {
            return invalid(format!("the cost of column {j} is {}", column.cost));
        }
        if column.lower.is_nan() || column.upper.is_nan() {
            return invalid(format!("a bound of column {j} is not a number"));
        }
        if has_no_value(column) {
            return Err(SolveError::Infeasible);
        }
    }
    let mut last_row = vec![usize::MAX; programme.columns.len()];
    for (i, row) in programme.rows.iter().enumerate() {
        if !row.rhs.is_finite() {
            return invalid(format!("the right-hand side of row {i} is {}", row.rhs));
        }
        for &(j, coefficient) in &row.coefficients {
            let Some(last) = last_row.get_mut(j) else {
                return invalid(format!("row {i} names column {j}, of {}", programme.columns.len()));
            };
            if std::mem::replace(last, i) == i {
                return invalid(format!("row {i} names column {j} twice"));
            }
            if !coefficient.is_finite() {
                return invalid(format!("the coefficient of column {j} in row {i} is {coefficient}"));
            }
        }
    }
    Ok(())
}

/// Whether no value lies between the bounds of a column.
fn has_no_value(column: &Column) -> bool {
    let (lower, upper) = whole_bounds(column);
    lower > upper || lower == f64::INFINITY || upper == f64::NEG_INFINITY
}

/// The bounds of a column, drawn in to whole numbers where it must be whole.
fn whole_bounds(column: &Column) -> (f64, f64) {
    if column.integer { (column.lower.ceil(), column.upper.floor()) } else { (column.lower, column.upper) }
}

/// A programme without rows needs no solver: every column goes to its better
/// bound, or to the value nearest to 0 where it costs nothing.
pub(super) fn without_rows(programme: &Programme) -> Result<LpSolution, SolveError> {
    let best = |column: &Column| {
        let (lower, upper) = whole_bounds(column);
        let cost = signed(programme.sense, column.cost);
        let value = match cost {
            0.0 => 0.0_f64.max(lower).min(upper),
            cost if cost > 0.0 => lower,
            _ => upper,
        };
        if value.abs() >= super::INFINITE_FROM { Err(SolveError::Unbounded) } else { Ok(value) }
    };
    let x = programme.columns.iter().map(best).collect::<Result<Vec<f64>, _>>()?;
    let objective = programme.objective(&x);
    Ok(LpSolution { x, objective, duals: Some(Vec::new()), bound: Some(objective) })
}

/// Accepts a claimed optimum, or says why it cannot be one.
pub(super) fn answer(programme: &Programme, claimed: Claimed) -> Result<LpSolution, SolveError> {
    let not_certain = |why: String| Err(SolveError::NotCertain(why));
    if claimed.x.len() != programme.columns.len() || claimed.x.iter().any(|value| !value.is_finite()) {
        return not_certain("a value is missing or not finite".to_owned());
    }
    let x: Vec<f64> = programme.columns.iter().zip(&claimed.x).map(|(column, &value)| tidy(column, value)).collect();
    let violation = programme.violation(&x);
    if violation > FEASIBILITY {
        return not_certain(format!("a row or bound is violated by {violation:e} of its size"));
    }
    if programme.columns.iter().zip(&x).any(|(column, value)| column.integer && value.fract() != 0.0) {
        return not_certain("a value that must be whole is not".to_owned());
    }
    let objective = programme.objective(&x);
    let bound = match &claimed.duals {
        None => None,
        Some(duals) => {
            let complete = duals.len() == programme.rows.len() && duals.iter().all(|dual| dual.is_finite());
            let Some(proof) = complete.then(|| dual_bound(programme, duals)).flatten() else {
                return not_certain("its multipliers prove no bound".to_owned());
            };
            let gap = (objective - proof.value).abs() / objective.abs().max(1.0);
            if gap.is_nan() || gap > GAP {
                return not_certain(format!("its multipliers leave a gap of {gap:e}"));
            }
            Some(proof.value)
        }
    };
    Ok(LpSolution { x, objective, duals: claimed.duals, bound })
}

/// Takes off the last digits: values a hair outside a bound or beside a whole
/// number. What is further off is left as it is, to be found by the checks.
fn tidy(column: &Column, value: f64) -> f64 {
    let whole = value.round();
    let value = if column.integer && (value - whole).abs() <= WHOLE { whole } else { value };
    let near = |bound: f64| (value - bound).abs() <= FEASIBILITY * bound.abs().max(1.0);
    if value < column.lower && near(column.lower) {
        column.lower
    } else if value > column.upper && near(column.upper) {
        column.upper
    } else {
        value
    }
}

/// What multipliers prove about the objective.
pub(super) struct Proof {
    /// No feasible point has a better objective than this.
    pub value: f64,
    /// Sum of the absolute terms that `value` is made of: its rounding error
    /// is a small multiple of 1e-16 of this.
    pub size: f64,
}

/// The bound of weak duality: for any multipliers y, minimising,
/// y b + sum over columns of min((c - yA) l, (c - yA) u).
///
/// Multipliers of the wrong sign are set to 0 first, so the bound holds
/// whatever the solver says. `None` where a reduced cost that is not zero
/// meets a missing bound.
pub(super) fn dual_bound(programme: &Programme, duals: &[f64]) -> Option<Proof> {
    let mut reduced: Vec<f64> = programme.columns.iter().map(|column| signed(programme.sense, column.cost)).collect();
    let mut sizes: Vec<f64> = reduced.iter().map(|cost| cost.abs()).collect();
    let mut value = 0.0;
    let mut size = 0.0;
    for (row, &dual) in programme.rows.iter().zip(duals) {
        let dual = signed(programme.sense, dual);
        let dual = match row.relation {
            Relation::AtMost => dual.min(0.0),
            Relation::AtLeast => dual.max(0.0),
            Relation::Equal => dual,
        };
        value += dual * row.rhs;
        size += (dual * row.rhs).abs();
        for &(j, coefficient) in &row.coefficients {
            reduced[j] -= dual * coefficient;
            sizes[j] += (dual * coefficient).abs();
        }
    }
    for ((column, &cost), &terms) in programme.columns.iter().zip(&reduced).zip(&sizes) {
        let (lower, upper) = translate::bounds(column);
        let bound = if cost >= 0.0 { lower } else { upper };
        if bound.is_finite() {
            value += cost * bound;
            size += (cost * bound).abs();
        } else if cost.abs() > RESIDUE * terms.max(1.0) {
            return None;
        }
    }
    value.is_finite().then_some(Proof { value: signed(programme.sense, value), size })
}

/// Turns a figure of the objective so that smaller is better, and back.
fn signed(sense: Sense, value: f64) -> f64 {
    match sense {
        Sense::Minimise => value,
        Sense::Maximise => -value,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// maximise x + y, x + 2y <= 4, x <= 2: 3 at (2, 1), multipliers 1/2.
    fn programme() -> Programme {
        let mut programme = Programme { sense: Sense::Maximise, ..Programme::default() };
        let x = programme.column(1.0, 0.0, 2.0);
        let y = programme.column(1.0, 0.0, f64::INFINITY);
        programme.row(vec![(x, 1.0), (y, 2.0)], Relation::AtMost, 4.0);
        programme
    }

    fn judge(x: Vec<f64>, duals: Option<Vec<f64>>) -> Result<LpSolution, SolveError> {
        answer(&programme(), Claimed { x, duals })
    }

    #[test]
    fn the_optimum_passes_with_its_bound() {
        let solution = judge(vec![2.0 + 1e-12, 1.0], Some(vec![0.5])).unwrap();
        assert_eq!((solution.x, solution.objective, solution.bound), (vec![2.0, 1.0], 3.0, Some(3.0)));
    }

    #[test]
    fn wrong_claims_do_not_pass() {
        let claims = [
            (vec![2.0, 0.5], Some(vec![0.5])),      // feasible, not optimal
            (vec![2.0, 1.1], Some(vec![0.5])),      // outside a row
            (vec![2.1, 0.95], Some(vec![0.5])),     // outside a bound
            (vec![2.0, 1.0], Some(vec![0.4])),      // multipliers that prove nothing
            (vec![2.0, 1.0], Some(vec![-0.5])),     // multipliers of the wrong sign
            (vec![2.0, 1.0], Some(vec![f64::NAN])), // no multipliers at all
            (vec![f64::NAN, 1.0], None),
            (vec![2.0], None),
        ];
        for (x, duals) in claims {
            let told = format!("{x:?} {duals:?}");
            assert!(matches!(judge(x, duals), Err(SolveError::NotCertain(_))), "{told}");
        }
    }

    #[test]
    fn an_integer_beside_a_whole_number_is_rounded_and_a_part_is_refused() {
        let mut whole = programme();
        whole.columns[0].integer = true;
        let judge = |x| answer(&whole, Claimed { x: vec![x, 1.0], duals: None });
        assert_eq!(judge(2.0 - 1e-9).unwrap().x, vec![2.0, 1.0]);
        assert!(matches!(judge(1.5), Err(SolveError::NotCertain(_))));
    }
}
