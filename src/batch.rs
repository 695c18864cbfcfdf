//! What was weighed into one vessel: bottles and masses as they were poured.

use std::sync::Arc;

use crate::brief::Basis;
use crate::formula::Formula;
use crate::number::tidy;
use crate::trials::Date;
use crate::units::Ppt;

/// What a carrier is called that the palette gives no name.
pub const NAMELESS_CARRIER: &str = "a carrier without a name";

/// A batch, resolved against its palette: materials are indices into it, and
/// every number is in range.
#[derive(Clone, Debug, PartialEq)]
pub struct Batch {
    /// The file it was read from, if any.
    pub file: Option<Arc<str>>,
    /// Title of the formula.
    pub title: Option<String>,
    /// What stands on the vessel.
    pub label: Option<String>,
    /// The day on which it was weighed.
    pub date: Option<Date>,
    /// Path of the formula, as seen from the batch's file.
    pub formula: Option<String>,
    /// What the parts of the formula count, and so what is called accord: neat
    /// material, or what is poured.
    pub basis: Basis,
    /// What was poured, in the order of weighing; never empty.
    pub lines: Vec<PouredLine>,
    /// A carrier that filled the vessel up, and its grams.
    pub top_up: Option<(String, f64)>,
    /// Free text.
    pub remarks: Option<String>,
}

/// One thing that was poured.
#[derive(Clone, Debug, PartialEq)]
pub struct PouredLine {
    /// Index of the material.
    pub material: usize,
    /// Percent by mass of neat material in the bottle; 100 when neat.
    pub percent: f64,
    /// What it is diluted in.
    pub carrier: Option<String>,
    /// What was poured, in grams; above 0.
    pub grams: f64,
}

impl PouredLine {
    /// Neat material in it, in grams.
    pub fn neat_grams(&self) -> f64 {
        self.grams * self.percent / 100.0
    }
}

impl Batch {
    /// All that is in the vessel, in grams.
    pub fn grams(&self) -> f64 {
        let top_up = self.top_up.as_ref().map_or(0.0, |(_, grams)| *grams);
        tidy(self.lines.iter().map(|line| line.grams).sum::<f64>() + top_up)
    }

    /// Neat material in it, in grams: carriers that the formula itself names
    /// included, those of bottles and what filled it up not.
    pub fn neat_grams(&self) -> f64 {
        tidy(self.lines.iter().map(PouredLine::neat_grams).sum())
    }

    /// Percent by mass of neat material in the vessel.
    pub fn concentration_percent(&self) -> f64 {
        tidy(100.0 * self.neat_grams() / self.grams())
    }

    /// (carrier, grams) that bottles brought and that filled the vessel up, in
    /// the order in which the lines meet them.
    pub fn carriers(&self) -> Vec<(String, f64)> {
        let brought = self.lines.iter().filter(|line| line.percent < 100.0).map(|line| {
            let name = line.carrier.as_deref().unwrap_or(NAMELESS_CARRIER);
            (name, line.grams - line.neat_grams())
        });
        summed(brought.chain(self.top_up.iter().map(|(name, grams)| (name.as_str(), *grams))))
    }

    /// What counts as accord in it, in grams: the sum of what the formula's
    /// parts count.
    pub fn accord_grams(&self) -> f64 {
        match self.basis {
            Basis::Neat => self.neat_grams(),
            Basis::Bottle => tidy(self.lines.iter().map(|line| line.grams).sum()),
        }
    }

    /// (carrier, grams) that is in the vessel and does not count as accord.
    pub fn carriers_beside(&self) -> Vec<(String, f64)> {
        match self.basis {
            Basis::Neat => self.carriers(),
            Basis::Bottle => self.top_up.clone().into_iter().collect(),
        }
    }

    /// The formula that is in the vessel, in the basis of the batch; adds up to
    /// exactly 1000.
    pub fn formula(&self) -> Formula {
        let mut amounts: Vec<(usize, f64)> = Vec::new();
        for line in &self.lines {
            let amount = match self.basis {
                Basis::Neat => line.neat_grams(),
                Basis::Bottle => line.grams,
            };
            match amounts.iter_mut().find(|(material, _)| *material == line.material) {
                Some((_, sum)) => *sum += amount,
                None => amounts.push((line.material, amount)),
            }
        }
        amounts.sort_by_key(|(material, _)| *material);
        let sum: f64 = amounts.iter().map(|(_, amount)| amount).sum();
        let part = |(material, amount)| (material, Ppt::from_ppt(1000.0 * amount / sum));
        let parts = amounts.into_iter().map(part).filter(|(_, dose)| !dose.is_zero()).collect();
        Formula { file: self.file.clone(), title: self.title.clone(), basis: self.basis, parts }.rescaled()
    }
}

/// Sums by name, in the order of their first mention.
pub fn summed<'a>(amounts: impl Iterator<Item = (&'a str, f64)>) -> Vec<(String, f64)> {
    let mut sums: Vec<(String, f64)> = Vec::new();
    for (name, grams) in amounts {
        match sums.iter_mut().find(|(known, _)| known == name) {
            Some((_, sum)) => *sum = tidy(*sum + grams),
            None => sums.push((name.to_owned(), tidy(grams))),
        }
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(material: usize, percent: f64, grams: f64) -> PouredLine {
        PouredLine { material, percent, carrier: (percent < 100.0).then(|| "Glycol".to_owned()), grams }
    }

    fn batch(basis: Basis) -> Batch {
        Batch {
            file: None,
            title: None,
            label: None,
            date: None,
            formula: None,
            basis,
            lines: vec![line(1, 10.0, 0.5), line(0, 100.0, 1.9), line(1, 50.0, 0.1)],
            top_up: Some(("Glycol".to_owned(), 1.5)),
            remarks: None,
        }
    }

    /// 0.05 + 0.05 g of the strong one and 1.9 g of the other are 2 g of neat
    /// accord; with 0.45 + 0.05 g of carrier and 1.5 g on top, 4 g.
    #[test]
    fn a_vessel_by_hand() {
        let neat = batch(Basis::Neat);
        assert_eq!((neat.grams(), neat.neat_grams(), neat.accord_grams()), (4.0, 2.0, 2.0));
        assert_eq!(neat.concentration_percent(), 50.0);
        assert_eq!(neat.carriers(), [("Glycol".to_owned(), 2.0)]);
        assert_eq!(neat.carriers_beside(), neat.carriers());
        assert_eq!(neat.formula().parts, [(0, Ppt::from_ppt(950.0)), (1, Ppt::from_ppt(50.0))]);
        // Counted as poured the accord is what the bottles gave.
        let poured = batch(Basis::Bottle);
        assert_eq!((poured.accord_grams(), poured.concentration_percent()), (2.5, 50.0));
        assert_eq!(poured.carriers_beside(), [("Glycol".to_owned(), 1.5)]);
        assert_eq!(poured.formula().parts, [(0, Ppt::from_ppt(760.0)), (1, Ppt::from_ppt(240.0))]);
    }
}
