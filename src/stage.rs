//! Stages of a brief: times after dipping at which an accord is smelled on a blotter,
//! what is wanted then and what must then hold.

use crate::place::{Place, Placed};
use crate::wanted::TargetEntry;

/// How an accord comes on paper: `[blotter]` of a brief.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Dip {
    /// Percent of the accord in what the blotter is dipped in, above 0, at most 100;
    /// `None` is what the palette's tenacities were noted at.
    pub percent: Option<f64>,
    /// g/m2 of the film, above 0, for tenacities from vapour pressures; `None` asks the
    /// shelf.
    pub film_weight: Option<f64>,
}

/// One time at which the accord is smelled.
#[derive(Clone, Debug)]
pub struct Stage {
    /// Its unique name.
    pub name: String,
    /// Where it stands.
    pub place: Place,
    /// Minutes after dipping, 0 or more.
    pub minutes: f64,
    /// How much what is lost at it counts, beside the other stages; above 0.
    pub weight: f64,
    /// What is wanted otherwise than the brief's target says; no entry has a floor or a
    /// ceiling.
    pub target: Vec<TargetEntry>,
    /// Least strength of what is left.
    pub strength_min: Option<Placed<f64>>,
    /// Greatest strength of what is left.
    pub strength_max: Option<Placed<f64>>,
    /// Least strength of what is left, in percent of the first stage's.
    pub kept_min: Option<Placed<f64>>,
    /// Bounds on what some materials carry.
    pub shares: Vec<StageShare>,
}

/// A bound on what the materials of a tag carry at a stage.
#[derive(Clone, Debug)]
pub struct StageShare {
    /// The tag, once in a stage.
    pub tag: String,
    /// Where it stands.
    pub place: Place,
    /// The materials that have it, in the order of the palette.
    pub materials: Vec<usize>,
    /// Least share of the odour, in percent.
    pub min: Option<Placed<f64>>,
    /// Greatest share of the odour, in percent.
    pub max: Option<Placed<f64>>,
}
