//! What each view makes of a formula: stages, laws, noses.

use serde::Serialize;

use crate::brief::Law;
use crate::evaluate::Evaluation;
use crate::problem::Problem;
use crate::sentences::views as sentences;

/// A formula as several views have it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ViewsReport {
    /// The worst view's name: it is the one that decides.
    pub worst: String,
    /// Every view, in the order of the brief.
    pub each: Vec<ViewLine>,
    /// Which is the worst, and what the others have, in words.
    pub sentence: String,
}

/// What one view makes of a formula.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ViewLine {
    /// Its name.
    pub name: String,
    /// The brief's stage; null before anything evaporates.
    pub stage: Option<String>,
    /// The nose, where the brief names several: the palette's own is `own`.
    pub nose: Option<String>,
    /// How odours add up in it: `linear` or `compressive`.
    pub law: &'static str,
    /// How much counts what is lost in it.
    pub weight: f64,
    /// Fidelity in percent, by its own target.
    pub fidelity: f64,
    /// Loss in points, by its own target.
    pub loss: f64,
    /// Strength in it.
    pub strength: f64,
}

impl ViewsReport {
    /// Whether the views differ by more than the stage: then a table of stages does not say all.
    pub fn is_of_more_than_stages(&self) -> bool {
        self.each.iter().any(|line| line.nose.is_some() || line.law != Law::Linear.word())
    }

    /// What the views of a problem make of a formula; `None` where there is one view alone.
    pub fn new(problem: &Problem, evaluation: &Evaluation) -> Option<ViewsReport> {
        if problem.views.len() < 2 {
            return None;
        }
        let each: Vec<ViewLine> = problem
            .views
            .iter()
            .zip(&evaluation.views)
            .map(|(view, seen)| ViewLine {
                name: sentences::called(problem, view),
                stage: view.stage.map(|stage| problem.stage_name(stage).to_owned()),
                nose: view.nose.map(|_| view.name.to_string()),
                law: view.law.word(),
                weight: view.weight,
                fidelity: seen.fidelity_percent,
                loss: seen.loss,
                strength: seen.strength,
            })
            .collect();
        let told: Vec<(&str, f64)> = each.iter().map(|line| (line.name.as_str(), line.fidelity)).collect();
        let sentence = sentences::worst(&told, evaluation.worst, each.iter().any(|line| line.weight != 1.0));
        Some(ViewsReport { worst: each[evaluation.worst].name.clone(), sentence, each })
    }
}
