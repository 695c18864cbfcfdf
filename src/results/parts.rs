//! The doses of a formula, as reports list them.

use serde::Serialize;

use super::Ordered;
use crate::brief::Basis;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::units::Ppt;

/// Basis and doses, the largest first.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FormulaParts {
    /// `neat` or `bottle`.
    pub basis: Basis,
    /// Dose in ppt of each material.
    pub parts: Ordered<Ppt>,
    /// In basis bottle: neat ppt of each palette material, carriers that
    /// bottles bring included.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub neat: Option<Ordered<f64>>,
}

impl FormulaParts {
    /// The doses of a formula in its own basis.
    pub fn new(problem: &Problem, formula: &Formula) -> FormulaParts {
        let named = |index: usize| problem.material(index).name.clone();
        let parts = falling(formula).into_iter().map(|at| formula.parts[at]);
        FormulaParts {
            basis: formula.basis,
            parts: parts.map(|(material, dose)| (named(material), dose)).collect(),
            neat: (formula.basis == Basis::Bottle).then(|| neat(problem, &problem.neat_ppt(formula))),
        }
    }
}

/// Its file; empty where it was not read from one.
pub(super) fn file_of(formula: &Formula) -> String {
    formula.file.as_deref().unwrap_or_default().to_owned()
}

/// What a formula is called: its title, or its file.
pub(super) fn name_of(formula: &Formula) -> String {
    formula.title.clone().unwrap_or_else(|| file_of(formula))
}

/// Positions of the parts by falling dose; equals in the order of the palette.
pub(super) fn falling(formula: &Formula) -> Vec<usize> {
    let mut order: Vec<usize> = (0..formula.parts.len()).collect();
    order.sort_by_key(|&at| (std::cmp::Reverse(formula.parts[at].1), formula.parts[at].0));
    order
}

fn neat(problem: &Problem, neat_ppt: &[f64]) -> Ordered<f64> {
    let mut amounts: Vec<(usize, f64)> = neat_ppt.iter().copied().enumerate().filter(|(_, ppt)| *ppt > 0.0).collect();
    amounts.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let named = |(index, ppt): (usize, f64)| (problem.material(index).name.clone(), crate::number::tidy(ppt));
    amounts.into_iter().map(named).collect()
}
