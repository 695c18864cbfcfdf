//! The normal distribution far out in its tails.

use crate::portable::Portable;
use std::f64::consts::{PI, SQRT_2};

/// Below this the integral comes from its continued fraction.
const FAR: f64 = -8.0;
/// Terms of the fraction: at `FAR` the rest is below 1e-16 of it.
const TERMS: u32 = 60;

/// The logarithm of the probability that a standard normal number lies below
/// `z`, for any finite `z`.
pub fn ln_below(z: f64) -> f64 {
    if z > FAR {
        (0.5 * libm::erfc(-z / SQRT_2)).logarithm()
    } else {
        -0.5 * z * z - 0.5 * (2.0 * PI).logarithm() - pull(z).logarithm()
    }
}

/// The slope of that logarithm: the density at `z` over the probability below
/// it (the inverse of Mills' ratio at `-z`).
pub fn pull(z: f64) -> f64 {
    if z > FAR {
        let density = (-0.5 * z * z).exponential() / (2.0 * PI).sqrt();
        return density / (0.5 * libm::erfc(-z / SQRT_2));
    }
    // Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.2.14.
    let x = -z;
    let mut rest = x;
    for term in (2..=TERMS).rev() {
        rest = x + f64::from(term) / rest;
    }
    x + 1.0 / rest
}

/// How fast the slope falls: from 1 far below to 0 far above.
pub fn bend(z: f64) -> f64 {
    let pull = pull(z);
    (pull * (z + pull)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_and_tails() {
        // scipy.stats.norm.logcdf and exp(logpdf - logcdf).
        for (z, ln, slope) in [
            (0.0, -std::f64::consts::LN_2, 0.797_884_560_802_865_4),
            (3.0, -0.001_350_809_964_748_192_5, 0.004_437_839_042_125_666),
            (-3.0, -6.607_726_221_510_35, 3.283_098_654_930_44),
            (-10.0, -53.231_285_150_512_48, 10.098_093_233_962_564),
            (-40.0, -804.608_442_013_753_9, 40.024_968_847_210_886),
        ] {
            assert!((ln_below(z) - ln).abs() <= 1e-12 * ln.abs(), "{z}: {}", ln_below(z));
            assert!((pull(z) - slope).abs() <= 1e-12 * slope, "{z}: {}", pull(z));
        }
        assert!((ln_below(FAR) - ln_below(FAR + 1e-12)).abs() < 1e-9);
        assert!((bend(-1e4) - 1.0).abs() < 1e-6 && bend(30.0) < 1e-12);
        let step = 1e-5;
        for z in [-20.0, -5.0, -0.5, 2.0] {
            let slope = (ln_below(z + step) - ln_below(z - step)) / (2.0 * step);
            assert!((slope - pull(z)).abs() < 1e-6 * pull(z).max(1.0), "{z}");
            let fall = (pull(z - step) - pull(z + step)) / (2.0 * step);
            assert!((fall - bend(z)).abs() < 1e-6, "{z}");
        }
    }
}
