//! Restrictions on substances in the finished product.

use std::sync::Arc;

use crate::palette::{Cas, Material};
use crate::place::Place;
use crate::substances::{MatchedBy, matched};

/// One limits file.
#[derive(Clone, Debug)]
pub struct Limits {
    /// The file it was read from.
    pub file: Arc<str>,
    /// Its restrictions in the order of the file.
    pub restrictions: Vec<Restriction>,
    /// What must be named on a label, in the order of the file.
    pub allergens: Vec<Allergen>,
}

/// A substance, or several under one name, that must be named on the label of
/// a product that holds more than a little of it.
#[derive(Clone, Debug)]
pub struct Allergen {
    /// The name that stands on the label (INCI).
    pub name: String,
    /// Where it stands.
    pub place: Place,
    /// The CAS numbers that are summed; a natural by its own; not empty.
    pub cas: Vec<Cas>,
    /// What a material without a number may be called that counts as well.
    pub names: Vec<String>,
    /// Document, edition and year.
    pub source: String,
    /// Whether it was checked in its source.
    pub verified: Verified,
    /// Category label to percent of the finished product: above it, the name
    /// must stand on the label.
    pub label_above: Vec<(String, f64)>,
}

/// Anything of a limits file that counts substances.
pub trait Counts {
    /// The CAS numbers that are summed.
    fn cas(&self) -> &[Cas];

    /// Names by which materials without a number are counted.
    fn names(&self) -> &[String];

    /// Whether a material is itself what is counted, and what tells.
    fn matched(&self, material: &Material) -> Option<MatchedBy> {
        matched(self.cas(), self.names(), material)
    }
}

impl Counts for Allergen {
    fn cas(&self) -> &[Cas] {
        &self.cas
    }

    fn names(&self) -> &[String] {
        &self.names
    }
}

impl Counts for Restriction {
    fn cas(&self) -> &[Cas] {
        &self.cas
    }

    fn names(&self) -> &[String] {
        &self.names
    }
}

impl Allergen {
    /// The smallest share in percent among the given categories and `"*"`,
    /// with the label that gives it; `None` where none of them asks for it.
    pub fn holding(&self, categories: &[String]) -> Option<(&str, f64)> {
        let holds = |label: &str| label == EVERY_CATEGORY || categories.iter().any(|category| category == label);
        let asked = self.label_above.iter().filter(|(label, _)| holds(label));
        asked.map(|(label, percent)| (label.as_str(), *percent)).min_by(|a, b| a.1.total_cmp(&b.1))
    }
}

/// A restriction on one substance, or on the sum of several.
#[derive(Clone, Debug)]
pub struct Restriction {
    /// What is restricted.
    pub substance: String,
    /// Where it stands.
    pub place: Place,
    /// The CAS numbers that are summed; not empty.
    pub cas: Vec<Cas>,
    /// What a material without a number may be called that counts as well.
    pub names: Vec<String>,
    /// Document, edition and year.
    pub source: String,
    /// Whether the figure was checked in its source.
    pub verified: Verified,
    /// Which of the ways to bring the substance in are counted.
    pub applies: Applies,
    /// Category label to limit; `"*"` is every category.
    pub limits: Vec<(String, Limit)>,
    /// Restrictions with one joint name share: the sum of use / limit is at most 1.
    pub joint: Option<String>,
    /// Text to print where the substance is used.
    pub specification: Option<String>,
}

/// Whether a figure was checked in its source.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verified {
    /// Read in the named source.
    Yes,
    /// From memory, or nothing said.
    No,
    /// Checked in part, as the text says.
    Text(String),
}

/// Which of the ways to bring a substance in are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Applies {
    /// Both.
    #[default]
    All,
    /// The substance itself.
    Added,
    /// What naturals bring.
    Constituents,
}

/// A limit in percent of the finished product.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Limit {
    /// At most this many percent.
    Percent(f64),
    /// Expressly unrestricted.
    Unrestricted,
}

/// The label that stands for every category.
pub const EVERY_CATEGORY: &str = "*";

impl Restriction {
    /// The smallest limit in percent of the finished product among the given
    /// categories and `"*"`, with the label that gives it; `None` where none
    /// of them restricts.
    pub fn holding(&self, categories: &[String]) -> Option<(&str, f64)> {
        let mut best: Option<(&str, f64)> = None;
        for (label, limit) in &self.limits {
            let applies = label == EVERY_CATEGORY || categories.contains(label);
            if let (true, Limit::Percent(percent)) = (applies, *limit)
                && best.is_none_or(|(_, least)| percent < least)
            {
                best = Some((label, percent));
            }
        }
        best
    }
}
