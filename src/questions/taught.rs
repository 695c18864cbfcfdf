//! A brief by what trials taught, without a palette that was saved.

use std::sync::{Arc, OnceLock};

use super::propose::Aim;
use super::smelled::Smelled;
use super::{Refusal, Resolved};
use crate::analysis::learn::{self, taught};
use crate::analysis::teaching;
use crate::brief::Laws;
use crate::control::Control;
use crate::evaluate::SECOND_EXPONENT;
use crate::results::taught::TaughtReport;
use crate::sentences::views::NO_EXPLORING;

impl Resolved {
    /// The same brief by scores, strengths and tenacities as the trials leave them, with their errors
    /// drawn together as the trials have tied them, and which trials those are. Where no
    /// trial says anything it stays as it is. `pool` puts trials together however they were
    /// smelled.
    pub fn taught(self, read: &Smelled, pool: bool, control: &Control) -> (Resolved, TaughtReport) {
        let exponent = if self.brief.laws == Laws::Compressive { SECOND_EXPONENT } else { 1.0 };
        let asked = learn::Asked { exponent, pool, matching: None, dip: self.brief.dip };
        match taught(&read.palette, &read.trials, &read.neat_ppt, asked, control) {
            Ok(taught) => {
                let report =
                    TaughtReport::new(&read.trials, &taught.used, &taught.aside, Some((taught.matching, taught.error)));
                // A wishlist's materials come after the shelf's, and no trial has them.
                let mut palette = (*self.problem.palette).clone();
                for (own, learned) in palette.materials.iter_mut().zip(taught.palette.materials) {
                    own.scores = learned.scores;
                    own.strength = learned.strength;
                    (own.score_error, own.strength_factor) = (learned.score_error, learned.strength_factor);
                    (own.lasting_hours, own.lasting_factor) = (learned.lasting_hours, learned.lasting_factor);
                }
                palette.tied = taught.palette.tied;
                let problem = self.problem.with_palette(Arc::new(palette));
                (Resolved { problem, found: None, settled: OnceLock::new(), ..self }, report)
            }
            Err(aside) => (self, TaughtReport::new(&read.trials, &[], &aside, None)),
        }
    }

    /// What is looked for once trials have taught: the best match to be expected, where
    /// draws are judged by one view and the linear law.
    pub fn expects(&self, report: &TaughtReport) -> Option<Aim> {
        let is_plain = self.problem.views.len() < 2 && self.problem.paper.is_none() && self.brief.laws == Laws::Linear;
        (is_plain && !report.used.is_empty()).then_some(Aim::Expected)
    }

    /// What is asked of mods that teach while they aim: so many, within a margin. Before any
    /// trial the nose is taken to be as sure as one that says nothing of it.
    ///
    /// # Errors
    /// Where the brief is not judged by one view and the linear law.
    pub fn explores(&self, report: &TaughtReport, margin: f64, count: usize) -> Result<teaching::Asked, Refusal> {
        self.linear("--explore")?;
        if self.problem.views.len() > 1 || self.problem.paper.is_some() {
            return Err(Refusal::Wrong(NO_EXPLORING.to_owned()));
        }
        let matching = report.matching.unwrap_or(self.problem.matching);
        let error = report.give_or_take.unwrap_or(learn::GIVE_OR_TAKE);
        Ok(teaching::Asked { margin, count, matching, error })
    }
}
