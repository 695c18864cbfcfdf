//! A formula in the other basis.

use crate::brief::Basis;
use crate::formula::Formula;
use crate::palette::Palette;
use crate::units::Ppt;

/// The same blend in another basis, as 1000 parts: neat parts become what is
/// poured from the usual bottles, poured parts the neat material in them
/// without the carriers that the bottles bring. Doses are rounded to 1e-9 ppt.
/// Nothing changes where the basis is the wanted one already.
pub fn in_basis(palette: &Palette, formula: &Formula, basis: Basis) -> Formula {
    if formula.basis == basis {
        return formula.clone();
    }
    let amount = |&(material, dose): &(usize, Ppt)| {
        let fraction = palette.materials[material].usual_fraction();
        let amount = if basis == Basis::Bottle { dose.as_f64() / fraction } else { dose.as_f64() * fraction };
        (material, amount)
    };
    let amounts: Vec<(usize, f64)> = formula.parts.iter().map(amount).collect();
    let total: f64 = amounts.iter().map(|(_, amount)| amount).sum();
    let scaled = |(material, amount): (usize, f64)| (material, Ppt::from_ppt(1000.0 * amount / total));
    let parts = amounts.into_iter().map(scaled).filter(|(_, dose)| *dose > Ppt::ZERO).collect();
    Formula { basis, parts, ..formula.clone() }.rescaled()
}
