//! Log-strengths from matches: the most likely ones given the matches and the
//! palette's own values (maximum a posteriori), by damped Newton steps. The
//! logarithm of what is maximised has one peak, so there is one answer.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::probit::{bend, ln_below, pull};
use crate::matches::Verdict;
use crate::tolerance::fits::{LEAST_PART, LEAST_REST, PROMISE, ROUNDED_PROMISE};

/// A comparison of two unknowns: the distance `d = u_a - u_b + shift` is 0
/// where they match and above 0 where the first is stronger.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Term {
    /// The first unknown; `None` where its strength is held.
    pub a: Option<usize>,
    /// The second, likewise.
    pub b: Option<usize>,
    /// The logarithm of the percentages' ratio, and of any held strengths.
    pub shift: f64,
    /// One standard deviation of the distance at which they match, above 0.
    pub error: f64,
    /// How they compared.
    pub verdict: Verdict,
}

/// Unknown log-strengths with what is known of them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct System {
    /// Of each unknown the expectation and the standard deviation before any
    /// match, the latter above 0.
    pub prior: Vec<(f64, f64)>,
    /// The comparisons.
    pub terms: Vec<Term>,
}

/// The most likely log-strengths.
#[derive(Clone, Debug)]
pub struct Fit {
    /// The log-strengths.
    pub u: DVector<f64>,
    /// Their covariance: the inverse of the matrix of second derivatives.
    pub covariance: DMatrix<f64>,
    /// Whether the steps came to rest.
    pub settled: bool,
}

/// Newton steps at the most; a handful is usual.
const STEPS: usize = 200;
impl Term {
    /// The distance at some log-strengths.
    pub fn distance(&self, u: &DVector<f64>) -> f64 {
        let at = |index: Option<usize>| index.map_or(0.0, |index| u[index]);
        at(self.a) - at(self.b) + self.shift
    }

    /// What the comparison adds to the negative log-likelihood at a distance,
    /// with its first and second derivative by the distance.
    pub fn costs(&self, distance: f64) -> (f64, f64, f64) {
        let z = distance / self.error;
        match self.verdict {
            Verdict::Equal => (0.5 * z * z, z / self.error, 1.0 / self.error.powi(2)),
            Verdict::Stronger => (-ln_below(z), -pull(z) / self.error, bend(z) / self.error.powi(2)),
        }
    }

    /// (unknown, sign) of what the distance depends on.
    fn ends(&self) -> impl Iterator<Item = (usize, f64)> {
        self.a.map(|a| (a, 1.0)).into_iter().chain(self.b.map(|b| (b, -1.0)))
    }

    /// The variance of the distance under a covariance.
    pub fn spread(&self, covariance: &DMatrix<f64>) -> f64 {
        let pairs = self.ends().flat_map(|(i, x)| self.ends().map(move |(j, y)| x * y * covariance[(i, j)]));
        pairs.sum::<f64>().max(0.0)
    }
}

impl System {
    /// The negative logarithm of the posterior density, but for a constant.
    pub fn objective(&self, u: &DVector<f64>) -> f64 {
        let prior = self.prior.iter().zip(u).map(|((mean, deviation), u)| 0.5 * ((u - mean) / deviation).powi(2));
        prior.sum::<f64>() + self.terms.iter().map(|term| term.costs(term.distance(u)).0).sum::<f64>()
    }

    /// Its first derivatives.
    pub fn gradient(&self, u: &DVector<f64>) -> DVector<f64> {
        let prior = self.prior.iter().zip(u).map(|((mean, deviation), u)| (u - mean) / deviation.powi(2));
        let mut gradient = DVector::from_iterator(u.len(), prior);
        for term in &self.terms {
            let (_, slope, _) = term.costs(term.distance(u));
            term.ends().for_each(|(index, sign)| gradient[index] += sign * slope);
        }
        gradient
    }

    /// Its second derivatives: positive definite, by the prior.
    pub fn hessian(&self, u: &DVector<f64>) -> DMatrix<f64> {
        let mut hessian = DMatrix::zeros(u.len(), u.len());
        for (index, (_, deviation)) in self.prior.iter().enumerate() {
            hessian[(index, index)] = 1.0 / deviation.powi(2);
        }
        for term in &self.terms {
            let (_, _, curve) = term.costs(term.distance(u));
            for (i, x) in term.ends() {
                term.ends().for_each(|(j, y)| hessian[(i, j)] += x * y * curve);
            }
        }
        hessian
    }

    /// The most likely log-strengths; `None` where the numbers leave no way to
    /// work them out.
    pub fn solve(&self) -> Option<Fit> {
        let mut u = DVector::from_iterator(self.prior.len(), self.prior.iter().map(|(mean, _)| *mean));
        let mut now = self.objective(&u);
        let mut settled = false;
        for _ in 0..STEPS {
            let gradient = self.gradient(&u);
            let step = Cholesky::new(self.hessian(&u))?.solve(&gradient);
            let promise = gradient.dot(&step);
            settled = promise <= PROMISE * (1.0 + now.abs());
            if settled {
                break;
            }
            // Far from the peak a whole step may go too far.
            let mut part = 1.0;
            let (next, then) = loop {
                let tried = &u - part * &step;
                let value = self.objective(&tried);
                if value <= now - 1e-4 * part * promise || part < LEAST_PART {
                    break (tried, value);
                }
                part *= 0.5;
            };
            if then >= now {
                // Rounding is all that is left.
                settled = promise <= ROUNDED_PROMISE * (1.0 + now.abs());
                break;
            }
            (u, now) = (next, then);
        }
        let factor: Cholesky<f64, Dyn> = Cholesky::new(self.hessian(&u))?;
        Some(Fit { u, covariance: factor.inverse(), settled })
    }
}

impl Fit {
    /// What all other comparisons say of the distance of one, to first order:
    /// its expectation and its variance. Exact where all pairs are equal ones.
    pub fn without(&self, term: &Term) -> (f64, f64) {
        let distance = term.distance(&self.u);
        let (_, slope, curve) = term.costs(distance);
        let spread = term.spread(&self.covariance);
        let rest = spread / (1.0 - curve * spread).max(LEAST_REST);
        (distance + slope * rest, rest)
    }
}
