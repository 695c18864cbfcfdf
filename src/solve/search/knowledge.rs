//! What a search knows: the best formula or the loss that one has to beat, and
//! the loss below which there is none.

use super::outcome::{Found, Judged};
use crate::tolerance::loss::{CHEAPER, CUTOFF_MARGIN, TIE};
use crate::units::Ppt;

/// The upper end of what is known of the least loss.
#[derive(Clone, Debug, Default)]
pub(super) enum Best {
    /// Nothing is known: any formula is of use.
    #[default]
    Unknown,
    /// No formula is known, and one with this loss or more is of no use.
    Ceiling(f64),
    /// A formula is known.
    Incumbent(Incumbent),
}

/// The best formula known.
#[derive(Clone, Debug)]
pub(super) struct Incumbent {
    /// The loss that a better one has to beat, in score points: the formula's
    /// own, or a little less where another one was better by less than a tie and
    /// no cheaper. The proof may use it.
    loss: f64,
    /// Price per kg, where every material has one.
    price_per_kg: Option<f64>,
    /// The formula, where this search found it; `None` where the search does that
    /// this one works for.
    found: Option<Found>,
}

/// What a search knows.
///
/// Holds at any time: the loss to beat and the target never rise within a tree,
/// and the bound never falls at all. An incumbent never becomes a ceiling again.
/// Where the bound is infinite there is no formula.
#[derive(Clone, Debug)]
pub(super) struct Knowledge {
    best: Best,
    /// Proven: no formula has a loss below this, in score points.
    bound: f64,
    /// The present tree holds the formulas with a loss below this.
    target: f64,
}

impl Best {
    fn loss(&self) -> f64 {
        match self {
            Best::Unknown => f64::INFINITY,
            Best::Ceiling(loss) => *loss,
            Best::Incumbent(incumbent) => incumbent.loss,
        }
    }
}

impl Default for Knowledge {
    fn default() -> Knowledge {
        Knowledge { best: Best::Unknown, bound: 0.0, target: f64::INFINITY }
    }
}

impl Knowledge {
    /// The loss that a formula has to beat; infinite where any is of use.
    pub fn loss_to_beat(&self) -> f64 {
        self.best.loss()
    }

    /// Whether there is a loss to beat.
    pub fn has_loss_to_beat(&self) -> bool {
        !matches!(self.best, Best::Unknown)
    }

    /// Whether a loss has to be beaten that no known formula has.
    pub fn has_ceiling_alone(&self) -> bool {
        matches!(self.best, Best::Ceiling(_))
    }

    /// The incumbent, where this search found it.
    pub fn found(&self) -> Option<&Found> {
        match &self.best {
            Best::Incumbent(incumbent) => incumbent.found.as_ref(),
            Best::Unknown | Best::Ceiling(_) => None,
        }
    }

    /// The incumbent, handed over; the loss to beat stays.
    pub fn take_found(&mut self) -> Option<Found> {
        match &mut self.best {
            Best::Incumbent(incumbent) => incumbent.found.take(),
            Best::Unknown | Best::Ceiling(_) => None,
        }
    }

    /// Whether a price per kg is below the incumbent's.
    pub fn is_cheaper(&self, price_per_kg: Option<f64>) -> bool {
        let Best::Incumbent(Incumbent { price_per_kg: Some(present), .. }) = self.best else { return false };
        price_per_kg.is_some_and(|price| price < present * (1.0 - CHEAPER))
    }

    /// Proven: no formula has a loss below this.
    pub fn bound(&self) -> f64 {
        self.bound
    }

    /// Takes note of a proven bound.
    pub fn raise_bound(&mut self, bound: f64) {
        self.bound = self.bound.max(bound);
    }

    /// Takes note of a proof that there is no formula.
    pub fn exclude_all(&mut self) {
        self.bound = f64::INFINITY;
    }

    /// Whether the incumbent is proven to be the best, or none is below the
    /// ceiling.
    pub fn is_proven(&self) -> bool {
        let loss = self.loss_to_beat();
        self.has_loss_to_beat() && loss - self.bound <= CUTOFF_MARGIN * 1.5 * loss.max(1.0)
    }

    /// Asks that formulas be better than a loss.
    pub fn set_ceiling(&mut self, loss: f64) {
        self.best = Best::Ceiling(loss);
    }

    /// Sets what the next tree holds: the formulas with a loss below this.
    pub fn set_target(&mut self, loss: f64) {
        self.target = loss;
    }

    /// Whether the tree holds fewer formulas than those below the loss to beat.
    fn has_lower_target(&self) -> bool {
        self.target < self.loss_to_beat()
    }

    /// The loss that a node has to come below to stay open: what ties with the
    /// incumbent is not looked for. There is none before a target is set or a
    /// loss is to be beaten.
    pub fn cutoff(&self) -> f64 {
        let loss = self.loss_to_beat();
        if self.has_lower_target() { self.target } else { loss - CUTOFF_MARGIN * loss.max(1.0) }
    }

    /// Whether a better formula has lowered the cutoff by enough for a node to be
    /// bounded again. On a fine grid there can be a million formulas, each
    /// better than the one before by the last digits.
    pub fn has_fallen(&self, before: f64) -> bool {
        let cutoff = self.cutoff();
        before - cutoff > TIE * before.abs().max(1.0) || before.is_infinite() && cutoff.is_finite()
    }

    /// Whether a formula of some loss and price can become the incumbent.
    pub fn is_of_use(&self, loss: f64, price_per_kg: impl FnOnce() -> Option<f64>) -> bool {
        let best = self.loss_to_beat();
        let is_near = loss.is_finite() && loss <= best + TIE * best.max(1.0);
        // No better, it has to be cheaper.
        is_near && (loss < best || self.is_cheaper(price_per_kg()))
    }

    /// Takes a formula that passed its check for the incumbent if it is better, or
    /// tied and cheaper. Whether it was taken.
    pub fn consider(&mut self, new: Found) -> bool {
        let best = self.loss_to_beat();
        let tie = TIE * best.max(1.0);
        let Judged { loss, price_per_kg } = new.judged;
        let is_better = loss < best - tie || best.is_infinite() && loss.is_finite();
        let is_tied = loss <= best + tie && self.is_cheaper(price_per_kg);
        if !is_better && !is_tied {
            // Better by less than a tie and not cheaper: the proof may use it.
            self.lower(loss);
            return false;
        }
        let loss = best.min(loss);
        self.target = self.target.min(loss);
        self.best = Best::Incumbent(Incumbent { loss, price_per_kg, found: Some(new) });
        true
    }

    /// Lowers the loss to beat without another formula.
    fn lower(&mut self, loss: f64) {
        match &mut self.best {
            Best::Unknown => {}
            Best::Ceiling(to_beat) => *to_beat = to_beat.min(loss),
            Best::Incumbent(incumbent) => incumbent.loss = incumbent.loss.min(loss),
        }
    }

    /// What a search knows that works for this one: all but the doses of the
    /// incumbent.
    pub fn handed_down(&self) -> Knowledge {
        let best = match &self.best {
            Best::Incumbent(Incumbent { loss, price_per_kg, .. }) => {
                Best::Incumbent(Incumbent { loss: *loss, price_per_kg: *price_per_kg, found: None })
            }
            Best::Unknown | Best::Ceiling(_) => self.best.clone(),
        };
        Knowledge { best, ..*self }
    }

    /// Takes over what a search found that explored a part of the present tree:
    /// its incumbent against this one. Whether that was taken.
    pub fn merge(&mut self, mut part: Knowledge) -> bool {
        let is_taken = part.take_found().is_some_and(|found| self.consider(found));
        self.lower(part.loss_to_beat());
        is_taken
    }

    /// Takes over what a search of a subproblem came to that knew all that was
    /// known here: an incumbent of its own is the better one. `full` makes doses
    /// of the whole blend's columns of its doses.
    pub fn replace(&mut self, by: Knowledge, full: impl Fn(&[Ppt]) -> Vec<Ppt>) {
        self.target = by.target;
        match by.best {
            Best::Incumbent(Incumbent { loss, price_per_kg, found: Some(found) }) => {
                let found = Some(Found { doses: full(&found.doses), ..found });
                self.best = Best::Incumbent(Incumbent { loss, price_per_kg, found });
            }
            other => self.lower(other.loss()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(loss: f64, price_per_kg: Option<f64>) -> Found {
        Found { doses: Vec::new(), judged: Judged { loss, price_per_kg } }
    }

    #[test]
    fn a_ceiling_is_no_incumbent() {
        let mut knowledge = Knowledge::default();
        assert!(!knowledge.has_loss_to_beat() && !knowledge.is_proven());
        knowledge.set_ceiling(2.0);
        assert!(knowledge.has_ceiling_alone() && knowledge.found().is_none());
        assert!(!knowledge.consider(found(2.0, None)), "no better than what is to be beaten");
        assert!(knowledge.has_ceiling_alone());
        assert!(knowledge.consider(found(1.5, None)) && !knowledge.has_ceiling_alone());
        knowledge.raise_bound(1.5);
        knowledge.raise_bound(1.0);
        assert!(knowledge.is_proven() && knowledge.bound() == 1.5);
    }

    #[test]
    fn among_ties_the_cheaper_one_is_kept_and_the_lower_loss_is_to_be_beaten() {
        let mut knowledge = Knowledge::default();
        assert!(knowledge.consider(found(1.0, Some(10.0))));
        let (higher, lower) = (1.0 + TIE / 2.0, 1.0 - TIE / 2.0);
        assert!(knowledge.consider(found(higher, Some(9.0))) && knowledge.loss_to_beat() == 1.0);
        assert!(!knowledge.consider(found(lower, Some(9.0))) && knowledge.loss_to_beat() == lower);
        assert_eq!(knowledge.found().map(|found| found.judged.loss), Some(higher));
        assert!(!knowledge.is_of_use(1.0, || Some(9.0)) && knowledge.is_of_use(1.0, || Some(8.0)));
    }

    #[test]
    fn what_is_handed_down_comes_back() {
        let mut knowledge = Knowledge::default();
        knowledge.consider(found(1.0, Some(10.0)));
        let mut part = knowledge.handed_down();
        assert!(part.found().is_none() && part.loss_to_beat() == 1.0 && part.is_cheaper(Some(9.0)));
        part.consider(found(0.5, None));
        let mut whole = knowledge.clone();
        assert!(whole.merge(part.clone()) && whole.loss_to_beat() == 0.5);
        knowledge.replace(part, |_| vec![Ppt::WHOLE]);
        assert_eq!(knowledge.found().map(|found| found.doses.clone()), Some(vec![Ppt::WHOLE]));
    }
}
