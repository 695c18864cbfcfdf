//! Binary fractions of any size, exact: every double is one, and so are sums
//! and products of them. A checker that computes in these has no rounding to
//! account for and nothing that could overflow or not be a number.

use std::cmp::Ordering;

use num_bigint::{BigInt, Sign};
use num_traits::{ToPrimitive, Zero};

/// `mantissa * 2^exponent`.
#[derive(Clone, Debug, Default)]
pub(super) struct Exact {
    mantissa: BigInt,
    exponent: i32,
}

impl Exact {
    pub(super) fn zero() -> Exact {
        Exact::default()
    }

    /// The number that a double is; `None` where it is none.
    pub(super) fn of(value: f64) -> Option<Exact> {
        if !value.is_finite() {
            return None;
        }
        let bits = value.to_bits();
        let (power, fraction) = (((bits >> 52) & 0x7ff) as i32, bits & ((1 << 52) - 1));
        let (mantissa, exponent) = if power == 0 { (fraction, -1074) } else { (fraction | 1 << 52, power - 1075) };
        if mantissa == 0 {
            return Some(Exact::zero());
        }
        let spare = mantissa.trailing_zeros();
        let mantissa = BigInt::from(mantissa >> spare);
        let signed = if value < 0.0 { -mantissa } else { mantissa };
        Some(Exact { mantissa: signed, exponent: exponent + spare as i32 })
    }

    pub(super) fn whole(value: i64) -> Exact {
        Exact { mantissa: BigInt::from(value), exponent: 0 }
    }

    /// The same times a power of two.
    pub(super) fn shifted(mut self, by: i32) -> Exact {
        self.exponent += by;
        self
    }

    pub(super) fn times(&self, other: &Exact) -> Exact {
        Exact { mantissa: &self.mantissa * &other.mantissa, exponent: self.exponent + other.exponent }
    }

    pub(super) fn abs(mut self) -> Exact {
        if self.mantissa.sign() == Sign::Minus {
            self.mantissa = -self.mantissa;
        }
        self
    }

    pub(super) fn negated(mut self) -> Exact {
        self.mantissa = -self.mantissa;
        self
    }

    pub(super) fn add(&mut self, other: Exact) {
        if other.mantissa.is_zero() {
        } else if self.mantissa.is_zero() {
            *self = other;
        } else if other.exponent >= self.exponent {
            self.mantissa += other.mantissa << (other.exponent - self.exponent) as usize;
        } else {
            self.mantissa <<= (self.exponent - other.exponent) as usize;
            self.mantissa += other.mantissa;
            self.exponent = other.exponent;
        }
    }

    pub(super) fn subtract(&mut self, other: Exact) {
        self.add(other.negated());
    }

    pub(super) fn is_negative(&self) -> bool {
        self.mantissa.sign() == Sign::Minus
    }

    pub(super) fn is_positive(&self) -> bool {
        self.mantissa.sign() == Sign::Plus
    }

    /// The greatest whole number that is not above `self / by`, `by` being
    /// above 0 and `self` not negative; `most` where it is larger than that.
    pub(super) fn whole_quotient(&self, by: &Exact, most: i64) -> i64 {
        let shift = self.exponent - by.exponent;
        let up = |number: &BigInt, by: i32| number << by.max(0) as usize;
        let quotient = up(&self.mantissa, shift) / up(&by.mantissa, -shift);
        quotient.to_i64().unwrap_or(most).min(most)
    }

    /// The greatest double that is not above `self / by`, for a whole `by` of
    /// 1 or more; `None` where that is none of ordinary size.
    pub(super) fn quotient_down(&self, by: i64) -> Option<f64> {
        let near = self.mantissa.to_f64()? / by as f64;
        // Powers beyond a double's own in two steps.
        let half = self.exponent / 2;
        let mut value = near * 2f64.powi(half) * 2f64.powi(self.exponent - half);
        // Four roundings at most have put it off.
        for _ in 0..16 {
            let product = Exact::of(value)?.times(&Exact::whole(by));
            if product.cmp(self) != Ordering::Greater {
                return Some(value);
            }
            value = value.next_down();
        }
        None
    }
}

impl PartialEq for Exact {
    fn eq(&self, other: &Exact) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Exact {}

impl PartialOrd for Exact {
    fn partial_cmp(&self, other: &Exact) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Exact {
    fn cmp(&self, other: &Exact) -> Ordering {
        let mut difference = self.clone();
        difference.subtract(other.clone());
        difference.mantissa.sign().cmp(&Sign::NoSign)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(value: f64) -> Exact {
        Exact::of(value).expect("finite")
    }

    #[test]
    fn sums_that_doubles_round_are_exact() {
        let mut sum = of(1e300);
        sum.add(of(1e-300));
        sum.subtract(of(1e300));
        assert_eq!(sum, of(1e-300));
        assert_ne!(sum, of(2e-300));
        // 0.1 + 0.2 is not the double 0.3, but is below the next one.
        let mut sum = of(0.1);
        sum.add(of(0.2));
        assert!(sum > of(0.3) && sum < of(0.3f64.next_up()));
        assert_eq!(of(0.1).times(&of(3.0)).cmp(&of(0.3)), Ordering::Greater);
        assert_eq!(of(-1.5).times(&of(5e-324)).negated(), of(5e-324).times(&of(1.5)));
        for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(Exact::of(value).is_none());
        }
    }

    /// Sizes are never below 0: the room of a row is made of them.
    #[test]
    fn sizes_have_no_sign() {
        assert!(of(-1.5).abs() == of(1.5) && of(1.5).abs() == of(1.5) && of(-0.0).abs() == Exact::zero());
        assert!(of(-1.5).is_negative() && !of(-1.5).abs().is_negative() && of(-1.5).abs().is_positive());
    }

    #[test]
    fn quotients_are_rounded_down() {
        for (a, b, whole) in [(7.0, 2.0, 3), (1.0, 0.1, 9), (6.0, 2.0, 3), (0.0, 5.0, 0), (1e30, 1e-30, 50)] {
            assert_eq!(of(a).whole_quotient(&of(b), 50), whole, "{a} / {b}");
        }
        for (a, by) in [(1.0, 3), (-1.0, 3), (1e-300, 1_000_000_000), (12.0, 4), (0.1, 1), (-0.7, 1_000_000_000)] {
            let down = of(a).quotient_down(by).expect("ordinary");
            let below = |value: f64| of(value).times(&Exact::whole(by)) <= of(a);
            assert!(below(down) && !below(down.next_up()), "{a} / {by}: {down}");
        }
    }
}
