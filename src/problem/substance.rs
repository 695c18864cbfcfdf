//! How much of a substance a material brings.

use num_rational::BigRational;
use num_traits::Zero;

use super::exact::decimal;
use crate::limits::{Applies, Counts, Restriction};
use crate::palette::Material;

/// Parts of a restricted substance that one part of neat material brings, 0
/// to 1: all of it where its own CAS number is listed, or its name and it has
/// no number ([`crate::substances::matched`]); of a base what the
/// materials bring that it is mixed from; else the listed constituents. Only
/// as far as the restriction counts the one or the other.
pub fn substance_fraction(restriction: &Restriction, material: &Material) -> f64 {
    if restriction.matched(material).is_some() && restriction.applies != Applies::Constituents {
        return 1.0;
    }
    if let Some(base) = &material.base {
        let parts = base.parts.iter();
        return parts.map(|(part, dose)| dose.as_f64() / 1000.0 * substance_fraction(restriction, part)).sum();
    }
    if restriction.applies == Applies::Added {
        return 0.0;
    }
    let within = material.constituents.iter().flatten();
    let percent: f64 = within.filter(|(cas, _)| restriction.cas.contains(cas)).map(|(_, percent)| percent).sum();
    (percent / 100.0).min(1.0)
}

/// The same for whatever counts substances, in percent and exactly.
pub(crate) fn substance_percent(counted: &impl Counts, applies: Applies, material: &Material) -> BigRational {
    if counted.matched(material).is_some() && applies != Applies::Constituents {
        return decimal(100.0);
    }
    if let Some(base) = &material.base {
        let part = |(part, dose): &(Material, crate::units::Ppt)| {
            decimal(dose.as_f64()) / decimal(1000.0) * substance_percent(counted, applies, part)
        };
        return base.parts.iter().map(part).sum();
    }
    if applies == Applies::Added {
        return BigRational::zero();
    }
    let within = material.constituents.iter().flatten().filter(|(constituent, _)| counted.cas().contains(constituent));
    within.map(|(_, percent)| decimal(*percent)).sum::<BigRational>().min(decimal(100.0))
}
