//! What can be had for what: fidelity against a price, a strength, a count or
//! a dose, and the materials that enter and leave on the way.

mod draw;
mod ribbons;
mod words;

use super::kit::words::{count, dose, label, price, tick};
use crate::portable::Portable;

/// What is traded for fidelity.
#[derive(Clone, Debug, PartialEq)]
pub enum Against {
    /// Price of the formula, per kg, in this currency.
    Price(String),
    /// Price of effect: price per kg divided by the strength, in this currency.
    Effect(String),
    /// Number of materials.
    Count,
    /// Strength of the formula.
    Strength,
    /// Dose in ppt of this material.
    Dose(String),
}

/// The best fidelity at one limit.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeoffPoint {
    /// The limit, in the unit of what is traded.
    pub at: f64,
    /// Fidelity in percent.
    pub fidelity_percent: f64,
    /// Dose in ppt of each of `materials`; empty where it is not known.
    pub doses_ppt: Vec<f64>,
    /// Whether it is proven best.
    pub proven: bool,
    /// The loosest limit at which it is known to be the best; none where that is
    /// so of every looser one.
    pub until: Option<f64>,
}

/// How the curve goes from one point to the next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Course {
    /// Little by little: over any doses.
    Line,
    /// In steps: a formula holds until the next begins, limits rising.
    StepsUp,
    /// The same, limits falling.
    StepsDown,
    /// Nothing is said of what lies between.
    Apart,
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeoffChart {
    /// Title of the brief.
    pub brief: String,
    /// What is traded for fidelity.
    pub against: Against,
    /// Materials that any point uses.
    pub materials: Vec<String>,
    /// The best formulas, `at` rising.
    pub points: Vec<TradeoffPoint>,
    /// How the curve goes between them.
    pub course: Course,
    /// What could be had over any doses and with any number of materials: (limit,
    /// fidelity in percent), limits rising.
    pub upper_limit: Vec<(f64, f64)>,
    /// The user's own limit, if the brief has one.
    pub own: Option<f64>,
    /// Where the return falls off most.
    pub knee: Option<f64>,
    /// What one further point of fidelity costs at the user's own limit, in
    /// the unit of what is traded.
    pub cost_of_a_point: Option<f64>,
}

impl Against {
    /// What the axis measures, with its unit.
    pub fn axis(&self) -> String {
        match self {
            Against::Price(currency) => format!("cost, {} per kg", label(currency)),
            Against::Effect(currency) => format!("cost per unit of strength, {}", label(currency)),
            Against::Count => "number of materials".to_owned(),
            Against::Strength => "strength of the formula".to_owned(),
            Against::Dose(material) => format!("{material}, ‰"),
        }
    }

    /// An amount with its unit.
    pub fn amount(&self, at: f64) -> String {
        match self {
            Against::Price(currency) => format!("{} {}/kg", price(at), label(currency)),
            Against::Effect(currency) => format!("{} {}", price_of_effect(at), label(currency)),
            Against::Count => count(at.round() as usize, "material", "materials"),
            Against::Strength => format!("strength {}", dose(at)),
            Against::Dose(_) => format!("{} ‰", dose(at)),
        }
    }

    /// An amount without its unit.
    pub fn bare(&self, at: f64) -> String {
        match self {
            Against::Price(_) => price(at),
            Against::Effect(_) => price_of_effect(at),
            Against::Count => tick(at.round()),
            Against::Strength | Against::Dose(_) => dose(at),
        }
    }

    /// An amount to three digits: where something happens, about.
    pub fn about(&self, at: f64) -> String {
        if *self == Against::Count || at == 0.0 || !at.is_finite() {
            return self.bare(at);
        }
        let unit = 10f64.power(at.abs().decimal_logarithm().floor() - 2.0);
        tick((at / unit).round() * unit)
    }

    /// What buying more of it is called, where that goes without saying.
    pub(super) fn more(&self) -> &'static str {
        match self {
            Against::Price(_) => "more money",
            Against::Effect(_) => "a dearer effect",
            Against::Count => "a larger number",
            Against::Strength => "more strength",
            Against::Dose(_) => "more of it",
        }
    }
}

/// Prices of effect are small numbers.
fn price_of_effect(at: f64) -> String {
    if at < 10.0 { dose(at) } else { price(at) }
}
