//! Mean, deviation and quantiles of what was drawn.

/// How something spreads over draws.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spread {
    /// Its mean.
    pub mean: f64,
    /// Its standard deviation.
    pub sd: f64,
    /// One draw in twenty lies below this.
    pub p5: f64,
    /// One draw in twenty lies above this.
    pub p95: f64,
}

impl Spread {
    /// The spread of some values, which are put in order.
    pub fn of(values: &mut [f64]) -> Spread {
        values.sort_unstable_by(f64::total_cmp);
        let (mean, sd) = mean_and_sd(values);
        Spread { mean, sd, p5: quantile(values, 0.05), p95: quantile(values, 0.95) }
    }

    /// The same of values that nobody asks for in order afterwards: only the places that count
    /// are put there, which takes a fraction of the time. Mean and deviation are added up as the
    /// values stand, so that their last digits are of that order.
    pub fn unordered(values: &mut [f64]) -> Spread {
        let (mean, sd) = mean_and_sd(values);
        let (p5, p95) = (one_quantile(values, 0.05), one_quantile(values, 0.95));
        Spread { mean, sd, p5, p95 }
    }
}

/// [`quantile`] of values in any order, which it moves about.
fn one_quantile(values: &mut [f64], part: f64) -> f64 {
    let Some(last) = values.len().checked_sub(1) else { return 0.0 };
    let place = part.clamp(0.0, 1.0) * last as f64;
    let below = place.floor() as usize;
    let (_, &mut at, beyond) = values.select_nth_unstable_by(below, f64::total_cmp);
    let next = beyond.iter().copied().min_by(f64::total_cmp).unwrap_or(at);
    at + (place - below as f64) * (next - at)
}

/// Mean and standard deviation; 0 of no values, a deviation of 0 of one.
pub fn mean_and_sd(values: &[f64]) -> (f64, f64) {
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count.max(1.0);
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    (mean, (squares / (count - 1.0).max(1.0)).sqrt())
}

/// The value below which a part of some ordered values lies, between
/// neighbours in proportion (R. J. Hyndman and Y. Fan's type 7); 0 of none.
pub fn quantile(ordered: &[f64], part: f64) -> f64 {
    let Some(last) = ordered.len().checked_sub(1) else { return 0.0 };
    let place = part.clamp(0.0, 1.0) * last as f64;
    let below = place.floor() as usize;
    let above = (below + 1).min(last);
    ordered[below] + (place - below as f64) * (ordered[above] - ordered[below])
}

/// The mean of the worst part of some ordered values, the lowest first, at
/// least one of them.
pub fn worst(ordered: &[f64], part: f64) -> f64 {
    let count = ((ordered.len() as f64 * part).round() as usize).clamp(1, ordered.len().max(1));
    ordered.iter().take(count).sum::<f64>() / count as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_the_numbers_from_one_to_a_hundred_and_one() {
        let mut values: Vec<f64> = (1..=101).rev().map(f64::from).collect();
        let spread = Spread::of(&mut values);
        assert_eq!((spread.mean, spread.p5, spread.p95), (51.0, 6.0, 96.0));
        assert!((spread.sd - (101.0_f64 * 102.0 / 12.0).sqrt()).abs() < 1e-12);
        assert_eq!(worst(&values, 0.1), 5.5);
        assert_eq!((quantile(&[3.0], 0.7), quantile(&[], 0.5), worst(&[2.0], 0.1)), (3.0, 0.0, 2.0));
        assert_eq!(quantile(&[1.0, 2.0], 0.25), 1.25);
    }

    #[test]
    fn without_an_order_the_ends_are_the_same() {
        let mut chance = crate::chance::Chance::new(1, 0);
        for count in [0, 1, 2, 3, 20, 21, 1000, 10_000] {
            // Rounded, so that many are the same.
            let values: Vec<f64> = (0..count).map(|_| (chance.normal() * 20.0).round() / 20.0).collect();
            let (mut ordered, mut any) = (values.clone(), values);
            let (one, other) = (Spread::of(&mut ordered), Spread::unordered(&mut any));
            assert_eq!((one.p5, one.p95), (other.p5, other.p95), "{count}");
            assert!((one.mean - other.mean).abs() < 1e-12 && (one.sd - other.sd).abs() < 1e-12, "{count}");
        }
    }
}
