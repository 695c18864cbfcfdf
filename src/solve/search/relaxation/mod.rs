//! The linear relaxation that the search bounds with, for a fixed loss
//! `lambda`: minimise `N(x) - lambda D(x)` over the dose polytope
//! (Dinkelbach 1967). A node whose minimum is not below 0 holds no formula
//! with a loss below `lambda`. `views` has what several views add.
//!
//! Everything is scaled: doses by `r = min(d_ref / q, 1000 ppt)`, so that a
//! column is a share of D (a dose that stays by itself), and D by `d_ref`, the geometric mean of its least
//! and greatest value. Each material has two columns: one while it is
//! undecided, in `[0, most]`, that takes its part of the count rows, and one
//! once it is in, in `[least, most]`, that does not. So branching moves
//! bounds and never a coefficient.

mod build;
mod further;
mod multipliers;
mod rows;
mod span;
mod views;

use std::sync::Arc;

use super::lp::BoxedLp;
use super::remainder::Remainder;
use super::simplex::{Basis, Scratch, State};
use crate::model::Blend;
use build::build;

pub use rows::Rows;
pub use span::{Spans, greatest_loss, greatest_score};

/// The relaxation with the meaning of its columns.
#[derive(Clone)]
pub struct Relaxation {
    /// The programme. The cost of the column D is `-lambda`.
    pub lp: BoxedLp,
    /// Where each of its rows stands.
    pub rows: Rows,
    /// Number of materials; columns `0..n` are the undecided ones, `n..2n`
    /// those that are in.
    pub n: usize,
    /// ppt of one unit of each material's columns.
    pub scale_ppt: Vec<f64>,
    /// Greatest dose of each material, in units of its columns.
    pub most: Vec<f64>,
    /// Units of D that one unit of each material's columns adds.
    pub share: Vec<f64>,
    /// The columns that hold what a target is passed by or missed by.
    pub gaps: std::ops::Range<usize>,
    /// The column D.
    pub d: usize,
    /// D in model units of one unit of the column.
    pub d_ref: f64,
    /// The count rules.
    pub counts: Vec<Count>,
    /// For each material, the count rules that it falls under.
    pub counts_of: Arc<[Vec<usize>]>,
    /// What each rule was divided by.
    pub row_sizes: Vec<f64>,
    /// What coarse steps leave to the fine ones, each with its column.
    pub remainders: Vec<Kept>,
    /// The caps.
    pub caps: Vec<Capped>,
    /// Further views.
    pub views: Vec<ViewColumns>,
    /// What is known of theirs.
    pub reach: Reach,
    /// The loss that the rows of further views are set to.
    in_rows: f64,
    /// Box of every column at the start.
    pub lower: Vec<f64>,
    /// Box of every column at the start.
    pub upper: Vec<f64>,
    /// A unit column for each row.
    basis: Vec<usize>,
}

/// Where a count rule sits.
#[derive(Clone, Debug)]
pub struct Count {
    /// Its row.
    pub row: usize,
    /// The column fixed at the number of its materials that are in.
    pub used: usize,
    /// Its slack.
    pub slack: usize,
    /// The greatest number of its materials.
    pub most: usize,
    /// Its materials.
    pub members: Vec<usize>,
}

/// Where a remainder sits.
#[derive(Clone, Debug)]
pub struct Kept {
    /// The remainder.
    pub remainder: Remainder,
    /// The column that holds its sum.
    pub column: usize,
    /// ppt of one unit of the column.
    pub unit_ppt: f64,
}

/// Where a cap sits; `Rows` has its rows.
#[derive(Clone, Debug)]
pub struct Capped {
    /// The columns of its gaps.
    pub gaps: std::ops::Range<usize>,
    /// Its D in model units of one unit of its rows.
    pub typical: f64,
    /// For each target the weights of passing and of missing it.
    pub ends: Vec<(f64, f64)>,
}

/// Where a further view sits; `Rows` has its rows.
#[derive(Clone, Debug)]
pub struct ViewColumns {
    /// The column of its D.
    pub d: usize,
    /// The columns of its gaps.
    pub gaps: std::ops::Range<usize>,
    /// Its D in model units of one unit of its column.
    pub typical: f64,
    /// For each target the weights of passing and of missing it.
    pub ends: Vec<(f64, f64)>,
}

/// What the relaxation knows of all its views, in units of their columns of D.
#[derive(Clone, Copy, Debug)]
pub struct Reach {
    /// The least D of the further views; infinite where there is none.
    pub least: f64,
    /// The greatest loss that the rows can be set to.
    pub lambda: f64,
}

/// The relaxation has no point at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Empty;

impl Relaxation {
    /// Builds the relaxation of a blend, with D bounded as tightly as two
    /// linear programmes tell.
    ///
    /// # Errors
    /// When there is certainly no formula.
    pub fn new(blend: &Blend, scratch: &mut Scratch) -> Result<Relaxation, Empty> {
        build(blend, &Relaxation::spans(blend, scratch)?, false)
    }

    /// What is known of each D of a blend, and of every blend that is a part of it, as
    /// tightly as two linear programmes tell.
    ///
    /// # Errors
    /// When there is certainly no formula.
    pub fn spans(blend: &Blend, scratch: &mut Scratch) -> Result<Spans, Empty> {
        let crude = Spans::crude(blend).ok_or(Empty)?;
        build(blend, &crude, false)?.tighten_spans(&crude, scratch)
    }

    /// The relaxation of a blend of which each D is known.
    ///
    /// # Errors
    /// When there is certainly no formula.
    pub fn of_spans(blend: &Blend, spans: &Spans) -> Result<Relaxation, Empty> {
        build(blend, spans, false)
    }

    /// The relaxation of a blend that has no formula, for the multipliers that
    /// show it.
    ///
    /// # Errors
    /// When no material has an odour.
    pub fn of_nothing(blend: &Blend) -> Result<Relaxation, Empty> {
        build(blend, &Spans::crude(blend).ok_or(Empty)?, true)
    }

    /// A unit column for each row.
    pub fn basis(&self) -> &[usize] {
        &self.basis
    }

    /// The state at the start: no material has a box yet.
    pub fn start(&self) -> Option<State> {
        let state = State::new(&self.lp, self.lower.clone(), self.upper.clone(), &self.basis)?;
        // None of these columns has the loss in it.
        Some(State { lambda: self.in_rows, ..state })
    }

    /// The state from the basis of a relaxation that has the same rows and columns, each
    /// column in its box of a continuous model; `None` where the basis does not fit.
    pub fn start_from(&self, blend: &Blend, basis: &Basis) -> Option<State> {
        let (mut lower, mut upper) = (self.lower.clone(), self.upper.clone());
        for (column, least, most) in self.continuous_boxes(blend) {
            (lower[column], upper[column]) = (least, most);
        }
        let state = State::from_basis(&self.lp, lower, upper, basis)?;
        Some(State { lambda: self.in_rows, ..state })
    }

    /// The boxes of a continuous model's doses: (column, least, most). The
    /// second column of a material is the one that is in.
    pub fn continuous_boxes(&self, blend: &Blend) -> Vec<(usize, f64, f64)> {
        let usable = blend.columns.iter().enumerate().filter(|(_, column)| column.least <= column.most);
        let boxed = usable.map(|(k, column)| {
            let least = column.least.as_f64() / self.scale_ppt[k];
            if column.must { (self.n + k, least, self.most[k]) } else { (k, 0.0, self.most[k]) }
        });
        boxed.collect()
    }

    /// Sets the bound of a rule's row, by the row's index in the blend: no
    /// looser than it was when the slack was boxed.
    pub fn set_upper(&mut self, rule: usize, upper: f64) {
        self.lp.rhs[self.rows.rule(rule)] = upper / self.row_sizes[rule];
    }

    /// Sets the loss that the relaxation is solved for.
    pub fn set_lambda(&mut self, lambda: f64) {
        self.lp.cost[self.d] = -lambda;
        if !self.views.is_empty() {
            self.set_in_rows(lambda);
        }
    }

    /// The loss that the relaxation is solved for.
    pub fn lambda(&self) -> f64 {
        -self.lp.cost[self.d]
    }

    /// The loss of a state's point, `N / D`; of several views the greatest.
    pub fn ratio(&self, state: &State) -> f64 {
        if !self.views.is_empty() {
            return self.greatest_ratio(state);
        }
        let numerator = state.objective(&self.lp) + self.lambda() * state.value(self.d);
        numerator / state.value(self.d)
    }
}
