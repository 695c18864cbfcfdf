//! From a quantity to a place on the sheet.

use crate::portable::Portable;
use plotters::coord::ranged1d::{BoldPoints, Ranged};
use plotters::coord::types::RangedCoordf64;

/// How equal steps are measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Steps {
    /// By difference.
    Linear,
    /// By ratio.
    Log,
    /// By ratio, with 0 set apart at the start.
    ZeroAndLog,
}

/// Part of an axis that lies between 0 and the least of a scale that sets 0
/// apart.
const APART: f64 = 0.08;

/// A quantity from `from` to `to` along an axis from `start` to `end` pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// Least quantity; above 0 where steps are ratios.
    pub from: f64,
    /// Greatest quantity.
    pub to: f64,
    /// Where the least stands, in pixels.
    pub start: f64,
    /// Where the greatest stands, in pixels.
    pub end: f64,
    /// How equal steps are measured.
    pub steps: Steps,
}

impl Scale {
    /// A scale by differences; one without extent is given some.
    pub fn linear(from: f64, to: f64, start: f64, end: f64) -> Scale {
        let to = if to > from { to } else { from + from.abs().max(1.0) * 0.1 };
        Scale { from, to, start, end, steps: Steps::Linear }
    }

    /// A scale by differences whose ends are round numbers.
    pub fn rounded(from: f64, to: f64, start: f64, end: f64, ticks: usize) -> Scale {
        let (mut low, mut high) = (from, to.max(from + 1e-9));
        // Rounding lengthens the scale, and a longer one may want longer steps.
        for _ in 0..3 {
            let step = round_step(high - low, ticks);
            (low, high) = ((from / step + 1e-9).floor() * step, (to / step - 1e-9).ceil() * step);
            high = high.max(low + step);
        }
        Scale::linear(low, high, start, end)
    }

    /// A scale by ratios over whole decades, with 0 set apart at its start.
    pub fn zero_and_log(least: f64, most: f64, start: f64, end: f64) -> Scale {
        let decade = |value: f64, towards: fn(f64) -> f64| 10f64.power(towards(value.decimal_logarithm()));
        let to = decade(most.max(1e-6), f64::ceil);
        let from = decade(least.max(1e-6), f64::floor).min(to / 10.0);
        Scale { from, to, start, end, steps: Steps::ZeroAndLog }
    }

    /// Where a quantity lies between the ends: 0 to 1.
    pub fn fraction(&self, value: f64) -> f64 {
        let ratio = |value: f64| (value.max(self.from) / self.from).logarithm() / (self.to / self.from).logarithm();
        match self.steps {
            Steps::Linear => (value - self.from) / (self.to - self.from),
            Steps::Log => ratio(value),
            Steps::ZeroAndLog if value <= 0.0 => 0.0,
            Steps::ZeroAndLog if value < self.from => APART * value / self.from,
            Steps::ZeroAndLog => APART + (1.0 - APART) * ratio(value),
        }
    }

    /// Where a quantity stands, in pixels.
    pub fn px(&self, value: f64) -> f64 {
        self.start + self.fraction(value) * (self.end - self.start)
    }

    /// Whether a quantity lies on the axis.
    pub fn has(&self, value: f64) -> bool {
        (-1e-9..=1.0 + 1e-9).contains(&self.fraction(value))
    }

    /// Round quantities to mark, at most about so many.
    pub fn ticks(&self, most: usize) -> Vec<f64> {
        match self.steps {
            Steps::Linear => {
                let axis = RangedCoordf64::from(self.from..self.to);
                let step = round_step(self.to - self.from, most);
                let mut ticks = axis.key_points(BoldPoints(most));
                // Steps of 2.5 and 0.4 read badly.
                if ticks.windows(2).any(|pair| !is_multiple(pair[1] - pair[0], step)) || ticks.len() < 3 {
                    let first = (self.from / step - 1e-9).ceil() as i64;
                    let last = (self.to / step + 1e-9).floor() as i64;
                    ticks = (first..=last).map(|at| at as f64 * step).collect();
                }
                ticks
            }
            Steps::Log | Steps::ZeroAndLog => {
                let decades = (self.to / self.from).decimal_logarithm().round() as i32;
                let first = self.from.decimal_logarithm().floor() as i32;
                let factors: &[f64] = if decades * 3 <= most as i32 { &[1.0, 2.0, 5.0] } else { &[1.0] };
                let mut ticks: Vec<f64> = if self.steps == Steps::ZeroAndLog { vec![0.0] } else { Vec::new() };
                for power in first..=first + decades + 1 {
                    ticks.extend(
                        factors.iter().map(|factor| factor * 10f64.powi(power)).filter(|&value| self.has(value)),
                    );
                }
                ticks.retain(|&tick| tick == 0.0 || tick >= self.from * (1.0 - 1e-9));
                ticks
            }
        }
    }
}

fn is_multiple(value: f64, step: f64) -> bool {
    let times = value / step;
    times > 0.5 && (times - times.round()).abs() < 1e-6
}

/// The least of 1, 2 and 5 times a power of ten that cuts an extent into at
/// most so many pieces.
fn round_step(extent: f64, pieces: usize) -> f64 {
    let least = extent / pieces.max(1) as f64;
    let power = 10f64.power(least.decimal_logarithm().floor());
    let factor =
        [1.0, 2.0, 5.0, 10.0].into_iter().find(|factor| factor * power >= least * (1.0 - 1e-9)).unwrap_or(10.0);
    factor * power
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_and_round_ticks() {
        let scale = Scale::rounded(0.0, 7.6, 100.0, 500.0, 5);
        assert_eq!((scale.from, scale.to), (0.0, 8.0));
        assert_eq!((scale.px(0.0), scale.px(4.0), scale.px(8.0)), (100.0, 300.0, 500.0));
        let ticks = scale.ticks(5);
        assert!(ticks.iter().all(|tick| is_multiple(tick + 2.0, 2.0)) && ticks.len() >= 4, "{ticks:?}");
        let flat = Scale::linear(93.0, 93.0, 0.0, 100.0);
        assert!(flat.px(93.0).is_finite() && flat.ticks(5).len() < 12);
    }

    #[test]
    fn nothing_has_a_place_on_a_scale_of_ratios() {
        let scale = Scale::zero_and_log(0.3, 435.0, 0.0, 1000.0);
        assert_eq!((scale.from, scale.to), (0.1, 1000.0));
        assert_eq!(scale.px(0.0), 0.0);
        assert!((scale.px(0.1) - 80.0).abs() < 1e-9 && (scale.px(1000.0) - 1000.0).abs() < 1e-9);
        let ticks = scale.ticks(7);
        assert_eq!(ticks.len(), 6, "{ticks:?}");
        assert_eq!(ticks[0], 0.0);
        assert!(scale.px(0.05) > 0.0 && scale.px(0.05) < scale.px(0.1));
    }
}
