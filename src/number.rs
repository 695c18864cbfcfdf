//! Numbers as a person reads them.

use crate::portable::Portable;

/// A number as the shortest decimal text that keeps it, without an exponent
/// and without a negative zero.
pub fn plain(value: f64) -> String {
    let text = value.to_string();
    if text == "-0" { "0".to_owned() } else { text }
}

/// A number to so many decimals, rounded to nearest, without a negative zero.
pub fn rounded(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let is_zero = text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.');
    if is_zero { text.trim_start_matches('-').to_owned() } else { text }
}

/// The number with 15 significant digits: what a person would have computed
/// in decimals where binary arithmetic leaves 0.30000000000000004.
pub fn tidy(value: f64) -> f64 {
    format!("{value:.14e}").parse().unwrap_or(value)
}

/// A number with at least so many significant digits, but never more decimals
/// than `most` nor fewer than `least`.
pub fn significant(value: f64, digits: i32, least: usize, most: usize) -> String {
    rounded(value, decimals_for(value, digits, least, most))
}

/// Decimals that show a number with so many significant digits.
pub fn decimals_for(value: f64, digits: i32, least: usize, most: usize) -> usize {
    if value == 0.0 || !value.is_finite() {
        return least;
    }
    let before = value.abs().decimal_logarithm().floor() as i32 + 1;
    ((digits - before).max(0) as usize).clamp(least, most)
}

/// A number rounded up to so many decimals: never shown as less than it is.
/// What binary arithmetic adds beyond twelve digits does not count.
pub fn rounded_up(value: f64, decimals: usize) -> String {
    rounded(on_grid(value, decimals, f64::ceil), decimals)
}

/// A number rounded down to so many decimals: never shown as more than it is.
pub fn rounded_down(value: f64, decimals: usize) -> String {
    rounded(on_grid(value, decimals, f64::floor), decimals)
}

fn on_grid(value: f64, decimals: usize, towards: fn(f64) -> f64) -> f64 {
    let scale = 10f64.powi(decimals as i32);
    let scaled = value * scale;
    let nearest = scaled.round();
    // Something is never shown as nothing because it is small.
    let vanishes = nearest == 0.0 && value > 0.0;
    let is_on_grid = !vanishes && (scaled - nearest).abs() <= 1e-12 * scaled.abs().max(1.0);
    (if is_on_grid { nearest } else { towards(scaled) }) / scale
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_negative_zero() {
        assert_eq!(plain(-0.0), "0");
        assert_eq!(rounded(-0.001, 2), "0.00");
        assert_eq!(rounded(-1.25, 1), "-1.2");
    }

    #[test]
    fn rounding_has_a_direction() {
        assert_eq!(rounded_up(0.020_01, 3), "0.021");
        assert_eq!(rounded_up(0.1 + 0.2, 1), "0.3");
        assert_eq!(rounded_down(0.299, 2), "0.29");
        assert_eq!(rounded_down(-0.001, 2), "-0.01");
        assert_eq!(rounded_up(0.0, 2), "0.00");
        assert_eq!(tidy(0.1 + 0.2), 0.3);
        assert_eq!(significant(0.876_54, 3, 0, 6), "0.877");
        assert_eq!(significant(1234.5, 3, 0, 6), "1234");
    }
}
