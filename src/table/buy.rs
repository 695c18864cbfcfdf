//! What to buy, as rows.

use super::{Cell, Table, cells};
use crate::results::buy::BuyReport;
use crate::results::{FormulaReport, PurchaseReport};

/// One row for the shelf alone, with rank 0, and one for each candidate.
pub fn buy(report: &BuyReport) -> Table {
    let mut table = Table::new([
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
    let mut row = |rank: usize, own: Vec<Cell>, materials: &[String], formula: &FormulaReport, bought| {
        let name = |at: usize| materials.get(at).map(String::as_str);
        let mut row = cells![rank, name(0), name(1)];
        row.extend(own);
        row.extend(cells![
            formula.fidelity,
            formula.loss,
            formula.second_opinion.map(|second| second.fidelity),
            formula.price,
            formula.strength,
        ]);
        let line = |at: usize| formula.materials.iter().find(|line| Some(line.material.as_str()) == name(at));
        row.extend([0, 1].map(|at| Cell::from(line(at).map(|line| line.parts))));
        let purchase: Option<&PurchaseReport> = bought;
        let items = purchase.map(|purchase| &purchase.items[..]).unwrap_or_default();
        let item = |at: usize| items.iter().find(|item| Some(item.material.as_str()) == name(at));
        row.extend([0, 1].map(|at| Cell::from(item(at).map(|item| item.grams))));
        row.push(Cell::from(purchase.and_then(|purchase| purchase.cost)));
        table.row(row);
    };
    let base = &report.base;
    row(0, cells![base.status.word(), None::<f64>, None::<f64>, None::<bool>], &[], &base.formula, None);
    for (at, it) in report.candidates.iter().enumerate() {
        let own = cells![it.status.word(), it.gain, it.most_gain, it.within_doubt];
        row(at + 1, own, &it.materials, &it.formula, it.purchase.as_ref());
    }
    table
}
