//! How far a formula is from a known one: its skeleton.

use std::sync::Arc;

use super::Problem;
use crate::brief::{MovedBy, Near};
use crate::composition::Composition;
use crate::formula::Formula;
use crate::palette::Palette;

/// A known formula as shares that add up to 1, odourless solvents left out.
#[derive(Clone, Debug, PartialEq)]
pub struct Skeleton {
    /// What its shares are of.
    pub by: MovedBy,
    /// (material of the palette, its share), each material once, in order.
    pub shares: Vec<(usize, f64)>,
    /// The parts that the shelf lacks.
    pub lacking: Vec<Lacking>,
}

/// A part of a skeleton that the shelf lacks.
#[derive(Clone, Debug, PartialEq)]
pub struct Lacking {
    /// What it is called.
    pub name: Arc<str>,
    /// Parts per thousand of what is identified, solvents left out.
    pub parts: f64,
    /// Its share of the skeleton.
    pub share: f64,
    /// The strength that it counts with.
    pub strength: f64,
    /// Whether nobody said that strength, and it is the mean of the others.
    pub strength_is_assumed: bool,
}

/// What a brief wants to stay near to.
#[derive(Clone, Debug, PartialEq)]
pub struct Nearby {
    /// The known formula.
    pub skeleton: Arc<Skeleton>,
    /// Its file.
    pub file: Arc<str>,
    /// Its title.
    pub title: Option<String>,
    /// Where it was published.
    pub source: Option<String>,
    /// Percent by mass of it that nobody identified, and that counts nowhere.
    pub unknown_percent: f64,
    /// Percentage points of the match that may be given away to come nearer.
    pub give: Option<f64>,
}

impl Nearby {
    /// What a brief says of it; `None` where nothing of the known formula that
    /// smells is on the shelf.
    pub(super) fn new(palette: &Palette, near: &Near) -> Option<Nearby> {
        let Composition { file, title, source, unknown_percent, .. } = near.composition.clone();
        let skeleton = Arc::new(Skeleton::new(palette, &near.composition, near.by)?);
        Some(Nearby { skeleton, file, title, source, unknown_percent, give: near.give.as_ref().map(|give| give.value) })
    }

    /// A composition that no brief names; `None` as for [`Skeleton::new`].
    pub fn of(palette: &Palette, composition: &Composition) -> Option<Nearby> {
        let place = composition.parts.first()?.place.clone();
        let (composition, by) = (composition.clone(), MovedBy::Odour);
        Nearby::new(palette, &Near { place, composition, by, within: None, give: None })
    }

    /// What it is called: its title, else its file.
    pub fn name(&self) -> &str {
        self.title.as_deref().unwrap_or(&self.file)
    }
}

impl Skeleton {
    /// The skeleton of a composition whose parts were looked for in a palette.
    /// A part without a strength of its own counts with the mean strength of the
    /// others, by mass. `None` where nothing of it that smells is on the shelf.
    pub fn new(palette: &Palette, composition: &Composition, by: MovedBy) -> Option<Skeleton> {
        let own = |part: &crate::composition::Component| {
            part.material.map(|material| palette.materials[material].strength).or(part.strength)
        };
        let known =
            composition.parts.iter().filter_map(|part| Some((part.percent, own(part).filter(|own| *own > 0.0)?)));
        let (mass, odour) =
            known.fold((0.0, 0.0), |(mass, odour), (percent, own)| (mass + percent, odour + percent * own));
        let mean = odour / mass;
        let mut amounts = vec![0.0; palette.materials.len()];
        let mut lacking: Vec<Lacking> = Vec::new();
        let (mut total, mut parts) = (0.0, 0.0);
        for part in &composition.parts {
            let strength = own(part).unwrap_or(mean);
            // A solvent.
            if strength == 0.0 {
                continue;
            }
            let amount = match by {
                MovedBy::Odour => part.percent * strength,
                MovedBy::Parts => part.percent,
            };
            total += amount;
            parts += part.percent;
            match part.material {
                Some(material) => amounts[material] += amount,
                None => lacking.push(Lacking {
                    name: part.name.as_str().into(),
                    parts: part.percent,
                    share: amount,
                    strength,
                    strength_is_assumed: part.strength.is_none(),
                }),
            }
        }
        let shares: Vec<(usize, f64)> =
            amounts.iter().copied().enumerate().filter(|(_, amount)| *amount > 0.0).collect();
        if shares.is_empty() {
            return None;
        }
        let shares = shares.into_iter().map(|(material, amount)| (material, amount / total)).collect();
        for part in &mut lacking {
            part.share /= total;
            part.parts *= 1000.0 / parts;
        }
        Some(Skeleton { by, shares, lacking })
    }

    /// The share of what the shelf lacks.
    pub fn lacking_share(&self) -> f64 {
        self.lacking.iter().map(|part| part.share).sum()
    }

    /// The share of a material of the palette.
    pub fn share(&self, material: usize) -> f64 {
        self.shares.iter().find(|(own, _)| *own == material).map_or(0.0, |(_, share)| *share)
    }

    /// What one neat part of a material counts: its strength, or 1; nothing for
    /// a solvent.
    pub fn counts(&self, problem: &Problem, material: usize) -> f64 {
        let strength = problem.material(material).strength;
        match self.by {
            MovedBy::Odour => strength,
            MovedBy::Parts if strength > 0.0 => 1.0,
            MovedBy::Parts => 0.0,
        }
    }

    /// The share of each material of the palette in a formula, from 0 to 1;
    /// `None` where it has no odour.
    pub fn shares_of(&self, problem: &Problem, formula: &Formula) -> Option<Vec<f64>> {
        let neat = problem.neat_ppt(formula);
        let counted: Vec<f64> =
            neat.iter().enumerate().map(|(material, ppt)| ppt * self.counts(problem, material)).collect();
        let total: f64 = counted.iter().sum();
        (total > 0.0).then(|| counted.into_iter().map(|own| own / total).collect())
    }

    /// How far a formula is from this one, in percent of the odour or of the
    /// parts: half the sum of the absolute differences of all shares, those of
    /// what the shelf lacks included. `None` where it has no odour.
    pub fn moved_percent(&self, problem: &Problem, formula: &Formula) -> Option<f64> {
        let shares = self.shares_of(problem, formula)?;
        let apart = shares.iter().enumerate().map(|(material, share)| (share - self.share(material)).abs());
        Some(50.0 * (apart.sum::<f64>() + self.lacking_share()))
    }
}
