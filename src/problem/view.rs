//! The views of a formula: who smells it, when, and by which law. Each judges
//! the same doses by strengths, scores and a target of its own; the worst of
//! them counts.

use std::sync::Arc;

use super::target::{counted_score, fidelity_percent, total, worst_loss};
use super::{Problem, Target};
use crate::brief::{Law, Match};
use crate::palette::{Material, Palette};

/// One view of a formula.
#[derive(Clone, Debug)]
pub struct View {
    /// What reports call it; empty where it is the brief's own and the only one.
    pub name: Arc<str>,
    /// The brief's stage, by its index; `None` before anything evaporates.
    pub stage: Option<usize>,
    /// The brief's nose, by its index; `None` where it names none.
    pub nose: Option<usize>,
    /// How its odour adds up.
    pub law: Law,
    /// The shelf as it is smelled in this view: a nose's own scores and strengths, and
    /// strengths times what is left at a stage. Else as the brief's, in the same order.
    pub palette: Arc<Palette>,
    /// The descriptors that count (weight above 0), with their targets.
    pub targets: Vec<Target>,
    /// How a blend is compared with the target.
    pub matching: Match,
    /// What the percent that the view loses are multiplied by before views are
    /// compared, above 0.
    pub weight: f64,
}

impl View {
    /// The loss at which its fidelity reaches 0, above 0, in its own points.
    pub fn worst_loss(&self) -> f64 {
        worst_loss(self.matching, self.targets.iter())
    }

    /// Fidelity in percent of a loss in its own points.
    pub fn fidelity_percent(&self, loss: f64) -> f64 {
        fidelity_percent(loss, self.worst_loss())
    }

    /// The sum of its target's scores over the descriptors that count.
    pub fn target_total(&self) -> f64 {
        total(&self.targets)
    }

    /// Sum of a material's scores over the descriptors that count.
    pub fn counted_score(&self, material: usize) -> f64 {
        counted_score(&self.targets, self.material(material))
    }

    /// A material as this view has it.
    pub fn material(&self, index: usize) -> &Material {
        &self.palette.materials[index]
    }
}

impl Problem {
    /// The view of a brief that knows neither stages nor noses nor laws.
    pub(super) fn own_view(&self) -> View {
        View {
            name: Arc::from(""),
            stage: None,
            nose: None,
            law: Law::Linear,
            palette: Arc::clone(&self.palette),
            targets: self.targets.clone(),
            matching: self.matching,
            weight: 1.0,
        }
    }

    /// What a loss of a view, in its own points, is multiplied by before views are
    /// compared: the product is in points of the brief's own target, as many percent of
    /// which are lost as the view loses, times its weight. 1 where a view is the brief's own.
    pub fn view_scale(&self, view: &View) -> f64 {
        view.weight * (self.worst_loss() / view.worst_loss())
    }

    /// Whether all views follow the linear law.
    pub fn is_linear(&self) -> bool {
        self.views.iter().all(|view| view.law == Law::Linear)
    }

    /// The same problem as one view has it, and that view alone: what explains a
    /// formula asks this of the formula's worst view. The problem itself where there is one.
    /// Its rules are not to be asked here: they speak of the palette as it is.
    ///
    /// # Panics
    /// Where there is no such view.
    pub fn seen(&self, view: usize) -> Problem {
        if self.views.len() == 1 && view == 0 && self.views[0].is_of(self) {
            return self.clone();
        }
        let only = View { weight: 1.0, ..self.views[view].clone() };
        Problem {
            palette: Arc::clone(&only.palette),
            targets: only.targets.clone(),
            matching: only.matching,
            views: vec![only],
            // What is seen is as it is, whatever has dried.
            paper: None,
            ..self.clone()
        }
    }

    /// The same problem judged by the brief's own target over its own palette alone, as
    /// its rules are: what is neither a match nor seen in a view is measured so.
    pub fn plain(&self) -> Problem {
        Problem { views: vec![self.own_view()], ..self.clone() }
    }

    /// The same problem over a palette with other numbers for the same materials: what
    /// a view has of its own (a nose's scores) stays. What is left of a strength at a stage
    /// follows how long materials last, at the clocks that the problem has.
    pub fn with_palette(&self, palette: Arc<Palette>) -> Problem {
        let view = |view: &View| {
            if Arc::ptr_eq(&view.palette, &self.palette) {
                return View { palette: Arc::clone(&palette), ..view.clone() };
            }
            let mut own = (*palette).clone();
            if view.nose.is_some() {
                // What one nose's trials tied is no other nose's.
                own.tied = None;
            }
            let both = self.palette.materials.iter().zip(&view.palette.materials);
            for (material, (before, seen)) in own.materials.iter_mut().zip(both) {
                if before.strength > 0.0 {
                    material.strength *= seen.strength / before.strength;
                }
                if view.nose.is_some() {
                    material.scores.clone_from(&seen.scores);
                }
            }
            View { palette: Arc::new(own), ..view.clone() }
        };
        let lasts = |both: (&Material, &Material)| {
            both.0.lasting_hours == both.1.lasting_hours && both.0.lasting_factor == both.1.lasting_factor
        };
        let is_as_lasting = self.palette.materials.iter().zip(&palette.materials).all(lasts);
        let paper = self.paper.as_ref().map(|paper| paper.with_mixed(&view));
        let (paper, views) = match paper {
            // What is left at a stage hangs on how long each lasts.
            Some(paper) if !is_as_lasting => {
                let paper = paper.lasting_by(&palette);
                let views = paper.views_wanting(&self.views);
                (Some(paper), views)
            }
            paper => (paper, self.views.iter().map(view).collect()),
        };
        Problem { views, paper: paper.map(Arc::new), palette: Arc::clone(&palette), ..self.clone() }
    }

    /// The same problem with other targets and another way to compare, in every
    /// view.
    pub fn with_targets(&self, targets: Vec<Target>, matching: Match) -> Problem {
        let compared = |view: &View| View { matching, ..view.clone() };
        let paper = self.paper.as_ref().map(|paper| Arc::new(paper.with_mixed(&compared)));
        let views = self.views.iter().map(compared).collect();
        let wanted = targets.clone();
        Problem { views, paper, targets, matching, ..self.clone() }.wanting(&|_| wanted.clone())
    }

    /// The same problem with other targets in each view, on paper too; those of the
    /// brief's own stay.
    pub(super) fn wanting(&self, of: &dyn Fn(&View) -> Vec<Target>) -> Problem {
        let views: Vec<View> = self.views.iter().map(|view| View { targets: of(view), ..view.clone() }).collect();
        let paper = self.paper.as_ref().map(|paper| Arc::new(paper.with_targets(&views)));
        Problem { views, paper, ..self.clone() }
    }
}

impl View {
    /// Whether the view is what a brief without further views has.
    fn is_of(&self, problem: &Problem) -> bool {
        Arc::ptr_eq(&self.palette, &problem.palette)
            && self.targets == problem.targets
            && self.matching == problem.matching
    }
}
