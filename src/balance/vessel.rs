//! The vessel that an accord stands in: nobody pours neat accord into a
//! product, but what was weighed, carriers of the bottles included.

use crate::analysis::pour::pour;
use crate::batch::Batch;
use crate::brief::Basis;
use crate::formula::Formula;
use crate::number::tidy;
use crate::problem::Problem;

/// What is in a vessel beside the accord, and how much accord it holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Vessel {
    /// Percent by mass of accord in it, above 0, at most 100. Accord is what
    /// the formula's parts count.
    pub accord_percent: f64,
    /// (carrier, grams beside one gram of accord).
    pub carriers: Vec<(String, f64)>,
    /// Grams of accord that it holds; `None` where nothing was weighed.
    pub holds_grams: Option<f64>,
}

/// What a part of a product is made of, in grams.
#[derive(Clone, Debug, PartialEq)]
pub struct Shares {
    /// Poured from the vessel.
    pub vessel_grams: f64,
    /// Accord in that.
    pub accord_grams: f64,
    /// (carrier, grams) in that.
    pub carriers: Vec<(String, f64)>,
    /// The rest of the concentrate.
    pub rest_grams: f64,
    /// What is left for ethanol and water: the carriers take their place.
    pub solvent_grams: f64,
}

impl Vessel {
    /// The vessel that a formula makes where every part is poured from its
    /// usual bottle, as reports of formulas count it.
    pub fn assumed(problem: &Problem, formula: &Formula) -> Vessel {
        let poured = pour(problem, formula);
        let accord = formula.sum().as_f64();
        let carriers = match formula.basis {
            Basis::Neat => poured.carriers,
            // They are among the parts.
            Basis::Bottle => Vec::new(),
        };
        let beside: f64 = carriers.iter().map(|(_, ppt)| ppt).sum();
        Vessel {
            accord_percent: tidy(100.0 * accord / (accord + beside)),
            carriers: carriers.into_iter().map(|(name, ppt)| (name, ppt / accord)).collect(),
            holds_grams: None,
        }
    }

    /// The vessel of a batch.
    pub fn weighed(batch: &Batch) -> Vessel {
        let accord = batch.accord_grams();
        let per_gram = |(name, grams): (String, f64)| (name, grams / accord);
        Vessel {
            accord_percent: tidy(100.0 * accord / batch.grams()),
            carriers: batch.carriers_beside().into_iter().map(per_gram).collect(),
            holds_grams: Some(accord),
        }
    }

    /// Neat parts per thousand of accord of every palette material, the
    /// carriers beside the accord included: a product that holds the accord
    /// holds them too.
    pub fn neat_ppt(&self, problem: &Problem, formula: &Formula) -> Vec<f64> {
        let mut neat = problem.neat_ppt(formula);
        for (name, grams) in &self.carriers {
            if let Some(material) = problem.palette.materials.iter().position(|it| it.name == *name) {
                neat[material] += 1000.0 * grams;
            }
        }
        neat
    }

    /// Carriers beside the accord that no limit can look at: the palette does
    /// not describe them, or without a CAS number.
    pub fn unchecked<'a>(&'a self, problem: &'a Problem) -> impl Iterator<Item = &'a str> + 'a {
        let is_known = |name: &str| problem.palette.materials.iter().any(|it| it.name == name && it.cas.is_some());
        self.carriers.iter().map(|(name, _)| name.as_str()).filter(move |name| !is_known(name))
    }

    /// The highest dosage in percent of concentrate that fits into a product
    /// without any solvent, where the accord is a share of the concentrate.
    pub fn most_dosage_percent(&self, accord_share_percent: f64) -> f64 {
        let share = accord_share_percent / 100.0;
        let grams_per_gram = share * 100.0 / self.accord_percent + 1.0 - share;
        tidy((100.0 / grams_per_gram).min(100.0))
    }

    /// What so many grams of product are made of; `None` where what is in the
    /// vessel is too thin for the dosage.
    pub fn shares(&self, product_grams: f64, dosage_percent: f64, accord_share_percent: f64) -> Option<Shares> {
        if dosage_percent > self.most_dosage_percent(accord_share_percent) * (1.0 + 1e-12) {
            return None;
        }
        let concentrate = product_grams * dosage_percent / 100.0;
        let accord_grams = concentrate * accord_share_percent / 100.0;
        let vessel_grams = accord_grams * 100.0 / self.accord_percent;
        let rest_grams = concentrate - accord_grams;
        Some(Shares {
            vessel_grams,
            accord_grams,
            carriers: self.carriers.iter().map(|(name, grams)| (name.clone(), grams * accord_grams)).collect(),
            rest_grams,
            solvent_grams: (product_grams - vessel_grams - rest_grams).max(0.0),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 2 g of accord and 2 g of carrier: half and half. 50 g at 20 %, of which
    /// three quarters are accord, hold 7.5 g of accord, 15 g of the vessel and
    /// 2.5 g of the rest; 32.5 g are left.
    #[test]
    fn carriers_take_the_place_of_solvent() {
        let vessel =
            Vessel { accord_percent: 50.0, carriers: vec![("Glycol".to_owned(), 1.0)], holds_grams: Some(2.0) };
        let shares = vessel.shares(50.0, 20.0, 75.0).unwrap();
        assert_eq!((shares.accord_grams, shares.vessel_grams, shares.rest_grams), (7.5, 15.0, 2.5));
        assert_eq!(shares.carriers, [("Glycol".to_owned(), 7.5)]);
        assert_eq!(shares.solvent_grams, 32.5);
        // Alone it can be half of a product and no more.
        assert_eq!(vessel.most_dosage_percent(100.0), 50.0);
        assert_eq!(vessel.shares(10.0, 50.0, 100.0).unwrap().solvent_grams, 0.0);
        assert_eq!(vessel.shares(10.0, 50.000_001, 100.0), None);
    }
}
