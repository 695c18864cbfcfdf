//! The normal equations of a fit, solved by their structure.
//!
//! Without the trials' totals the scores of one descriptor meet those of another
//! only through the logarithms of strengths and tenacities, so that the matrix is an arrow:
//! one block `B` for each descriptor, and a border `L` for the logarithms. In match balance
//! trial `t` ties its descriptors together by its total, a change of rank two,
//! `w f^2 (-[1 h][q h]' - [q h][1 h]' + q'q [1 h][1 h]') = U K U'`. With `z = K U'x` as
//! further unknowns the matrix is an arrow again, whose border is `G = [U L]`:
//!
//! ```text
//! [ B   U    L  ]        M = [ -inv(K)  0  ] - G' inv(B) G
//! [ U' -invK 0  ]            [  0       Huu]
//! [ L'  0   Huu ]
//! ```
//!
//! and the inverse of the whole is `inv(B)` in its blocks plus `Y inv(M) Y'` with
//! `Y = inv(B) G` for the scores and `-1` for the logarithms themselves.

use nalgebra::{Cholesky, DMatrix, Dyn};

use super::model::{Evidence, Prediction};
use super::unknowns::Unknowns;

/// The scores of one descriptor that are free.
struct Block {
    /// Their places among the unknowns.
    places: Vec<usize>,
    factor: Cholesky<f64, Dyn>,
    /// `inv(B) G` in these rows.
    solved: DMatrix<f64>,
}

/// A matrix `J'WJ + (1 + damping) P`, `P` the prior's precision, ready to be solved.
pub struct System {
    size: usize,
    /// Where the logarithms begin.
    strengths: usize,
    /// Columns of the border that stand for trials' totals.
    totals: usize,
    blocks: Vec<Block>,
    /// The inverse of `M`.
    core: DMatrix<f64>,
}

/// Where a score stands: its block, and its row there.
type Seat = Option<(usize, usize)>;

impl System {
    /// Builds and factors the matrix over the unknowns that are free. `None`
    /// where it is singular to rounding: more damping helps.
    pub fn new(
        evidence: &[Evidence],
        predictions: &[Prediction],
        unknowns: &Unknowns,
        free: &[bool],
        damping: f64,
    ) -> Option<System> {
        let (size, strengths) = (unknowns.len(), unknowns.score_count());
        let in_balance: Vec<bool> = evidence
            .iter()
            .zip(predictions)
            .map(|(one, prediction)| one.weight() > 0.0 && !prediction.portions.is_empty())
            .collect();
        let totals = 2 * in_balance.iter().filter(|balance| **balance).count();
        let columns = totals + size - strengths;
        let precision = |at: usize| (1.0 + damping) * unknowns.deviations[at].powi(-2);

        let mut seats: Vec<Seat> = vec![None; strengths];
        let mut matrices = Vec::new();
        let mut places: Vec<Vec<usize>> = Vec::new();
        for block in unknowns.blocks() {
            let own: Vec<usize> = block.filter(|&at| free[at]).collect();
            own.iter().enumerate().for_each(|(row, &at)| seats[at] = Some((places.len(), row)));
            matrices.push(DMatrix::from_fn(own.len(), own.len(), |a, b| if a == b { precision(own[a]) } else { 0.0 }));
            places.push(own);
        }
        let mut borders: Vec<DMatrix<f64>> = places.iter().map(|own| DMatrix::zeros(own.len(), columns)).collect();
        let mut core = DMatrix::zeros(columns, columns);
        (strengths..size).for_each(|at| core[(totals + at - strengths, totals + at - strengths)] = precision(at));

        let mut total = 0;
        for ((one, prediction), balance) in evidence.iter().zip(predictions).zip(&in_balance) {
            let (weight, factor) = (one.weight(), prediction.factor);
            let portions = &prediction.portions;
            let columns_of: Vec<Option<usize>> =
                one.logs(unknowns).into_iter().map(|at| Some(totals + at? - strengths)).collect();
            // What a balance takes from every row: the portions' mean of the slopes.
            let mean = |column: usize| -> f64 {
                portions.iter().zip(&prediction.by_log).map(|(portion, row)| portion * row[column]).sum()
            };
            let means: Vec<f64> = (0..columns_of.len()).map(mean).collect();
            for (row, &(descriptor, _)) in one.judged.iter().enumerate() {
                let seat = |part: usize| unknowns.score(one.parts[part].0, descriptor).and_then(|at| seats[at]);
                let here: Vec<Seat> = (0..one.parts.len()).map(seat).collect();
                for (part, (block, at)) in here.iter().enumerate().filter_map(|(part, seat)| Some((part, (*seat)?))) {
                    let share = prediction.shares[part];
                    for (other, seat) in here.iter().enumerate() {
                        if let Some((_, to)) = seat {
                            matrices[block][(at, *to)] += weight * factor * factor * share * prediction.shares[other];
                        }
                    }
                    if *balance {
                        borders[block][(at, total)] += share;
                        borders[block][(at, total + 1)] += portions[row] * share;
                    }
                    for (other, column) in columns_of.iter().enumerate() {
                        if let Some(column) = column {
                            let slope = prediction.by_log[row][other] - means[other];
                            borders[block][(at, *column)] += weight * factor * share * slope;
                        }
                    }
                }
                add_square(&mut core, &columns_of, &prediction.by_log[row], weight);
            }
            if one.log_strength.is_some() {
                add_square(&mut core, &columns_of, &prediction.strength_by_log, one.strength_weight());
            }
            if prediction.beyond > 0.0 {
                add_square(&mut core, &columns_of, &prediction.beyond_by_log, one.beyond_weight());
            }
            if *balance {
                let scale = 1.0 / (weight * factor * factor);
                core[(total, total + 1)] += scale;
                core[(total + 1, total)] += scale;
                core[(total + 1, total + 1)] += scale * portions.iter().map(|portion| portion * portion).sum::<f64>();
                total += 2;
            }
        }
        let mut blocks = Vec::with_capacity(places.len());
        for ((places, matrix), border) in places.into_iter().zip(matrices).zip(borders) {
            if places.is_empty() {
                continue;
            }
            let factor = Cholesky::new(matrix)?;
            let solved = factor.solve(&border);
            // A product of whole matrices is blocked; one by columns is not.
            core -= border.transpose() * &solved;
            blocks.push(Block { places, factor, solved });
        }
        let core = if columns == 0 { core } else { core.lu().try_inverse()? };
        core.iter().all(|value| value.is_finite()).then_some(System { size, strengths, totals, blocks, core })
    }

    /// Solves for several right sides; what is not free stays 0.
    pub fn solve(&self, right: &DMatrix<f64>) -> DMatrix<f64> {
        let sides = right.ncols();
        let mut solution = DMatrix::zeros(self.size, sides);
        let mut rest = DMatrix::zeros(self.core.nrows(), sides);
        rest.rows_mut(self.totals, self.size - self.strengths)
            .copy_from(&right.rows(self.strengths, self.size - self.strengths));
        let parts: Vec<DMatrix<f64>> = self
            .blocks
            .iter()
            .map(|block| {
                let own = DMatrix::from_fn(block.places.len(), sides, |row, side| right[(block.places[row], side)]);
                rest -= block.solved.transpose() * &own;
                block.factor.solve(&own)
            })
            .collect();
        let inner = &self.core * rest;
        for (block, mut part) in self.blocks.iter().zip(parts) {
            part.gemm(-1.0, &block.solved, &inner, 1.0);
            for (row, &place) in block.places.iter().enumerate() {
                solution.row_mut(place).copy_from(&part.row(row));
            }
        }
        solution
            .rows_mut(self.strengths, self.size - self.strengths)
            .copy_from(&inner.rows(self.totals, self.size - self.strengths));
        solution
    }

    /// The diagonal of the inverse; 0 for what is not free.
    pub fn variances(&self) -> Vec<f64> {
        let mut variances = vec![0.0; self.size];
        for block in &self.blocks {
            let own = block.factor.inverse();
            let spread = &block.solved * &self.core;
            for (row, &place) in block.places.iter().enumerate() {
                variances[place] = own[(row, row)] + spread.row(row).dot(&block.solved.row(row));
            }
        }
        for (at, variance) in variances[self.strengths..].iter_mut().enumerate() {
            *variance = self.core[(self.totals + at, self.totals + at)];
        }
        variances
    }

    /// The inverse in full.
    pub fn inverse(&self) -> DMatrix<f64> {
        let mut spread = DMatrix::zeros(self.size, self.core.nrows());
        for block in &self.blocks {
            for (row, &place) in block.places.iter().enumerate() {
                spread.row_mut(place).copy_from(&block.solved.row(row));
            }
        }
        for at in self.strengths..self.size {
            spread[(at, self.totals + at - self.strengths)] = -1.0;
        }
        let mut inverse = &spread * &self.core * spread.transpose();
        for block in &self.blocks {
            let own = block.factor.inverse();
            for (row, &place) in block.places.iter().enumerate() {
                for (column, &other) in block.places.iter().enumerate() {
                    inverse[(place, other)] += own[(row, column)];
                }
            }
        }
        inverse
    }
}

fn add_square(core: &mut DMatrix<f64>, columns: &[Option<usize>], slopes: &[f64], weight: f64) {
    for (a, slope) in columns.iter().zip(slopes).filter_map(|(column, slope)| Some(((*column)?, slope))) {
        for (b, other) in columns.iter().zip(slopes).filter_map(|(column, slope)| Some(((*column)?, slope))) {
            core[(a, b)] += weight * slope * other;
        }
    }
}
