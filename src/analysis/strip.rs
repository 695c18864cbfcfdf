//! A formula as it dries on a blotter: what is left of each material, who carries the
//! odour and how near the target it still is, at some times, without solving.
//!
//! The film is that of [`crate::film`]. At any time a material smells as strong as what
//! is left of it: its strength times the part that is left; the rest of the arithmetic is
//! that of [`evaluate`]. That a shrinking film leaves its slower materials in higher
//! concentration is not credited.

use std::sync::Arc;

use super::doubt::judge::{Judge, Odours};
use super::doubt::sample::{BLOCK, Block, Drawn, Slot};
use super::doubt::spread::Spread;
use super::doubt::told::{DRAWS, SEED};
use crate::chance::Chance;
use crate::control::Control;
use crate::evaluate::{Evaluation, evaluate};
use crate::film::{FILM_WEIGHT, Film, MOLAR_MASS, Part, film_weight, hours_by_pressure};
use crate::formula::Formula;
use crate::odour::shares;
use crate::palette::{Material, Note};
use crate::pool::in_parallel;
use crate::problem::Problem;

/// One standard deviation of a tenacity, as a factor, where the palette names none: a
/// convention of this program. Tenacities noted by several people differ by more.
pub const LASTING_FACTOR: f64 = 2.0;
/// The same of a tenacity that was taken from other materials.
pub const ASSUMED_FACTOR: f64 = 3.0;
/// Of what is gone there is less left than this part.
const GONE: f64 = 0.01;
/// Stream of the draws of tenacities: beyond those of any material and block.
const TENACITIES: u64 = 1 << 63;

/// How an accord comes on paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blotter {
    /// Percent of the accord in what the blotter is dipped in, above 0, at most 100.
    pub percent: f64,
    /// The same of what it was dipped in when tenacities were noted.
    pub lasting_percent: f64,
    /// g/m2 of the film, for tenacities from vapour pressures; `None` asks the shelf.
    pub film_weight: Option<f64>,
}

/// What a tenacity rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// The palette says it.
    Written,
    /// The palette has a vapour pressure.
    Pressure,
    /// The median of the shelf's materials of the same note.
    Note(Note),
    /// The median of the shelf.
    Shelf,
}

/// How long a material lasts alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tenacity {
    /// Hours until it is gone.
    pub hours: f64,
    /// What that rests on.
    pub source: Source,
    /// One standard deviation, as a factor.
    pub factor: f64,
    /// g/mol.
    pub molar_mass: f64,
    /// Whether the molar mass is written.
    pub is_molar_mass_known: bool,
}

/// A formula at one time.
#[derive(Clone, Debug)]
pub struct Moment {
    /// Hours after dipping.
    pub hours: f64,
    /// The film's clock, in g/mol times hours; `None` when the film is gone.
    pub clock: Option<f64>,
    /// The part of each material that is left, in the order of [`Dried::materials`].
    pub left: Vec<f64>,
    /// The part of the film that is left.
    pub film_left: f64,
    /// What is left, judged; `None` where it has no odour that counts.
    pub evaluation: Option<Evaluation>,
    /// Its fidelity in percent over those draws of scores, strengths and tenacities in which
    /// something is left, and how many these are; `None` where they are less than half.
    pub fidelity: Option<(Spread, usize)>,
}

/// A formula that dries.
#[derive(Clone, Debug)]
pub struct Dried {
    /// Its materials, as indices into the palette, in its order.
    pub materials: Vec<usize>,
    /// How long each lasts alone.
    pub tenacities: Vec<Tenacity>,
    /// The film.
    pub film: Film,
    /// g/m2 that tenacities from vapour pressures go by; `None` where there is none.
    pub film_weight: Option<f64>,
    /// Hours until less than a hundredth of each is left; infinite where that is never.
    pub gone_hours: Vec<f64>,
    /// The times, in order.
    pub moments: Vec<Moment>,
}

impl Dried {
    /// Odour share of each material in percent when the clock stands so, in the order of
    /// [`Dried::materials`]; zeros where nothing smells.
    pub fn shares_percent(&self, problem: &Problem, neat: &[f64], clock: f64) -> Vec<f64> {
        let odour = |(&at, part): (&usize, &Part)| problem.material(at).strength * part.left(clock) * neat[at];
        let odours: Vec<f64> = self.materials.iter().zip(&self.film.parts).map(odour).collect();
        shares(&odours, 1.0).into_iter().map(|share| 100.0 * share).collect()
    }

    /// The strength of the whole formula at the moment of dipping, of its neat ppt.
    pub fn strength_at_start(&self, problem: &Problem, neat: &[f64]) -> f64 {
        self.materials.iter().map(|&at| problem.material(at).strength * neat[at] / 1000.0).sum()
    }
}

/// How long a material lasts; `None` where nothing on the shelf tells.
fn tenacity(shelf: &[Material], index: usize, film_weight: f64) -> Option<Tenacity> {
    let material = &shelf[index];
    let known = |material: &Material| known_hours(material, film_weight);
    let (hours, source) = match known(material) {
        Some(found) => found,
        None => {
            let of = |wanted: Option<Note>| {
                let others = shelf.iter().filter(|it| !it.is_carrier());
                let alike = others.filter(|it| wanted.is_none() || it.note == wanted);
                median(alike.filter_map(|it| Some(known(it)?.0)).collect())
            };
            let by_note = material.note.and_then(|note| Some((of(Some(note))?, Source::Note(note))));
            by_note.or_else(|| Some((of(None)?, Source::Shelf)))?
        }
    };
    let is_assumed = matches!(source, Source::Note(_) | Source::Shelf);
    let factor = if is_assumed { ASSUMED_FACTOR } else { material.lasting_factor.unwrap_or(LASTING_FACTOR) };
    let molar_mass = material.molar_mass.unwrap_or(MOLAR_MASS);
    Some(Tenacity { hours, source, factor, molar_mass, is_molar_mass_known: material.molar_mass.is_some() })
}

/// g/m2 of the film at which the shelf's tenacities were noted: the median over the
/// materials that have a vapour pressure beside one.
fn film_weight_of(shelf: &[Material]) -> Option<f64> {
    let of = |material: &Material| {
        let (hours, pressure) = (material.lasting_hours?, material.vapour_pressure?);
        Some(film_weight(hours, pressure, material.molar_mass.unwrap_or(MOLAR_MASS)))
    };
    median(shelf.iter().filter_map(of).collect())
}

/// What the palette itself says of how long a material lasts.
fn known_hours(material: &Material, film_weight: f64) -> Option<(f64, Source)> {
    let by_pressure = |pressure| hours_by_pressure(film_weight, pressure, material.molar_mass.unwrap_or(MOLAR_MASS));
    let written = material.lasting_hours.map(|hours| (hours, Source::Written));
    written.or_else(|| material.vapour_pressure.map(|pressure| (by_pressure(pressure), Source::Pressure)))
}

/// The middle of some numbers, the mean of two where they are even in number.
fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    let middle = values.len() / 2;
    let above = *values.get(middle)?;
    Some(if values.len().is_multiple_of(2) { (values[middle - 1] + above) / 2.0 } else { above })
}

/// A formula of a problem on a blotter, at some times in hours; `None` where nothing on
/// the shelf says how long anything lasts.
pub fn dried(problem: &Problem, formula: &Formula, blotter: &Blotter, hours: &[f64]) -> Option<Dried> {
    let (neat, shelf) = (problem.neat_ppt(formula), &problem.palette.materials);
    let whole: f64 = neat.iter().sum();
    let materials: Vec<usize> = (0..neat.len()).filter(|&at| neat[at] > 0.0).collect();
    let weight = blotter.film_weight.or_else(|| film_weight_of(shelf)).unwrap_or(FILM_WEIGHT);
    let tenacities: Vec<Tenacity> = materials.iter().map(|&at| tenacity(shelf, at, weight)).collect::<Option<_>>()?;
    let parts = materials.iter().zip(&tenacities).map(|(&at, tenacity)| Part {
        mass: neat[at] / whole,
        molar_mass: tenacity.molar_mass,
        hours: tenacity.hours,
    });
    let film = Film { parts: parts.collect(), stretch: blotter.percent / blotter.lasting_percent };
    let gone = |part: &Part| {
        let clock = -GONE.ln() * part.molar_mass * part.hours;
        if clock.is_finite() { film.hours_at(clock) } else { f64::INFINITY }
    };
    let gone_hours = film.parts.iter().map(gone).collect();
    let mut hours = hours.to_vec();
    hours.sort_unstable_by(f64::total_cmp);
    hours.dedup();
    let spreads = spreads(problem, &materials, &neat, &tenacities, &film, &hours);
    let moment = |(&hours, fidelity): (&f64, Option<(Spread, usize)>)| {
        let clock = film.clock(hours);
        let left: Vec<f64> = film.parts.iter().map(|part| clock.map_or(0.0, |clock| part.left(clock))).collect();
        let evaluation = evaluate(&weakened(problem, &materials, &left), formula).ok();
        let fidelity = fidelity.filter(|_| evaluation.is_some());
        Moment { hours, clock, film_left: clock.map_or(0.0, |clock| film.left(clock)), left, evaluation, fidelity }
    };
    let moments = hours.iter().zip(spreads).map(moment).collect();
    let is_by_pressure = tenacities.iter().any(|tenacity| tenacity.source == Source::Pressure);
    Some(Dried { materials, tenacities, film_weight: is_by_pressure.then_some(weight), gone_hours, moments, film })
}

/// The problem in which of each material so much of its strength is left.
fn weakened(problem: &Problem, materials: &[usize], left: &[f64]) -> Problem {
    let mut weakened = problem.clone();
    let palette = Arc::make_mut(&mut weakened.palette);
    for (&at, left) in materials.iter().zip(left) {
        palette.materials[at].strength *= left;
    }
    weakened
}

/// The fidelity at each time over draws of scores, strengths (those of every report) and
/// tenacities; `None` where nothing smells in most of them.
fn spreads(
    problem: &Problem,
    materials: &[usize],
    neat: &[f64],
    tenacities: &[Tenacity],
    film: &Film,
    hours: &[f64],
) -> Vec<Option<(Spread, usize)>> {
    let judge = Judge::new(problem);
    let slots: Vec<Slot> = materials.iter().map(|&at| Slot::new(problem, at)).collect();
    let one_block = |&block: &usize| -> Vec<Vec<f64>> {
        let draws = BLOCK.min(DRAWS - block * BLOCK);
        let drawn: Vec<Block> = slots.iter().map(|slot| slot.first_block(SEED, block, draws)).collect();
        let mut chance: Vec<Chance> =
            materials.iter().map(|&at| Chance::new(SEED, TENACITIES | ((block as u64) << 32) | at as u64)).collect();
        let mut found = vec![Vec::with_capacity(draws); hours.len()];
        let (mut film, mut odours) = (film.clone(), Odours::new(judge.targets()));
        for draw in 0..draws {
            for ((part, tenacity), chance) in film.parts.iter_mut().zip(tenacities).zip(&mut chance) {
                part.hours = tenacity.hours * (tenacity.factor.ln() * chance.normal()).exp();
            }
            for (fidelities, &hours) in found.iter_mut().zip(hours) {
                odours.clear();
                if let Some(clock) = film.clock(hours) {
                    for ((block, part), &material) in drawn.iter().zip(&film.parts).zip(materials) {
                        let Drawn { strength, scores } = block.draw(draw);
                        odours.add(&judge, Drawn { strength: strength * part.left(clock), scores }, neat[material]);
                    }
                }
                fidelities.push(
                    (odours.denominator > 0.0).then(|| judge.fidelity(judge.loss(&odours.of, odours.denominator))),
                );
            }
        }
        found.into_iter().map(|of_time| of_time.into_iter().flatten().collect()).collect()
    };
    let blocks: Vec<usize> = (0..DRAWS.div_ceil(BLOCK)).collect();
    let found: Vec<Vec<Vec<f64>>> =
        in_parallel(&blocks, &Control::default(), one_block).into_iter().flatten().collect();
    let of_time = |at: usize| {
        let mut all: Vec<f64> = found.iter().flat_map(|block| block[at].iter().copied()).collect();
        // Where most draws have dried up, the others say little.
        (2 * all.len() > DRAWS).then(|| (Spread::of(&mut all), all.len()))
    };
    (0..hours.len()).map(of_time).collect()
}
