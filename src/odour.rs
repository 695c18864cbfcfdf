//! Odour shares.

/// Shares of the odour.
pub fn shares(strength_times_part: &[f64], exponent: f64) -> Vec<f64> {
    let powers: Vec<f64> =
        strength_times_part.iter().map(|&odour| if odour > 0.0 { odour.powf(exponent) } else { 0.0 }).collect();
    let total: f64 = powers.iter().sum();
    powers.into_iter().map(|power| if total > 0.0 { power / total } else { 0.0 }).collect()
}
