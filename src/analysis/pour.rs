//! What goes on the balance: the content of the usual bottles that makes up a
//! formula.

use crate::batch::NAMELESS_CARRIER;
use crate::brief::Basis;
use crate::formula::Formula;
use crate::number::tidy;
use crate::problem::Problem;

/// A formula as it is poured from the usual bottles.
#[derive(Clone, Debug, PartialEq)]
pub struct Pour {
    /// One line for each part of the formula, in its order.
    pub lines: Vec<PouredPart>,
    /// Sum of what is poured, in ppt of the formula.
    pub total_ppt: f64,
    /// Percent by mass of neat accord in what is poured: the rest are the
    /// carriers that bottles bring.
    pub concentration_percent: f64,
    /// (carrier, ppt of the formula) that bottles bring, in the order in
    /// which the formula meets them.
    pub carriers: Vec<(String, f64)>,
}

/// One part of a formula as it is poured.
#[derive(Clone, Debug, PartialEq)]
pub struct PouredPart {
    /// Index of the material.
    pub material: usize,
    /// What is poured, in ppt of the formula.
    pub poured_ppt: f64,
    /// Neat material in it, in ppt of the formula.
    pub neat_ppt: f64,
    /// Percent by mass of neat material in the bottle.
    pub bottle_percent: f64,
}

impl Pour {
    /// Whether any of the bottles is diluted.
    pub fn has_dilutions(&self) -> bool {
        self.lines.iter().any(|line| line.bottle_percent < 100.0)
    }
}

/// What the usual bottles pour. In basis neat 1000 parts need more than 1000
/// of pouring where bottles are diluted; in basis bottle it is the parts.
pub fn pour(problem: &Problem, formula: &Formula) -> Pour {
    let mut carriers: Vec<(String, f64)> = Vec::new();
    let mut lines = Vec::with_capacity(formula.parts.len());
    for &(index, dose) in &formula.parts {
        let material = problem.material(index);
        let bottle_percent = material.bottles.first().map_or(100.0, |bottle| bottle.percent);
        let dose = dose.as_f64();
        let (neat_ppt, poured_ppt) = match formula.basis {
            Basis::Neat => (dose, tidy(dose * 100.0 / bottle_percent)),
            Basis::Bottle => (tidy(dose * bottle_percent / 100.0), dose),
        };
        let brought = tidy(poured_ppt - neat_ppt);
        if brought > 0.0 {
            let bottle = material.bottles.first().and_then(|bottle| bottle.carrier.clone());
            let name = bottle.unwrap_or_else(|| NAMELESS_CARRIER.to_owned());
            match carriers.iter_mut().find(|(known, _)| *known == name) {
                Some((_, sum)) => *sum = tidy(*sum + brought),
                None => carriers.push((name, brought)),
            }
        }
        lines.push(PouredPart { material: index, poured_ppt, neat_ppt, bottle_percent });
    }
    let total_ppt = tidy(lines.iter().map(|line| line.poured_ppt).sum());
    let neat: f64 = lines.iter().map(|line| line.neat_ppt).sum();
    let concentration_percent = if total_ppt > 0.0 { 100.0 * neat / total_ppt } else { 0.0 };
    Pour { lines, total_ppt, concentration_percent, carriers }
}
