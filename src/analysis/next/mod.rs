//! The trials that would teach most about what matters for a target.
//!
//! The fidelity of a formula is uncertain because scores and strengths are. To
//! first order its variance is `g'Cg`, with `g` its change with every unknown and `C`
//! what is known after the trials so far. At a blend that meets its target `g`
//! cancels though nothing is sure; so `gg'` is averaged over draws of the unknowns,
//! and over the formulas near the best: the trace of `GC` is no less than the mean
//! variance, and just that where fidelities are linear. A further trial whose
//! judged scores change by `J` with the unknowns would lower `C` by
//! `CJ' inv(JCJ' + R) JC`, whatever comes out (Bayesian experimental design of a
//! linear model: K. Chaloner, I. Verdinelli, Statistical Science 10, 1995). The
//! next trial is the one that lowers the trace most; then the same again with what
//! it would have taught. How sure the best formula is then is drawn.

mod effort;

use nalgebra::{DMatrix, DVector};

pub use effort::{DROP_GRAMS, Effort, Per, Takes};

use super::doubt::slopes::LossSlopes;
use super::known::{Chances, drawn_problem, fidelity_deviation, mean_square_slopes};
use super::learn::{Evidence, GIVE_OR_TAKE, Kind, Posterior, Unknowns, fit, predict};
use crate::brief::Match;
use crate::evaluate::{Evaluation, evaluate};
use crate::formula::Formula;
use crate::palette::Palette;
use crate::problem::Problem;

/// Something to smell.
#[derive(Clone, Debug, PartialEq)]
pub enum Candidate {
    /// A formula near the best: an index among those that were given.
    Mod(usize),
    /// One material alone.
    Single(usize),
    /// Two materials, diluted until they smell equally strong.
    Match(usize, usize),
}

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Wanted {
    /// How many trials.
    pub count: usize,
    /// For what they are to teach most.
    pub per: Per,
    /// What weighing and smelling take.
    pub effort: Effort,
}

/// A trial that is worth weighing.
#[derive(Clone, Debug, PartialEq)]
pub struct Lesson {
    /// What to smell.
    pub candidate: Candidate,
    /// What it takes.
    pub takes: Takes,
    /// By how much what is unsure of the fidelities (the trace) falls, in percent
    /// of what it is before the first of these trials.
    pub fall_percent: f64,
    /// One standard deviation of the best formula's fidelity after this trial
    /// and those before it, over draws, in percent.
    pub deviation_after: f64,
    /// What it is about: the unknowns by how much of the fall they have.
    pub about: Vec<About>,
}

/// A part of what is unsure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct About {
    /// The unknown.
    pub kind: Kind,
    /// Its part of what is unsure about the match now, before this trial, in
    /// percent.
    pub part_percent: f64,
    /// How much of that this trial takes away, in percent.
    pub taken_percent: f64,
}

/// What is known so far.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// The palette that the trials start from.
    pub palette: &'a Palette,
    /// What the trials say; may be empty.
    pub evidence: &'a [Evidence],
    /// How they are compared.
    pub matching: Match,
}

/// The trials worth weighing.
#[derive(Clone, Debug, PartialEq)]
pub struct Next {
    /// The trials, the most worth first.
    pub lessons: Vec<Lesson>,
    /// One standard deviation of the best formula's fidelity now, over draws, in
    /// percent.
    pub deviation: f64,
}

/// Unknowns that are named for a trial.
const TOLD: usize = 2;
/// Draws at which slopes are taken.
const SLOPES: usize = 100;
/// What a trial has to lower the variance by to be worth its while, in percent.
const WORTH: f64 = 0.5;

/// Chooses up to so many trials among formulas, the single materials in them and pairs of
/// these. The first formula is the best. `tried` says of each formula whether it
/// was weighed already. `None` where a formula has no odour that counts.
pub fn next(problem: &Problem, known: Known, formulas: &[Formula], tried: &[bool], wanted: Wanted) -> Option<Next> {
    let Wanted { count, per, effort } = wanted;
    let palette = known.palette;
    let neat: Vec<Vec<f64>> = formulas.iter().map(|formula| problem.neat_ppt(formula)).collect();
    let smells = |material: usize| !palette.materials[material].is_carrier();
    let within: Vec<usize> =
        (0..palette.materials.len()).filter(|&it| smells(it) && neat.iter().any(|neat| neat[it] > 0.0)).collect();
    let words: Vec<usize> = problem.targets.iter().map(|target| target.descriptor).collect();
    let scores: Vec<(usize, usize)> =
        within.iter().flat_map(|&material| words.iter().map(move |&word| (word, material))).collect();
    let unknowns = Unknowns::touched(palette, known.evidence).with(palette, &scores, &within);
    let fitted = fit(palette, known.evidence, &unknowns, known.matching, 1.0);
    let mut covariance = Posterior::covariance(palette, known.evidence, &unknowns, known.matching, 1.0, &fitted);

    // Everything is judged by what is known now.
    let learned = problem.with_palette(unknowns.applied(palette, &fitted.values).into());
    let judged: Option<Vec<Evaluation>> = formulas.iter().map(|formula| evaluate(&learned, formula).ok()).collect();
    let judged = judged?;
    let chances = Chances::new(unknowns.len());
    let drawn = chances.values(&unknowns, &fitted.values, &covariance);
    let squares = mean_square_slopes(&unknowns, &drawn_slopes(&learned, &unknowns, formulas, &drawn));
    let first = (&squares * &covariance).trace();
    let deviation_of =
        |values: &DMatrix<f64>| neat.first().map_or(0.0, |best| fidelity_deviation(&learned, &unknowns, best, values));
    let deviation = deviation_of(&drawn);

    let error = match known.evidence {
        [] => GIVE_OR_TAKE,
        some => some.iter().map(|one| one.error).sum::<f64>() / some.len() as f64,
    };
    let mods = (0..formulas.len()).filter(|&at| !tried[at]).map(|at| (Candidate::Mod(at), neat[at].clone()));
    let alone = |&material: &usize| {
        let mut neat = vec![0.0; palette.materials.len()];
        neat[material] = 1000.0;
        (Candidate::Single(material), neat)
    };
    let look = Look { palette, unknowns: &unknowns, values: &fitted.values, matching: known.matching };
    let smelled = mods.chain(within.iter().map(alone));
    let smelled = smelled.map(|(candidate, neat)| (candidate, look.slopes(&neat, &words, error)));
    let beside = pairs(&within).map(|(one, other)| (Candidate::Match(one, other), matched(&unknowns, one, other)));
    let mut candidates: Vec<(Candidate, DMatrix<f64>)> = smelled.chain(beside).collect();
    let mut lessons = Vec::new();
    while lessons.len() < count && first > 0.0 {
        let fall = |(_, rows): &(Candidate, DMatrix<f64>)| -> f64 {
            let Some((spread, inverse)) = taught(&covariance, rows) else { return 0.0 };
            (spread.transpose() * &squares * &spread * inverse).trace()
        };
        let falls: Vec<f64> = candidates.iter().map(fall).collect();
        let worth = |at: usize| effort.of(palette, &candidates[at].0, &judged).worth(falls[at], per);
        let worths: Vec<f64> = (0..falls.len()).map(worth).collect();
        // Of equals the first.
        let teaches = |at: &usize| 100.0 * falls[*at] / first >= WORTH;
        let all = (0..falls.len()).rev().filter(teaches);
        let Some(best) = all.max_by(|a, b| worths[*a].total_cmp(&worths[*b])) else { break };
        let (candidate, rows) = candidates.remove(best);
        let Some((spread, inverse)) = taught(&covariance, &rows) else { break };
        let then = &covariance - &spread * inverse * spread.transpose();
        lessons.push(Lesson {
            takes: effort.of(palette, &candidate, &judged),
            candidate,
            fall_percent: 100.0 * falls[best] / first,
            deviation_after: deviation_of(&chances.values(&unknowns, &fitted.values, &then)),
            about: about(&unknowns, &squares, &covariance, &then),
        });
        covariance = then;
    }
    Some(Next { lessons, deviation })
}

/// Every two of some materials.
fn pairs(materials: &[usize]) -> impl Iterator<Item = (usize, usize)> + '_ {
    let others = move |at: usize| materials[at + 1..].iter().map(move |other| (materials[at], *other));
    (0..materials.len()).flat_map(others)
}

/// Change of what a match of two materials tells with the unknowns, in units of its error:
/// the logarithm of the quotient of their strengths.
fn matched(unknowns: &Unknowns, one: usize, other: usize) -> DMatrix<f64> {
    let mut row = DMatrix::zeros(1, unknowns.len());
    for (material, sign) in [(one, 1.0), (other, -1.0)] {
        if let Some(at) = unknowns.strength(material) {
            row[(0, at)] = sign / effort::match_error();
        }
    }
    row
}

/// `CJ'` and `inv(JCJ' + 1)`: rows are in units of their errors.
fn taught(covariance: &DMatrix<f64>, rows: &DMatrix<f64>) -> Option<(DMatrix<f64>, DMatrix<f64>)> {
    let spread = covariance * rows.transpose();
    let inverse = (rows * &spread + DMatrix::identity(rows.nrows(), rows.nrows())).try_inverse()?;
    Some((spread, inverse))
}

/// What a trial is about: the unknowns by how much of the fall they have.
fn about(unknowns: &Unknowns, squares: &DMatrix<f64>, before: &DMatrix<f64>, after: &DMatrix<f64>) -> Vec<About> {
    // A part of the trace for every unknown: they add up to the whole.
    let parts = |covariance: &DMatrix<f64>| squares.component_mul(covariance).column_sum();
    let (before, after) = (parts(before), parts(after));
    let whole = before.sum();
    let mut order: Vec<usize> = (0..unknowns.len()).filter(|&at| before[at] > after[at] && before[at] > 0.0).collect();
    order.sort_by(|a, b| (before[*b] - after[*b]).total_cmp(&(before[*a] - after[*a])));
    let kinds: Vec<Kind> = unknowns.kinds().collect();
    let told = order.into_iter().take(TOLD).map(|at| About {
        kind: kinds[at],
        part_percent: 100.0 * before[at] / whole,
        taken_percent: (100.0 * (before[at] - after[at]) / before[at]).min(100.0),
    });
    told.collect()
}

/// What trials would smell of.
struct Look<'a> {
    palette: &'a Palette,
    unknowns: &'a Unknowns,
    values: &'a [f64],
    matching: Match,
}

impl Look<'_> {
    /// Change of the judged scores of a blend with the unknowns, in units of
    /// their error, when all these words are judged.
    fn slopes(&self, neat: &[f64], words: &[usize], error: f64) -> DMatrix<f64> {
        let parts = neat.iter().copied().enumerate();
        let parts = parts.filter(|&(it, ppt)| ppt > 0.0 && !self.palette.materials[it].is_carrier()).collect();
        let judged = words.iter().map(|word| (*word, 0.0)).collect();
        let mut one = Evidence {
            trial: 0,
            parts,
            judged,
            error,
            log_strength: None,
            log_strength_error: f64::INFINITY,
            drying: None,
        };
        // In balance the total that would be smelled is needed: that of the level.
        let level = predict(self.palette, &one, self.unknowns, Match::Level, 1.0, self.values);
        one.judged.iter_mut().zip(&level.scores).for_each(|(judged, points)| judged.1 = *points);
        let prediction = predict(self.palette, &one, self.unknowns, self.matching, 1.0, self.values);
        one.slope_matrix(self.unknowns, &prediction)
    }
}

/// Change of the formulas' fidelities with every unknown where the unknowns are
/// drawn.
fn drawn_slopes(
    problem: &Problem,
    unknowns: &Unknowns,
    formulas: &[Formula],
    drawn: &DMatrix<f64>,
) -> Vec<DVector<f64>> {
    let mut slopes = Vec::new();
    for draw in drawn.column_iter().take(SLOPES) {
        let values: Vec<f64> = draw.iter().copied().collect();
        let there = drawn_problem(problem, unknowns, &values);
        let judged = formulas.iter().filter_map(|formula| evaluate(&there, formula).ok());
        slopes.extend(judged.map(|evaluation| fidelity_slopes(&there, unknowns, &evaluation)));
    }
    slopes
}

/// Change of a formula's fidelity in percent with every unknown.
fn fidelity_slopes(problem: &Problem, unknowns: &Unknowns, evaluation: &Evaluation) -> DVector<f64> {
    let slopes = LossSlopes::new(problem, evaluation);
    let percent = -100.0 / problem.worst_loss();
    let each = unknowns.kinds().map(|kind| match kind {
        Kind::Score { material, descriptor } => {
            let counted = problem.targets.iter().position(|target| target.descriptor == descriptor);
            counted.map_or(0.0, |counted| percent * slopes.of_score(material, counted))
        }
        Kind::Strength { material } => percent * slopes.of_strength(material),
        // As it is dipped.
        Kind::Lasting { .. } => 0.0,
    });
    DVector::from_iterator(unknowns.len(), each)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::load_scenario;
    use crate::formula::Formula;
    use crate::units::Ppt;

    #[test]
    fn slopes_of_fidelity_against_differences() {
        for matching in ["balance", "level"] {
            let scenario = load_scenario("profiles/rose-otto/brief.toml".as_ref()).unwrap();
            let mut brief = scenario.brief;
            brief.matching = if matching == "level" { Match::Level } else { Match::Balance };
            let problem = Problem::new(scenario.palette, &brief, &scenario.limits);
            let mut doses = vec![Ppt::ZERO; problem.columns.len()];
            for (at, dose) in [(0, 300.0), (1, 400.0), (2, 290.0), (11, 3.0), (12, 7.0)] {
                doses[at] = Ppt::from_ppt(dose);
            }
            let formula = Formula::from_doses(brief.basis, &doses);
            let materials = [0, 1, 2, 11, 12];
            let scores: Vec<(usize, usize)> = materials.iter().flat_map(|&m| (0..18).map(move |d| (d, m))).collect();
            let unknowns = Unknowns::touched(&problem.palette, &[]).with(&problem.palette, &scores, &materials);
            let at = |values: &[f64]| {
                let problem = problem.with_palette(unknowns.applied(&problem.palette, values).into());
                let evaluation = evaluate(&problem, &formula).unwrap();
                (evaluation.fidelity_percent, fidelity_slopes(&problem, &unknowns, &evaluation))
            };
            // Off the round scores, where targets are met exactly.
            let values: Vec<f64> =
                unknowns.prior.iter().enumerate().map(|(at, v)| v + 0.01 * (at % 7) as f64).collect();
            let (_, slopes) = at(&values);
            for unknown in 0..unknowns.len() {
                let mut moved = [values.clone(), values.clone()];
                moved[0][unknown] += 1e-6;
                moved[1][unknown] -= 1e-6;
                let by = (at(&moved[0]).0 - at(&moved[1]).0) / 2e-6;
                assert!((by - slopes[unknown]).abs() < 1e-5 * (1.0 + by.abs()), "{matching}: {by} {}", slopes[unknown]);
            }
        }
    }
}
