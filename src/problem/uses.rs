//! How much of each restricted substance a formula brings into each finished
//! product, source by source, in plain arithmetic.

use super::Problem;
use super::rules::Regulated;
use super::substance::substance_fraction;

/// The use of one restricted substance in one finished product.
#[derive(Clone, Debug, PartialEq)]
pub struct SubstanceUse {
    /// Index into the problem's restrictions.
    pub restriction: usize,
    /// Index into the problem's products.
    pub product: usize,
    /// Label of the category whose limit holds.
    pub category: String,
    /// The limit in percent of the finished product.
    pub limit_percent: f64,
    /// The use in percent of the finished product, the reserve included.
    pub use_percent: f64,
    /// What the rest of the concentrate already brings, in percent.
    pub reserve_percent: f64,
    /// (material, percent of the finished product) of each source.
    pub from: Vec<(usize, f64)>,
}

impl Problem {
    /// The use of every restriction that holds, given the neat parts per
    /// thousand of every material. The limits are those of the problem's
    /// rules, with the numbers they stand at.
    pub fn substance_uses(&self, neat_ppt: &[f64]) -> Vec<SubstanceUse> {
        let uses = self.rules.iter().filter_map(|rule| match rule.kind.regulated() {
            Some(Regulated::One { restriction, product }) => {
                let holding = self.restrictions[restriction].holding(&self.products[product].categories);
                let category = holding.map(|(label, _)| label.to_owned()).unwrap_or_default();
                let (from, reserve_percent) = self.substance_sources(restriction, product, neat_ppt);
                let use_percent = from.iter().map(|(_, percent)| percent).sum::<f64>() + reserve_percent;
                let limit_percent = rule.at;
                Some(SubstanceUse { restriction, product, category, limit_percent, use_percent, reserve_percent, from })
            }
            // Its members have rules of their own.
            Some(Regulated::Shared { .. }) | None => None,
        });
        uses.collect()
    }

    /// What brings a restricted substance into a product, in percent of the
    /// product, and what the rest of the concentrate already brings.
    pub(super) fn substance_sources(
        &self,
        restriction: usize,
        product: usize,
        neat_ppt: &[f64],
    ) -> (Vec<(usize, f64)>, f64) {
        let restriction = &self.restrictions[restriction];
        let product = &self.products[product];
        let mut from = Vec::new();
        for (material, &ppt) in neat_ppt.iter().enumerate().filter(|(_, ppt)| **ppt > 0.0) {
            let fraction = substance_fraction(restriction, &self.palette.materials[material]);
            let percent = ppt / 1000.0 * fraction * product.accord_share() * product.dosage() * 100.0;
            if percent > 0.0 {
                from.push((material, percent));
            }
        }
        let reserve = product.reserve.iter().filter(|(cas, _)| restriction.cas.contains(cas));
        (from, reserve.map(|(_, percent)| percent).sum())
    }
}
