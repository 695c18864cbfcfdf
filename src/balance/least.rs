//! The least mass that a balance weighs well enough.

/// Half a step of the display is the most that rounding alone can be off, so
/// this many grams are off by at most `error_percent`. Both arguments must be
/// above 0. Drift, draught and the hand come on top.
pub fn least_grams(step_grams: f64, error_percent: f64) -> f64 {
    step_grams / 2.0 * 100.0 / error_percent
}

/// The pharmacopoeial minimum weight of a balance with this step, in grams, at
/// best: 2000 standard deviations of repeated weighings, which never count as
/// less than 0.41 steps, for an error of 0.10 % (USP general chapter 41).
pub fn pharmacopoeial_grams(step_grams: f64) -> f64 {
    820.0 * step_grams
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::number::tidy;

    #[test]
    fn published_minimum_weights() {
        assert_eq!(tidy(pharmacopoeial_grams(0.0001)), 0.082);
        assert_eq!(tidy(pharmacopoeial_grams(0.001)), 0.82);
    }

    #[test]
    fn one_percent_of_a_milligram_balance_is_fifty_milligrams() {
        assert_eq!(tidy(least_grams(0.001, 1.0)), 0.05);
        assert_eq!(tidy(least_grams(0.01, 2.0)), 0.25);
    }
}
