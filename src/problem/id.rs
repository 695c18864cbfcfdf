//! The ids of rules, which reports and their readers know as text such as
//! `budget` or `dose:Linalool.max`: made, shown and read back here alone.

use std::fmt;
use std::str::FromStr;
use std::sync::Arc;

use serde::{Serialize, Serializer};

/// What a rule is called in reports. Shown as text, which [`FromStr`] reads
/// back; in JSON it is that text.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RuleId {
    /// `budget`.
    Budget,
    /// `price_of_effect`.
    PriceOfEffect,
    /// `strength.min`, `strength.max`.
    Strength(Bound),
    /// `max_materials`.
    MaxMaterials,
    /// `max_idle`.
    MaxIdle,
    /// `max_unusual`.
    MaxUnusual,
    /// `near`: how much of a known formula may move.
    Near,
    /// `only`.
    Only,
    /// `own_only`.
    OwnOnly,
    /// `dose:MATERIAL.max` and the other keys.
    Dose(Arc<str>, DoseKey),
    /// `group:NAME.min`, `group:NAME.max`.
    Group(Arc<str>, Bound),
    /// `ratio:ABOVE/BELOW.min`, `ratio:ABOVE/BELOW.max`. The two names are one
    /// text, as a brief's editor knows the ratio: a name may hold a stroke.
    Ratio(Arc<str>, Bound),
    /// `target:DESCRIPTOR.min`, `target:DESCRIPTOR.max`.
    Target(Arc<str>, Bound),
    /// `concentrate:MATERIAL`, `concentrate:MATERIAL@PRODUCT`. Name and product
    /// are one text, here and in the three that follow: a name may hold an @.
    Concentrate(Arc<str>),
    /// `product:MATERIAL`, `product:MATERIAL@PRODUCT`.
    Product(Arc<str>),
    /// `limit:SUBSTANCE`, `limit:SUBSTANCE@PRODUCT`.
    Limit(Arc<str>),
    /// `joint:NAME`, `joint:NAME@PRODUCT`.
    Joint(Arc<str>),
    /// `stage:NAME.strength.min`, `stage:NAME.strength.max`: what is left at a stage.
    StageStrength(Arc<str>, Bound),
    /// `stage:NAME.kept.min`.
    StageKept(Arc<str>),
    /// `share:NAME/TAG.min`, `share:NAME/TAG.max`: what a tag carries at a stage. Name and
    /// tag are one text.
    StageShare(Arc<str>, Bound),
    /// `film`: how long the film lasts.
    Film,
    /// `moves`: how many doses of a formula may change.
    Moves,
    /// `new`: how many materials may come into a formula.
    New,
    /// `with`: how many of some materials may come in.
    With,
    /// `free`: how many of the other doses may change.
    Free,
    /// `proportion:MATERIAL.min` and so on: a dose in proportion to the others.
    Proportion(Arc<str>, DoseKey),
    /// `vessel`: what is in the vessel stays in it.
    Vessel,
    /// `vessel:MATERIAL`: what is in the vessel of one material.
    InVessel(Arc<str>),
    /// `least:MATERIAL`: what a balance weighs well.
    Least(Arc<str>),
    /// `stock:MATERIAL`: what is on hand.
    Stock(Arc<str>),
    /// `step`: the line of a brief that speaks of all materials.
    Step,
    /// `min_dose`, likewise.
    MinDose,
    /// `dosage`, `dosage@PRODUCT`: how much of the concentrate a product takes.
    Dosage(Option<Arc<str>>),
}

/// Which end of a range a rule sets.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Bound {
    /// `min`.
    Min,
    /// `max`.
    Max,
}

/// What a rule says of the dose of one material.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DoseKey {
    /// `min`.
    Min,
    /// `max`.
    Max,
    /// `step`.
    Step,
    /// `fixed`.
    Fixed,
    /// `must`.
    Must,
    /// `never`.
    Never,
}

/// A text that is no rule's id.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoRuleId(pub String);

impl Bound {
    /// Both, in the order in which rules name them.
    pub const ALL: [Bound; 2] = [Bound::Min, Bound::Max];

    /// The word at the end of an id, and the key of a file.
    pub fn word(self) -> &'static str {
        match self {
            Bound::Min => "min",
            Bound::Max => "max",
        }
    }
}

impl DoseKey {
    /// All of them.
    pub const ALL: [DoseKey; 6] =
        [DoseKey::Min, DoseKey::Max, DoseKey::Step, DoseKey::Fixed, DoseKey::Must, DoseKey::Never];

    /// The word at the end of an id.
    pub fn word(self) -> &'static str {
        match self {
            DoseKey::Min => "min",
            DoseKey::Max => "max",
            DoseKey::Step => "step",
            DoseKey::Fixed => "fixed",
            DoseKey::Must => "must",
            DoseKey::Never => "never",
        }
    }
}

impl RuleId {
    /// The id of a rule on the dose of a material.
    pub fn dose(material: &str, key: DoseKey) -> RuleId {
        RuleId::Dose(material.into(), key)
    }

    /// The id of a rule on the sum of some materials.
    pub fn group(name: &str, bound: Bound) -> RuleId {
        RuleId::Group(name.into(), bound)
    }

    /// The id of a rule on the quotient of two materials.
    pub fn ratio(above: &str, below: &str, bound: Bound) -> RuleId {
        RuleId::Ratio(format!("{above}/{below}").into(), bound)
    }

    /// The id of a rule on the blend in one descriptor.
    pub fn target(descriptor: &str, bound: Bound) -> RuleId {
        RuleId::Target(descriptor.into(), bound)
    }

    /// The id of a rule on what a tag carries at a stage.
    pub fn stage_share(stage: &str, tag: &str, bound: Bound) -> RuleId {
        RuleId::StageShare(format!("{stage}/{tag}").into(), bound)
    }

    /// What the ids of rules in finished products call something: its name, and
    /// that of the product where there are several.
    pub fn in_product(name: &str, product: Option<&str>) -> Arc<str> {
        product.map_or_else(|| name.into(), |product| format!("{name}@{product}").into())
    }

    /// Whether the rule holds or does not, without a number of note.
    pub fn is_without_number(&self) -> bool {
        use RuleId::*;
        match self {
            Only | OwnOnly => true,
            Dose(_, key) | Proportion(_, key) => matches!(key, DoseKey::Must | DoseKey::Never),
            Budget | PriceOfEffect | Strength(_) | MaxMaterials | MaxIdle | MaxUnusual | Near | Group(..)
            | Ratio(..) | Target(..) | StageStrength(..) | StageKept(_) | StageShare(..) | Film | Concentrate(_)
            | Product(_) | Limit(_) | Joint(_) | Moves | New | With | Free | Vessel | InVessel(_) | Least(_)
            | Stock(_) | Step | MinDose | Dosage(_) => false,
        }
    }
}

impl fmt::Display for RuleId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            RuleId::Budget => f.write_str("budget"),
            RuleId::PriceOfEffect => f.write_str("price_of_effect"),
            RuleId::Strength(bound) => write!(f, "strength.{bound}"),
            RuleId::MaxMaterials => f.write_str("max_materials"),
            RuleId::MaxIdle => f.write_str("max_idle"),
            RuleId::MaxUnusual => f.write_str("max_unusual"),
            RuleId::Near => f.write_str("near"),
            RuleId::Only => f.write_str("only"),
            RuleId::OwnOnly => f.write_str("own_only"),
            RuleId::Dose(material, key) => write!(f, "dose:{material}.{key}"),
            RuleId::Group(name, bound) => write!(f, "group:{name}.{bound}"),
            RuleId::Ratio(names, bound) => write!(f, "ratio:{names}.{bound}"),
            RuleId::Target(descriptor, bound) => write!(f, "target:{descriptor}.{bound}"),
            RuleId::Concentrate(material) => write!(f, "concentrate:{material}"),
            RuleId::Product(material) => write!(f, "product:{material}"),
            RuleId::Limit(substance) => write!(f, "limit:{substance}"),
            RuleId::Joint(name) => write!(f, "joint:{name}"),
            RuleId::StageStrength(stage, bound) => write!(f, "stage:{stage}.strength.{bound}"),
            RuleId::StageKept(stage) => write!(f, "stage:{stage}.kept.min"),
            RuleId::StageShare(names, bound) => write!(f, "share:{names}.{bound}"),
            RuleId::Film => f.write_str("film"),
            RuleId::Moves => f.write_str("moves"),
            RuleId::New => f.write_str("new"),
            RuleId::With => f.write_str("with"),
            RuleId::Free => f.write_str("free"),
            RuleId::Proportion(material, key) => write!(f, "proportion:{material}.{key}"),
            RuleId::Vessel => f.write_str("vessel"),
            RuleId::InVessel(material) => write!(f, "vessel:{material}"),
            RuleId::Least(material) => write!(f, "least:{material}"),
            RuleId::Stock(material) => write!(f, "stock:{material}"),
            RuleId::Step => f.write_str("step"),
            RuleId::MinDose => f.write_str("min_dose"),
            RuleId::Dosage(None) => f.write_str("dosage"),
            RuleId::Dosage(Some(product)) => write!(f, "dosage@{product}"),
        }
    }
}

impl FromStr for RuleId {
    type Err = NoRuleId;

    fn from_str(text: &str) -> Result<RuleId, NoRuleId> {
        bare(text).or_else(|| named(text)).ok_or_else(|| NoRuleId(text.to_owned()))
    }
}

/// An id without a name in it.
fn bare(text: &str) -> Option<RuleId> {
    Some(match text {
        "budget" => RuleId::Budget,
        "price_of_effect" => RuleId::PriceOfEffect,
        "strength.min" => RuleId::Strength(Bound::Min),
        "strength.max" => RuleId::Strength(Bound::Max),
        "max_materials" => RuleId::MaxMaterials,
        "max_idle" => RuleId::MaxIdle,
        "max_unusual" => RuleId::MaxUnusual,
        "near" => RuleId::Near,
        "only" => RuleId::Only,
        "own_only" => RuleId::OwnOnly,
        "film" => RuleId::Film,
        "moves" => RuleId::Moves,
        "new" => RuleId::New,
        "with" => RuleId::With,
        "free" => RuleId::Free,
        "vessel" => RuleId::Vessel,
        "step" => RuleId::Step,
        "min_dose" => RuleId::MinDose,
        "dosage" => RuleId::Dosage(None),
        _ => return None,
    })
}

/// An id with a name in it, which may hold anything: the word before the first
/// colon and the key after the last point are not of the name.
fn named(text: &str) -> Option<RuleId> {
    if let Some(product) = text.strip_prefix("dosage@") {
        return Some(RuleId::Dosage(Some(product.into())));
    }
    let (what, rest) = text.split_once(':')?;
    let (name, word) = rest.rsplit_once('.').unwrap_or((rest, ""));
    let bound = || Bound::ALL.into_iter().find(|bound| bound.word() == word);
    let key = || DoseKey::ALL.into_iter().find(|key| key.word() == word);
    Some(match what {
        "dose" => RuleId::Dose(name.into(), key()?),
        "group" => RuleId::Group(name.into(), bound()?),
        "ratio" => RuleId::Ratio(name.into(), bound()?),
        "target" => RuleId::Target(name.into(), bound()?),
        "share" => RuleId::StageShare(name.into(), bound()?),
        "stage" => match (name.rsplit_once('.')?, bound()?) {
            ((stage, "strength"), bound) => RuleId::StageStrength(stage.into(), bound),
            ((stage, "kept"), Bound::Min) => RuleId::StageKept(stage.into()),
            _ => return None,
        },
        "proportion" => RuleId::Proportion(name.into(), key()?),
        "concentrate" => RuleId::Concentrate(rest.into()),
        "product" => RuleId::Product(rest.into()),
        "limit" => RuleId::Limit(rest.into()),
        "joint" => RuleId::Joint(rest.into()),
        "vessel" => RuleId::InVessel(rest.into()),
        "least" => RuleId::Least(rest.into()),
        "stock" => RuleId::Stock(rest.into()),
        _ => return None,
    })
}

impl fmt::Display for Bound {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl fmt::Display for DoseKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl fmt::Display for NoRuleId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "\"{}\" is no rule's id", self.0)
    }
}

impl std::error::Error for NoRuleId {}

impl Serialize for RuleId {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}
