//! Comparisons that rounding must not decide: sums of products of decimals,
//! computed as exact fractions.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::Zero;

use super::Problem;
use crate::brief::Basis;
use crate::formula::Formula;
use crate::units::Ppt;

/// The decimal that a person would have written for a number: the shortest
/// decimal text that reads back as the same number, as an exact fraction.
/// Numbers that are not finite count as zero; validated input has none.
pub fn decimal(value: f64) -> BigRational {
    let text = value.to_string();
    let (sign, digits) = match text.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, text.as_str()),
    };
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let numerator = format!("{whole}{part}").parse::<BigInt>().unwrap_or_default();
    BigRational::new(numerator * sign, BigInt::from(10).pow(part.len() as u32))
}

impl Problem {
    /// (material, exact neat ppt) of everything in the formula.
    pub(crate) fn exact_neat(&self, formula: &Formula) -> Vec<(usize, BigRational)> {
        let hundred = decimal(100.0);
        let mut neat = Vec::new();
        for &(material, ppt) in &formula.parts {
            let poured = dose(ppt);
            match (formula.basis, self.material(material).bottles.first()) {
                (Basis::Bottle, Some(bottle)) => {
                    let part = decimal(bottle.percent) / &hundred;
                    let carrier = self.columns[material].neat.iter().find(|(brought, _)| *brought != material);
                    if let Some(&(carrier, _)) = carrier {
                        neat.push((carrier, &poured * (decimal(1.0) - &part)));
                    }
                    neat.push((material, poured * part));
                }
                _ => neat.push((material, poured)),
            }
        }
        neat
    }
}

/// A dose as an exact fraction of a ppt.
pub fn dose(ppt: Ppt) -> BigRational {
    BigRational::new(BigInt::from(ppt.units()), BigInt::from(Ppt::UNITS))
}

/// Whether `sum of products <= bound`, exactly.
pub fn sum_at_most(products: impl Iterator<Item = Vec<BigRational>>, bound: &BigRational) -> bool {
    let sum = products.map(|factors| factors.into_iter().product::<BigRational>());
    sum.fold(BigRational::zero(), |sum, term| sum + term) <= *bound
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_are_what_was_written() {
        let tenth = BigRational::new(1.into(), 10.into());
        assert_eq!(decimal(0.1), tenth);
        assert_eq!(decimal(-12.5), BigRational::new((-25).into(), 2.into()));
        assert_eq!(decimal(1e-7), BigRational::new(1.into(), 10_000_000.into()));
        assert_eq!(decimal(1e21), BigRational::from(BigInt::from(10).pow(21)));
        // 0.1 + 0.2 <= 0.3 fails in binary and holds in decimals.
        assert!(sum_at_most([vec![decimal(0.1)], vec![decimal(0.2)]].into_iter(), &decimal(0.3)));
        assert!(!sum_at_most([vec![decimal(0.1)], vec![decimal(0.2)]].into_iter(), &decimal(0.299_999_999_999)));
    }
}
