//! What the report of `shelf` holds.

use crate::analysis::palette::missing::Lack;
use crate::palette::Note;
use serde::Serialize;

/// The order of the list of materials.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sort {
    /// The strongest first.
    #[default]
    Strength,
    /// The least cost per unit of strength first.
    Effect,
    /// The longest first.
    Lasting,
    /// By name.
    Name,
}

/// One material.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MaterialLine {
    /// Its name.
    pub material: String,
    /// Strength per unit mass, by dilution; 0 for a carrier.
    pub strength: f64,
    /// What it rests on, where it is no number: `medium`, `20 times Geraniol`;
    /// left out where it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub strength_said: Option<String>,
    /// Price per kg.
    pub price: Option<f64>,
    /// Price per kg for a unit of strength.
    pub price_of_effect: Option<f64>,
    /// Hours on a blotter.
    pub lasting: Option<f64>,
    /// Where in the evaporation it is mostly smelled.
    pub note: Option<Note>,
    /// Whether it is on the shelf.
    pub have: bool,
}

/// A material and its score.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScoreLine {
    /// The material.
    pub material: String,
    /// Its score.
    pub score: f64,
}

/// One descriptor and who carries it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DescriptorLine {
    /// The word.
    pub descriptor: String,
    /// What is meant by it.
    pub meaning: String,
    /// The materials, the highest score first.
    pub materials: Vec<ScoreLine>,
}

/// Something that is not said of some materials.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MissingLine {
    /// `price`, `cas`, `scores` or `constituents`.
    pub what: Lack,
    /// Of which.
    pub materials: Vec<String>,
}

/// Two materials of nearly the same character.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TwinLine {
    /// The one whose effect costs less, where that is known.
    pub material: String,
    /// The other.
    pub other: String,
    /// What their characters have in common, in percent.
    pub alike: f64,
    /// Price per kg for a unit of strength, of the one.
    pub price_of_effect: Option<f64>,
    /// The same of the other.
    pub other_price_of_effect: Option<f64>,
    /// How much less the effect of the one costs, in percent of the other's.
    pub saves_percent: Option<f64>,
    /// Parts of `material` that are as strong as one part of `other`.
    pub parts_for_one: f64,
}

/// A material that was looked for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FoundLine {
    /// The material.
    pub material: String,
    /// `wanted_percent` less `unwanted_percent`.
    pub fit: f64,
    /// Match with an accord of the wanted words in equal parts, in percent.
    pub wanted_percent: f64,
    /// The unwanted part of its character, in percent.
    pub unwanted_percent: f64,
    /// Its scores for the wanted and the unwanted words.
    pub scores: Vec<WordLine>,
    /// Strength per unit mass.
    pub strength: f64,
    /// What it rests on, where it is no number; left out where it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub strength_said: Option<String>,
    /// Price per kg for a unit of strength.
    pub price_of_effect: Option<f64>,
}

/// A word and its score.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WordLine {
    /// The word.
    pub descriptor: String,
    /// The score.
    pub score: f64,
}

/// What was looked for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindReport {
    /// The wanted words.
    pub wanted: Vec<String>,
    /// The unwanted words.
    pub unwanted: Vec<String>,
    /// The materials, the best first.
    pub found: Vec<FoundLine>,
}

/// An axis of the map.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AxisLine {
    /// The part of all differences along it, in percent.
    pub explains_percent: f64,
    /// Descriptors that grow along it, the most first, with their loadings.
    pub more: Vec<Loading>,
    /// Descriptors that shrink along it, likewise.
    pub less: Vec<Loading>,
}

/// What a step along an axis changes of a descriptor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Loading {
    /// The descriptor.
    pub descriptor: String,
    /// The change; the squares of all of an axis add up to 1.
    pub loading: f64,
}

/// Where a material stands on the map.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlaceLine {
    /// The material.
    pub material: String,
    /// The descriptor that it smells of most.
    pub strongest: String,
    /// Along the first axis.
    pub x: f64,
    /// Along the second axis.
    pub y: f64,
}

/// The map of the shelf.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MapReport {
    /// At most two axes.
    pub axes: Vec<AxisLine>,
    /// The materials that have scores.
    pub places: Vec<PlaceLine>,
}

/// The report of a shelf.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShelfReport {
    /// Version of the JSON.
    pub schema: u32,
    /// The command's name.
    pub command: &'static str,
    /// The palette's file.
    pub palette: String,
    /// The shelf's own name.
    pub name: Option<String>,
    /// Label of the currency.
    pub currency: String,
    /// Scores run from 0 to this.
    pub scale: f64,
    /// The note whose materials are listed; absent where all are.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<Note>,
    /// All materials, or those of the note.
    pub materials: Vec<MaterialLine>,
    /// All descriptors.
    pub descriptors: Vec<DescriptorLine>,
    /// Descriptors that one material alone carries.
    pub single: Vec<String>,
    /// Descriptors that nothing carries.
    pub unused: Vec<String>,
    /// What is not said.
    pub missing: Vec<MissingLine>,
    /// The least that twins have in common, in percent.
    pub twins_from: f64,
    /// Near twins, the most alike first.
    pub twins: Vec<TwinLine>,
    /// What was looked for.
    pub find: Option<FindReport>,
    /// The map.
    pub map: MapReport,
}
