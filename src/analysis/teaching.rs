//! Mods that teach while they aim: of some formulas near the best to be expected, which one
//! brings the end of a loop nearest once it was weighed and smelled?
//!
//! The numbers of the palette are drawn within what trials have left open. In every draw each
//! formula of a pool has a match, and would smell of so many points of each descriptor. What a
//! nose will tell of one of them moves the matches that are to be expected of all the others:
//! to first order by `C inv(V + R)`, with `V` the covariance of what would be smelled over the
//! draws, `R` the error of the nose and `C` the covariance of matches with it. So moved the
//! best of the pool is worth more on average than the best is now, since what is chosen then
//! is chosen knowing more (the knowledge gradient: P. I. Frazier, W. B. Powell, S. Dayanik,
//! INFORMS Journal on Computing 21, 2009). Several mods for one session are chosen one after
//! the other, each by what it adds to those before it.

use nalgebra::{DMatrix, DVector};

use super::doubt::judge::{Judge, Odours};
use super::doubt::sample::{BLOCK, Block, Sampler};
use super::doubt::spread::quantile;
use crate::brief::Match;
use crate::chance::Chance;
use crate::control::Control;
use crate::formula::Formula;
use crate::pool::in_parallel;
use crate::problem::Problem;
use crate::solve::{Answer, kept};

/// Points that the expected match of a mod may lie below the best, unless something else is
/// said.
pub const MARGIN: f64 = 3.0;
/// Blocks of draws.
const BLOCKS: usize = 4;
/// The seed of these draws.
const SEED: u64 = 0x0007_eac4;
/// Standard normal numbers for what may be smelled; each counts with both signs.
const NORMALS: usize = 512;

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Points that the expected match of a mod may lie below the best of the pool.
    pub margin: f64,
    /// How many mods for one session.
    pub count: usize,
    /// How judged scores are compared.
    pub matching: Match,
    /// One standard deviation of a judged score, in points.
    pub error: f64,
}

/// A mod for the session.
#[derive(Clone, Debug)]
pub struct Mod {
    /// The formula; inside the rules.
    pub answer: Answer,
    /// The match to be expected of it, in percent.
    pub expected: f64,
    /// Nine draws in ten lie between these.
    pub nine_in_ten: (f64, f64),
    /// The match to be expected of the best of the pool once this mod and those before it were
    /// smelled.
    pub best_after: f64,
}

/// What to weigh for a session.
#[derive(Clone, Debug)]
pub struct Teaching {
    /// What was asked for.
    pub asked: Asked,
    /// How many formulas there were to choose from, within the margin.
    pub pool: usize,
    /// The match to be expected of the best of the pool now.
    pub best_now: f64,
    /// The mods, in the order in which they were chosen.
    pub mods: Vec<Mod>,
}

/// Chooses mods among the formulas of a pool; `None` where none of them has an odour.
pub fn teaching(problem: &Problem, pool: &[Formula], asked: Asked, control: &Control) -> Option<Teaching> {
    let mut formulas: Vec<&Formula> = Vec::new();
    for formula in pool {
        if formulas.iter().all(|other| other.parts != formula.parts) {
            formulas.push(formula);
        }
    }
    let seen = seen(problem, &formulas, asked.matching)?;
    let means = DVector::from_iterator(seen.len(), seen.iter().map(|one| mean(&one.matches)));
    let best_now = means.max();
    let open: Vec<usize> = (0..seen.len()).filter(|at| means[*at] >= best_now - asked.margin).collect();
    let mut known = Known::new(&seen, &means, asked.error);
    let mut left = open.clone();
    let mut mods = Vec::new();
    while mods.len() < asked.count {
        let worths: Vec<Option<f64>> = in_parallel(&left, control, |&at| known.best_after(at, &means));
        let worths: Option<Vec<f64>> = worths.into_iter().collect();
        // Stopped: what was found so far. Of equals the first.
        let Some(worths) = worths.filter(|worths| !worths.is_empty()) else { break };
        let best = (0..worths.len()).rev().max_by(|a, b| worths[*a].total_cmp(&worths[*b]))?;
        let at = left.remove(best);
        known.smell(at);
        let Some(answer) = kept(problem, formulas[at]) else { continue };
        let mut ordered = seen[at].matches.clone();
        ordered.sort_by(f64::total_cmp);
        let nine_in_ten = (quantile(&ordered, 0.05), quantile(&ordered, 0.95));
        mods.push(Mod { answer, expected: means[at], nine_in_ten, best_after: worths[best].max(best_now) });
    }
    (!mods.is_empty()).then_some(Teaching { asked, pool: open.len(), best_now, mods })
}

/// A formula in every draw.
struct Seen {
    /// Its match in percent.
    matches: Vec<f64>,
    /// What is judged of it, less the mean over the draws: rows are draws.
    judged: DMatrix<f64>,
}

fn seen(problem: &Problem, formulas: &[&Formula], matching: Match) -> Option<Vec<Seen>> {
    let judge = Judge::new(problem);
    let neat: Vec<Vec<f64>> = formulas.iter().map(|formula| problem.neat_ppt(formula)).collect();
    let smells = |at: &usize| !problem.material(*at).is_carrier() && neat.iter().any(|neat| neat[*at] > 0.0);
    let used: Vec<usize> = (0..problem.palette.materials.len()).filter(smells).collect();
    let sampler = Sampler::new(problem, used.iter().copied());
    let drawn: Vec<Vec<Block>> = (0..BLOCKS).map(|block| sampler.first(SEED, block, BLOCK)).collect();
    let one = |neat: &Vec<f64>| -> Option<Seen> {
        let parts: Vec<(usize, f64)> =
            used.iter().enumerate().map(|(slot, &at)| (slot, neat[at])).filter(|(_, ppt)| *ppt > 0.0).collect();
        let mut odours = Odours::new(judge.targets());
        let mut matches = Vec::with_capacity(BLOCKS * BLOCK);
        let mut judged = DMatrix::zeros(BLOCKS * BLOCK, judge.targets());
        for row in 0..BLOCKS * BLOCK {
            let (block, draw) = (&drawn[row / BLOCK], row % BLOCK);
            odours.fill(&judge, &parts, |slot| block[slot].draw(draw));
            matches.push(judge.fidelity(judge.loss(&odours.of, odours.denominator)));
            // A balance is told at one total, which is about that of the target.
            let whole = match matching {
                Match::Level => parts.iter().map(|&(slot, ppt)| block[slot].draw(draw).strength * ppt).sum(),
                Match::Balance => odours.of.iter().sum::<f64>() / problem.target_total(),
            };
            if whole > 0.0 {
                odours.of.iter().enumerate().for_each(|(at, odour)| judged[(row, at)] = odour / whole);
            }
        }
        for mut column in judged.column_iter_mut() {
            let mean = column.mean();
            column.add_scalar_mut(-mean);
        }
        (!parts.is_empty()).then_some(Seen { matches, judged })
    };
    neat.iter().map(one).collect::<Option<Vec<Seen>>>().filter(|seen| !seen.is_empty())
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// What is open of the pool once some of it was smelled.
struct Known {
    error: f64,
    /// Matches less their means, of which what was smelled has told its part: rows are formulas.
    matches: DMatrix<f64>,
    /// What would be judged of each formula, likewise.
    judged: Vec<DMatrix<f64>>,
    /// How the expected matches have moved by what was smelled: by standard normal numbers.
    moves: DMatrix<f64>,
    chance: Chance,
}

impl Known {
    fn new(seen: &[Seen], means: &DVector<f64>, error: f64) -> Known {
        let matches = DMatrix::from_fn(seen.len(), BLOCKS * BLOCK, |row, draw| seen[row].matches[draw] - means[row]);
        let judged = seen.iter().map(|one| one.judged.clone()).collect();
        let moves = DMatrix::zeros(seen.len(), 0);
        Known { error, matches, judged, moves, chance: Chance::new(SEED, 2) }
    }

    /// How the expected matches move with what a formula's smelling tells, after what was
    /// smelled before.
    fn with(&self, at: usize) -> Option<DMatrix<f64>> {
        let judged = &self.judged[at];
        let (draws, words) = judged.shape();
        let own = judged.transpose() * judged / draws as f64 + DMatrix::identity(words, words) * self.error.powi(2);
        let together = &self.matches * judged / draws as f64;
        let moves = own.cholesky()?.l().solve_lower_triangular(&together.transpose())?;
        let mut all = DMatrix::zeros(self.moves.nrows(), self.moves.ncols() + words);
        all.columns_mut(0, self.moves.ncols()).copy_from(&self.moves);
        all.columns_mut(self.moves.ncols(), words).copy_from(&moves.transpose());
        Some(all)
    }

    /// What is to be expected of the best of the pool once a formula was smelled, too.
    fn best_after(&self, at: usize, means: &DVector<f64>) -> f64 {
        let Some(moves) = self.with(at) else { return means.max() };
        let mut chance = Chance::new(SEED, 1);
        let normals = DMatrix::from_fn(moves.ncols(), NORMALS, |_, _| chance.normal());
        let moved = moves * normals;
        let best = |column: usize, sign: f64| {
            means.iter().enumerate().map(|(row, mean)| mean + sign * moved[(row, column)]).fold(f64::MIN, f64::max)
        };
        (0..NORMALS).map(|at| best(at, 1.0) + best(at, -1.0)).sum::<f64>() / (2 * NORMALS) as f64
    }

    /// A formula was smelled: what is left is what it does not tell.
    fn smell(&mut self, at: usize) {
        if let Some(moves) = self.with(at) {
            self.moves = moves;
        }
        let (error, chance) = (self.error, &mut self.chance);
        let told = self.judged[at].map(|points| points + error * chance.normal());
        let draws = told.nrows() as f64;
        let Some(inverse) = (told.transpose() * &told / draws).try_inverse() else { return };
        let by = &told * inverse / draws;
        self.matches -= (&self.matches * &by) * told.transpose();
        for judged in &mut self.judged {
            let part = by.transpose() * &*judged;
            *judged -= &told * part;
        }
    }
}
