//! Programmes that are solved once, by borrowed solvers whose word is checked.
//!
//! Every backend goes through the same gate. The programme is looked over
//! before (no NaN, no repeated column, no bounds that cross), a panic of the
//! solver is caught, and its answer is judged in plain arithmetic after:
//!
//! - a solution must keep every row and bound within [`FEASIBILITY`];
//! - where the backend gives multipliers, they must prove the objective to be
//!   optimal within [`GAP`] (weak duality);
//! - "infeasible" must be backed by Farkas multipliers, "unbounded" by a ray
//!   and a feasible point (continuous programmes).
//!
//! What does not pass is [`SolveError::NotCertain`], never an answer.
//!
//! Three claims rest on the backend alone: the optimality of an answer of
//! [`Backend::Microlp`], which gives no multipliers, the optimality of a
//! mixed-integer answer, and the infeasibility of a mixed-integer programme.

mod certify;
mod check;
mod clarabel;
#[cfg(feature = "highs")]
mod highs;
mod microlp;
mod translate;

use thiserror::Error;

use super::quiet;
use crate::control::Control;
use crate::model::programme::Programme;
pub use crate::tolerance::borrowed::{FEASIBILITY, GAP};

/// A bound of this size or more counts as none at all.
pub const INFINITE_FROM: f64 = 1e20;

/// Which solver is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Backend {
    /// microlp: a simplex with branch and bound. Vertex solutions, no
    /// multipliers.
    Microlp,
    /// Clarabel: an interior point method. Multipliers, no whole numbers, and
    /// answers inside a face where the optimum is not unique.
    Clarabel,
    /// HiGHS: simplex with branch and bound. Vertex solutions and multipliers.
    #[cfg(feature = "highs")]
    Highs,
}

impl Backend {
    /// Every backend of this build.
    pub const ALL: &'static [Backend] = &[
        Backend::Microlp,
        Backend::Clarabel,
        #[cfg(feature = "highs")]
        Backend::Highs,
    ];

    /// The solver's own name.
    pub fn name(self) -> &'static str {
        match self {
            Backend::Microlp => "microlp",
            Backend::Clarabel => "Clarabel",
            #[cfg(feature = "highs")]
            Backend::Highs => "HiGHS",
        }
    }

    /// Whether a continuous answer comes with multipliers, and so with proof.
    pub fn gives_duals(self) -> bool {
        self != Backend::Microlp
    }

    /// Whether whole-number columns are understood.
    pub fn takes_integers(self) -> bool {
        self != Backend::Clarabel
    }
}

/// An answer that has passed the checks of this module.
#[derive(Clone, Debug, PartialEq)]
pub struct LpSolution {
    /// Value of each column, inside its bounds; whole where it must be.
    pub x: Vec<f64>,
    /// The objective, computed from `x` and the programme.
    pub objective: f64,
    /// One multiplier a row: the derivative of the optimal objective with
    /// respect to the row's right-hand side, whatever the sense and the
    /// relation. Minimising, a row "at most" has a multiplier <= 0 and a row
    /// "at least" one >= 0; maximising, the signs turn. `None` where the
    /// backend gives none and for mixed-integer programmes.
    pub duals: Option<Vec<f64>>,
    /// No point inside the rows and bounds has a better objective than this:
    /// what `duals` prove by weak duality. Where a column has no bound, its
    /// reduced cost counts as 0 from 1e-7 of its terms down.
    pub bound: Option<f64>,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum SolveError {
    /// No point keeps all rows and bounds.
    #[error("no point keeps all rows and bounds")]
    Infeasible,
    /// The objective can be improved without end.
    #[error("the objective can be improved without end")]
    Unbounded,
    /// The deadline passed, or a stop was asked for, before an optimum was
    /// found.
    #[error("stopped before an optimum was found")]
    TimeLimit,
    /// The solver gave an answer that its own numbers do not support.
    #[error("the solver's answer did not pass its check: {0}")]
    NotCertain(String),
    /// The solver gave up.
    #[error("the solver failed: {0}")]
    Failed(String),
    /// The backend cannot take this kind of programme.
    #[error("the solver cannot take this programme: {0}")]
    Unsupported(String),
    /// The programme itself is malformed.
    #[error("the programme is malformed: {0}")]
    Invalid(String),
}

/// What an adapter hands back before any check: point and multipliers.
struct Claimed {
    x: Vec<f64>,
    duals: Option<Vec<f64>>,
}

/// Solves a programme with one backend and checks the answer.
///
/// The deadline of `control` is passed to the solver; its stop flag is read
/// before the solver starts, not while it runs.
///
/// ```
/// use permil::control::Control;
/// use permil::model::programme::{Programme, Relation, Sense};
/// use permil::solve::backend::{Backend, solve};
///
/// let mut programme = Programme { sense: Sense::Maximise, ..Programme::default() };
/// let x = programme.column(3.0, 0.0, 4.0);
/// let y = programme.column(2.0, 0.0, f64::INFINITY);
/// programme.row(vec![(x, 1.0), (y, 1.0)], Relation::AtMost, 6.0);
/// let solution = solve(Backend::Microlp, &programme, &Control::default())?;
/// assert!((solution.objective - 16.0).abs() < 1e-9);
/// # Ok::<(), permil::solve::backend::SolveError>(())
/// ```
pub fn solve(backend: Backend, programme: &Programme, control: &Control) -> Result<LpSolution, SolveError> {
    check::input(programme)?;
    if programme.rows.is_empty() {
        return check::without_rows(programme);
    }
    match attempt(backend, programme, control) {
        Ok(claimed) => match check::answer(programme, claimed) {
            Err(SolveError::NotCertain(why)) => Err(certify::refuse(programme, control, why)),
            checked => checked,
        },
        Err(SolveError::Infeasible) => Err(certify::infeasible(backend, programme, control)),
        Err(SolveError::Unbounded) => Err(certify::unbounded(backend, programme, control)),
        Err(other) => Err(other),
    }
}

/// Solves a programme with microlp, and a continuous one with Clarabel where
/// microlp fails, goes in circles or gives an answer that does not pass.
///
/// microlp may use half of the time that is left; the answer of a programme
/// that takes longer comes from Clarabel.
pub fn solve_default(programme: &Programme, control: &Control) -> Result<LpSolution, SolveError> {
    if programme.is_mixed() {
        return solve(Backend::Microlp, programme, control);
    }
    let first = solve(Backend::Microlp, programme, &control.with_share(0.5));
    match first {
        Err(SolveError::Failed(_) | SolveError::NotCertain(_) | SolveError::TimeLimit) => {
            solve(Backend::Clarabel, programme, control)
        }
        settled => settled,
    }
}

/// Asks the backend, without any check of what it says.
fn attempt(backend: Backend, programme: &Programme, control: &Control) -> Result<Claimed, SolveError> {
    if control.should_stop() {
        return Err(SolveError::TimeLimit);
    }
    let asked = quiet::catch(|| match backend {
        Backend::Microlp => microlp::solve(programme, control),
        Backend::Clarabel => clarabel::solve(programme, control),
        #[cfg(feature = "highs")]
        Backend::Highs => highs::solve(programme, control),
    });
    asked.unwrap_or_else(|panic| Err(SolveError::Failed(format!("{} panicked: {panic}", backend.name()))))
}
