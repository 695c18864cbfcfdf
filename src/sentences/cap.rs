//! Where a cap on a dose comes from.

use crate::analysis::caps::{Cap, Reason};
use crate::number::plain;
use crate::problem::Problem;

/// Why a dose may go no further, without a full stop.
pub fn cap(problem: &Problem, cap: &Cap) -> String {
    let product = cap.product.map(|product| &problem.products[product]);
    let name = product.and_then(|product| product.name.clone());
    let of_product = name.as_deref().unwrap_or("the finished product").to_owned();
    // At which dosage it holds.
    let at = product.and_then(|product| product.dosage_percent.map(|dosage| (dosage, product.accord_share_percent)));
    let dosage = at.map_or_else(String::new, |(dosage, share)| {
        let share = if share < 100.0 { format!(", {} % of it this accord", plain(share)) } else { String::new() };
        format!(" at {} % concentrate{share}", plain(dosage))
    });
    match cap.reason {
        Reason::Own => "the brief's own cap".to_owned(),
        Reason::Palette => "the palette's cap".to_owned(),
        Reason::Concentrate(percent) => {
            format!("advised: at most {} % of the concentrate of {of_product}", plain(percent),)
        }
        Reason::Product(percent) => {
            format!("advised: at most {} % of {of_product}{dosage}", plain(percent))
        }
        Reason::Restriction(restriction, percent) => {
            let substance = &problem.restrictions[restriction].substance;
            format!("{substance} at most {} % of {of_product}{dosage}", plain(percent))
        }
        Reason::Joint => {
            let rule = cap.rule.as_ref().map(|rule| problem.sentence(rule)).unwrap_or_default();
            format!("{rule}{dosage}")
        }
        Reason::Stock(grams) => format!("{} g of the bottle are on hand", plain(grams)),
    }
}
