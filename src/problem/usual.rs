//! Usual doses: those at which a material is mostly used.

use std::sync::Arc;

use num_rational::BigRational;
use num_traits::ToPrimitive;

use super::exact;
use crate::brief::Basis;
use crate::palette::{Material, Usual};
use crate::units::Ppt;

/// The usual doses of a material in ppt of a basis, both ends included. What
/// other bottles bring of a carrier is not of its dose.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct UsualDoses {
    /// The lower end.
    pub least: Ppt,
    /// The upper end; below the lower one no dose is usual.
    pub most: Ppt,
}

/// The usual doses of those columns that have some, in their order.
pub type OfColumns = Arc<[(usize, UsualDoses)]>;

impl UsualDoses {
    /// Those of a material in a basis; `None` where its palette names none. In
    /// basis bottle they count what is poured from the usual bottle: the doses
    /// whose neat content lies between the ends, exactly.
    pub fn of(material: &Material, basis: Basis) -> Option<UsualDoses> {
        let usual = material.usual?;
        Some(match (basis, material.bottles.first()) {
            (Basis::Bottle, Some(bottle)) => UsualDoses::poured(usual, bottle.percent),
            _ => UsualDoses { least: usual.least, most: usual.most },
        })
    }

    /// What is poured from a bottle of so many percent.
    fn poured(usual: Usual, percent: f64) -> UsualDoses {
        let poured_units =
            |neat: Ppt| exact::dose(neat) * exact::decimal(100.0 * Ppt::UNITS as f64) / exact::decimal(percent);
        // Twice a formula stands for all that no formula holds.
        let beyond = Ppt::WHOLE.units() * 2;
        let whole = |units: BigRational| Ppt::from_units(units.to_integer().to_i64().unwrap_or(beyond).min(beyond));
        UsualDoses { least: whole(poured_units(usual.least).ceil()), most: whole(poured_units(usual.most).floor()) }
    }

    /// Whether a dose is one of them.
    pub fn holds(&self, dose: Ppt) -> bool {
        (self.least..=self.most).contains(&dose)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn usual(least: f64, most: f64) -> Usual {
        Usual { least: Ppt::from_ppt(least), most: Ppt::from_ppt(most), in_percent: false }
    }

    #[test]
    fn both_ends_are_usual() {
        let doses = UsualDoses { least: Ppt::from_ppt(2.0), most: Ppt::from_ppt(40.0) };
        assert!(doses.holds(Ppt::from_ppt(2.0)) && doses.holds(Ppt::from_ppt(40.0)));
        assert!(
            !doses.holds(Ppt::from_units(2 * Ppt::UNITS - 1)) && !doses.holds(Ppt::from_units(40 * Ppt::UNITS + 1))
        );
    }

    #[test]
    fn what_is_poured_is_converted_exactly() {
        // A bottle of 10 % pours ten times as much.
        let tenth = UsualDoses::poured(usual(2.0, 40.0), 10.0);
        assert_eq!(tenth, UsualDoses { least: Ppt::from_ppt(20.0), most: Ppt::from_ppt(400.0) });
        // A third has no last decimal: at the least dose there is 1 neat or more in
        // what is poured, at the greatest 2 or less.
        let third = UsualDoses::poured(usual(1.0, 2.0), 30.0);
        assert_eq!((third.least.units(), third.most.units()), (3_333_333_334, 6_666_666_666));
        // 0.3 % is no binary fraction.
        let faint = UsualDoses::poured(usual(0.3, 0.6), 0.3);
        assert_eq!(faint, UsualDoses { least: Ppt::from_ppt(100.0), most: Ppt::from_ppt(200.0) });
        // No formula holds it, and nothing overflows.
        assert!(UsualDoses::poured(usual(1.0, 1000.0), 1e-9).least > Ppt::WHOLE);
    }
}
