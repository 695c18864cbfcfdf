//! Published odour thresholds in air: the last resort where nothing else says how
//! strong a material is.

use crate::palette::Cas;
use crate::portable::Portable;

/// Published thresholds in air.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Thresholds {
    /// One row for each substance; no two have one number.
    pub rows: Vec<Threshold>,
}

/// What was published of one substance.
#[derive(Clone, Debug, PartialEq)]
pub struct Threshold {
    /// Its number.
    pub cas: Cas,
    /// What it is called.
    pub name: String,
    /// Every published value in micrograms per cubic metre of air at 20 °C;
    /// at least one.
    pub ug_per_m3: Vec<f64>,
    /// Where they stand.
    pub source: String,
}

impl Threshold {
    /// The geometric mean of the published values, in micrograms per cubic metre.
    pub fn mean(&self) -> f64 {
        let logs: f64 = self.ug_per_m3.iter().map(|value| value.logarithm()).sum();
        (logs / self.ug_per_m3.len().max(1) as f64).exponential()
    }

    /// How many times apart they lie.
    pub fn spread(&self) -> f64 {
        let ends = |(low, high): (f64, f64), value: &f64| (low.min(*value), high.max(*value));
        let (low, high) = self.ug_per_m3.iter().fold((f64::INFINITY, 0.0), ends);
        high / low
    }
}

impl Thresholds {
    /// What was published of a substance.
    pub fn of(&self, cas: &Cas) -> Option<&Threshold> {
        self.rows.iter().find(|row| row.cas == *cas)
    }
}
