//! Which trial brings the end of the loop nearest.

use nalgebra::{DMatrix, DVector};
use permil::analysis::doubt::judge::{Judge, Odours};
use permil::analysis::doubt::sample::{BLOCK, Sampler};
use permil::brief::Match;
use permil::chance::Chance;
use permil::problem::Problem;

const BLOCKS: usize = 4;
const SEED: u64 = 0x0007_eac4;
const NORMALS: usize = 512;

/// A formula, or one material alone, in every draw.
pub struct Seen {
    /// Match in percent; none of a material alone.
    pub matches: Option<Vec<f64>>,
    /// Judged scores: rows are draws.
    pub judged: DMatrix<f64>,
}

/// Formulas on draws.
pub struct Draws {
    pub seen: Vec<Seen>,
    error: f64,
}

impl Draws {
    pub fn new(problem: &Problem, neat: &[Vec<f64>], is_formula: &[bool], matching: Match, error: f64) -> Draws {
        let judge = Judge::new(problem);
        let used: Vec<usize> = (0..problem.palette.materials.len())
            .filter(|&at| !problem.material(at).is_carrier() && neat.iter().any(|neat| neat[at] > 0.0))
            .collect();
        let sampler = Sampler::new(problem, used.iter().copied());
        let targets = judge.targets();
        let draws = BLOCKS * BLOCK;
        let mut seen: Vec<Seen> = is_formula
            .iter()
            .map(|is| Seen { matches: is.then(|| Vec::with_capacity(draws)), judged: DMatrix::zeros(draws, targets) })
            .collect();
        let mut odours = Odours::new(targets);
        for block in 0..BLOCKS {
            let drawn = sampler.first(SEED, block, BLOCK);
            for (neat, seen) in neat.iter().zip(&mut seen) {
                let parts: Vec<(usize, f64)> =
                    used.iter().enumerate().map(|(slot, &at)| (slot, neat[at])).filter(|(_, ppt)| *ppt > 0.0).collect();
                for draw in 0..BLOCK {
                    odours.fill(&judge, &parts, |slot| drawn[slot].draw(draw));
                    let whole: f64 = parts.iter().map(|&(slot, ppt)| drawn[slot].draw(draw).strength * ppt).sum();
                    if let Some(matches) = &mut seen.matches {
                        matches.push(judge.fidelity(judge.loss(&odours.of, odours.denominator)));
                    }
                    let total: f64 = odours.of.iter().sum();
                    for (target, odour) in odours.of.iter().enumerate() {
                        let points = match matching {
                            Match::Level => odour / whole,
                            Match::Balance => odour / total,
                        };
                        seen.judged[(block * BLOCK + draw, target)] = points;
                    }
                }
                if matching == Match::Balance {
                    // In points: at the mean total that will be smelled, about the target's.
                    let scale: f64 = problem.targets.iter().map(|target| target.score).sum();
                    if block + 1 == BLOCKS {
                        seen.judged *= scale;
                    }
                }
            }
        }
        for seen in &mut seen {
            for mut column in seen.judged.column_iter_mut() {
                let mean = column.mean();
                column.add_scalar_mut(-mean);
            }
        }
        Draws { seen, error }
    }

    pub fn mean(&self, at: usize) -> f64 {
        let matches = self.seen[at].matches.as_ref().expect("a formula");
        matches.iter().sum::<f64>() / matches.len() as f64
    }

    /// How the expected matches (rows) move with what a trial tells, in standard normal
    /// numbers (columns).
    pub fn moves(&self, trial: usize, matches: &DMatrix<f64>, judged: &[DMatrix<f64>]) -> DMatrix<f64> {
        let y = &judged[trial];
        let n = y.nrows() as f64;
        let own = y.transpose() * y / n + DMatrix::identity(y.ncols(), y.ncols()) * self.error.powi(2);
        let with = matches * y / n;
        let root = own.cholesky().expect("an error").l();
        // with * root^-T
        root.solve_lower_triangular(&with.transpose()).expect("a root").transpose()
    }

    /// Centred matches of the formulas: rows are formulas.
    pub fn matches(&self) -> (DMatrix<f64>, DVector<f64>) {
        let formulas: Vec<usize> = (0..self.seen.len()).filter(|at| self.seen[*at].matches.is_some()).collect();
        let means = DVector::from_fn(formulas.len(), |row, _| self.mean(formulas[row]));
        let matches = DMatrix::from_fn(formulas.len(), self.seen[0].judged.nrows(), |row, draw| {
            self.seen[formulas[row]].matches.as_ref().expect("a formula")[draw] - means[row]
        });
        (matches, means)
    }
}

/// Expected best after moves (formulas x normals).
pub fn expected_best(means: &DVector<f64>, moves: &DMatrix<f64>) -> f64 {
    let mut chance = Chance::new(SEED, 1);
    let normals = DMatrix::from_fn(moves.ncols(), NORMALS, |_, _| chance.normal());
    let moved = moves * &normals;
    let best = |column: usize, sign: f64| {
        (0..means.len()).map(|row| means[row] + sign * moved[(row, column)]).fold(f64::NEG_INFINITY, f64::max)
    };
    (0..NORMALS).map(|column| best(column, 1.0) + best(column, -1.0)).sum::<f64>() / (2 * NORMALS) as f64
}

/// By what trials are chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// How much is then to be expected of the best of the pool.
    Best,
    /// How much of what is unsure about the differences to the best of the pool goes.
    Differences,
}

/// Chooses so many trials, one after the other, among those allowed.
pub fn choose(draws: &Draws, allowed: &[bool], count: usize, by: By) -> Vec<usize> {
    let (mut matches, means) = draws.matches();
    let mut judged: Vec<DMatrix<f64>> = draws.seen.iter().map(|seen| seen.judged.clone()).collect();
    let best = means.imax();
    let mut known = DMatrix::zeros(means.len(), 0);
    let mut chosen = Vec::new();
    let mut chance = Chance::new(SEED, 2);
    while chosen.len() < count {
        let worth = |trial: usize| -> f64 {
            let moves = draws.moves(trial, &matches, &judged);
            match by {
                By::Best => {
                    let mut all = DMatrix::zeros(means.len(), known.ncols() + moves.ncols());
                    all.columns_mut(0, known.ncols()).copy_from(&known);
                    all.columns_mut(known.ncols(), moves.ncols()).copy_from(&moves);
                    expected_best(&means, &all)
                }
                By::Differences => {
                    let own = moves.row(best).clone_owned();
                    (0..means.len()).map(|row| (moves.row(row) - &own).norm_squared()).sum()
                }
            }
        };
        let open: Vec<usize> = (0..judged.len()).filter(|at| allowed[*at] && !chosen.contains(at)).collect();
        let worths: Vec<(f64, usize)> = open.iter().map(|&at| (worth(at), at)).collect();
        let Some(&(_, trial)) = worths.iter().rev().max_by(|a, b| a.0.total_cmp(&b.0)) else { break };
        let moves = draws.moves(trial, &matches, &judged);
        let mut all = DMatrix::zeros(means.len(), known.ncols() + moves.ncols());
        all.columns_mut(0, known.ncols()).copy_from(&known);
        all.columns_mut(known.ncols(), moves.ncols()).copy_from(&moves);
        known = all;
        chosen.push(trial);
        if chosen.len() < count {
            // What is left when this was smelled.
            let y = judged[trial].clone();
            let smelled =
                DMatrix::from_fn(y.nrows(), y.ncols(), |row, column| y[(row, column)] + draws.error * chance.normal());
            let n = y.nrows() as f64;
            let own = smelled.transpose() * &smelled / n;
            let Some(inverse) = own.try_inverse() else { break };
            let back = &inverse * smelled.transpose() / n;
            matches = &matches - (&matches * &back.transpose()) * smelled.transpose();
            for other in &mut judged {
                let by = &back * &*other;
                *other -= &smelled * by;
            }
        }
    }
    chosen
}
