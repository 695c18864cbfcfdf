//! What a brief wants of each descriptor, how far a blend is from it, and what
//! fidelity says of that. The certificate's check and the tests have this
//! arithmetic once more, on purpose: what judges an answer shares nothing with
//! it.

use super::Problem;
use crate::brief::Match;
use crate::palette::Material;

/// What is wanted of one descriptor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// Index of the descriptor in the palette.
    pub descriptor: usize,
    /// Wanted score in points.
    pub score: f64,
    /// Weight of the gap, above 0.
    pub weight: f64,
    /// Multiplies the weight where the blend has too much.
    pub excess: f64,
}

impl Target {
    /// The weighted gap of a blend that has so many points, in points; 0 or
    /// more. The loss is the sum of these.
    pub fn gap(&self, blend: f64) -> f64 {
        let over = (blend - self.score).max(0.0);
        let under = (self.score - blend).max(0.0);
        self.weight * (self.excess * over + under)
    }

    /// What the weighted gap grows by with each point more of the blend, above
    /// the wanted score or below it.
    pub fn slope(&self, is_above: bool) -> f64 {
        if is_above { self.weight * self.excess } else { -self.weight }
    }
}

impl Problem {
    /// The loss at which fidelity reaches 0, above 0: see [`worst_loss`].
    pub fn worst_loss(&self) -> f64 {
        worst_loss(self.matching, self.targets.iter())
    }

    /// Fidelity in percent of a loss: see [`fidelity_percent`].
    pub fn fidelity_percent(&self, loss: f64) -> f64 {
        fidelity_percent(loss, self.worst_loss())
    }
}

/// The loss at which fidelity reaches 0: that of a blend that shares nothing
/// with some targets, `sum w t` for level and twice that for balance.
pub fn worst_loss<'t>(matching: Match, targets: impl Iterator<Item = &'t Target>) -> f64 {
    let sum: f64 = targets.map(|target| target.weight * target.score).sum();
    match matching {
        Match::Level => sum,
        Match::Balance => 2.0 * sum,
    }
}

/// Fidelity in percent: 100 at loss 0, and 0 from the worst loss on.
pub fn fidelity_percent(loss: f64, worst_loss: f64) -> f64 {
    signed_fidelity_percent(loss, worst_loss).max(0.0)
}

/// Fidelity in percent, below 0 where a blend is further away than one that
/// shares nothing with the target: the height of a curve goes on there.
pub fn signed_fidelity_percent(loss: f64, worst_loss: f64) -> f64 {
    100.0 * (1.0 - loss / worst_loss)
}

/// The sum of the scores of some targets.
pub(crate) fn total(targets: &[Target]) -> f64 {
    targets.iter().map(|target| target.score).sum()
}

/// Sum of a material's scores over the descriptors of some targets.
pub(crate) fn counted_score(targets: &[Target], material: &Material) -> f64 {
    targets.iter().map(|target| material.scores[target.descriptor]).sum()
}
