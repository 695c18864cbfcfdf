//! What a page may ask for.

use std::collections::BTreeMap;

use serde::Deserialize;

use crate::files::edit::BriefEdits;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::questions::weigh;
use crate::units::Ppt;

/// The longest name that a page may give itself.
const LONGEST_ID: usize = 64;
/// Parts of a pinned formula at the most.
const MOST_PARTS: usize = 10_000;

/// The state of a page.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct View {
    /// A name that the page gave itself.
    pub page: String,
    /// File name of the brief; nothing: the one that was named at the start.
    #[serde(default)]
    pub brief: String,
    /// The fingerprint of what the page shows, where only that is of use.
    #[serde(default)]
    pub shown: Option<String>,
    /// Changes of the brief.
    #[serde(default)]
    pub edits: BriefEdits,
    /// A formula to compare with.
    #[serde(default)]
    pub pin: Option<Pin>,
}

impl View {
    /// Whether the page may be remembered by its name.
    pub fn is_sound(&self) -> bool {
        let id = &self.page;
        !id.is_empty() && id.len() <= LONGEST_ID && id.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-')
    }
}

/// A pinned formula.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pin {
    /// What it is called.
    pub name: String,
    /// Parts per thousand by material.
    pub parts: BTreeMap<String, f64>,
}

impl Pin {
    /// The formula; `None` where a material is not on the shelf any more, a
    /// dose is no dose, or the sum is not 1000.
    pub fn formula(&self, problem: &Problem) -> Option<Formula> {
        let mut doses = vec![Ppt::ZERO; problem.palette.materials.len()];
        for (name, parts) in self.parts.iter().take(MOST_PARTS) {
            let material = problem.palette.materials.iter().position(|material| material.name == *name)?;
            doses[material] = (0.0..=1000.0).contains(parts).then(|| Ppt::from_ppt(*parts))?;
        }
        let formula = Formula::from_doses(problem.basis, &doses);
        (formula.sum() == Ppt::WHOLE).then_some(formula)
    }
}

/// Solve it.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Solve {
    /// The state.
    pub view: View,
    /// Counts the page's requests.
    pub seq: u64,
    /// What the trade-off is against.
    #[serde(default)]
    pub against: Against,
}

/// What fidelity is traded against.
#[derive(Clone, Copy, Debug, Default, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub enum Against {
    /// Price per kg.
    #[default]
    Price,
    /// Strength.
    Strength,
    /// Number of materials.
    Count,
    /// Price of effect.
    Effect,
}

/// A question about it.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ask {
    /// The state.
    pub view: View,
    /// The question.
    pub question: Question,
    /// The material that it is about.
    #[serde(default)]
    pub material: String,
}

/// Questions that are answered when they are asked.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub enum Question {
    /// Six formulas that lie apart.
    Starts,
    /// How far a material can go.
    Push,
    /// How far each dose may go.
    Leeway,
}

/// Tell whether the files are as they were.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Files {
    /// The state.
    pub view: View,
}

/// Write the brief and the formula.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Save {
    /// The state.
    pub view: View,
    /// File name of the brief; nothing: it is not written.
    #[serde(default)]
    pub brief: String,
    /// File name of the formula; nothing: it is not written.
    #[serde(default)]
    pub formula: String,
    /// Whether files of these names may be written over.
    #[serde(default)]
    pub overwrite: bool,
}

/// Give a file.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Download {
    /// The state.
    pub view: View,
    /// Which file.
    pub file: File,
    /// Grams to weigh.
    #[serde(default = "ten")]
    pub batch: f64,
    /// What the balance shows last, in grams.
    #[serde(default = "milligram")]
    pub balance: f64,
}

fn ten() -> f64 {
    weigh::Asked::BATCH_GRAMS
}

fn milligram() -> f64 {
    weigh::Asked::STEP_GRAMS
}

/// Files to download.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub enum File {
    /// The formula as rows.
    Csv,
    /// Target and blend, drawn.
    Svg,
    /// Target and blend, in pixels.
    Png,
    /// The sheet to weigh from.
    Weigh,
    /// Everything on one page.
    Report,
}
