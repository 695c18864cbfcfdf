//! A formula judged in plain arithmetic: profile, loss, fidelity, price,
//! strength, shares and second opinion. No solver and no row of a programme
//! is involved, so a solver's word can be checked against it.
//!
//! Where a problem has several views, each judges the formula, and the worst of
//! them is what is told of it.

use crate::brief::{Law, Match};
use crate::formula::Formula;
use crate::odour;
use crate::portable::Portable;
use crate::problem::{Problem, Target, View};

/// Exponent of the second opinion: shares go with (strength x dose)^0.4.
/// What speaks for 0.3 to 0.4 rather than 1 is thin, see the crate's docs.
pub const SECOND_EXPONENT: f64 = 0.4;

/// What a formula is worth against a target. Loss, fidelity, profile, shares and second
/// opinion are those of its worst view.
#[derive(Clone, Debug, PartialEq)]
pub struct Evaluation {
    /// Weighted sum of the gaps, in score points of the brief's own target: that of the worst
    /// view times [`Problem::view_scale`], so that formulas with different worst views compare.
    pub loss: f64,
    /// Fidelity in percent of that loss; the worst view's own where its weight is 1.
    pub fidelity_percent: f64,
    /// Profile of the blend in points, for each target of the worst view.
    pub profile: Vec<f64>,
    /// Strength of the formula as it is mixed.
    pub strength: f64,
    /// Price per kg in the palette's currency; `None` where a material in it has none.
    pub price_per_kg: Option<f64>,
    /// Odour share in percent of each palette material.
    pub shares_percent: Vec<f64>,
    /// Parts per thousand of neat material of each palette material, carriers
    /// that bottles bring included in basis bottle.
    pub neat_ppt: Vec<f64>,
    /// The same formula by the other law.
    pub second_opinion: SecondOpinion,
    /// What each of the problem's views says, in their order.
    pub views: Vec<Seen>,
    /// Which of them is the worst: the first of those that lose most by their weights.
    pub worst: usize,
}

/// What one view says of a formula.
#[derive(Clone, Debug, PartialEq)]
pub struct Seen {
    /// Weighted sum of the gaps in points, by the view's own target.
    pub loss: f64,
    /// Fidelity in percent, by the view's own target.
    pub fidelity_percent: f64,
    /// What is compared between views: the loss in points of the brief's own target, by
    /// [`Problem::view_scale`].
    pub compared: f64,
    /// Strength of the formula in the view, at full dose: at a stage of what is left.
    pub strength: f64,
    /// Profile in points, for each of the view's targets.
    pub profile: Vec<f64>,
    /// Odour share in percent of each palette material.
    pub shares_percent: Vec<f64>,
    /// The same by the other law.
    pub second_opinion: SecondOpinion,
}

/// A formula judged by the other law: with shares that go with (strength x dose)^0.4 where
/// the first opinion is linear, and the other way round.
#[derive(Clone, Debug, PartialEq)]
pub struct SecondOpinion {
    /// Weighted sum of the gaps, in score points, as the loss beside it.
    pub loss: f64,
    /// Fidelity in percent.
    pub fidelity_percent: f64,
    /// Profile in points, for each target of the view.
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
/// Where the formula has no strength or, in match balance, no score that counts, in
/// any of the views.
pub fn evaluate(problem: &Problem, formula: &Formula) -> Result<Evaluation, NoOdour> {
    let neat_ppt = problem.neat_ppt(formula);
    let materials = &problem.palette.materials;
    let views: Vec<Seen> =
        problem.views.iter().map(|view| judged(problem, view, &neat_ppt)).collect::<Result<_, NoOdour>>()?;
    let mut worst = 0;
    for (index, seen) in views.iter().enumerate() {
        if seen.compared > views[worst].compared {
            worst = index;
        }
    }
    let own: f64 = materials.iter().zip(&neat_ppt).map(|(material, ppt)| material.strength * ppt).sum();
    let scale = problem.view_scale(&problem.views[worst]);
    let Seen { compared: loss, profile, shares_percent, second_opinion, .. } = views[worst].clone();
    let second_loss = scale * second_opinion.loss;
    let price = materials.iter().zip(&neat_ppt).filter(|(_, ppt)| **ppt > 0.0);
    Ok(Evaluation {
        loss,
        fidelity_percent: problem.fidelity_percent(loss),
        profile,
        strength: own / 1000.0,
        price_per_kg: price.map(|(material, ppt)| material.price_per_kg.map(|price| price * ppt / 1000.0)).sum(),
        shares_percent,
        neat_ppt,
        second_opinion: SecondOpinion {
            loss: second_loss,
            fidelity_percent: problem.fidelity_percent(second_loss),
            profile: second_opinion.profile,
        },
        views,
        worst,
    })
}

/// What one view says of neat doses: of those that have left the blotter by its stage that
/// everything is missed.
fn judged(problem: &Problem, view: &View, neat_ppt: &[f64]) -> Result<Seen, NoOdour> {
    let judged = seen(problem, view, neat_ppt);
    let smells = || problem.palette.materials.iter().zip(neat_ppt).any(|(it, ppt)| it.strength * ppt > 0.0);
    match judged {
        Err(_) if view.stage.is_some() && smells() => Ok(Seen::nothing(problem, view)),
        judged => judged,
    }
}

impl Seen {
    /// A view in which nothing is left to smell.
    fn nothing(problem: &Problem, view: &View) -> Seen {
        let (loss, profile) = (view.worst_loss(), vec![0.0; view.targets.len()]);
        Seen {
            loss,
            fidelity_percent: 0.0,
            compared: problem.view_scale(view) * loss,
            strength: 0.0,
            profile: profile.clone(),
            shares_percent: vec![0.0; view.palette.materials.len()],
            second_opinion: SecondOpinion { loss, fidelity_percent: 0.0, profile },
        }
    }
}

/// The problem as the worst view of a formula has it, for whatever explains the formula (see
/// [`Problem::seen`]); where the brief has stages, as the formula's own film dries. Where the
/// formula has no odour, as it is mixed.
pub fn as_judged(problem: &Problem, formula: &Formula) -> Problem {
    let own = problem.as_it_dries(formula);
    match evaluate(&own, formula) {
        Ok(evaluation) => own.seen(evaluation.worst),
        Err(_) => problem.plain().seen(0),
    }
}

/// What one view says of neat doses.
fn seen(problem: &Problem, view: &View, neat_ppt: &[f64]) -> Result<Seen, NoOdour> {
    let materials = view.palette.materials.iter();
    let odours: Vec<f64> = materials.zip(neat_ppt).map(|(material, ppt)| material.strength * ppt).collect();
    let strength = odours.iter().sum::<f64>() / 1000.0;
    if strength <= 0.0 {
        return Err(NoOdour::NoStrength);
    }
    let by = |law: Law| -> Result<(f64, Vec<f64>), NoOdour> {
        let by_law: Vec<f64> = odours.iter().map(|&odour| law.of(odour)).collect();
        let profile = profile(view, &by_law).ok_or(NoOdour::NoScore)?;
        Ok((loss(&view.targets, &profile), profile))
    };
    let (loss, profile) = by(view.law)?;
    let (second_loss, second_profile) = by(view.law.other())?;
    Ok(Seen {
        loss,
        fidelity_percent: view.fidelity_percent(loss),
        compared: problem.view_scale(view) * loss,
        strength,
        profile,
        shares_percent: odour::shares(&odours, view.law.exponent()).into_iter().map(|share| share * 100.0).collect(),
        second_opinion: SecondOpinion {
            loss: second_loss,
            fidelity_percent: view.fidelity_percent(second_loss),
            profile: second_profile,
        },
    })
}

impl Law {
    /// The power of strength times dose that shares go with.
    pub const fn exponent(self) -> f64 {
        match self {
            Law::Linear => 1.0,
            Law::Compressive => SECOND_EXPONENT,
        }
    }

    /// What an odour (strength times dose) counts for.
    pub fn of(self, odour: f64) -> f64 {
        match self {
            Law::Linear => odour,
            Law::Compressive if odour > 0.0 => odour.power(SECOND_EXPONENT),
            Law::Compressive => 0.0,
        }
    }
}

/// The blend's profile in points for each target, from the odour (strength x
/// dose, to any power) of each material; `None` where nothing counts.
fn profile(view: &View, odours: &[f64]) -> Option<Vec<f64>> {
    // Looked for once: a shelf is long, a formula short.
    let all = odours.iter().copied().enumerate();
    let present: Vec<(usize, f64)> = all.filter(|(_, odour)| *odour > 0.0).collect();
    let denominator: f64 = match view.matching {
        Match::Level => present.iter().map(|(_, odour)| odour).sum(),
        Match::Balance => {
            let total = view.target_total();
            present.iter().map(|&(material, odour)| odour * view.counted_score(material) / total).sum()
        }
    };
    let score = |material: usize, descriptor: usize| view.material(material).scores[descriptor];
    let sum = |descriptor: usize| -> f64 { present.iter().map(|&(i, odour)| odour * score(i, descriptor)).sum() };
    (denominator > 0.0).then(|| view.targets.iter().map(|t| sum(t.descriptor) / denominator).collect())
}

/// The weighted sum of the gaps between a profile and the targets.
pub fn loss(targets: &[Target], profile: &[f64]) -> f64 {
    targets.iter().zip(profile).map(|(target, blend)| target.gap(*blend)).sum()
}
