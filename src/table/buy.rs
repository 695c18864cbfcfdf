//! `buy` as rows.

use super::csv::{self, Csv};
use crate::results::FormulaReport;
use crate::results::PurchaseReport;
use crate::results::buy::BuyReport;

/// One row for the shelf alone, with rank 0, and one for each candidate.
pub fn buy(report: &BuyReport) -> String {
    let mut csv = Csv::new(&[
        "rank",
        "material",
        "second_material",
        "status",
        "gain",
        "most_gain",
        "within_doubt",
        "fidelity",
        "loss",
        "second_fidelity",
        "price",
        "strength",
        "parts",
        "second_parts",
        "batch_grams",
        "second_batch_grams",
        "cost",
    ]);
    let base = &report.base;
    csv.row(&row(0, &[], base.status, [None, None], None, &base.formula, None));
    for (at, it) in report.candidates.iter().enumerate() {
        let gains = [it.gain, it.most_gain];
        let purchase = it.purchase.as_ref();
        csv.row(&row(at + 1, &it.materials, it.status, gains, it.within_doubt, &it.formula, purchase));
    }
    csv.finish()
}

fn row(
    rank: usize,
    materials: &[String],
    status: &str,
    gains: [Option<f64>; 2],
    within_doubt: Option<bool>,
    formula: &FormulaReport,
    purchase: Option<&PurchaseReport>,
) -> Vec<String> {
    let name = |at: usize| csv::text(materials.get(at).map_or("", String::as_str));
    let parts = |at: usize| {
        let line = materials.get(at).and_then(|name| formula.materials.iter().find(|line| line.material == *name));
        line.map_or_else(String::new, |line| line.parts.to_string())
    };
    let grams = |at: usize| {
        let items = purchase.map(|purchase| &purchase.items[..]).unwrap_or_default();
        let item = materials.get(at).and_then(|name| items.iter().find(|item| item.material == *name));
        csv::number(item.map(|item| item.grams))
    };
    vec![
        rank.to_string(),
        name(0),
        name(1),
        csv::text(status),
        csv::number(gains[0]),
        csv::number(gains[1]),
        within_doubt.map(|within| within.to_string()).unwrap_or_default(),
        csv::number(formula.fidelity),
        csv::number(formula.loss),
        csv::number(formula.second_opinion.map(|second| second.fidelity)),
        csv::number(formula.price),
        csv::number(formula.strength),
        parts(0),
        parts(1),
        grams(0),
        grams(1),
        csv::number(purchase.and_then(|purchase| purchase.cost)),
    ]
}
