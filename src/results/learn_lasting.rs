//! How long materials last on a blotter, as trials at several times tell it.

use serde::Serialize;

use crate::analysis::learn::{Evidence, Lasting, Learned, tenacities};
use crate::palette::Palette;
use crate::portable::Portable;
use crate::tenacity::Tenacity;

/// Deviations of an interval of 95 %.
pub(super) const NINETY_FIVE: f64 = 1.959_963_984_540_054;

/// How long a material lasts on a blotter, before and after.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LastingLine {
    /// The material.
    pub material: String,
    /// Hours until it is gone alone, as the palette has it.
    pub before: f64,
    /// Whether that was taken from other materials.
    pub assumed: bool,
    /// As the trials leave it.
    pub after: f64,
    /// One standard deviation before the trials, as a factor.
    pub factor_before: f64,
    /// The same after them.
    pub factor: f64,
    /// Lower end of the interval of 95 %, in hours.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// The change in the deviations after the trials.
    pub sds: f64,
    /// Trials that speak of it.
    pub trials: usize,
    /// Times at which it was smelled, those alike counted once.
    pub times: usize,
}

/// A trial that was followed as it dried.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DriedLine {
    /// Its code.
    pub code: String,
    /// Minutes after dipping.
    pub minutes: f64,
    /// Percent dipped, by percent at which tenacities were noted.
    pub stretch: f64,
    /// Hours that its film lasts by the palette's own tenacities.
    pub film_hours: f64,
    /// The same as the trials leave them.
    pub film_hours_after: f64,
    /// Whether the film should have been gone by the palette's own tenacities.
    pub gone: bool,
    /// Its materials whose tenacity was taken from other materials.
    pub assumed: Vec<String>,
}

/// What trials at several times say of tenacities, the largest change in deviations first;
/// and the trials that were followed as they dried, by their codes.
pub fn learned_on_paper(
    palette: &Palette,
    learned: &Learned,
    code: &dyn Fn(&Evidence) -> String,
) -> (Vec<LastingLine>, Vec<DriedLine>) {
    let tenacities = tenacities(palette, &learned.asked.dip).unwrap_or_default();
    let is_assumed = |material: usize| tenacities.get(material).is_some_and(Tenacity::is_assumed);
    let line = |one: &Lasting| lasting(palette, learned, one, is_assumed(one.material));
    let mut lastings: Vec<LastingLine> = learned.lastings().iter().map(line).collect();
    lastings.sort_by(|a, b| b.sds.abs().total_cmp(&a.sds.abs()));
    let each = learned.evidence.iter();
    (lastings, each.filter_map(|one| dried(palette, learned, code(one), one, &is_assumed)).collect())
}

fn lasting(palette: &Palette, learned: &Learned, one: &Lasting, assumed: bool) -> LastingLine {
    let (unknowns, at) = (&learned.unknowns, one.at);
    let (from, to, sd) = (unknowns.prior[at], learned.fit.values[at], learned.posterior.deviations[at]);
    let material = &palette.materials[one.material];
    LastingLine {
        material: material.name.clone(),
        // As the palette has it, not by way of its logarithm.
        before: material.lasting_hours.unwrap_or_else(|| from.exponential()),
        assumed,
        after: to.exponential(),
        factor_before: unknowns.deviations[at].exponential(),
        factor: sd.exponential(),
        low: (to - NINETY_FIVE * sd).exponential(),
        high: (to + NINETY_FIVE * sd).exponential(),
        sds: (to - from) / sd,
        trials: one.trials,
        times: one.times,
    }
}

fn dried(
    palette: &Palette,
    learned: &Learned,
    code: String,
    one: &Evidence,
    is_assumed: &dyn Fn(usize) -> bool,
) -> Option<DriedLine> {
    let drying = one.drying.as_ref()?;
    let film_hours = drying.film.life_hours();
    let assumed = drying.materials.iter().filter(|&&material| is_assumed(material));
    Some(DriedLine {
        code,
        minutes: 60.0 * drying.hours,
        stretch: drying.film.stretch,
        film_hours,
        film_hours_after: drying.film(&learned.unknowns, &learned.fit.values).life_hours(),
        gone: drying.hours >= film_hours,
        assumed: assumed.map(|&material| palette.materials[material].name.clone()).collect(),
    })
}
