//! What every report begins with.

use serde::Serialize;

use crate::brief::{Brief, Match};
use crate::number::plain;
use crate::problem::Problem;
use crate::sentences::views::judged_in;

/// Version of the JSON that all reports share.
pub(super) const SCHEMA: u32 = 1;

/// The command, and the files that it answers for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Head {
    /// Version of the JSON.
    pub schema: u32,
    /// The command's name.
    pub command: &'static str,
    /// Title of the brief.
    pub title: Option<String>,
    /// The brief's file.
    pub brief: String,
    /// The palette's file.
    pub palette: String,
    /// Label of the currency that prices are in.
    pub currency: String,
    /// `balance` or `level`.
    #[serde(rename = "match")]
    pub matching: Match,
    /// Where several views judge a formula, which, and that the worst of them counts; left
    /// out where there is one view alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub judged_in: Option<String>,
    /// Whether scores and strengths are those that trials taught rather than the
    /// palette's; left out where they are not.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub by_trials: bool,
    /// Scores run from 0 to this.
    #[serde(skip)]
    pub scale: f64,
}

/// `on the 0-10 scale`: what a difference of scores is measured on.
pub fn on_scale(scale: f64) -> String {
    format!("on the 0-{} scale", plain(scale))
}

impl Head {
    /// `on the 0-10 scale`, as far as the palette's scores run.
    pub fn on_scale(&self) -> String {
        on_scale(self.scale)
    }

    /// The head of a command's report on a brief.
    pub fn new(command: &'static str, problem: &Problem, brief: &Brief) -> Head {
        Head {
            schema: SCHEMA,
            command,
            title: problem.title.clone(),
            brief: brief.file.to_string(),
            palette: problem.palette.file.to_string(),
            currency: problem.palette.currency.clone(),
            matching: problem.matching,
            judged_in: judged_in(problem),
            by_trials: problem.palette.tied.is_some(),
            scale: problem.palette.scale,
        }
    }
}
