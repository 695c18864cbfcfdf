//! Exact doses, and the grids they live on.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, Neg, Sub};

/// A dose in parts per thousand (ppt, ‰), exact: a whole number of 1e-9 ppt.
///
/// Doses are decimals that a person writes and weighs, so they are kept as
/// integers; nothing that is printed or added up ever passes through binary
/// fractions. A formula's 1000 parts are 1e12 units, far inside an `i64`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Ppt(i64);

impl Ppt {
    /// Units of 1e-9 ppt in one ppt.
    pub const UNITS: i64 = 1_000_000_000;
    /// Nothing.
    pub const ZERO: Ppt = Ppt(0);
    /// The smallest dose that counts as used: 1e-6 ppt.
    pub const LEAST: Ppt = Ppt(1_000);
    /// A whole formula: 1000 ppt.
    pub const WHOLE: Ppt = Ppt(1_000 * Self::UNITS);

    /// A dose from its number of 1e-9 ppt.
    pub const fn from_units(units: i64) -> Self {
        Ppt(units)
    }

    /// The nearest dose to a number of ppt. Decimals with up to nine places
    /// below 1000 come out exactly. The number must be finite and within
    /// ±9e9; anything beyond is clamped.
    pub fn from_ppt(ppt: f64) -> Self {
        Ppt((ppt * Self::UNITS as f64).round() as i64)
    }

    /// The number of 1e-9 ppt.
    pub const fn units(self) -> i64 {
        self.0
    }

    /// The dose as a number of ppt, correctly rounded.
    pub fn as_f64(self) -> f64 {
        self.0 as f64 / Self::UNITS as f64
    }

    /// This dose shared out in proportions that add up to 1000: on the grid of
    /// doses, and to the same sum; the largest share takes up what rounding
    /// leaves. What is smaller than the grid is 0.
    pub fn shared_out(self, proportions: impl Iterator<Item = Ppt>) -> Vec<Ppt> {
        let whole = i128::from(Ppt::WHOLE.units());
        let share = |proportion: Ppt| {
            let exact = i128::from(self.units()) * i128::from(proportion.units());
            Ppt::from_units(((exact + whole / 2) / whole) as i64)
        };
        let mut shares: Vec<Ppt> = proportions.map(share).collect();
        let rest = self - shares.iter().copied().sum();
        if let Some(largest) = shares.iter_mut().max() {
            *largest = *largest + rest;
        }
        shares
    }

    /// Whether there is nothing of it.
    pub const fn is_zero(self) -> bool {
        self.0 == 0
    }

    /// The largest multiple of `step` that is not above this dose. Doses and
    /// step must not be negative; a step of zero leaves the dose alone.
    pub fn floor_to(self, step: Ppt) -> Ppt {
        if step.0 <= 0 { self } else { Ppt(self.0.div_euclid(step.0) * step.0) }
    }

    /// The smallest multiple of `step` that is not below this dose.
    pub fn ceil_to(self, step: Ppt) -> Ppt {
        if step.0 <= 0 { self } else { Ppt(-((-self.0).div_euclid(step.0)) * step.0) }
    }
}

impl Add for Ppt {
    type Output = Ppt;
    fn add(self, other: Ppt) -> Ppt {
        Ppt(self.0 + other.0)
    }
}

impl Sub for Ppt {
    type Output = Ppt;
    fn sub(self, other: Ppt) -> Ppt {
        Ppt(self.0 - other.0)
    }
}

impl Neg for Ppt {
    type Output = Ppt;
    fn neg(self) -> Ppt {
        Ppt(-self.0)
    }
}

impl Sum for Ppt {
    fn sum<I: Iterator<Item = Ppt>>(iter: I) -> Ppt {
        iter.fold(Ppt::ZERO, Add::add)
    }
}

/// Plain decimal text without an exponent or trailing zeros: `0.6`, `412`.
impl fmt::Display for Ppt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (sign, units) = (if self.0 < 0 { "-" } else { "" }, self.0.unsigned_abs());
        let (whole, part) = (units / Self::UNITS as u64, units % Self::UNITS as u64);
        let text = if part == 0 {
            format!("{sign}{whole}")
        } else {
            let decimals = format!("{part:09}");
            format!("{sign}{whole}.{}", decimals.trim_end_matches('0'))
        };
        f.pad(&text)
    }
}

/// The greatest common divisor of two amounts of 1e-9 ppt; `gcd(0, a) = a`.
pub fn gcd(a: i64, b: i64) -> i64 {
    let (mut a, mut b) = (a.abs(), b.abs());
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimal_text_and_back() {
        for (ppt, text) in [(412.0, "412"), (0.6, "0.6"), (1e-9, "0.000000001"), (999.999_999_999, "999.999999999")] {
            assert_eq!(Ppt::from_ppt(ppt).to_string(), text);
            assert_eq!(Ppt::from_ppt(ppt).as_f64(), ppt);
        }
        assert_eq!((-Ppt::from_ppt(0.25)).to_string(), "-0.25");
    }

    #[test]
    fn grids_are_exact() {
        let step = Ppt::from_ppt(0.1);
        assert_eq!(Ppt::from_ppt(0.3).ceil_to(step), Ppt::from_ppt(0.3));
        assert_eq!(Ppt::from_ppt(0.3).floor_to(step), Ppt::from_ppt(0.3));
        assert_eq!(Ppt::from_ppt(0.31).ceil_to(step), Ppt::from_ppt(0.4));
        assert_eq!(Ppt::from_ppt(0.39).floor_to(step), Ppt::from_ppt(0.3));
        assert_eq!(Ppt::from_ppt(0.39).floor_to(Ppt::ZERO), Ppt::from_ppt(0.39));
        assert_eq!(gcd(Ppt::UNITS, step.units()), step.units());
    }
}
