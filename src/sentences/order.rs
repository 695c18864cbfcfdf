//! A loosened rule as an order, and what its worth counts.

use crate::analysis::axis::Axis;
use crate::analysis::loosen::{Loosened, Loosening, Unit};
use crate::number::plain;
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
    let (at, to) = (plain(loosening.at), plain(loosening.to.unwrap_or(0.0)));
    match &loosening.change {
        Loosened::Dosage { product, .. } => {
            let of = problem.products[*product].name.as_ref().map_or(String::new(), |name| format!(" of {name}"));
            format!("lower the dosage{of} from {at} to {to} %")
        }
        Loosened::Rules(changes) => match changes[..] {
            [(rule, change)] => problem.order_of_worth(&problem.rules[rule], change),
            _ if loosening.id == "step" => format!("weigh in steps of {to} ‰ instead of {at}"),
            _ => format!("lower the least dose of every material from {at} to {to} ‰"),
        },
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
