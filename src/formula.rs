//! A formula: exact doses of named materials.

use std::sync::Arc;

use crate::brief::Basis;
use crate::units::Ppt;

/// Doses of palette materials, in parts per thousand of neat material or of
/// what is poured from the usual bottles.
#[derive(Clone, Debug, PartialEq)]
pub struct Formula {
    /// The file it was read from, if any.
    pub file: Option<Arc<str>>,
    /// Its title.
    pub title: Option<String>,
    /// What the parts count.
    pub basis: Basis,
    /// Material (index into the palette) and dose, each material once, doses
    /// above zero, ordered by material.
    pub parts: Vec<(usize, Ppt)>,
}

impl Formula {
    /// A formula from doses of every palette material; zeros are left out.
    pub fn from_doses(basis: Basis, doses: &[Ppt]) -> Formula {
        let parts = doses.iter().copied().enumerate().filter(|(_, dose)| *dose > Ppt::ZERO).collect();
        Formula { file: None, title: None, basis, parts }
    }

    /// The dose of a material; zero where it is absent.
    pub fn dose(&self, material: usize) -> Ppt {
        self.parts.iter().find(|(index, _)| *index == material).map_or(Ppt::ZERO, |(_, dose)| *dose)
    }

    /// The sum of all doses.
    pub fn sum(&self) -> Ppt {
        self.parts.iter().map(|(_, dose)| *dose).sum()
    }

    /// The same proportions with a sum of exactly 1000: each dose is scaled
    /// and rounded to 1e-9 ppt, and the largest takes up what the rounding
    /// leaves. Nothing changes where the sum is 1000 already; an empty
    /// formula stays empty.
    pub fn rescaled(&self) -> Formula {
        let sum = self.sum();
        let mut scaled = self.clone();
        if sum == Ppt::WHOLE || sum <= Ppt::ZERO {
            return scaled;
        }
        for (_, dose) in &mut scaled.parts {
            let exact = i128::from(dose.units()) * i128::from(Ppt::WHOLE.units());
            let divisor = i128::from(sum.units());
            *dose = Ppt::from_units(((exact + divisor / 2) / divisor) as i64);
        }
        let rest = Ppt::WHOLE - scaled.sum();
        if let Some((_, largest)) = scaled.parts.iter_mut().max_by_key(|(_, dose)| *dose) {
            *largest = *largest + rest;
        }
        scaled.parts.retain(|(_, dose)| *dose > Ppt::ZERO);
        scaled
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rescaling_adds_up_exactly() {
        let doses = [1.0, 1.0, 1.0].map(Ppt::from_ppt);
        let scaled = Formula::from_doses(Basis::Neat, &doses).rescaled();
        assert_eq!(scaled.sum(), Ppt::WHOLE);
        let whole = Formula::from_doses(Basis::Neat, &[Ppt::from_ppt(400.0), Ppt::ZERO, Ppt::from_ppt(600.0)]);
        assert_eq!(whole.rescaled(), whole);
        assert_eq!(whole.dose(1), Ppt::ZERO);
        assert_eq!(whole.dose(2), Ppt::from_ppt(600.0));
    }
}
