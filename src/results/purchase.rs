//! What to buy for a batch.

use serde::Serialize;

use super::states::PricedBy;
use crate::analysis::packs::Purchase;
use crate::problem::Problem;

/// What to buy for a first batch.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PurchaseReport {
    /// Each material.
    pub items: Vec<Item>,
    /// What it costs together; null where a price is not known.
    pub cost: Option<f64>,
}

/// What to buy of one material.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Item {
    /// The material.
    pub material: String,
    /// Grams of neat material that the batch needs.
    pub grams: f64,
    /// `packs`, `price per kg` where no packs are known, or `unknown`.
    pub by: PricedBy,
    /// The cheapest packs that hold it, the largest first.
    pub packs: Vec<PackLine>,
    /// What it costs.
    pub cost: Option<f64>,
    /// Whether no other packs cost less.
    pub proven: bool,
}

/// So many of one pack.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PackLine {
    /// Grams of neat material in one.
    pub grams: f64,
    /// Price of one.
    pub price: f64,
    /// How many.
    pub count: u64,
}

impl PurchaseReport {
    /// The report of what a batch needs.
    pub fn new(problem: &Problem, purchases: Vec<Purchase>) -> PurchaseReport {
        let cost = purchases.iter().map(|purchase| purchase.cost).sum::<Option<f64>>();
        PurchaseReport { items: purchases.into_iter().map(|purchase| Item::new(problem, purchase)).collect(), cost }
    }
}

impl Item {
    fn new(problem: &Problem, purchase: Purchase) -> Item {
        let by = match purchase.cost {
            None => PricedBy::Unknown,
            Some(_) if purchase.packs.is_empty() => PricedBy::PricePerKg,
            Some(_) => PricedBy::Packs,
        };
        let packs = purchase.packs.into_iter();
        Item {
            material: problem.material(purchase.material).name.clone(),
            grams: purchase.grams,
            by,
            packs: packs.map(|(pack, count)| PackLine { grams: pack.grams, price: pack.price, count }).collect(),
            cost: purchase.cost,
            proven: purchase.proven,
        }
    }
}
