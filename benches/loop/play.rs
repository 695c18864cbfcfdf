//! One loop: propose, weigh, smell, learn, and again.

use std::sync::Arc;
use std::time::Instant;

use permil::analysis::learn::{Asked, Taught, taught};
use permil::control::Control;
use permil::formula::Formula;
use permil::problem::Problem;
use permil::stage::Dip;
use permil::trials::Trials;

use crate::figures::Played;
use crate::number;
use crate::smelled::trial;
use crate::ways::{Known, Pick, Way};
use crate::world::World;

const PLAIN: Asked =
    Asked { exponent: 1.0, pool: false, matching: None, dip: Dip { percent: None, film_weight: None } };

/// Seconds that this thread has computed, where the system tells; else those of a clock.
fn computed(began: Instant) -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanoseconds = told.and_then(|text| text.split_whitespace().next()?.parse::<f64>().ok());
    nanoseconds.map_or_else(|| began.elapsed().as_secs_f64(), |nanoseconds| nanoseconds / 1e9)
}

/// What the trials taught.
fn learned(world: &World, trials: &Trials, neat: &[Vec<f64>], control: &Control) -> Option<Taught> {
    taught(&world.own.palette, trials, neat, PLAIN, control).ok()
}

/// Plays so many trials.
pub fn play(world: &World, way: Way, count: usize, seed: u64) -> Played {
    let control = Control { threads: Some(1), node_limit: Some(number("NODES", 2000) as u64), ..Control::default() };
    let file: Arc<str> = "made up".into();
    let mut trials =
        Trials { file, matching: world.own.matching, palette_fingerprint: None, trials: Vec::new(), remarks: None };
    let mut neat: Vec<Vec<f64>> = Vec::new();
    let mut played =
        Played { proposed: Vec::new(), weighed: Vec::new(), best: world.best, held: (0, 0), seconds: Vec::new() };
    let mut waiting: Vec<Pick> = Vec::new();
    for after in 0..=count {
        let began = Instant::now();
        let before = computed(began);
        let found = learned(world, &trials, &neat, &control);
        let (palette, matching) = match &found {
            Some(found) => (Arc::new(found.palette.clone()), found.matching),
            None => (world.own.palette.clone(), world.own.matching),
        };
        let problem: Problem = world.own.with_palette(palette);
        let known = Known { problem: &problem, matching, error: world.error() };
        let chosen = way.chosen(&known, after, waiting.is_empty(), seed, &control);
        played.seconds.push(computed(began) - before);
        let true_match = world.match_percent(&chosen.best);
        played.best = played.best.max(true_match);
        played.proposed.push(true_match);
        if let Some((low, high)) = chosen.range {
            played.held.0 += usize::from((low..=high).contains(&true_match));
            played.held.1 += 1;
        }
        if waiting.is_empty() {
            waiting = chosen.trials;
        }
        let doses = match waiting.remove(0) {
            Pick::Formula(formula) => {
                let own = world.match_percent(&formula);
                played.best = played.best.max(own);
                played.weighed.push(own);
                noted(&world.own, &formula)
            }
            Pick::Alone(material) => {
                let mut alone = vec![0.0; world.own.palette.materials.len()];
                alone[material] = 1000.0;
                played.weighed.push(f64::NAN);
                alone
            }
        };
        let told = world.told(&doses, after);
        trials.trials.push(trial(format!("{}", 101 + after), &doses, told, world.error()));
        neat.push(doses);
    }
    played
}

/// Its neat parts, which add up to 1000.
fn noted(problem: &Problem, formula: &Formula) -> Vec<f64> {
    problem.neat_ppt(formula)
}
