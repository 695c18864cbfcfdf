//! Trials that were smelled some time after dipping a blotter: what is left of each
//! material then, and how that changes with how long each lasts.
//!
//! The film is that of [`crate::film`]: with `z_i = u / (M_i L_i)` the logarithm of what is
//! left of a material is `-z_i`, and the clock `u` follows from the time,
//! `T = stretch sum_k m_k L_k (1 - exp(-z_k))`. So
//!
//! - `d(-z_i) / d ln L_k = z_i [i = k] - (z_i / u) du / d ln L_k`
//! - `du / d ln L_k = (dT / d ln L_k - stretch m_k L_k (1 - exp(-z_k) - z_k exp(-z_k))) / rate`,
//!   with `rate = stretch sum_j m_j exp(-z_j) / M_j`.
//!
//! By the numbers a film may be gone that was smelled all the same. Nearly at its end the
//! little that is left hangs on the last digits, so that the time counts as it is up to
//! [`EXACT`] of the greatest one that is looked at, life over [`LASTS`], and comes to that
//! no more than smoothly. And what was smelled was there: how far the time lies beyond is a
//! residual of its own, in units of [`GONE_FACTOR`].

use super::model::Evidence;
use super::unknowns::Unknowns;
use crate::film::{Film, Part};
use crate::palette::Palette;
use crate::portable::Portable;
use crate::problem::stage::LASTS;
use crate::stage::Dip;
use crate::tenacity::{Blotter, Tenacity};
use crate::trials::{Medium, Trial};

/// How well the model knows when a film is gone, as a factor of one standard deviation: how
/// much a blotter takes up and what paper holds back. A convention of this program.
pub const GONE_FACTOR: f64 = 2.0;
/// Up to this part of the greatest time that is looked at a time is taken as it is.
const EXACT: f64 = 0.9;
/// Of what is gone by more than so many powers of e nothing is left.
const NOTHING: f64 = 700.0;

/// A trial on paper.
#[derive(Clone, Debug, PartialEq)]
pub struct Drying {
    /// Hours after dipping, above 0.
    pub hours: f64,
    /// What the film is of, carriers too: indices into the palette, in its order.
    pub materials: Vec<usize>,
    /// The film by the palette's own tenacities.
    pub film: Film,
    /// One standard deviation of the logarithm of each tenacity; 0 is certain.
    pub deviations: Vec<f64>,
}

/// What is left of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Dried {
    /// Logarithm of the part of each of the film's materials that is left.
    pub logs: Vec<f64>,
    /// Change of each with the logarithm of each tenacity.
    pub by_lasting: Vec<Vec<f64>>,
    /// Logarithm of the time over the greatest one that is looked at, where the film
    /// should be gone; else 0.
    pub beyond: f64,
    /// Change of the logarithm of the film's life with that of each tenacity.
    pub life_by_lasting: Vec<f64>,
}

/// How long each material of a shelf lasts, for trials on blotters; `None` where nothing
/// on it tells.
pub fn tenacities(palette: &Palette, dip: &Dip) -> Option<Vec<Tenacity>> {
    Blotter::of(dip, palette).tenacities(palette).into_iter().collect()
}

impl Drying {
    /// A trial with minutes on a blotter; `None` where it was smelled as it was dipped, on
    /// something else, alone without a strength (what is left of one material smells as it
    /// did), or is a natural, of whose film only parts are known.
    pub fn of(
        palette: &Palette,
        trial: &Trial,
        neat_ppt: &[f64],
        dip: &Dip,
        tenacities: &[Tenacity],
    ) -> Option<Drying> {
        let hours = trial.minutes.filter(|minutes| *minutes > 0.0)? / 60.0;
        let is_on_paper = trial.medium.is_none_or(|medium| medium == Medium::Blotter) && trial.analysed.is_none();
        let materials: Vec<usize> = (0..neat_ppt.len()).filter(|&at| neat_ppt[at] > 0.0).collect();
        let smelling = materials.iter().filter(|&&at| !palette.materials[at].is_carrier()).count();
        if !is_on_paper || (smelling < 2 && trial.strength.is_none()) {
            return None;
        }
        let dip = Dip { percent: trial.percent.or(dip.percent), ..*dip };
        let whole: f64 = materials.iter().map(|&at| neat_ppt[at]).sum();
        let part = |&at: &usize| {
            let tenacity = &tenacities[at];
            Part { mass: neat_ppt[at] / whole, molar_mass: tenacity.molar_mass, hours: tenacity.hours }
        };
        let is_open = |part: &Part| part.hours > 0.0 && part.hours.is_finite();
        let parts: Vec<Part> = materials.iter().map(part).collect();
        let deviation = |(at, part): (&usize, &Part)| {
            if is_open(part) { tenacities[*at].factor.logarithm() } else { 0.0 }
        };
        Some(Drying {
            hours,
            deviations: materials.iter().zip(&parts).map(deviation).collect(),
            film: Film { parts, stretch: Blotter::of(&dip, palette).stretch() },
            materials,
        })
    }

    /// The film with these values of the unknowns.
    pub fn film(&self, unknowns: &Unknowns, values: &[f64]) -> Film {
        let part = |(part, &material): (&Part, &usize)| {
            let hours = unknowns.lasting(material).map_or(part.hours, |at| values[at].exponential());
            Part { hours, ..*part }
        };
        Film { parts: self.film.parts.iter().zip(&self.materials).map(part).collect(), ..self.film }
    }

    /// What is left with these values of the unknowns.
    pub fn left(&self, unknowns: &Unknowns, values: &[f64]) -> Dried {
        let film = self.film(unknowns, values);
        let life = film.life_hours();
        let most = life / LASTS;
        let weight = |part: &Part| if life.is_finite() { film.stretch * part.mass * part.hours / life } else { 0.0 };
        let life_by_lasting: Vec<f64> = film.parts.iter().map(weight).collect();
        let (hours, by_life) = looked_at(self.hours, most);
        let clock = film.clock(hours).unwrap_or(0.0);
        let span = |part: &Part| part.molar_mass * part.hours;
        let powers: Vec<f64> = film.parts.iter().map(|part| (clock / span(part)).min(NOTHING)).collect();
        let left: Vec<f64> = powers.iter().map(|z| (-z).exponential()).collect();
        let rate: f64 = film.parts.iter().zip(&left).map(|(part, left)| part.mass * left / part.molar_mass).sum();
        let clock_by = |at: usize| {
            let part = &film.parts[at];
            if !part.hours.is_finite() {
                return 0.0;
            }
            let of_time = part.mass * part.hours * (1.0 - left[at] * (1.0 + powers[at]));
            (by_life * life_by_lasting[at] / film.stretch - of_time) / rate
        };
        let by_clock: Vec<f64> = (0..powers.len()).map(clock_by).collect();
        let row = |at: usize| {
            let per_clock = if clock > 0.0 { powers[at] / clock } else { 0.0 };
            let own = |other: usize| if other == at { powers[at] } else { 0.0 };
            (0..powers.len()).map(|other| own(other) - per_clock * by_clock[other]).collect()
        };
        Dried {
            logs: powers.iter().map(|z| -z).collect(),
            by_lasting: (0..powers.len()).map(row).collect(),
            beyond: (self.hours / most).logarithm().max(0.0),
            life_by_lasting,
        }
    }

    /// Where a material stands in the film.
    pub fn place(&self, material: usize) -> Option<usize> {
        self.materials.binary_search(&material).ok()
    }
}

/// The time at which a film is looked at that is to be looked at up to `most`, and its
/// change with the logarithm of that.
fn looked_at(hours: f64, most: f64) -> (f64, f64) {
    let part = hours / most;
    if part <= EXACT {
        return (hours, 0.0);
    }
    let rest = (-(part - EXACT) / (1.0 - EXACT)).exponential();
    let taken = 1.0 - (1.0 - EXACT) * rest;
    (most * taken, most * (taken - part * rest))
}

/// The times at which a material was smelled on paper among others, the first ones first,
/// with those alike counted once; what was smelled as it was dipped counts as 0 hours.
pub fn times_of(evidence: &[Evidence], material: usize) -> Vec<f64> {
    let holds = |one: &&Evidence| one.speaks_of_lasting(material);
    let mut hours: Vec<f64> = evidence.iter().filter(holds).map(Evidence::hours).collect();
    hours.sort_unstable_by(f64::total_cmp);
    let mut times: Vec<f64> = Vec::new();
    for hours in hours {
        if times.last().is_none_or(|last| !super::kin::is_one_time(60.0 * hours, 60.0 * last)) {
            times.push(hours);
        }
    }
    times
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_counts_as_it_is_until_nearly_the_end_and_is_smooth_there() {
        assert_eq!(looked_at(3.0, f64::INFINITY), (3.0, 0.0));
        assert_eq!(looked_at(0.9, 1.0), (0.9, 0.0));
        for part in [0.8999, 0.9001, 0.95, 1.0, 1.3, 4.0] {
            let (hours, by) = looked_at(part * 2.0, 2.0);
            assert!(hours <= 2.0 && hours >= 1.8_f64.min(part * 2.0) - 1e-12, "{part}: {hours}");
            let step = 1e-6;
            let up = looked_at(part * 2.0, 2.0 * step.exponential()).0;
            let down = looked_at(part * 2.0, 2.0 * (-step).exponential()).0;
            assert!(((up - down) / (2.0 * step) - by).abs() < 1e-6, "{part}: {by}");
        }
    }
}
