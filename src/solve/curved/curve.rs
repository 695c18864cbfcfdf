//! What a material is worth to some multipliers at a dose `v`: `used + slope v +
//! bend v^g` where it is used and 0 where it is not, with the exponent `g` of the
//! compressive law. Its least value over a box of doses is known in closed form,
//! which is all that a bound needs; so is where it may still be low.

use crate::evaluate::SECOND_EXPONENT;
use crate::tolerance::simplex::ROUNDING;
use crate::units::Ppt;

/// What a power may be off by, in roundings: more than Newton's last step leaves.
const OF_A_POWER: f64 = 8.0;
/// Halvings of an interval of doses: to a billionth of it.
const HALVINGS: usize = 30;

/// A dose in ppt to the power of the compressive law, 2/5: the fifth root of its square
/// by Newton's method, in additions, products and quotients alone, so that it is the
/// same on every machine and several times as fast as a general power.
pub(super) fn power(ppt: f64) -> f64 {
    if ppt <= 0.0 {
        return 0.0;
    }
    let square = ppt * ppt;
    // A fifth of the exponent: to about a tenth of the root.
    let mut root = f64::from_bits(square.to_bits() / 5 + (1023 << 52) / 5 * 4);
    for _ in 0..5 {
        let fourth = (root * root) * (root * root);
        root -= (root - square / fourth) / 5.0;
    }
    root
}

/// The dose in ppt that has a power: `p^(5/2)`.
pub(super) fn dose_of(power: f64) -> f64 {
    if power > 0.0 { power * power * power.sqrt() } else { 0.0 }
}

/// The doses at which a column may be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Span {
    /// Least dose.
    pub least: Ppt,
    /// Greatest dose.
    pub most: Ppt,
    /// The grid, above 0.
    pub step: Ppt,
}

impl Span {
    /// Whether there is just one dose.
    pub fn is_point(self) -> bool {
        self.least >= self.most
    }

    /// Whether it is one of the doses.
    pub fn holds(self, dose: Ppt) -> bool {
        dose >= self.least && dose <= self.most && (dose - self.least).units() % self.step.units() == 0
    }

    /// The dose on the grid that is not above a number of ppt, inside the span.
    pub fn below(self, ppt: f64) -> Ppt {
        Ppt::from_ppt(ppt.clamp(0.0, 1000.0)).floor_to(self.step).max(self.least).min(self.most)
    }
}

/// `used + slope v + bend v^g`, with how far rounding may have put each off.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Worth {
    pub used: f64,
    pub slope: f64,
    pub bend: f64,
    pub used_doubt: f64,
    pub slope_doubt: f64,
    pub bend_doubt: f64,
}

/// The least value over a span, and where it is taken.
#[derive(Clone, Copy, Debug)]
pub(super) struct Least {
    pub value: f64,
    pub at: Ppt,
}

impl Worth {
    /// The value at a dose, as computed.
    pub fn at(&self, dose: Ppt) -> f64 {
        let ppt = dose.as_f64();
        let bent = if self.bend != 0.0 { self.bend * power(ppt) } else { 0.0 };
        self.used + self.slope * ppt + bent
    }

    /// How far a computed value at a dose up to `most` may lie from the true one.
    fn doubt(&self, most: Ppt) -> f64 {
        let ppt = most.as_f64();
        let power = if self.bend != 0.0 || self.bend_doubt != 0.0 { power(ppt) } else { 0.0 };
        let terms = self.used.abs() + self.slope.abs() * ppt + self.bend.abs() * power;
        self.used_doubt + self.slope_doubt * ppt + self.bend_doubt * power + ROUNDING * (3.0 + OF_A_POWER) * terms
    }

    /// The least value over a span, lowered by what rounding may have added.
    pub fn least(&self, span: Span) -> Least {
        let mut best = Least { value: self.at(span.least), at: span.least };
        let mut look = |dose: Ppt| {
            let value = self.at(dose);
            if value < best.value {
                best = Least { value, at: dose };
            }
        };
        if !span.is_point() {
            look(span.most);
            // Only where less is gained by each part more has it a trough inside.
            if self.bend < 0.0 && self.slope > 0.0 {
                // `v^(1 - g)` is this ratio, and 1 / (1 - g) five thirds.
                let ratio = -self.bend * SECOND_EXPONENT / self.slope;
                let trough = ratio * libm::cbrt(ratio * ratio);
                if trough.is_finite() {
                    let below = span.below(trough);
                    look(below);
                    look((below + span.step).min(span.most));
                }
            }
        }
        Least { value: best.value - self.doubt(span.most), ..best }
    }

    /// The part of a span outside of which the value is certainly not below a cap;
    /// `None` where it is nowhere.
    pub fn below(&self, cap: f64, span: Span) -> Option<Span> {
        let cap = cap + self.doubt(span.most);
        let is_below = |dose: Ppt| self.at(dose) < cap;
        let (first, last) = (is_below(span.least), is_below(span.most));
        if first && last {
            return Some(span);
        }
        // A dose where it is below: an end, or the trough.
        let Least { value, at } = self.least(span);
        if value >= cap || !(first || last || is_below(at)) {
            return None;
        }
        let is_trough = self.bend < 0.0 && self.slope > 0.0;
        let least = match (first, is_trough) {
            (true, _) => span.least,
            (false, true) => self.first_below(cap, span.least, at, span.step),
            // A hill or a line, below at its far end.
            (false, false) => self.first_below(cap, span.least, span.most, span.step),
        };
        let most = match (last, is_trough) {
            (true, _) => span.most,
            (false, true) => self.first_below(cap, span.most, at, -span.step),
            (false, false) => self.first_below(cap, span.most, span.least, -span.step),
        };
        (least <= most).then_some(Span { least, most, ..span })
    }

    /// Between a dose that is not below the cap and one that is, on the grid: the
    /// first that may be, from the one that is not.
    fn first_below(&self, cap: f64, outside: Ppt, inside: Ppt, step: Ppt) -> Ppt {
        let (mut outside, mut inside, unit) = (outside.units(), inside.units(), step.units());
        for _ in 0..HALVINGS {
            let steps = (inside - outside) / unit;
            if steps <= 1 {
                break;
            }
            let middle = outside + steps / 2 * unit;
            if self.at(Ppt::from_units(middle)) < cap { inside = middle } else { outside = middle }
        }
        // What the halvings left in between stays in.
        let next = outside + unit;
        Ppt::from_units(if unit > 0 { next.min(inside) } else { next.max(inside) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Chance;

    #[test]
    fn the_power_is_that_of_the_law() {
        assert_eq!(SECOND_EXPONENT, 0.4);
        let mut ppt = 1e-9;
        while ppt <= 1000.0 {
            let (found, known) = (power(ppt), libm::pow(ppt, SECOND_EXPONENT));
            assert!((found - known).abs() <= 4.0 * f64::EPSILON * known, "{ppt}: {found} {known}");
            assert!((dose_of(found) - ppt).abs() <= 1e-14 * ppt, "{ppt}");
            ppt *= 1.0123;
        }
        assert_eq!(power(0.0), 0.0);
    }

    fn span(least: i64, most: i64) -> Span {
        let ppt = |whole: i64| Ppt::from_units(whole * Ppt::UNITS);
        Span { least: ppt(least), most: ppt(most), step: ppt(1) }
    }

    fn worths() -> impl Iterator<Item = (Worth, Span)> {
        let mut random = Chance::new(4, 0);
        (0..4000).map(move |case| {
            let sign = |up: bool| if up { 1.0 } else { -1.0 };
            let worth = Worth {
                used: random.between(-5.0, 5.0),
                slope: sign(case % 2 == 0) * random.between(0.0, 0.2),
                bend: sign(case % 4 < 2) * random.between(0.0, 3.0),
                ..Worth::default()
            };
            let least = random.between(1.0, 40.0) as i64;
            (worth, span(least, least + random.between(0.0, 300.0) as i64))
        })
    }

    /// The least value is that of listing every dose, less a hair.
    #[test]
    fn the_least_is_that_of_listing() {
        for (worth, span) in worths() {
            let doses = (span.least.units()..=span.most.units()).step_by(Ppt::UNITS as usize);
            let listed = doses.map(|dose| worth.at(Ppt::from_units(dose))).fold(f64::INFINITY, f64::min);
            let found = worth.least(span);
            assert!(found.value <= listed && found.value > listed - 1e-11, "{worth:?} {span:?}: {found:?} {listed}");
        }
    }

    /// What is cut off holds no dose below the cap, and what stays ends at doses
    /// that are below it.
    #[test]
    fn what_is_cut_off_is_not_below_the_cap() {
        let (mut nothing, mut shorter) = (0, 0);
        for (worth, span) in worths() {
            // A hair off, so that no dose is just at the cap.
            let cap = worth.at(Ppt::from_units((span.least.units() + span.most.units()) / 2)) - 1e-6;
            for cap in [cap, cap - 1.0, worth.at(span.least) - 0.01, worth.at(span.most) - 0.01] {
                let doses: Vec<Ppt> = (span.least.units()..=span.most.units())
                    .step_by(Ppt::UNITS as usize)
                    .map(Ppt::from_units)
                    .filter(|&dose| worth.at(dose) < cap - 1e-10)
                    .collect();
                match worth.below(cap, span) {
                    None => {
                        nothing += 1;
                        assert!(doses.is_empty(), "{worth:?} {span:?} {cap}");
                    }
                    Some(left) => {
                        shorter += u32::from(left != span);
                        let holds = |dose: &&Ppt| left.least <= **dose && **dose <= left.most;
                        assert_eq!(
                            doses.iter().filter(holds).count(),
                            doses.len(),
                            "{worth:?} {span:?} {left:?} {cap}"
                        );
                        if let (Some(first), Some(last)) = (doses.first(), doses.last()) {
                            assert!(left.least == *first && left.most == *last, "{worth:?} {span:?} {left:?} {cap}");
                        }
                    }
                }
            }
        }
        assert!(nothing > 1000 && shorter > 1000, "{nothing} {shorter}");
    }
}
