//! Relative strengths from dilution matches.
//!
//! With `u = ln strength` the distance of a pair is `d = u_a - u_b +
//! ln(percent_a / percent_b)`. Intensity goes with (strength x percent) to some
//! power, so whatever the power, a pair that smells equally strong says that
//! `d` is 0, with a normal error; one of which the first is the stronger has
//! the probability that `d` and such an error together are above 0 (C. I.
//! Bliss' probit). The palette's strengths are the prior, log-normal with its
//! `strength_factor`. The reference keeps its strength, and so does a material
//! whose factor is 1.

pub mod fit;
mod probit;
pub mod ties;

use fit::{Fit, System, Term};
use ties::{Tie, ties};

use super::doubt::STRENGTH_FACTOR;
use crate::matches::{Matches, Verdict};
use crate::palette::Palette;
use crate::portable::Portable;
use crate::tolerance::curves::SAME_SHARE;

/// A pair that is so many standard deviations from what all others say
/// contradicts them; by chance one in 370 is.
pub const CONTRADICTS: f64 = 3.0;
/// Pairs that are set aside one after the other at the most.
const MOST_CONTRADICTIONS: usize = 20;
/// Fewer pairs than this do not tell how well noses agree.
const ENOUGH: usize = 3;

/// What matches say of a shelf.
#[derive(Clone, Debug)]
pub struct Strengths {
    /// The materials that the matches name, in the order of the palette.
    pub materials: Vec<Judged>,
    /// The pairs, in the order of the file.
    pub pairs: Vec<Compared>,
    /// How much equal pairs scatter around each other, in units of what was
    /// said of their errors (root mean square, each against all others);
    /// `None` where they are too few.
    pub scatter: Option<f64>,
    /// Whether the arithmetic came to rest.
    pub settled: bool,
}

/// The strength of one material.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// Index into the palette.
    pub material: usize,
    /// The palette's strength.
    pub before: f64,
    /// One standard deviation of its logarithm.
    pub before_deviation: f64,
    /// The strength that palette and matches say together.
    pub after: f64,
    /// One standard deviation of its logarithm.
    pub deviation: f64,
    /// How it hangs together with the reference.
    pub tie: Tie,
    /// In how many pairs it is.
    pub pairs: usize,
    /// Whether it keeps its strength: the reference, or a factor of 1.
    pub held: bool,
}

/// How a pair agrees with the others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compared {
    /// The logarithm of how much stronger the first would smell than the
    /// second by the strengths that were found, at exponent 1.
    pub distance: f64,
    /// One standard deviation of the pair, in the same logarithm.
    pub error: f64,
    /// The distance in units of that; of an ordered pair 0 where its order
    /// holds.
    pub residual: f64,
    /// The logarithm of how much stronger the first is by all other pairs and
    /// the palette.
    pub others: f64,
    /// How far this pair is from that, in standard deviations of both; of an
    /// ordered pair 0 where its order holds.
    pub apart: f64,
    /// Whether it contradicts the others: found one at a time, the worst
    /// first, each looked at without those before it.
    pub contradicts: bool,
}

/// Works out strengths; `None` where the numbers leave no way to.
pub fn strengths(palette: &Palette, matches: &Matches) -> Option<Strengths> {
    let (named, system) = system(palette, matches);
    let fit = system.solve()?;
    let ties = ties(matches, palette.materials.len());
    let mut counts = vec![0; palette.materials.len()];
    for pair in &matches.pairs {
        counts[pair.a.material] += 1;
        counts[pair.b.material] += 1;
    }
    let judged = |index: usize| {
        let (unknown, strength) = (named[index], palette.materials[index].strength);
        let own = unknown.map(|at| (fit.u[at].exponential(), fit.covariance[(at, at)].max(0.0).sqrt()));
        let (after, deviation) = own.unwrap_or((strength, 0.0));
        Judged {
            material: index,
            before: strength,
            before_deviation: if unknown.is_some() { prior(palette, index).1 } else { 0.0 },
            after,
            deviation,
            tie: ties[index],
            pairs: counts[index],
            held: unknown.is_none(),
        }
    };
    let is_named = |index: &usize| counts[*index] > 0 || *index == matches.reference;
    let materials: Vec<Judged> = (0..counts.len()).filter(is_named).map(judged).collect();
    let mut pairs: Vec<Compared> = system.terms.iter().map(|term| compared(&fit, term)).collect();
    let equal = || pairs.iter().zip(&system.terms).filter(|(_, term)| term.verdict == Verdict::Equal);
    let squares: f64 = equal().map(|(pair, _)| pair.apart.powi(2)).sum();
    let scatter = (equal().count() >= ENOUGH).then(|| (squares / equal().count() as f64).sqrt());
    for at in contradictions(&system, fit.clone()) {
        pairs[at].contradicts = true;
    }
    Some(Strengths { materials, pairs, scatter, settled: fit.settled })
}

/// The palette's log-strength of a material and its standard deviation.
fn prior(palette: &Palette, index: usize) -> (f64, f64) {
    let material = &palette.materials[index];
    (material.strength.logarithm(), material.strength_factor.unwrap_or(STRENGTH_FACTOR).logarithm())
}

/// The unknown of every material of the palette that has one, and the system.
pub fn system(palette: &Palette, matches: &Matches) -> (Vec<Option<usize>>, System) {
    let mut unknown = vec![None; palette.materials.len()];
    let mut system = System::default();
    let mut sides: Vec<usize> = matches.pairs.iter().flat_map(|pair| [pair.a.material, pair.b.material]).collect();
    sides.sort_unstable();
    sides.dedup();
    for index in sides {
        let (mean, deviation) = prior(palette, index);
        if index != matches.reference && deviation > 0.0 {
            unknown[index] = Some(system.prior.len());
            system.prior.push((mean, deviation));
        }
    }
    let held = |index: usize| if unknown[index].is_some() { 0.0 } else { prior(palette, index).0 };
    system.terms.extend(matches.pairs.iter().map(|pair| Term {
        a: unknown[pair.a.material],
        b: unknown[pair.b.material],
        shift: pair.shift() + held(pair.a.material) - held(pair.b.material),
        error: matches.error_of(pair),
        verdict: pair.verdict,
    }));
    (unknown, system)
}

fn compared(fit: &Fit, term: &Term) -> Compared {
    let distance = term.distance(&fit.u);
    let (others, spread) = fit.without(term);
    // An order that holds is no residual, however clearly it holds.
    let counts = |distance: f64| match term.verdict {
        Verdict::Equal => distance,
        Verdict::Stronger => distance.min(0.0),
    };
    Compared {
        distance,
        error: term.error,
        residual: counts(distance) / term.error,
        others,
        apart: counts(others) / (term.error.powi(2) + spread).sqrt(),
        contradicts: false,
    }
}

/// Pairs that contradict all others: the worst is set aside, the rest worked
/// out again, until none is left. Two that contradict each other alike are
/// both named.
fn contradictions(system: &System, fit: Fit) -> Vec<usize> {
    let (mut system, mut fit) = (system.clone(), fit);
    let mut places: Vec<usize> = (0..system.terms.len()).collect();
    let mut found = Vec::new();
    while found.len() < MOST_CONTRADICTIONS {
        let apart: Vec<f64> = system.terms.iter().map(|term| compared(&fit, term).apart.abs()).collect();
        let worst = apart.iter().copied().fold(0.0, f64::max);
        if worst <= CONTRADICTS {
            break;
        }
        let is_worst = |at: usize| apart[at] >= worst * (1.0 - SAME_SHARE);
        let stays: Vec<bool> = (0..apart.len()).map(|at| !is_worst(at)).collect();
        found.extend(places.iter().zip(&stays).filter(|(_, stays)| !**stays).map(|(place, _)| *place));
        places = kept(&places, &stays);
        system.terms = kept(&system.terms, &stays);
        match system.solve() {
            Some(next) => fit = next,
            None => break,
        }
    }
    found
}

fn kept<T: Copy>(all: &[T], stays: &[bool]) -> Vec<T> {
    all.iter().zip(stays).filter(|(_, stays)| **stays).map(|(one, _)| *one).collect()
}
