//! Whether a correction predicts or merely fits.

use super::Learned;
use super::model::Evidence;
use super::posterior::Left;

/// How far predictions are off, in points: the root of the mean square over
/// all scores that were judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Off {
    /// How many scores.
    pub scores: usize,
    /// By the palette's own numbers.
    pub before: f64,
    /// By the fit to all trials.
    pub fitted: f64,
    /// Each trial by the fit to the others.
    pub without: f64,
}

/// What a comparison of squares over the trials says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// The second is better, by more than [`SURE`] standard errors.
    Better,
    /// The first is, likewise.
    Worse,
    /// The difference lies within these.
    Open,
    /// There are fewer than [`LEAST`] trials.
    TooFew,
}

/// Why a correction is better not kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Untrusted {
    /// The estimate did not come to rest.
    Restless,
    /// So many of so many trials do not fit the others: more than half.
    Misfits(usize, usize),
}

/// A trial counts as one that does not fit from here on: one in 700 would be
/// without any fault.
pub const MISFIT: f64 = 3.0;
/// Standard errors that settle a comparison.
pub const SURE: f64 = 2.0;
/// Trials that it takes at least.
pub const LEAST: usize = 4;

/// How far the predictions of some fits are off; `None` where no scores were
/// judged.
pub fn off(evidence: &[Evidence], left: &[Left]) -> Option<Off> {
    let scores: usize = evidence.iter().map(|one| one.judged.len()).sum();
    let root = |of: &dyn Fn(&Left) -> &[f64]| {
        let squares: f64 = evidence.iter().zip(left).map(|(one, left)| squares(one, of(left))).sum();
        (squares / scores as f64).sqrt()
    };
    (scores > 0).then(|| Off {
        scores,
        before: root(&|left| &left.before),
        fitted: root(&|left| &left.fitted),
        without: root(&|left| &left.without),
    })
}

fn squares(one: &Evidence, predicted: &[f64]) -> f64 {
    one.judged.iter().zip(predicted).map(|((_, points), p)| (points - p).powi(2)).sum()
}

impl Learned {
    /// How many trials do not fit the others.
    pub fn misfits(&self) -> usize {
        self.left.iter().filter(|left| left.misfit > MISFIT).count()
    }

    /// Why the correction is better not kept, where it is.
    pub fn is_untrusted(&self) -> Option<Untrusted> {
        let (misfits, trials) = (self.misfits(), self.left.len());
        match self.fit.settled {
            false => Some(Untrusted::Restless),
            true if 2 * misfits > trials => Some(Untrusted::Misfits(misfits, trials)),
            true => None,
        }
    }

    /// Whether trials are nearer to the fit without them than to the palette's
    /// own numbers.
    pub fn predicts(&self) -> Verdict {
        let differences = self.mean_squares(|at| (&self.left[at].before, &self.left[at].without));
        verdict(&differences)
    }

    /// Whether trials are nearer to the fits without them under the other
    /// exponent than under the one that was asked for.
    pub fn other_is(&self) -> Verdict {
        let differences = self.mean_squares(|at| (&self.left[at].without, &self.other.1[at].without));
        verdict(&differences)
    }

    /// By how much the mean square of each trial's scores falls from the first
    /// prediction to the second.
    fn mean_squares<'a>(&'a self, of: impl Fn(usize) -> (&'a Vec<f64>, &'a Vec<f64>)) -> Vec<f64> {
        let judged = self.evidence.iter().enumerate().filter(|(_, one)| !one.judged.is_empty());
        judged
            .map(|(at, one)| {
                let (first, second) = of(at);
                (squares(one, first) - squares(one, second)) / one.judged.len() as f64
            })
            .collect()
    }
}

pub(super) fn verdict(differences: &[f64]) -> Verdict {
    let count = differences.len() as f64;
    if differences.len() < LEAST {
        return Verdict::TooFew;
    }
    let mean = differences.iter().sum::<f64>() / count;
    let spread = differences.iter().map(|difference| (difference - mean).powi(2)).sum::<f64>() / (count - 1.0);
    let error = (spread / count).sqrt();
    match mean {
        mean if mean > SURE * error && mean > 0.0 => Verdict::Better,
        mean if mean < -SURE * error => Verdict::Worse,
        _ => Verdict::Open,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verdicts() {
        assert_eq!(verdict(&[1.0, 1.0, 1.0]), Verdict::TooFew);
        assert_eq!(verdict(&[1.0, 1.2, 0.9, 1.1]), Verdict::Better);
        assert_eq!(verdict(&[-1.0, -1.2, -0.9, -1.1]), Verdict::Worse);
        assert_eq!(verdict(&[5.0, -4.0, 3.0, -3.5]), Verdict::Open);
        assert_eq!(verdict(&[0.0; 4]), Verdict::Open);
    }
}
