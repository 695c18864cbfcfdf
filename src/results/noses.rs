//! What several noses make of the shelf that a brief may use.

use serde::Serialize;

use crate::analysis::noses::disagreements;
use crate::brief::Brief;
use crate::nose::{Heed, Nose};
use crate::problem::Problem;
use crate::sensitivity::Sensitivities;
use crate::sentences::noses as sentences;

/// Several noses, and what they disagree on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NosesReport {
    /// Their names; the palette's own, which is called `own`, first.
    pub names: Vec<String>,
    /// Whose numbers the brief goes by: `worst`, `mean`, or a name.
    pub nose: String,
    /// What they disagree on, the most in its own error first.
    pub disagreements: Vec<DisagreementLine>,
}

/// A number of which two noses think differently.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DisagreementLine {
    /// The material.
    pub material: String,
    /// The descriptor; null for the strength.
    pub descriptor: Option<String>,
    /// The nose with the smaller number.
    pub lower_nose: String,
    /// Its number: points, or the strength.
    pub lower: f64,
    /// The nose with the greater number.
    pub higher_nose: String,
    /// Its number.
    pub higher: f64,
    /// How far apart they are, in standard deviations of a difference.
    pub deviations: f64,
    /// The same in words.
    pub sentence: String,
}

/// A material that people are known to smell differently.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DifferentlyLine {
    /// The material.
    pub material: String,
    /// In what people differ.
    pub differs: String,
    /// Where that was published.
    pub source: String,
    /// Whether the source was read; else the row is from memory.
    pub read: bool,
    /// The same in words.
    pub sentence: String,
}

impl NosesReport {
    /// The report of a brief's noses; `None` where it names none.
    pub fn new(problem: &Problem, brief: &Brief) -> Option<NosesReport> {
        let noses = &brief.noses;
        let name = |at: usize| noses[at].name.to_string();
        if noses.is_empty() {
            return None;
        }
        let nose = match brief.heed() {
            Heed::One(at) => name(at),
            heed => Heed::WORDS.iter().find(|(_, one)| *one == heed).map_or("", |(word, _)| word).to_owned(),
        };
        let line = |one: &crate::analysis::noses::Disagreement| DisagreementLine {
            material: problem.material(one.material).name.clone(),
            descriptor: one.descriptor.map(|at| problem.palette.descriptors[at].name.clone()),
            lower_nose: name(one.noses[0]),
            lower: one.at[0],
            higher_nose: name(one.noses[1]),
            higher: one.at[1],
            deviations: one.deviations,
            sentence: sentences::disagreement(problem, noses, one),
        };
        let names = noses.iter().map(|nose: &Nose| nose.name.to_string()).collect();
        Some(NosesReport { names, nose, disagreements: disagreements(problem, noses).iter().map(line).collect() })
    }
}

impl DifferentlyLine {
    /// The materials that may be used and of which that is known.
    pub fn all(problem: &Problem, known: &Sensitivities) -> Vec<DifferentlyLine> {
        let usable = problem.domains().into_iter().enumerate().filter(|(_, domain)| domain.is_ok());
        let line = |(at, _)| {
            let material = problem.material(at);
            let row = known.of(material)?;
            Some(DifferentlyLine {
                material: material.name.clone(),
                differs: row.differs.clone(),
                source: row.source.clone(),
                read: row.is_read,
                sentence: sentences::differently(material, row),
            })
        };
        usable.filter_map(line).collect()
    }
}
