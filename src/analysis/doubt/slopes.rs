//! What the loss of a formula changes by with each score and each strength.

use crate::brief::Match;
use crate::evaluate::Evaluation;
use crate::problem::Problem;
use crate::tolerance::fits::REACHED;

/// The first derivatives of a formula's loss, in points. A descriptor that
/// meets its target exactly is taken as about to pass it.
#[derive(Debug)]
pub struct LossSlopes<'a> {
    problem: &'a Problem,
    evaluation: &'a Evaluation,
    /// By each point of the profile, in the order of the targets.
    by_profile: Vec<f64>,
    /// The sum of these times the profile.
    held: f64,
    /// `D` times 1000: see `evaluate`.
    denominator: f64,
}

impl<'a> LossSlopes<'a> {
    /// Those of a formula that was judged.
    pub fn new(problem: &'a Problem, evaluation: &'a Evaluation) -> LossSlopes<'a> {
        let slope = |(target, blend): (&crate::problem::Target, &f64)| target.slope(*blend >= target.score - REACHED);
        let by_profile: Vec<f64> = problem.targets.iter().zip(&evaluation.profile).map(slope).collect();
        let held = by_profile.iter().zip(&evaluation.profile).map(|(slope, blend)| slope * blend).sum();
        let denominator = denominator(problem, evaluation);
        LossSlopes { problem, evaluation, by_profile, held, denominator }
    }

    /// By a point of a material's score of a target, by its place among the
    /// targets.
    pub fn of_score(&self, material: usize, counted: usize) -> f64 {
        let per_score = match self.problem.matching {
            Match::Level => 0.0,
            Match::Balance => 1.0 / self.problem.target_total(),
        };
        self.odour(material) * (self.by_profile[counted] - self.held * per_score)
    }

    /// By a unit of the natural logarithm of a material's strength.
    pub fn of_strength(&self, material: usize) -> f64 {
        let scores = &self.problem.material(material).scores;
        let targets = self.problem.targets.iter().zip(&self.by_profile);
        let brings: f64 = targets.map(|(target, slope)| slope * scores[target.descriptor]).sum();
        let weight = match self.problem.matching {
            Match::Level => 1.0,
            Match::Balance => self.problem.counted_score(material) / self.problem.target_total(),
        };
        self.odour(material) * (brings - self.held * weight)
    }

    fn odour(&self, material: usize) -> f64 {
        self.problem.material(material).strength * self.evaluation.neat_ppt[material] / self.denominator
    }
}

fn denominator(problem: &Problem, evaluation: &Evaluation) -> f64 {
    let odour = |index: usize| problem.material(index).strength * evaluation.neat_ppt[index];
    let all = 0..problem.palette.materials.len();
    match problem.matching {
        Match::Level => all.map(odour).sum(),
        Match::Balance => {
            all.map(|index| odour(index) * problem.counted_score(index)).sum::<f64>() / problem.target_total()
        }
    }
}
