//! Bases in a formula replaced by what they are mixed from.

use std::collections::BTreeSet;

use crate::brief::Basis;
use crate::formula::Formula;
use crate::palette::{Material, Palette};
use crate::units::Ppt;

/// A formula without bases.
#[derive(Clone, Debug)]
pub struct Unfolded {
    /// The palette of the formula, and behind its own materials those that
    /// only bases bring.
    pub palette: Palette,
    /// The formula; its parts add up to what they added up to.
    pub formula: Formula,
    /// The bases that were unfolded, in the order of the palette.
    pub bases: Vec<String>,
}

/// Replaces every base of a formula by what it is mixed from in the end. A
/// material that the palette describes in the same way is the palette's own;
/// one that only shares its name gets the base's name beside it.
///
/// # Errors
/// A complaint where a formula with a base counts what is poured: what is in a
/// base is known neat, and not from which bottles.
pub fn unfold(palette: &Palette, formula: &Formula) -> Result<Unfolded, String> {
    let mut all = palette.clone();
    let mut doses = vec![Ppt::ZERO; palette.materials.len()];
    let mut bases = Vec::new();
    for &(index, dose) in &formula.parts {
        let material = &palette.materials[index];
        let Some(base) = &material.base else {
            doses[index] = doses[index] + dose;
            continue;
        };
        if formula.basis == Basis::Bottle {
            return Err(format!(
                "the parts of this formula count what is poured: {} can only be unfolded in basis neat",
                crate::escape::escaped(&material.name)
            ));
        }
        bases.push(material.name.clone());
        let shares = dose.shared_out(base.parts.iter().map(|(_, dose)| *dose));
        for ((part, _), share) in base.parts.iter().zip(shares) {
            let at = place_of(&mut all, part, &material.name);
            doses.resize(all.materials.len(), Ppt::ZERO);
            doses[at] = doses[at] + share;
        }
    }
    let unfolded = Formula {
        file: formula.file.clone(),
        title: formula.title.clone(),
        ..Formula::from_doses(formula.basis, &doses)
    };
    Ok(Unfolded { palette: all, formula: unfolded, bases })
}

/// Where a material of a base stands in the palette; it is added where it does
/// not.
fn place_of(palette: &mut Palette, part: &Material, base: &str) -> usize {
    if let Some(own) = palette.materials.iter().position(|own| own.name == part.name && is_alike(own, part)) {
        return own;
    }
    let taken: BTreeSet<&str> = palette.materials.iter().map(|own| own.name.as_str()).collect();
    let mut name = part.name.clone();
    while taken.contains(name.as_str()) {
        name = format!("{name} (in {base})");
    }
    palette.materials.push(Material { name, ..part.clone() });
    palette.materials.len() - 1
}

/// Whether two descriptions are of one material, as far as limits, smell and
/// cost can tell.
fn is_alike(a: &Material, b: &Material) -> bool {
    a.base.is_none()
        && a.cas == b.cas
        && (a.strength, &a.scores, a.price_per_kg) == (b.strength, &b.scores, b.price_per_kg)
        && (a.natural, &a.constituents) == (b.natural, &b.constituents)
}
