//! Restrictions on substances in the finished product.

use std::ops::Range;
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
    /// What its sources were searched for.
    pub review: Review,
}

/// What the sources of a limits file were searched for, restricted or not:
/// where a number was searched for and no restriction names it, it is free.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Review {
    /// (label, what was searched for under it); `None` is every label that the
    /// file's restrictions use.
    pub searched: Vec<(Option<String>, Searched)>,
    /// Document, edition and year that were searched, where the file says.
    pub source: Option<String>,
}

/// Which numbers were searched for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Searched {
    /// These.
    Numbers(Vec<Cas>),
    /// Every number: the file holds the whole of a source that restricts
    /// nothing but what it names.
    All,
}

impl Review {
    /// Whether the sources were searched for a number under a label. `used` is
    /// whether any restriction of the file uses the label: a search of one
    /// body's list says nothing of the categories of another.
    fn covers(&self, cas: &Cas, label: &str, used: bool) -> bool {
        self.searched.iter().any(|(of, searched)| {
            let speaks = of.as_ref().is_none_or(|of| of == label || of == EVERY_CATEGORY);
            used && speaks
                && match searched {
                    Searched::Numbers(numbers) => numbers.contains(cas),
                    Searched::All => true,
                }
        })
    }
}

impl Limits {
    /// Whether its label lists say that they are complete: the file's sources
    /// name all that must be named under one of the categories.
    pub fn is_complete_label_list(&self, categories: &[String]) -> bool {
        let speaks = |label: &String| label == EVERY_CATEGORY || categories.contains(label);
        let all = self.review.searched.iter().filter(|(_, searched)| *searched == Searched::All);
        let mut all = all.map(|(label, _)| label);
        !self.allergens.is_empty() && all.any(|label| label.as_ref().is_none_or(speaks))
    }
}

/// What one limits file can answer for, among the restrictions of several.
#[derive(Clone, Debug, PartialEq)]
pub struct Scope {
    /// The file.
    pub file: Arc<str>,
    /// Its restrictions, as indices into those of all the files.
    pub restrictions: Range<usize>,
    /// The category labels that its restrictions use, the star aside.
    pub labels: Vec<String>,
    /// What its sources were searched for.
    pub review: Review,
}

impl Scope {
    /// The scopes of several files whose restrictions stand one after the other.
    pub fn of(files: &[Limits]) -> Vec<Scope> {
        let mut first = 0;
        let scope = |limits: &Limits| {
            let mut labels: Vec<String> = Vec::new();
            for (label, _) in limits.restrictions.iter().flat_map(|restriction| &restriction.limits) {
                if label != EVERY_CATEGORY && !labels.contains(label) {
                    labels.push(label.clone());
                }
            }
            let restrictions = first..first + limits.restrictions.len();
            first = restrictions.end;
            Scope { file: limits.file.clone(), restrictions, labels, review: limits.review.clone() }
        };
        files.iter().map(scope).collect()
    }

    /// Whether the file's restrictions use a category label; of the star,
    /// whether there are any.
    pub fn uses(&self, label: &str) -> bool {
        if label == EVERY_CATEGORY {
            return !self.restrictions.is_empty();
        }
        self.labels.iter().any(|used| used == label)
    }

    /// Whether the file's sources were searched for a number under a label.
    pub fn searched_for(&self, cas: &Cas, label: &str) -> bool {
        self.review.covers(cas, label, self.uses(label))
    }
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

impl Limit {
    fn or_infinite(self) -> f64 {
        match self {
            Limit::Percent(percent) => percent,
            Limit::Unrestricted => f64::INFINITY,
        }
    }
}

/// The label that stands for every category.
pub const EVERY_CATEGORY: &str = "*";

impl Restriction {
    /// What the file says of one category label, by name or by the star: the
    /// smaller limit where it says both; `None` where it says nothing.
    pub fn in_category(&self, category: &str) -> Option<Limit> {
        let said = self.limits.iter().filter(|(label, _)| label == EVERY_CATEGORY || label == category);
        said.map(|(_, limit)| *limit).min_by(|a, b| a.or_infinite().total_cmp(&b.or_infinite()))
    }

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
