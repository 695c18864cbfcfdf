//! Who is heard in a blend.

use crate::portable::Portable;

/// The odour share of each part: proportional to (strength times part) to the
/// power `exponent`, adding up to 1.
///
/// With exponent 1 a share is the part of the whole odour that a material
/// brings, strengths being additive: the linear rule of the model. A smaller
/// exponent compresses (S. S. Stevens' power law of intensity), so that strong
/// materials weigh less and weak ones more.
///
/// A product of zero stays zero at every exponent; a blend without any odour
/// gives zeros. Products are finite and not negative, exponents positive.
///
/// ```
/// use permil::odour::shares;
///
/// // 900 parts of strength 1 beside 100 parts of strength 16.
/// assert_eq!(shares(&[900.0, 1600.0], 1.0), [0.36, 0.64]);
/// assert_eq!(shares(&[0.0, 0.0], 1.0), [0.0, 0.0]);
/// ```
pub fn shares(strength_times_part: &[f64], exponent: f64) -> Vec<f64> {
    // Measured by the largest, no power can overflow, and only a share that is
    // nothing beside it can vanish.
    let largest = strength_times_part.iter().copied().fold(0.0, f64::max);
    let heard = |&product: &f64| if product > 0.0 { (product / largest).power(exponent) } else { 0.0 };
    let powers: Vec<f64> = strength_times_part.iter().map(heard).collect();
    let total: f64 = powers.iter().sum();
    if total > 0.0 { powers.into_iter().map(|power| power / total).collect() } else { powers }
}
