//! What is true: scores and strengths off from what is written, the law by which odours add
//! up, what mixtures do to each other, and a nose.

use std::path::Path;
use std::sync::Arc;

use permil::brief::{Laws, Match};
use permil::control::Control;
use permil::evaluate::{SECOND_EXPONENT, evaluate};
use permil::files::load_scenario;
use permil::formula::Formula;
use permil::palette::Palette;
use permil::problem::Problem;
use permil::solve::{Method, Start, propose_from};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::common;
use crate::smelled::{normal, smell};

/// One standard deviation of a true score about what is written, in points. What is written
/// as 0 is 0.
const SCORE_OFF: f64 = 1.0;
/// The same of a true strength, as a factor.
const STRENGTH_OFF: f64 = 1.8;
/// What is smelled is told in steps of so many points.
const STEP: f64 = 0.5;
/// How mixtures suppress, where they do; INVENTED. Each descriptor of a blend is divided by 1
/// and this times the points of all the others, times the part of the blend that is not one
/// material: `1 - sum of the squares of the odour shares`. A material alone smells as ever.
const SUPPRESSION: f64 = 0.1;
/// Random shelves: materials and descriptors.
const RANDOM: (usize, usize) = (20, 14);
/// Nodes of the search for the best that is possible.
const PROOF: u64 = 20_000;

/// A shelf with its brief.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shelf {
    /// profiles/rose-otto/brief.toml.
    Rose,
    /// profiles/jasmine/brief.toml.
    Jasmine,
    /// A shelf of its own for every seed.
    Random,
}

/// What is the matter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Truth {
    /// The linear law, an error of half a point.
    Linear,
    /// Odour shares by the exponent 0.4.
    Compressive,
    /// Linear, and one of the first four trials was weighed with a wrong bottle.
    Slip,
    /// Linear, and the nose has an error of one point.
    Dull,
    /// Mixtures suppress.
    Suppressed,
}

impl Shelf {
    /// All of them.
    pub const ALL: [Shelf; 3] = [Shelf::Rose, Shelf::Jasmine, Shelf::Random];

    /// Its name in a row.
    pub fn word(self) -> &'static str {
        match self {
            Shelf::Rose => "rose",
            Shelf::Jasmine => "jasmine",
            Shelf::Random => "random",
        }
    }

    fn problem(self, seed: u64) -> Problem {
        let shipped = |brief: &str| {
            let scenario = load_scenario(Path::new(brief)).expect("no faults");
            Problem::new(scenario.palette, &scenario.brief, &scenario.limits)
        };
        match self {
            Shelf::Rose => shipped("profiles/rose-otto/brief.toml"),
            Shelf::Jasmine => shipped("profiles/jasmine/brief.toml"),
            Shelf::Random => {
                let mut rules = common::blend::TEN_WHOLE_PARTS;
                rules.matching = Match::Balance;
                common::blend::problem(&common::instance(RANDOM.0, RANDOM.1, seed), rules)
            }
        }
    }
}

impl Truth {
    /// All of them.
    pub const ALL: [Truth; 5] = [Truth::Linear, Truth::Compressive, Truth::Slip, Truth::Dull, Truth::Suppressed];

    /// Its name in a row.
    pub fn word(self) -> &'static str {
        match self {
            Truth::Linear => "linear",
            Truth::Compressive => "0.4",
            Truth::Slip => "slip",
            Truth::Dull => "dull",
            Truth::Suppressed => "suppressed",
        }
    }
}

/// A shelf as it is written and as it truly is.
pub struct World {
    /// By what is written.
    pub own: Problem,
    /// By what is true, where mixtures do not suppress.
    true_problem: Problem,
    truth: Truth,
    /// Percent of the best formula that was found by what is true. Proven where the law is
    /// linear and the search ended.
    pub best: f64,
    seed: u64,
}

impl World {
    /// Of a seed.
    pub fn new(shelf: Shelf, truth: Truth, seed: u64) -> World {
        let own = shelf.problem(seed);
        let random = &mut ChaCha8Rng::seed_from_u64(seed);
        let mut palette = (*own.palette).clone();
        for material in &mut palette.materials {
            material.strength *= (STRENGTH_OFF.ln() * normal(random)).exp();
            for score in material.scores.iter_mut().filter(|score| **score > 0.0) {
                *score = (*score + SCORE_OFF * normal(random)).clamp(0.0, own.palette.scale);
            }
        }
        let laws = if truth == Truth::Compressive { Laws::Compressive } else { Laws::Linear };
        let true_problem = own.with_palette(Arc::new(palette)).by_laws(laws);
        let mut world = World { own, true_problem, truth, best: 0.0, seed };
        let control = Control { threads: Some(1), node_limit: Some(PROOF), ..Control::default() };
        let found = propose_from(&world.true_problem, &Start::default(), Method::Auto, &control).expect("a solution");
        world.best = found.answer.map_or(0.0, |answer| world.match_percent(&answer.formula));
        world
    }

    /// One standard deviation of what the nose tells, in points.
    pub fn error(&self) -> f64 {
        if self.truth == Truth::Dull { 1.0 } else { 0.5 }
    }

    fn palette(&self) -> &Palette {
        &self.true_problem.palette
    }

    /// What a formula truly smells of: points of every descriptor.
    fn profile(&self, neat: &[f64]) -> Vec<f64> {
        let exponent = if self.truth == Truth::Compressive { SECOND_EXPONENT } else { 1.0 };
        let mut profile = smell(self.palette(), neat, exponent);
        if self.truth == Truth::Suppressed {
            let odours: Vec<f64> =
                self.palette().materials.iter().zip(neat).map(|(it, ppt)| it.strength * ppt).collect();
            let whole: f64 = odours.iter().sum();
            let mixed = 1.0 - odours.iter().map(|odour| (odour / whole).powi(2)).sum::<f64>();
            let total: f64 = profile.iter().sum();
            profile.iter_mut().for_each(|points| *points /= 1.0 + SUPPRESSION * mixed * (total - *points));
        }
        profile
    }

    /// The true match of a formula, in percent.
    pub fn match_percent(&self, formula: &Formula) -> f64 {
        if self.truth != Truth::Suppressed {
            return evaluate(&self.true_problem, formula).map_or(0.0, |it| it.fidelity_percent);
        }
        let profile = self.profile(&self.own.neat_ppt(formula));
        let targets = &self.own.targets;
        let total: f64 = targets.iter().map(|target| profile[target.descriptor]).sum();
        let scale = match self.own.matching {
            Match::Balance if total > 0.0 => self.own.target_total() / total,
            Match::Balance | Match::Level => 1.0,
        };
        let loss: f64 = targets.iter().map(|target| target.gap(scale * profile[target.descriptor])).sum();
        100.0 * (1.0 - loss / self.own.worst_loss())
    }

    /// What the nose tells of a formula that was noted as these neat parts: (descriptor,
    /// points) of all that counts. The same trial of the same seed has the same errors,
    /// whatever is in it.
    pub fn told(&self, neat: &[f64], trial: usize) -> Vec<(usize, f64)> {
        let random = &mut ChaCha8Rng::seed_from_u64(self.seed ^ ((trial as u64 + 1) << 32));
        let weighed = if self.truth == Truth::Slip { self.slipped(neat, trial) } else { neat.to_vec() };
        let profile = self.profile(&weighed);
        let told = |target: &permil::problem::Target| {
            let points = profile[target.descriptor] + self.error() * normal(random);
            (target.descriptor, ((points / STEP).round() * STEP).clamp(0.0, self.own.palette.scale))
        };
        let mut all: Vec<(usize, f64)> = self.own.targets.iter().map(told).collect();
        all.sort_unstable_by_key(|(descriptor, _)| *descriptor);
        all
    }

    /// With a wrong bottle in one of the first four trials: one of its materials is another
    /// one of the shelf, which smells as well.
    fn slipped(&self, neat: &[f64], trial: usize) -> Vec<f64> {
        let random = &mut ChaCha8Rng::seed_from_u64(self.seed.wrapping_mul(0x9e37_79b9));
        let mut weighed = neat.to_vec();
        if random.random_range(0..4) != trial {
            return weighed;
        }
        let smells = |at: &usize| !self.palette().materials[*at].is_carrier();
        let used: Vec<usize> = (0..neat.len()).filter(smells).filter(|at| neat[*at] > 0.0).collect();
        let others: Vec<usize> = (0..neat.len()).filter(smells).filter(|at| neat[*at] == 0.0).collect();
        let (from, to) = (used[random.random_range(0..used.len())], others[random.random_range(0..others.len())]);
        weighed[to] = std::mem::take(&mut weighed[from]);
        weighed
    }
}
