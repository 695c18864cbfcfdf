//! A formula judged in plain arithmetic: profile, loss, fidelity, price,
//! strength, shares and second opinion. No solver and no row of a programme
//! is involved, so a solver's word can be checked against it.

use crate::brief::Match;
use crate::formula::Formula;
use crate::odour;
use crate::problem::Problem;

/// Exponent of the second opinion: shares go with (strength x dose)^0.4.
/// What speaks for 0.3 to 0.4 rather than 1 is thin, see the crate's docs.
pub const SECOND_EXPONENT: f64 = 0.4;

/// What a formula is worth against a target.
#[derive(Clone, Debug, PartialEq)]
pub struct Evaluation {
    /// Weighted sum of the gaps, in score points.
    pub loss: f64,
    /// Fidelity in percent.
    pub fidelity_percent: f64,
    /// Profile of the blend in points, for each of the problem's targets.
    pub profile: Vec<f64>,
    /// Strength of the formula.
    pub strength: f64,
    /// Price per kg in the palette's currency; `None` where a material in it has none.
    pub price_per_kg: Option<f64>,
    /// Odour share in percent of each palette material.
    pub shares_percent: Vec<f64>,
    /// Parts per thousand of neat material of each palette material, carriers
    /// that bottles bring included in basis bottle.
    pub neat_ppt: Vec<f64>,
    /// The same formula under the other exponent.
    pub second_opinion: SecondOpinion,
}

/// A formula judged with shares that go with (strength x dose)^0.4.
#[derive(Clone, Debug, PartialEq)]
pub struct SecondOpinion {
    /// Weighted sum of the gaps, in score points.
    pub loss: f64,
    /// Fidelity in percent.
    pub fidelity_percent: f64,
    /// Profile in points, for each of the problem's targets.
    pub profile: Vec<f64>,
}

/// Why a formula cannot be judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoOdour {
    /// Nothing in it has strength.
    #[error("nothing in the formula has an odour")]
    NoStrength,
    /// Nothing in it has a score that counts (match balance).
    #[error("nothing in the formula has a score in a descriptor that counts")]
    NoScore,
}

impl Evaluation {
    /// Price per kg divided by the strength: a weak accord needs more of itself.
    pub fn price_of_effect(&self) -> Option<f64> {
        self.price_per_kg.map(|price| price / self.strength)
    }
}

/// Judges a formula. Its parts are taken as they stand, whatever their sum.
///
/// # Errors
/// Where the formula has no strength or, in match balance, no score that counts.
pub fn evaluate(problem: &Problem, formula: &Formula) -> Result<Evaluation, NoOdour> {
    let neat_ppt = problem.neat_ppt(formula);
    let materials = &problem.palette.materials;
    let odours: Vec<f64> = materials.iter().zip(&neat_ppt).map(|(material, ppt)| material.strength * ppt).collect();
    let strength = odours.iter().sum::<f64>() / 1000.0;
    if strength <= 0.0 {
        return Err(NoOdour::NoStrength);
    }
    let profile = profile(problem, &odours).ok_or(NoOdour::NoScore)?;
    let loss = loss(problem, &profile);
    let power = |&odour: &f64| if odour > 0.0 { odour.powf(SECOND_EXPONENT) } else { 0.0 };
    let weakened: Vec<f64> = odours.iter().map(power).collect();
    let second_profile = self::profile(problem, &weakened).ok_or(NoOdour::NoScore)?;
    let second_loss = self::loss(problem, &second_profile);
    let price = materials.iter().zip(&neat_ppt).filter(|(_, ppt)| **ppt > 0.0);
    Ok(Evaluation {
        loss,
        fidelity_percent: problem.fidelity_percent(loss),
        profile,
        strength,
        price_per_kg: price.map(|(material, ppt)| material.price_per_kg.map(|price| price * ppt / 1000.0)).sum(),
        shares_percent: odour::shares(&odours, 1.0).into_iter().map(|share| share * 100.0).collect(),
        neat_ppt,
        second_opinion: SecondOpinion {
            loss: second_loss,
            fidelity_percent: problem.fidelity_percent(second_loss),
            profile: second_profile,
        },
    })
}

/// The blend's profile in points for each target, from the odour (strength x
/// dose, to any power) of each material; `None` where nothing counts.
fn profile(problem: &Problem, odours: &[f64]) -> Option<Vec<f64>> {
    // Looked for once: a shelf is long, a formula short.
    let all = odours.iter().copied().enumerate();
    let present: Vec<(usize, f64)> = all.filter(|(_, odour)| *odour > 0.0).collect();
    let denominator: f64 = match problem.matching {
        Match::Level => present.iter().map(|(_, odour)| odour).sum(),
        Match::Balance => {
            let total = problem.target_total();
            present.iter().map(|&(material, odour)| odour * problem.counted_score(material) / total).sum()
        }
    };
    let score = |material: usize, descriptor: usize| problem.palette.materials[material].scores[descriptor];
    let sum = |descriptor: usize| -> f64 { present.iter().map(|&(i, odour)| odour * score(i, descriptor)).sum() };
    (denominator > 0.0).then(|| problem.targets.iter().map(|t| sum(t.descriptor) / denominator).collect())
}

/// The weighted sum of the gaps between a profile and the targets.
pub fn loss(problem: &Problem, profile: &[f64]) -> f64 {
    problem.targets.iter().zip(profile).map(|(target, blend)| target.gap(*blend)).sum()
}
