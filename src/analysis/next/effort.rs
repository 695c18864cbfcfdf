//! What a trial takes, in minutes and in money.

use super::Candidate;
use crate::evaluate::Evaluation;
use crate::matches::GIVE_OR_TAKE_FACTOR;
use crate::palette::Palette;
use crate::portable::Portable;

/// What a smelling of one material takes of it as it is poured, or each of two materials that
/// are matched neat: a drop, in grams.
pub const DROP_GRAMS: f64 = 0.05;
/// Money that is not worth a thought, as a part of the currency: nothing is cheaper.
const NEXT_TO_NOTHING: f64 = 0.01;

/// For what trials are to teach most.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Per {
    /// For a minute.
    #[default]
    Minute,
    /// For what the materials cost.
    Cost,
    /// For a trial, whatever it takes.
    Trial,
}

/// What weighing and smelling take. The default is ASSUMED: nobody measured it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effort {
    /// Minutes for weighing one material.
    pub weighing_minutes: f64,
    /// Minutes for smelling once: dip, wait, judge every descriptor, write it down.
    pub smelling_minutes: f64,
    /// Minutes for each of the two rows of dilutions of a match.
    pub dilution_minutes: f64,
    /// Mass of a mod in grams.
    pub batch_grams: f64,
}

impl Default for Effort {
    fn default() -> Effort {
        Effort { weighing_minutes: 2.0, smelling_minutes: 10.0, dilution_minutes: 5.0, batch_grams: 10.0 }
    }
}

/// What one trial takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Takes {
    /// Minutes.
    pub minutes: f64,
    /// Money for what is weighed or dipped, in the palette's currency; `None` where something
    /// in it has no price.
    pub cost: Option<f64>,
}

impl Takes {
    /// How much of a fall there is for what is counted; nothing where that is not known.
    pub fn worth(self, fall: f64, per: Per) -> f64 {
        match per {
            Per::Trial => fall,
            Per::Minute => fall / self.minutes,
            Per::Cost => self.cost.map_or(0.0, |cost| fall / cost.max(NEXT_TO_NOTHING)),
        }
    }
}

impl Effort {
    /// What a trial takes. `mods` are the formulas near the best, judged.
    pub fn of(&self, palette: &Palette, candidate: &Candidate, mods: &[Evaluation]) -> Takes {
        let drop = |material: usize, fraction: f64| {
            Some(palette.materials[material].price_per_kg? * fraction * DROP_GRAMS / 1000.0)
        };
        match *candidate {
            Candidate::Mod(at) => {
                let weighings = mods[at].neat_ppt.iter().filter(|ppt| **ppt > 0.0).count();
                Takes {
                    minutes: weighings as f64 * self.weighing_minutes + self.smelling_minutes,
                    cost: mods[at].price_per_kg.map(|price| price * self.batch_grams / 1000.0),
                }
            }
            Candidate::Single(material) => Takes {
                minutes: self.smelling_minutes,
                cost: drop(material, palette.materials[material].usual_fraction()),
            },
            Candidate::Match(one, other) => Takes {
                minutes: 2.0 * self.dilution_minutes + self.smelling_minutes,
                cost: drop(one, 1.0).zip(drop(other, 1.0)).map(|(one, other)| one + other),
            },
        }
    }
}

/// One standard deviation of the logarithm of what a match tells of two strengths, where
/// intensity goes with strength times percent itself.
pub fn match_error() -> f64 {
    GIVE_OR_TAKE_FACTOR.logarithm()
}
