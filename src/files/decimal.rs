//! Numbers as they are written: exact decimals, without a detour over binary
//! fractions.

use crate::units::Ppt;

/// Decimal places that a dose keeps: one unit is 1e-9 ppt.
const PLACES: i64 = 9;

/// A decimal: its digits, without zeros at either end, times a power of ten.
#[derive(Debug, PartialEq)]
pub(super) struct Decimal {
    negative: bool,
    digits: String,
    exponent: i64,
}

impl Decimal {
    /// Reads `412`, `0.6`, `-1.5e-3`; `None` where it is no decimal, or where
    /// its exponent is beyond all use.
    pub(super) fn read(written: &str) -> Option<Decimal> {
        let (negative, unsigned) = match written.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, written.strip_prefix('+').unwrap_or(written)),
        };
        let (mantissa, exponent) = unsigned.split_once(['e', 'E']).unwrap_or((unsigned, "0"));
        let (whole, part) = mantissa.split_once('.').unwrap_or((mantissa, ""));
        let all = format!("{whole}{part}");
        if all.is_empty() || !all.bytes().all(|digit| digit.is_ascii_digit()) {
            return None;
        }
        let digits = all.trim_end_matches('0');
        let exponent = i64::from(exponent.strip_prefix('+').unwrap_or(exponent).parse::<i32>().ok()?);
        let trailing = i64::try_from(all.len() - digits.len()).ok()?;
        let exponent = exponent - i64::try_from(part.len()).ok()? + trailing;
        let digits = digits.trim_start_matches('0').to_owned();
        let exponent = if digits.is_empty() { 0 } else { exponent };
        Some(Decimal { negative, digits, exponent })
    }

    /// How many decimal places it needs.
    pub(super) fn places(&self) -> i64 {
        (-self.exponent).max(0)
    }

    /// The nearest dose; halves are rounded away from zero. `None` where it is
    /// bigger than a dose can be.
    pub(super) fn dose(&self) -> Option<Ppt> {
        let shift = self.exponent + PLACES;
        let units: i64 = if shift >= 0 {
            if self.digits.is_empty() {
                0
            } else {
                let power = 10_i64.checked_pow(u32::try_from(shift).ok()?)?;
                self.digits.parse::<i64>().ok()?.checked_mul(power)?
            }
        } else {
            let kept = i64::try_from(self.digits.len()).ok()? + shift;
            let (kept, cut) = match usize::try_from(kept) {
                Ok(kept) => self.digits.split_at(kept),
                Err(_) => ("", "0"),
            };
            let units: i64 = if kept.is_empty() { 0 } else { kept.parse().ok()? };
            if cut.as_bytes().first().is_some_and(|digit| *digit >= b'5') { units.checked_add(1)? } else { units }
        };
        Some(Ppt::from_units(if self.negative { -units } else { units }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_of_written_numbers() {
        let cases =
            [("0.10", 1), ("1e-3", 3), ("1.5e3", 0), ("10e-1", 0), ("0.0000001", 7), ("1e-400", 400), ("5.0", 0)];
        for (written, places) in cases {
            assert_eq!(Decimal::read(written).unwrap().places(), places, "{written}");
        }
        for bad in ["", "nan", "inf", ".", "1e", "0x1", "1e99999999999"] {
            assert_eq!(Decimal::read(bad), None, "{bad}");
        }
    }

    #[test]
    fn doses_are_exact() {
        let units = |written| Decimal::read(written).unwrap().dose().map(Ppt::units);
        assert_eq!(units("412"), Some(412_000_000_000));
        assert_eq!(units("0.6"), Some(600_000_000));
        assert_eq!(units("-0.25"), Some(-250_000_000));
        assert_eq!(units("123456.789012345"), Some(123_456_789_012_345));
        assert_eq!(units("333.33333333333333333333333"), Some(333_333_333_333));
        assert_eq!(units("0.0000000005"), Some(1));
        assert_eq!(units("0.00000000049"), Some(0));
        assert_eq!(units("1e-400"), Some(0));
        assert_eq!(units("0.000"), Some(0));
        assert_eq!(units("1e30"), None);
    }
}
