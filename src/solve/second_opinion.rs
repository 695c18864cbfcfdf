//! The second opinion of a borrowed solver on a continuous blend, on a share of all blends.

use super::{Failure, Solution, Status};
use crate::model::Blend;
use crate::tolerance::loss::PROVEN;

/// One blend in so many is asked twice.
const ONE_IN: u64 = 16;
/// Larger blends are not: a borrowed solver takes many times as long over them.
const MOST_COLUMNS: usize = 300;

/// Whether a blend is one of the share. Its own numbers decide, so that a brief is always
/// answered in the same way.
pub(super) fn is_due(blend: &Blend) -> bool {
    if blend.columns.len() > MOST_COLUMNS {
        return false;
    }
    // The constants of FNV-1a, over the bits of the numbers.
    let mix = |hash: u64, bits: u64| (hash ^ bits).wrapping_mul(0x0100_0000_01b3);
    let columns = blend.columns.iter().map(|column| column.weight.to_bits().rotate_left(21));
    let targets = blend.targets.iter().map(|target| target.score.to_bits().rotate_left(33));
    let hash = columns.chain(targets).fold(0xcbf2_9ce4_8422_2325, mix);
    (hash ^ (hash >> 32)).is_multiple_of(ONE_IN)
}

/// What a solver found, and what it proves.
#[derive(Clone, Copy, Debug)]
pub(super) struct Opinion {
    /// The loss of its formula, in score points; `None` without one.
    loss: Option<f64>,
    /// No formula loses less; infinite where there is none.
    bound: f64,
}

impl Opinion {
    /// That of a solution.
    pub fn of(solution: &Solution) -> Opinion {
        let bound = if solution.status == Status::Infeasible { f64::INFINITY } else { solution.bound.unwrap_or(0.0) };
        Opinion { loss: solution.answer.as_ref().map(|answer| answer.evaluation.loss), bound }
    }

    fn excludes(self, other: Opinion) -> bool {
        other.loss.is_some_and(|loss| loss < self.bound - PROVEN * loss.max(1.0))
    }

    fn in_words(self) -> String {
        let found = self.loss.map_or("nothing".to_owned(), |loss| format!("a loss of {loss}"));
        format!("found {found} and proves {}", self.bound)
    }
}

/// Whether neither excludes by its proof what the other has found.
///
/// # Errors
/// They do: one of them is wrong, and no answer is to be trusted.
pub(super) fn agrees(own: Opinion, borrowed: Opinion) -> Result<(), Failure> {
    if own.excludes(borrowed) || borrowed.excludes(own) {
        let (own, borrowed) = (own.in_words(), borrowed.in_words());
        return Err(Failure::Internal(format!("two solvers disagree: one {own}, the other {borrowed}")));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_proof_must_not_exclude_what_another_solver_found() {
        let opinion = |loss: Option<f64>, bound| Opinion { loss, bound };
        let (found, none, open) = (opinion(Some(3.0), 3.0), opinion(None, f64::INFINITY), opinion(None, 2.0));
        assert_eq!(agrees(found, found), Ok(()));
        assert_eq!(agrees(none, open), Ok(()));
        assert_eq!(agrees(found, opinion(Some(3.0 - 1e-7), 2.9)), Ok(()));
        for (one, other) in
            [(found, none), (found, opinion(Some(2.9), 2.9)), (opinion(Some(3.0), 2.0), opinion(None, 3.1))]
        {
            assert!(agrees(one, other).is_err() && agrees(other, one).is_err(), "{one:?} {other:?}");
        }
    }
}
