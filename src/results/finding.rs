//! What strikes about a brief.

use serde::Serialize;

use super::identity::{IdentityKind, IdentityLine};
use crate::analysis::audit::Finding;
use crate::analysis::identity::Doubtful;
use crate::problem::Problem;
use crate::sentences;

/// What a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FindingKind {
    /// A material that can be in no formula.
    NeverUsable,
    /// A material whose step or least dose is too coarse.
    TooCoarse,
    /// All strengths lie close together.
    OneDecade,
    /// A strength that stands alone.
    MisplacedStrength,
    /// A target beyond the level that the shelf reaches.
    BeyondLevel,
    /// A natural that is compared at its level.
    RichNatural,
    /// A natural of unknown constituents.
    UnknownNatural,
    /// A material that its number does not tell the limits.
    Identity(IdentityKind),
    /// Materials without a CAS number.
    NoNumber,
    /// Two materials of nearly the same scores.
    NearTwins,
    /// A wanted descriptor that nothing has.
    Uncarried,
    /// A descriptor that nobody scored.
    Unscored,
    /// A material that the rules leave no usual dose.
    NeverUsual,
    /// A count of unusual doses where nothing is known of usual ones.
    NothingUsual,
    /// Materials that are idle beside the strength that is wanted, and no rule.
    IdleWeight,
}

impl FindingKind {
    /// The word that reports have for it.
    pub const fn word(self) -> &'static str {
        match self {
            FindingKind::NeverUsable => "never usable",
            FindingKind::TooCoarse => "too coarse",
            FindingKind::OneDecade => "one decade",
            FindingKind::MisplacedStrength => "misplaced strength",
            FindingKind::BeyondLevel => "beyond level",
            FindingKind::RichNatural => "rich natural",
            FindingKind::UnknownNatural => "unknown natural",
            FindingKind::Identity(kind) => kind.word(),
            FindingKind::NoNumber => "no number",
            FindingKind::NearTwins => "near twins",
            FindingKind::Uncarried => "uncarried",
            FindingKind::Unscored => "unscored",
            FindingKind::NeverUsual => "never usual",
            FindingKind::NothingUsual => "nothing usual",
            FindingKind::IdleWeight => "idle weight",
        }
    }
}

/// How much a finding matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Severity {
    /// It may not be as it was meant.
    Warning,
    /// Good to know.
    Note,
}

/// Something that may not be as it was meant.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingLine {
    /// What it is, in a word that stays the same: `never usable`, `too
    /// coarse`, `one decade`, `misplaced strength`, `beyond level`, `rich
    /// natural`, `unknown natural`, `matched by name`, `may be`, `other number`,
    /// `left out`, `no number`, `near twins`, `uncarried`, `unscored`, `idle
    /// weight`, `never usual`, `nothing usual`.
    pub kind: FindingKind,
    /// `warning` or `note`.
    pub severity: Severity,
    /// The file that it is about.
    pub file: String,
    /// The line, counted from 1; null where it is about the whole file.
    pub line: Option<usize>,
    /// The materials that it is about.
    pub materials: Vec<String>,
    /// What is so, as a sentence without a full stop.
    pub message: String,
    /// What could be done, likewise.
    pub remedy: Option<String>,
}

impl FindingLine {
    /// A finding in words.
    pub fn new(problem: &Problem, finding: &Finding) -> FindingLine {
        let described = |material: usize| Some(problem.material(material).place.clone());
        let (kind, severity, place, materials) = match finding {
            Finding::NeverUsable { material, rules } => {
                let place = rules.first().map(|&rule| problem.rules[rule].place.clone());
                (FindingKind::NeverUsable, Severity::Warning, place, vec![*material])
            }
            Finding::TooCoarse { material, .. } => {
                (FindingKind::TooCoarse, Severity::Warning, described(*material), vec![*material])
            }
            Finding::OneDecade { .. } => (FindingKind::OneDecade, Severity::Warning, None, Vec::new()),
            Finding::Misplaced { materials, .. } => {
                let place = materials.first().and_then(|&material| described(material));
                (FindingKind::MisplacedStrength, Severity::Warning, place, materials.clone())
            }
            Finding::BeyondLevel { .. } => (FindingKind::BeyondLevel, Severity::Warning, None, Vec::new()),
            Finding::RichNatural { material, .. } => {
                (FindingKind::RichNatural, Severity::Note, described(*material), vec![*material])
            }
            Finding::UnknownNatural(material) => {
                (FindingKind::UnknownNatural, Severity::Warning, described(*material), vec![*material])
            }
            Finding::Doubtful(it) => return doubtful(problem, it),
            Finding::NoNumber(materials) => {
                let place = materials.first().and_then(|&material| described(material));
                (FindingKind::NoNumber, Severity::Warning, place, materials.clone())
            }
            Finding::Twins(a, b) => (FindingKind::NearTwins, Severity::Note, described(*b), vec![*a, *b]),
            Finding::Uncarried { .. } => (FindingKind::Uncarried, Severity::Warning, None, Vec::new()),
            Finding::IdleWeight { idle, .. } => (FindingKind::IdleWeight, Severity::Warning, None, idle.clone()),
            Finding::Unscored(_) => (FindingKind::Unscored, Severity::Note, None, Vec::new()),
            Finding::NeverUsual(material, _) => {
                (FindingKind::NeverUsual, Severity::Note, described(*material), vec![*material])
            }
            Finding::NothingUsual(rule) => {
                (FindingKind::NothingUsual, Severity::Note, Some(problem.rules[*rule].place.clone()), Vec::new())
            }
        };
        let (message, remedy) = sentences::finding::finding(problem, finding);
        FindingLine {
            kind,
            severity,
            file: place.as_ref().map_or_else(|| problem.palette.file.to_string(), |place| place.file.to_string()),
            line: place.map(|place| place.line),
            materials: materials.into_iter().map(|material| problem.material(material).name.clone()).collect(),
            message,
            remedy,
        }
    }
}

/// A material that its CAS number does not tell the limits.
fn doubtful(problem: &Problem, it: &Doubtful) -> FindingLine {
    let place = match it {
        Doubtful::ByName { subject, .. } | Doubtful::MayBe { subject, .. } | Doubtful::OtherNumber { subject, .. } => {
            &problem.material(subject.material).place
        }
        Doubtful::LeftOut { restriction, .. } => &problem.restrictions[*restriction].place,
    };
    let line = IdentityLine::new(problem, it);
    FindingLine {
        kind: FindingKind::Identity(line.kind),
        severity: Severity::Warning,
        file: place.file.to_string(),
        line: Some(place.line),
        materials: line.materials,
        message: line.sentence,
        remedy: Some(line.remedy),
    }
}
