//! A formula as it dries on a blotter: what is left of each material, who carries the
//! odour and how near the target it still is, at some times, without solving.
//!
//! The film is that of [`crate::film`]. At any time a material smells as strong as what
//! is left of it: its strength times the part that is left; the rest of the arithmetic is
//! that of [`evaluate`]. That a shrinking film leaves its slower materials in higher
//! concentration is not credited.

use super::doubt::paper::Drying;
use super::doubt::spread::Spread;
use crate::evaluate::{Evaluation, evaluate};
use crate::film::{Film, Part};
use crate::formula::Formula;
use crate::portable::Portable;
use crate::problem::Problem;
use crate::problem::stage::film;
use crate::tenacity::{Blotter, Source, Tenacity};

/// Of what is gone there is less left than this part.
const GONE: f64 = 0.01;

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

/// What is left of a formula at one time, as one view has it.
#[derive(Clone, Debug)]
pub struct Point {
    /// Hours after dipping.
    pub hours: f64,
    /// The stage that is nearest, by ratio: by what is wanted there it is judged.
    pub stage: Option<usize>,
    /// The part of each material that is left, in the order of [`Dried::materials`].
    pub left: Vec<f64>,
    /// The part of the film that is left.
    pub film_left: f64,
    /// Odour share of each material in percent, likewise.
    pub shares_percent: Vec<f64>,
    /// Strength of what is left, by the palette's own numbers.
    pub strength: f64,
    /// Profile in points, for each target of the view at that stage.
    pub profile: Vec<f64>,
}

impl Dried {
    /// The strength of what is left of the whole formula, of its neat ppt, when so much of each
    /// material is, by the palette's own numbers whoever judges it: so the rules of stages have
    /// it, and what is kept of it is never more than all.
    pub fn strength_at(&self, problem: &Problem, neat: &[f64], left: &[f64]) -> f64 {
        let odour = |(&at, left): (&usize, &f64)| problem.material(at).strength * left * neat[at];
        self.materials.iter().zip(left).map(odour).sum::<f64>() / 1000.0
    }

    /// The strength of the whole formula at the moment of dipping, of its neat ppt.
    pub fn strength_at_start(&self, problem: &Problem, neat: &[f64]) -> f64 {
        self.materials.iter().map(|&at| problem.material(at).strength * neat[at] / 1000.0).sum()
    }

    /// The formula at a time in hours, in one of the views of the accord as it is mixed;
    /// `None` where the film is gone or has no odour that counts.
    pub fn point(&self, problem: &Problem, formula: &Formula, view: usize, hours: f64) -> Option<Point> {
        let clock = self.film.clock(hours)?;
        let left: Vec<f64> = self.film.parts.iter().map(|part| part.left(clock)).collect();
        let stage = problem.nearest_stage(hours);
        let evaluation = evaluate(&self.after(problem, &left, stage), formula).ok()?;
        let seen = &evaluation.views[view];
        Some(Point {
            hours,
            stage,
            film_left: self.film.left(clock),
            shares_percent: self.materials.iter().map(|&at| seen.shares_percent[at]).collect(),
            strength: self.strength_at(problem, &problem.neat_ppt(formula), &left),
            profile: seen.profile.clone(),
            left,
        })
    }

    /// The problem as it is smelled when so much of each of the materials is left.
    fn after(&self, problem: &Problem, left: &[f64], stage: Option<usize>) -> Problem {
        let mut of_all = vec![0.0; problem.palette.materials.len()];
        self.materials.iter().zip(left).for_each(|(&at, left)| of_all[at] = *left);
        problem.after(|material| of_all[material], stage)
    }
}

/// Which view of the accord as it is mixed is told where one has to stand for all: that
/// in which the formula is missed most, at whatever stage; the first where none can judge it.
pub fn told_view(problem: &Problem, formula: &Formula) -> usize {
    let mixed = problem.after(|_| 1.0, None).views.len();
    evaluate(&problem.as_it_dries(formula), formula).map_or(0, |evaluation| evaluation.worst % mixed)
}

/// The fidelity at a time over the draws; `None` where nothing smells in most of them: the
/// others say little.
fn spread(of_time: Vec<Option<f64>>) -> Option<(Spread, usize)> {
    let draws = of_time.len();
    let mut left: Vec<f64> = of_time.into_iter().flatten().collect();
    (2 * left.len() > draws).then(|| (Spread::of(&mut left), left.len()))
}

/// A formula of a problem on a blotter, at some times in hours; `None` where nothing on
/// the shelf says how long anything lasts.
pub fn dried(problem: &Problem, formula: &Formula, blotter: &Blotter, hours: &[f64]) -> Option<Dried> {
    let neat = problem.neat_ppt(formula);
    let materials: Vec<usize> = (0..neat.len()).filter(|&at| neat[at] > 0.0).collect();
    let of_all = blotter.tenacities(&problem.palette);
    let tenacities: Vec<Tenacity> = materials.iter().map(|&at| of_all[at]).collect::<Option<_>>()?;
    let masses: Vec<f64> = materials.iter().map(|&at| neat[at]).collect();
    let film = film(&masses, &tenacities, blotter.stretch());
    let gone = |part: &Part| {
        let clock = -GONE.logarithm() * part.molar_mass * part.hours;
        if clock.is_finite() { film.hours_at(clock) } else { f64::INFINITY }
    };
    let gone_hours = film.parts.iter().map(gone).collect();
    let mut hours = hours.to_vec();
    hours.sort_unstable_by(f64::total_cmp);
    hours.dedup();
    let drying = Drying { materials: &materials, tenacities: &tenacities, film: &film };
    let spreads = drying.fidelities(problem, &neat, &hours).into_iter().map(spread);
    let spreads: Vec<Option<(Spread, usize)>> = spreads.collect();
    let is_by_pressure = tenacities.iter().any(|tenacity| tenacity.source == Source::Pressure);
    let film_weight = is_by_pressure.then(|| blotter.film_weight(&problem.palette));
    let mut dried = Dried { materials, tenacities, film_weight, gone_hours, moments: Vec::new(), film };
    let moment = |(&hours, fidelity): (&f64, Option<(Spread, usize)>)| {
        let film = &dried.film;
        let clock = film.clock(hours);
        let left: Vec<f64> = film.parts.iter().map(|part| clock.map_or(0.0, |clock| part.left(clock))).collect();
        let evaluation = evaluate(&dried.after(problem, &left, problem.stage_at(hours)), formula).ok();
        let fidelity = fidelity.filter(|_| evaluation.is_some());
        Moment { hours, clock, film_left: clock.map_or(0.0, |clock| film.left(clock)), left, evaluation, fidelity }
    };
    dried.moments = hours.iter().zip(spreads).map(moment).collect();
    Some(dried)
}
