//! Made-up shelves with a known truth, and trials that a nose with known errors
//! would have written down: the only place for made-up truth.

use permil::brief::{Basis, Match};
use permil::formula::Formula;
use permil::palette::{Descriptor, Material, Palette};
use permil::place::Place;
use permil::trials::{Trial, Trials};
use permil::units::Ppt;
use rand::seq::index::sample;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// What is made up.
#[derive(Clone, Copy, Debug)]
pub struct Made {
    /// Materials, descriptors, trials, and materials in a trial.
    pub materials: usize,
    pub descriptors: usize,
    pub trials: usize,
    pub parts: usize,
    /// How scores are compared.
    pub matching: Match,
    /// Exponent of the true nose.
    pub exponent: f64,
    /// Its error in points.
    pub error: f64,
}

/// A shelf as it is written down, the same as it truly is, and trials of it.
pub struct World {
    pub palette: Palette,
    pub truth: Palette,
    pub trials: Trials,
    /// Neat parts of every trial.
    pub neat: Vec<Vec<f64>>,
    /// What the trials truly smell of, without the nose's error.
    pub true_scores: Vec<Vec<f64>>,
}

/// A standard normal number (Box and Muller).
pub fn normal(random: &mut ChaCha8Rng) -> f64 {
    let (a, b): (f64, f64) = (random.random_range(1e-12..1.0), random.random_range(0.0..1.0));
    (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}

fn within(random: &mut ChaCha8Rng, mean: f64, deviation: f64, scale: f64) -> f64 {
    loop {
        let value = mean + deviation * normal(random);
        if (0.0..=scale).contains(&value) {
            return value;
        }
    }
}

pub fn place() -> Place {
    Place { file: "made up".into(), line: 1, column: 1 }
}

pub fn material(name: String, strength: f64, scores: Vec<f64>) -> Material {
    Material {
        name,
        place: place(),
        cas: None,
        strength,
        strength_factor: Some(1.5),
        said: Default::default(),
        score_words: Vec::new(),
        scores,
        score_error: Some(1.0),
        price_per_kg: None,
        min: None,
        max: None,
        max_in_concentrate_percent: None,
        max_in_product_percent: None,
        step: None,
        usual: None,
        tags: Vec::new(),
        note: None,
        lasting_hours: None,
        lasting_factor: None,
        molar_mass: None,
        vapour_pressure: None,
        natural: false,
        constituents: None,
        bottles: Vec::new(),
        packs: Vec::new(),
        stock_grams: None,
        have: true,
        handling: None,
        remarks: None,
        formula: None,
        base: None,
    }
}

pub fn palette(descriptors: usize, materials: Vec<Material>) -> Palette {
    let word = |at| Descriptor { name: format!("note{at}"), meaning: String::new() };
    Palette {
        file: "made up".into(),
        name: None,
        currency: "EUR".into(),
        scale: 10.0,
        lasting_percent: 100.0,
        descriptors: (0..descriptors).map(word).collect(),
        score_words: Vec::new(),
        materials,
        remarks: None,
        tied: None,
    }
}

pub fn trial(code: String, doses: &[f64], scores: Vec<(usize, f64)>, give_or_take: f64) -> Trial {
    let doses: Vec<Ppt> = doses.iter().map(|dose| Ppt::from_ppt(*dose)).collect();
    Trial {
        code,
        place: place(),
        date: None,
        from: None,
        minutes: None,
        age_days: None,
        nose: None,
        medium: None,
        percent: None,
        formula: Formula::from_doses(Basis::Neat, &doses).rescaled(),
        analysed: None,
        batch: None,
        scores,
        strength: None,
        give_or_take: Some(give_or_take),
        remarks: None,
    }
}

/// What a blend smells of, in plain arithmetic that shares nothing with the
/// crate: the mean of the scores by odour share.
pub fn smell(palette: &Palette, neat: &[f64], exponent: f64) -> Vec<f64> {
    let odours: Vec<f64> = palette
        .materials
        .iter()
        .zip(neat)
        .map(|(it, x)| if *x > 0.0 { (it.strength * x).powf(exponent) } else { 0.0 })
        .collect();
    let total: f64 = odours.iter().sum();
    let of =
        |d: usize| palette.materials.iter().zip(&odours).map(|(it, odour)| odour * it.scores[d]).sum::<f64>() / total;
    (0..palette.descriptors.len()).map(of).collect()
}

pub fn world(seed: u64, made: Made) -> World {
    let random = &mut ChaCha8Rng::seed_from_u64(seed);
    let (mut own, mut truth) = (Vec::new(), Vec::new());
    for at in 0..made.materials {
        let strength = 10_f64.powf(random.random_range(0.5..3.5));
        let mut scores = vec![0.0; made.descriptors];
        let heard = random.random_range(2..=4.min(made.descriptors));
        for descriptor in sample(random, made.descriptors, heard) {
            scores[descriptor] = f64::from(random.random_range(2..=8));
        }
        let it = material(format!("material {at}"), strength, scores);
        let mut real = it.clone();
        real.strength = strength * (1.5_f64.ln() * normal(random)).exp();
        for score in &mut real.scores {
            *score = within(random, *score, if *score > 0.0 { 1.0 } else { 0.5 }, 10.0);
        }
        own.push(it);
        truth.push(real);
    }
    let (palette, truth) = (palette(made.descriptors, own), palette(made.descriptors, truth));
    let mut trials = Vec::new();
    let (mut neat, mut true_scores) = (Vec::new(), Vec::new());
    for at in 0..made.trials {
        let mut doses = vec![0.0; made.materials];
        for material in sample(random, made.materials, made.parts.min(made.materials)) {
            doses[material] = random.random_range(0.2..1.0) / palette.materials[material].strength;
        }
        let total: f64 = doses.iter().sum();
        doses.iter_mut().for_each(|dose| *dose *= 1000.0 / total);
        let smelled = smell(&truth, &doses, made.exponent);
        let judged = random.random_range(made.descriptors.div_ceil(2)..=made.descriptors);
        let mut which: Vec<usize> = sample(random, made.descriptors, judged).into_vec();
        which.sort_unstable();
        let scores = which.iter().map(|&d| (d, (smelled[d] + made.error * normal(random)).clamp(0.0, 10.0))).collect();
        let one = trial(format!("{}", 100 + at), &doses, scores, made.error);
        let mut exact = vec![0.0; made.materials];
        one.formula.parts.iter().for_each(|(material, dose)| exact[*material] = dose.as_f64());
        neat.push(exact);
        true_scores.push(smelled);
        trials.push(one);
    }
    let trials =
        Trials { file: "made up".into(), matching: made.matching, palette_fingerprint: None, trials, remarks: None };
    World { palette, truth, trials, neat, true_scores }
}

/// A natural whose parts on the shelf are these doses, with what the reference says is
/// open of it.
pub fn analysed(doses: &[f64], rest: &serde_json::Value) -> permil::trials::Analysed {
    let number = |value: &serde_json::Value| value.as_f64().unwrap();
    let lacking: Vec<(f64, Option<f64>)> =
        rest["lacking"].as_array().unwrap().iter().map(|part| (number(&part[0]), part[1].as_f64())).collect();
    let unknown_percent = number(&rest["unknown"]);
    let known = 100.0 - unknown_percent - lacking.iter().map(|(percent, _)| percent).sum::<f64>();
    let part = |percent: f64, strength: Option<f64>, material: Option<usize>| permil::composition::Component {
        name: "a part".into(),
        place: place(),
        cas: None,
        percent,
        strength,
        material,
    };
    let on_shelf = doses.iter().enumerate().filter(|(_, dose)| **dose > 0.0);
    let mut parts: Vec<_> = on_shelf.map(|(at, dose)| part(dose / 1000.0 * known, None, Some(at))).collect();
    parts.extend(lacking.into_iter().map(|(percent, strength)| part(percent, strength, None)));
    let composition =
        permil::composition::Composition { file: "made up".into(), title: None, source: None, unknown_percent, parts };
    permil::trials::Analysed { composition: std::sync::Arc::new(composition), unknown_percent }
}
