//! Writing down what a solution rests on, so that it can be checked without
//! the search.

use super::search::Purpose;
pub use super::search::Unwritten;
use super::{Failure, Solution, Status, quiet, search};
use crate::certificate::{self, Certificate, Claim, Entry, Multipliers, column_names};
use crate::control::Control;
use crate::model::Blend;
use crate::problem::Problem;
use crate::tolerance::loss::CERTIFICATE_BELOW;

/// The text of a certificate for a solution, or why there is none.
///
/// # Errors
/// When what was written cannot be read again, or the proof panicked.
pub fn certify(
    problem: &Problem,
    solution: &Solution,
    control: &Control,
) -> Result<Result<String, Unwritten>, Failure> {
    if !problem.is_linear() {
        let by = problem.laws_in_words();
        let why = format!("a certificate speaks of the linear law alone, and the brief is judged by {by}");
        return Err(Failure::Unsupported(why));
    }
    let blend = Blend::new(problem);
    let names = column_names(&blend, &problem.palette);
    let loss = solution.answer.as_ref().map(|answer| answer.evaluation.loss);
    let purpose = match (solution.status, loss, solution.bound) {
        (Status::Infeasible, ..) => Purpose::None,
        (Status::Optimal, Some(loss), Some(_)) => Purpose::NoneBelow(loss - CERTIFICATE_BELOW * loss.max(1.0)),
        (_, _, Some(bound)) => Purpose::NoneBelow(bound),
        _ => return Ok(Err(Unwritten::NothingProven)),
    };
    let claim = purpose.claim();
    let blend = certificate::claimed(claim, &blend);
    let proof = match claim {
        // No loss is below 0.
        Claim::NoneBelow(0.0) => {
            let nothing = Multipliers { objective: 1.0, ..Multipliers::default() };
            let entries = vec![Entry::Closed(nothing)];
            let proof = Certificate { claim, columns: names.clone(), remainders: Vec::new(), d: [None, None], entries };
            certificate::check(&proof, &blend, &names).map(|_| proof).map_err(|_| Unwritten::NotClosed)
        }
        _ => quiet::catch(|| search::prove(&blend, names, purpose, control)).map_err(Failure::Internal)?,
    };
    let proof = match proof {
        Ok(proof) => proof,
        Err(why) => return Ok(Err(why)),
    };
    // Every line passed the check when it was written, so what is read back
    // passes it if it is the same.
    let text = certificate::write(&proof);
    match certificate::read(&text) {
        Ok(read) if read == proof => Ok(Ok(text)),
        _ => Err(Failure::Internal("the certificate is not read as it was written".to_owned())),
    }
}
