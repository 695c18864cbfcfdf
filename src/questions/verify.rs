//! Whether a certificate proves what it claims.

use super::{Outcome, Resolved};
use crate::analysis::basis::in_basis;
use crate::analysis::verify::Verification;
use crate::certificate::Certificate;
use crate::formula::Formula;
use crate::results::states::Certified;
use crate::results::verify::VerifyReport;

/// What the check came to.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All of it.
    pub report: VerifyReport,
}

impl Answer {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        if self.report.status == Certified::Proven { Outcome::Answered } else { Outcome::No }
    }
}

/// Checks a certificate; `formula` as it was read, unless the certificate says
/// that there is none.
pub fn ask(of: &Resolved, formula: Option<&Formula>, certificate: &Certificate) -> Answer {
    let Resolved { problem, brief, .. } = of;
    let formula = formula.map(|formula| in_basis(&problem.palette, formula, problem.basis));
    // The proof is by what the formula's own film leaves at each stage.
    let own = formula.as_ref().map(|formula| problem.as_it_dries(formula));
    let problem = own.as_ref().unwrap_or(problem);
    let verification = Verification::of(problem, brief, formula.as_ref(), certificate);
    let report = VerifyReport::new(problem, brief, formula.is_some(), verification, of.warnings.clone());
    Answer { report }
}
