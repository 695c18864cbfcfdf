//! Budget, idle weight and limits compared as exact fractions: what the last bit of a sum
//! must not decide.

use super::SEARCH_TOLERANCE;
use super::facts::Facts;
use crate::problem::substance::substance_percent;
use crate::problem::{Rule, RuleKind, exact};

impl Facts<'_> {
    /// Whether budget, idle weight or restriction holds exactly, in decimals; `None` where
    /// the ordinary comparison decides: the formula is not on a grid, the
    /// rule is of another kind, or rounding could not change the verdict.
    pub(super) fn exact_verdict(&self, rule: &Rule, by: f64) -> Option<bool> {
        if !self.checker.whole_part {
            return None;
        }
        let near = by.abs() <= SEARCH_TOLERANCE;
        match &rule.kind {
            RuleKind::Budget if near => Some(self.exact_budget(rule.at)),
            RuleKind::Limit { restriction, product } if near => {
                Some(self.exact_share(&[(*restriction, rule.at)], *product, 1.0))
            }
            RuleKind::Joint { members, product } if near => Some(self.exact_share(members, *product, rule.at)),
            RuleKind::MaxIdle if near => Some(self.exact_idle(rule.at)),
            RuleKind::Budget | RuleKind::Limit { .. } | RuleKind::Joint { .. } | RuleKind::MaxIdle => Some(by <= 0.0),
            // Doses and counts are whole numbers and exact as they are.
            RuleKind::DoseMin(_)
            | RuleKind::DoseMax(_)
            | RuleKind::DoseStep(_)
            | RuleKind::Must(_)
            | RuleKind::Never(_)
            | RuleKind::Fixed(_)
            | RuleKind::MaxMaterials
            | RuleKind::MostOf(_)
            | RuleKind::Moves(_)
            | RuleKind::MaxUnusual(_)
            | RuleKind::Only(_)
            | RuleKind::OwnOnly => None,
            // Sums and quotients whose terms are not decimals, or that nobody
            // holds to the last digit.
            RuleKind::PriceOfEffect
            | RuleKind::StrengthMin
            | RuleKind::StrengthMax
            | RuleKind::NeatMax(_)
            | RuleKind::GroupMin(_)
            | RuleKind::GroupMax(_)
            | RuleKind::RatioMin { .. }
            | RuleKind::RatioMax { .. }
            | RuleKind::TargetMin(_)
            | RuleKind::TargetMax(_)
            | RuleKind::StageStrengthMin(_)
            | RuleKind::StageStrengthMax(_)
            | RuleKind::StageKept(_)
            | RuleKind::StageShareMin { .. }
            | RuleKind::StageShareMax { .. }
            | RuleKind::FilmLasts
            | RuleKind::Near(_)
            | RuleKind::Concentrate { .. }
            | RuleKind::Product { .. }
            | RuleKind::AtLeast(_) => None,
        }
    }

    fn exact_idle(&self, at: f64) -> bool {
        let idle = self.idle().materials;
        let neat = self.problem.exact_neat(self.formula).into_iter();
        let idle = neat.filter(|(material, _)| idle.contains(material)).map(|(_, ppt)| vec![ppt]);
        exact::sum_at_most(idle, &exact::decimal(at))
    }

    fn exact_budget(&self, at: f64) -> bool {
        let terms = self.problem.exact_neat(self.formula).into_iter().map(|(material, ppt)| {
            vec![ppt, exact::decimal(self.problem.material(material).price_per_kg.unwrap_or(0.0))]
        });
        exact::sum_at_most(terms, &(exact::decimal(at) * exact::decimal(1000.0)))
    }

    /// Whether the sum of use / limit over some restrictions is at most `at`.
    fn exact_share(&self, members: &[(usize, f64)], product: usize, at: f64) -> bool {
        let product = &self.problem.products[product];
        // ppt / 1000 * share% / 100 * dosage% / 100 * 100, in percent.
        let scale = exact::decimal(product.accord_share_percent)
            * exact::decimal(product.dosage_percent.unwrap_or(0.0))
            / exact::decimal(100_000.0);
        let neat = self.problem.exact_neat(self.formula);
        let mut terms = Vec::new();
        let mut least_limit_is_zero = false;
        for &(restriction, limit) in members {
            let restriction = &self.problem.restrictions[restriction];
            least_limit_is_zero |= limit == 0.0;
            let weight = if limit == 0.0 { exact::decimal(1.0) } else { exact::decimal(limit).recip() };
            for (material, ppt) in &neat {
                let described = self.problem.material(*material);
                let percent = substance_percent(restriction, restriction.applies, described);
                let fraction = percent / exact::decimal(100.0);
                terms.push(vec![ppt.clone(), fraction, scale.clone(), weight.clone()]);
            }
            for (_, percent) in product.reserve.iter().filter(|(cas, _)| restriction.cas.contains(cas)) {
                terms.push(vec![exact::decimal(*percent), weight.clone()]);
            }
        }
        // A limit of 0 (only without a joint name) allows nothing at all.
        let bound = if least_limit_is_zero { exact::decimal(0.0) } else { exact::decimal(at) };
        exact::sum_at_most(terms.into_iter(), &bound)
    }
}
