//! What fidelity is traded against: a rule that is moved, where formulas stand
//! on it, and how far it reaches.

use crate::control::Control;
use crate::problem::{Bound, Problem, RuleId, RuleKind};
use crate::solve::extent::Extent;
use crate::solve::{self, Answer, Failure, Method, Status};
use crate::tolerance::curves::PRICE_SETTLED;
use crate::tolerance::loss::TIE;
use crate::tolerance::rules::BEYOND;
use crate::units::Ppt;

/// What is traded for fidelity.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Axis {
    /// Price per kg, at most.
    Price,
    /// Price per kg for each unit of strength, at most.
    Effect,
    /// Strength, at least.
    Strength,
    /// Number of materials, at most.
    Count,
    /// Dose of a material in ppt, exactly.
    Dose(usize),
}

/// Steps of Dinkelbach's method; it converges faster than linearly.
const STEPS: usize = 30;

/// The range of an axis over continuous doses.
#[derive(Clone, Copy, Debug)]
pub struct Range {
    /// The least limit that any blend keeps.
    pub low: f64,
    /// The limit from which on nothing changes, or the greatest that any blend
    /// keeps.
    pub high: f64,
    /// Where the curve turns though both ends lie elsewhere.
    pub turns: Option<f64>,
}

/// Why an axis has no range.
#[derive(Clone, Debug)]
pub enum NoRange {
    /// No blend keeps the other rules.
    Impossible,
    /// It was not found out.
    Unknown,
}

impl Axis {
    /// The rule that is moved.
    pub fn kind(self) -> RuleKind {
        match self {
            Axis::Price => RuleKind::Budget,
            Axis::Effect => RuleKind::PriceOfEffect,
            Axis::Strength => RuleKind::StrengthMin,
            Axis::Count => RuleKind::MaxMaterials,
            Axis::Dose(material) => RuleKind::Fixed(material),
        }
    }

    /// Whether a larger limit leaves more formulas inside (`Some(true)`),
    /// fewer (`Some(false)`), or others.
    pub fn loosens_upwards(self) -> Option<bool> {
        self.kind().loosens_upwards()
    }

    /// The problem without the rule, every other rule kept.
    pub fn without(self, problem: &Problem) -> Problem {
        match self {
            Axis::Dose(material) => problem.freeing(material),
            _ => problem.without_kind(&self.kind()),
        }
    }

    /// That problem with the rule at a limit.
    pub fn at(self, without: &Problem, at: f64) -> Problem {
        let id = match self {
            Axis::Price => RuleId::Budget,
            Axis::Effect => RuleId::PriceOfEffect,
            Axis::Strength => RuleId::Strength(Bound::Min),
            Axis::Count => RuleId::MaxMaterials,
            Axis::Dose(material) => return without.with_dose(material, Ppt::from_ppt(at)),
        };
        without.with_rule_at(id, self.kind(), at)
    }

    /// The user's own limit.
    pub fn own(self, problem: &Problem) -> Option<f64> {
        problem.stands_at(&self.kind())
    }

    /// Where a formula stands.
    pub fn of(self, answer: &Answer) -> Option<f64> {
        match self {
            Axis::Price => answer.evaluation.price_per_kg,
            Axis::Effect => answer.evaluation.price_of_effect(),
            Axis::Strength => Some(answer.evaluation.strength),
            Axis::Count => Some(answer.formula.parts.len() as f64),
            Axis::Dose(material) => Some(answer.formula.dose(material).as_f64()),
        }
    }

    /// Materials that may be used and have no price, where the axis is one of
    /// money.
    pub fn without_price(self, problem: &Problem) -> Vec<usize> {
        if !matches!(self, Axis::Price | Axis::Effect) {
            return Vec::new();
        }
        let usable = problem.domains().into_iter().enumerate();
        let usable = usable.filter(|(_, domain)| domain.is_ok_and(|domain| !domain.is_empty()));
        usable.map(|(column, _)| column).filter(|&column| problem.price_per_ppt(column).is_none()).collect()
    }

    /// The range over continuous doses; `relaxed` is without the rule.
    ///
    /// # Errors
    /// Where a result failed its check.
    pub fn range(
        self,
        relaxed: &Problem,
        own: Option<f64>,
        control: &Control,
    ) -> Result<Result<Range, NoRange>, Failure> {
        let best = solve::propose(relaxed, Method::Auto, control)?;
        let Some(answer) = &best.answer else {
            let why = if best.status == Status::Infeasible { NoRange::Impossible } else { NoRange::Unknown };
            return Ok(Err(why));
        };
        let loss = answer.evaluation.loss;
        let Some(stands) = self.of(answer) else { return Ok(Err(NoRange::Unknown)) };
        let any = Extent::new(relaxed, any_loss(relaxed));
        let tied = Extent::new(relaxed, loss + TIE * loss.max(1.0));
        let end = |extent: &Option<Extent>, most: bool| {
            let found = self.end(extent.as_ref()?, relaxed, most).filter(|at| at.is_finite());
            Some(found? * if most { 1.0 - BEYOND } else { 1.0 + BEYOND })
        };
        let range = match self {
            Axis::Strength => {
                // Nothing changes up to the strongest of the best blends.
                let turns = end(&tied, true).unwrap_or(stands).max(stands);
                let low = own.map_or(turns, |own| own.min(turns));
                Range { low, high: end(&any, true).unwrap_or(turns).max(turns), turns: Some(turns) }
            }
            Axis::Dose(material) => {
                let low = end(&any, false).unwrap_or(0.0);
                let high = end(&any, true).unwrap_or(stands).max(low);
                let on_grid = |at: f64| Ppt::from_ppt(at).as_f64();
                let low = if low <= Ppt::LEAST.as_f64() { 0.0 } else { on_grid(low) };
                let dose = answer.formula.dose(material).as_f64();
                Range { low, high: on_grid(high), turns: Some(dose) }
            }
            _ => {
                let high = end(&tied, false).unwrap_or(stands).min(stands * (1.0 + BEYOND));
                Range { low: end(&any, false).unwrap_or(high).min(high), high, turns: None }
            }
        };
        Ok(Ok(range))
    }

    /// The furthest limit that blends below a loss keep: the cheapest, the
    /// strongest, the least or the most of a material.
    pub fn end(self, extent: &Extent, relaxed: &Problem, most: bool) -> Option<f64> {
        let columns = 0..relaxed.columns.len();
        let price = || columns.clone().map(|column| relaxed.price_per_ppt(column).unwrap_or(0.0)).collect::<Vec<f64>>();
        let strength = || columns.clone().map(|column| relaxed.strength_per_ppt(column)).collect::<Vec<f64>>();
        let sign = if most { -1.0 } else { 1.0 };
        let linear = |cost: Vec<f64>| {
            let signed: Vec<f64> = cost.iter().map(|cost| sign * cost).collect();
            self.of(&extent.least(&signed)?.answer)
        };
        match self {
            Axis::Price => linear(price()),
            Axis::Strength => linear(strength()),
            Axis::Dose(material) => {
                linear(columns.clone().map(|column| f64::from(u8::from(column == material))).collect())
            }
            Axis::Effect => self.least_effect(extent, &price(), &strength()),
            Axis::Count => None,
        }
    }

    /// The least quotient of price and strength, by Dinkelbach's method
    /// (Management Science 13, 1967): each step is linear.
    fn least_effect(self, extent: &Extent, price: &[f64], strength: &[f64]) -> Option<f64> {
        let mut best = self.of(&extent.least(price)?.answer)?;
        for _ in 0..STEPS {
            let cost: Vec<f64> = price.iter().zip(strength).map(|(price, strength)| price - best * strength).collect();
            let Some(next) = extent.least(&cost).and_then(|end| self.of(&end.answer)) else { break };
            if next >= best * (1.0 - PRICE_SETTLED) {
                break;
            }
            best = next;
        }
        Some(best)
    }
}

/// A loss that no blend passes, in score points: no profile passes the scale
/// or, in match balance, the target's own total.
pub fn any_loss(problem: &Problem) -> f64 {
    let most = problem.palette.scale.max(problem.target_total());
    let worst = |target: &crate::problem::Target| target.weight * (target.excess * most + target.score);
    1.0 + problem.targets.iter().map(worst).sum::<f64>()
}
