//! Small briefs that stay near to a known formula, and how far a formula is from
//! it in arithmetic of its own.

use std::fmt::Write as _;

use permil::brief::MovedBy;
use permil::formula::Formula;
use permil::problem::Problem;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::random::scenario;

/// A known formula as the test knows it.
pub struct Known {
    /// (name, parts, strength where the shelf lacks it and the file says one).
    pub parts: Vec<(String, f64, Option<f64>)>,
    /// Names that the shelf lacks.
    pub lacking: Vec<String>,
    pub by: MovedBy,
    pub within: f64,
}

/// A seeded problem of `random::scenario` near a known formula, with the problem
/// without the rule.
pub fn near_problem(seed: u64) -> (Problem, Problem, Known) {
    near_problem_with(seed, "")
}

/// The same with more keys of `[formula]`.
pub fn near_problem_with(seed: u64, more: &str) -> (Problem, Problem, Known) {
    let (palette, brief) = scenario(seed);
    let brief = brief.replace("[formula]\n", &format!("[formula]\n{more}"));
    let plain = super::load(&palette, &brief);
    let mut random = ChaCha8Rng::seed_from_u64(seed ^ 0x6e65_6172);
    let by = if random.random_bool(0.7) { MovedBy::Odour } else { MovedBy::Parts };
    let within = f64::from(random.random_range(5..70_u8));
    let mut known = Known { parts: Vec::new(), lacking: Vec::new(), by, within };
    for material in &plain.palette.materials {
        if random.random_bool(0.7) || known.parts.is_empty() {
            known.parts.push((material.name.clone(), f64::from(random.random_range(1..100_u8)), None));
        }
    }
    if random.random_bool(0.4) {
        let strength = random.random_bool(0.5).then(|| f64::from(random.random_range(1..100_u8)));
        known.parts.push(("Nowhere".to_owned(), f64::from(random.random_range(1..15_u8)), strength));
        known.lacking.push("Nowhere".to_owned());
    }
    let mut composition = String::from("[parts]\n");
    for (name, parts, strength) in &known.parts {
        let strength = strength.map_or(String::new(), |strength| format!(", strength = {strength}"));
        writeln!(composition, "{name} = {{ parts = {parts}{strength} }}").unwrap();
    }
    let near = format!("[near]\nformula = \"gc.toml\"\nby = \"{}\"\nwithin = {within}\n", by.word());
    let problem = super::load_beside(&palette, &(brief + &near), &[("gc.toml", &composition)]);
    (problem, plain, known)
}

impl Known {
    /// How far a formula of basis neat is from it, in percent: half the sum of
    /// the absolute differences of all shares, added up name by name.
    pub fn moved(&self, problem: &Problem, formula: &Formula) -> f64 {
        let strength_of = |name: &str| {
            let found = problem.palette.materials.iter().find(|material| material.name == name);
            found.map(|material| material.strength)
        };
        let said = |name: &str, own: Option<f64>| strength_of(name).or(own);
        let smells: Vec<(f64, f64)> = (self.parts.iter())
            .filter_map(|(name, parts, own)| Some((*parts, said(name, *own).filter(|own| *own > 0.0)?)))
            .collect();
        let mass: f64 = smells.iter().map(|(parts, _)| parts).sum();
        let mean = smells.iter().map(|(parts, own)| parts * own).sum::<f64>() / mass;
        let counts = |strength: f64| match self.by {
            MovedBy::Odour => strength,
            MovedBy::Parts => f64::from(u8::from(strength > 0.0)),
        };
        let mut names: Vec<String> = problem.palette.materials.iter().map(|material| material.name.clone()).collect();
        names.extend(self.lacking.iter().cloned());
        let mut was = vec![0.0; names.len()];
        let mut has = vec![0.0; names.len()];
        for (name, parts, own) in &self.parts {
            let at = names.iter().position(|other| other == name).expect("known");
            was[at] += parts * counts(said(name, *own).unwrap_or(mean));
        }
        for &(material, dose) in &formula.parts {
            has[material] += dose.as_f64() * counts(problem.palette.materials[material].strength);
        }
        let (of_was, of_has): (f64, f64) = (was.iter().sum(), has.iter().sum());
        50.0 * was.iter().zip(&has).map(|(was, has)| (was / of_was - has / of_has).abs()).sum::<f64>()
    }
}
