//! A loosened rule as an order, and what its worth counts.

use crate::analysis::axis::Axis;
use crate::analysis::loosen::{Loosened, Loosening, Unit};
use crate::problem::Problem;

/// The unit of a worth.
pub fn unit(unit: Unit, currency: &str) -> String {
    format!("fidelity percent{}", per(unit, currency))
}

fn per(unit: Unit, currency: &str) -> String {
    match unit {
        Unit::Price => format!(" per {currency}/kg"),
        Unit::PriceOfEffect => format!(" per {currency}/kg of effect"),
        Unit::Strength => " per unit of strength".to_owned(),
        Unit::Materials => " per material".to_owned(),
        Unit::Ppt => " per ppt".to_owned(),
        Unit::Ratio => " per unit of the ratio".to_owned(),
        Unit::Points => " per score point".to_owned(),
        Unit::Percent => " per percent".to_owned(),
        Unit::Whole => String::new(),
    }
}

/// A loosening as an order without a full stop.
pub fn order(problem: &Problem, loosening: &Loosening) -> String {
    let (at, to) = (loosening.at, loosening.to.unwrap_or(0.0));
    match &loosening.change {
        Loosened::Dosage { product, .. } => problem.order_of_dosage(*product, at, to),
        Loosened::ForAll(what, _) => problem.order_of_all(*what, at, to),
        Loosened::Rules(changes) => {
            let order = |&(rule, change)| problem.order_of_worth(&problem.rules[rule], change);
            changes.iter().map(order).collect::<Vec<_>>().join("; ")
        }
    }
}

/// The unit of an axis of a curve.
pub fn axis_unit(axis: Axis, currency: &str) -> String {
    match axis {
        Axis::Price => format!("{currency}/kg"),
        Axis::Effect => format!("{currency}/kg per unit of strength"),
        Axis::Strength => "strength".to_owned(),
        Axis::Count => "materials".to_owned(),
        Axis::Dose(_) => "ppt".to_owned(),
    }
}
