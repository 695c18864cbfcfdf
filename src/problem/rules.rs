//! The rules of a brief as data: each has an id, the place it was written
//! at, the number it stands at and a sentence in the user's words. Everything
//! that binds a formula is derived from this list, so a rule is loosened by
//! changing its number here and nowhere else.

use std::sync::Arc;

use super::id::RuleId;
use super::near::Skeleton;
use super::usual::OfColumns;
use crate::palette::Cas;
use crate::place::Place;
use crate::units::Ppt;

/// One rule.
#[derive(Clone, Debug)]
pub struct Rule {
    /// What reports call it, such as `budget` or `dose:Linalool.max`.
    pub id: RuleId,
    /// What it binds.
    pub kind: RuleKind,
    /// Where it was written.
    pub place: Place,
    /// The number it stands at, in the unit of its kind; 1 for rules that
    /// have no number (must, never, only, own_only).
    pub at: f64,
}

/// What a rule binds, with the unit of its number. Materials are indices into
/// the palette, which are also the indices of the problem's columns.
#[derive(Clone, Debug, PartialEq)]
pub enum RuleKind {
    /// Price per kg of accord, at most.
    Budget,
    /// Price per kg divided by the strength, at most.
    PriceOfEffect,
    /// Strength of the formula, at least.
    StrengthMin,
    /// Strength of the formula, at most.
    StrengthMax,
    /// Idle weight of the formula in ppt, at most; see [`super::idle`].
    MaxIdle,
    /// Number of materials, at most.
    MaxMaterials,
    /// Number of materials among these, at most.
    MostOf(Arc<[usize]>),
    /// Number of these columns whose dose is not this one, at most. A dose
    /// that stays is as good as fixed: it sets minimum and step aside.
    Moves(Arc<[(usize, Ppt)]>),
    /// Number of materials whose dose is outside their usual one, at most; of
    /// these columns, with their usual doses.
    MaxUnusual(OfColumns),
    /// Dose of a column in ppt, at least, if used at all.
    DoseMin(usize),
    /// Dose of a column in ppt of the basis, at most.
    DoseMax(usize),
    /// Neat amount of a material in ppt, whatever brings it, at most.
    NeatMax(usize),
    /// Doses of a column are whole multiples of this many ppt.
    DoseStep(usize),
    /// The column must be used.
    Must(usize),
    /// The column must not be used.
    Never(usize),
    /// The dose of a column is exactly this many ppt.
    Fixed(usize),
    /// Sum of neat amounts in ppt, at least.
    GroupMin(Arc<[usize]>),
    /// Sum of neat amounts in ppt, at most.
    GroupMax(Arc<[usize]>),
    /// Quotient of two neat amounts, at least.
    RatioMin {
        /// Above the line.
        of: usize,
        /// Below the line.
        to: usize,
    },
    /// Quotient of two neat amounts, at most.
    RatioMax {
        /// Above the line.
        of: usize,
        /// Below the line.
        to: usize,
    },
    /// Profile of the blend in a counted descriptor, in points, at least.
    TargetMin(usize),
    /// Profile of the blend in a counted descriptor, in points, at most.
    TargetMax(usize),
    /// How far the formula is from a known one, in percent of what its
    /// skeleton counts, at most.
    Near(Arc<Skeleton>),
    /// Use of a restricted substance in a finished product, in percent, at most.
    Limit {
        /// Index into the problem's restrictions.
        restriction: usize,
        /// Index into the problem's uses.
        product: usize,
    },
    /// Sum of use / limit over restrictions with one joint name, at most.
    Joint {
        /// (restriction, its limit in percent) of each member.
        members: Arc<[(usize, f64)]>,
        /// Index into the problem's uses.
        product: usize,
    },
    /// Neat amount of a material in percent of the concentrate, at most.
    Concentrate {
        /// The material.
        material: usize,
        /// Index into the problem's uses.
        product: usize,
    },
    /// Neat amount of a material in percent of the finished product, at most.
    Product {
        /// The material.
        material: usize,
        /// Index into the problem's uses.
        product: usize,
    },
    /// Strength of what is left at a stage, at least.
    StageStrengthMin(usize),
    /// Strength of what is left at a stage, at most.
    StageStrengthMax(usize),
    /// Strength of what is left at a stage in percent of the first stage's, at least.
    StageKept(usize),
    /// What some materials carry of the odour at a stage, in percent, at least.
    StageShareMin {
        /// Index of the stage.
        stage: usize,
        /// The materials.
        members: Arc<[usize]>,
    },
    /// What some materials carry of the odour at a stage, in percent, at most.
    StageShareMax {
        /// Index of the stage.
        stage: usize,
        /// The materials.
        members: Arc<[usize]>,
    },
    /// Hours that the film lasts, at least.
    FilmLasts,
    /// Nothing but these columns may be used.
    Only(Arc<[usize]>),
    /// Nothing that is not on the shelf may be used.
    OwnOnly,
    /// The contrary of a rule that says at most (budget, price of effect,
    /// limit or joint): at least. No brief says so; it narrows down where a
    /// loosened rule can bring something.
    AtLeast(Arc<RuleKind>),
}

/// A finished product with all its numbers.
#[derive(Clone, Debug)]
pub struct FinishedProduct {
    /// Its name, if it has one.
    pub name: Option<String>,
    /// Where it is described.
    pub place: Place,
    /// Labels as the limits files use them.
    pub categories: Vec<String>,
    /// Percent of concentrate in it; `None` where the brief does not say.
    pub dosage_percent: Option<f64>,
    /// Percent of the concentrate that is this accord.
    pub accord_share_percent: f64,
    /// Percent of it that the rest of the concentrate already brings.
    pub reserve: Vec<(Cas, f64)>,
}

impl FinishedProduct {
    /// Percent of the accord in the concentrate, as a fraction.
    pub fn accord_share(&self) -> f64 {
        self.accord_share_percent / 100.0
    }

    /// Mass fraction of the concentrate in the product; 0 where unknown.
    pub fn dosage(&self) -> f64 {
        self.dosage_percent.unwrap_or(0.0) / 100.0
    }
}

/// How a rule is changed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Change {
    /// It stands at another number of its unit.
    To(f64),
    /// It is dropped.
    Dropped,
}

/// What a rule speaks of. Code that treats rules alike by what they are about
/// asks this, so that a new kind is sorted once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Subject {
    /// How much of one column is used where it is used.
    Dose(usize),
    /// One column that has to be used: without it no formula keeps the rule.
    Asked(usize),
    /// One column that must not be used.
    Barred(usize),
    /// Which columns are used, how many, how many doses change and how many are
    /// unusual.
    Selection,
    /// The neat amount of one material, whatever brings it.
    Amount(usize),
    /// The neat amounts of several materials.
    Amounts,
    /// Price, strength or profile of the whole formula.
    Blend,
    /// The palette's advice on one material in the concentrate.
    InConcentrate {
        /// The material.
        material: usize,
        /// Index into the problem's uses.
        product: usize,
    },
    /// The palette's advice on one material in a product.
    InProduct {
        /// The material.
        material: usize,
        /// Index into the problem's uses.
        product: usize,
    },
    /// What a limits file allows in a product.
    Limit {
        /// Index into the problem's uses.
        product: usize,
    },
}

/// What a rule leaves out whatever the rest of the formula is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LeftOut<'r> {
    /// This column.
    One(usize),
    /// All columns but these.
    AllBut(&'r [usize]),
    /// All columns that are not on the shelf.
    NotOnShelf,
    /// No column.
    Nothing,
}

/// What a limits file allows in a product.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Regulated<'r> {
    /// So much of one restricted substance.
    One {
        /// Index into the problem's restrictions.
        restriction: usize,
        /// Index into the problem's uses.
        product: usize,
    },
    /// So much of several together, each as a share of its own limit.
    Shared {
        /// (restriction, its limit in percent) of each member.
        members: &'r [(usize, f64)],
        /// Index into the problem's uses.
        product: usize,
    },
}

/// What one line of a brief says of all materials: a rule each.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ForAll {
    /// The step of their doses.
    Step,
    /// Their least dose.
    MinDose,
}

impl RuleKind {
    /// What the rule speaks of.
    pub fn subject(&self) -> Subject {
        use RuleKind::*;
        match *self {
            DoseMin(m) | DoseMax(m) | DoseStep(m) => Subject::Dose(m),
            Must(m) | Fixed(m) => Subject::Asked(m),
            Never(m) => Subject::Barred(m),
            MaxMaterials | MostOf(_) | Moves(_) | MaxUnusual(_) | Only(_) | OwnOnly => Subject::Selection,
            NeatMax(m) => Subject::Amount(m),
            GroupMin(_) | GroupMax(_) | RatioMin { .. } | RatioMax { .. } => Subject::Amounts,
            Budget | PriceOfEffect | StrengthMin | StrengthMax | MaxIdle | TargetMin(_) | TargetMax(_) | Near(_) => {
                Subject::Blend
            }
            StageStrengthMin(_)
            | StageStrengthMax(_)
            | StageKept(_)
            | StageShareMin { .. }
            | StageShareMax { .. }
            | FilmLasts => Subject::Blend,
            Concentrate { material, product } => Subject::InConcentrate { material, product },
            Product { material, product } => Subject::InProduct { material, product },
            Limit { product, .. } | Joint { product, .. } => Subject::Limit { product },
            AtLeast(ref contrary) => contrary.subject(),
        }
    }

    /// Whether the rule speaks of what is left at a stage, or of how long the film lasts.
    pub fn is_of_stages(&self) -> bool {
        use RuleKind::*;
        matches!(
            self,
            StageStrengthMin(_)
                | StageStrengthMax(_)
                | StageKept(_)
                | StageShareMin { .. }
                | StageShareMax { .. }
                | FilmLasts
        )
    }

    /// Whether the rule has a distance by which it could be moved. Must,
    /// never, only and own_only have none: they hold or are dropped.
    pub fn has_distance(&self) -> bool {
        use RuleKind::*;
        match self {
            Must(_) | Never(_) | Only(_) | OwnOnly => false,
            Budget
            | PriceOfEffect
            | StrengthMin
            | StrengthMax
            | MaxIdle
            | MaxMaterials
            | MostOf(_)
            | Moves(_)
            | MaxUnusual(_)
            | DoseMin(_)
            | DoseMax(_)
            | NeatMax(_)
            | DoseStep(_)
            | Fixed(_)
            | GroupMin(_)
            | GroupMax(_)
            | RatioMin { .. }
            | RatioMax { .. }
            | TargetMin(_)
            | TargetMax(_)
            | Near(_)
            | Limit { .. }
            | Joint { .. }
            | Concentrate { .. }
            | Product { .. }
            | StageStrengthMin(_)
            | StageStrengthMax(_)
            | StageKept(_)
            | StageShareMin { .. }
            | StageShareMax { .. }
            | FilmLasts
            | AtLeast(_) => true,
        }
    }

    /// Whether the rule is about one material alone, and this one.
    pub fn is_about(&self, material: usize) -> bool {
        match self.subject() {
            Subject::Dose(m) | Subject::Asked(m) | Subject::Barred(m) | Subject::Amount(m) => m == material,
            Subject::InConcentrate { material: m, .. } | Subject::InProduct { material: m, .. } => m == material,
            Subject::Selection | Subject::Amounts | Subject::Blend | Subject::Limit { .. } => false,
        }
    }

    /// The finished product whose limits the rule is one of, the palette's
    /// advice on it among them: nobody is told to pass them, and less of the
    /// concentrate in the product keeps them.
    pub fn limits_product(&self) -> Option<usize> {
        match self.subject() {
            Subject::InProduct { product, .. } | Subject::Limit { product } => Some(product),
            Subject::Dose(_)
            | Subject::Asked(_)
            | Subject::Barred(_)
            | Subject::Selection
            | Subject::Amount(_)
            | Subject::Amounts
            | Subject::Blend
            | Subject::InConcentrate { .. } => None,
        }
    }

    /// The line that may say this rule of all materials at once, if one may.
    pub fn for_all(&self) -> Option<ForAll> {
        match self {
            RuleKind::DoseStep(_) => Some(ForAll::Step),
            RuleKind::DoseMin(_) => Some(ForAll::MinDose),
            RuleKind::Budget
            | RuleKind::PriceOfEffect
            | RuleKind::StrengthMin
            | RuleKind::StrengthMax
            | RuleKind::MaxIdle
            | RuleKind::MaxMaterials
            | RuleKind::MostOf(_)
            | RuleKind::Moves(_)
            | RuleKind::MaxUnusual(_)
            | RuleKind::DoseMax(_)
            | RuleKind::NeatMax(_)
            | RuleKind::Must(_)
            | RuleKind::Never(_)
            | RuleKind::Fixed(_)
            | RuleKind::GroupMin(_)
            | RuleKind::GroupMax(_)
            | RuleKind::RatioMin { .. }
            | RuleKind::RatioMax { .. }
            | RuleKind::TargetMin(_)
            | RuleKind::TargetMax(_)
            | RuleKind::StageStrengthMin(_)
            | RuleKind::StageStrengthMax(_)
            | RuleKind::StageKept(_)
            | RuleKind::StageShareMin { .. }
            | RuleKind::StageShareMax { .. }
            | RuleKind::FilmLasts
            | RuleKind::Near(_)
            | RuleKind::Limit { .. }
            | RuleKind::Joint { .. }
            | RuleKind::Concentrate { .. }
            | RuleKind::Product { .. }
            | RuleKind::Only(_)
            | RuleKind::OwnOnly
            | RuleKind::AtLeast(_) => None,
        }
    }

    /// The column that the rule asks for: without it no formula keeps the rule.
    pub fn asks_for(&self) -> Option<usize> {
        match self.subject() {
            Subject::Asked(material) => Some(material),
            Subject::Dose(_) | Subject::Barred(_) | Subject::Selection | Subject::Amount(_) | Subject::Amounts => None,
            Subject::Blend | Subject::InConcentrate { .. } | Subject::InProduct { .. } | Subject::Limit { .. } => None,
        }
    }

    /// What the rule leaves out whatever the rest of the formula is.
    pub fn leaves_out(&self) -> LeftOut<'_> {
        match self {
            RuleKind::Never(column) => LeftOut::One(*column),
            RuleKind::Only(only) => LeftOut::AllBut(only),
            RuleKind::OwnOnly => LeftOut::NotOnShelf,
            RuleKind::Budget
            | RuleKind::PriceOfEffect
            | RuleKind::StrengthMin
            | RuleKind::StrengthMax
            | RuleKind::MaxIdle
            | RuleKind::MaxMaterials
            | RuleKind::MostOf(_)
            | RuleKind::Moves(_)
            | RuleKind::MaxUnusual(_)
            | RuleKind::DoseMin(_)
            | RuleKind::DoseMax(_)
            | RuleKind::NeatMax(_)
            | RuleKind::DoseStep(_)
            | RuleKind::Must(_)
            | RuleKind::Fixed(_)
            | RuleKind::GroupMin(_)
            | RuleKind::GroupMax(_)
            | RuleKind::RatioMin { .. }
            | RuleKind::RatioMax { .. }
            | RuleKind::TargetMin(_)
            | RuleKind::TargetMax(_)
            | RuleKind::StageStrengthMin(_)
            | RuleKind::StageStrengthMax(_)
            | RuleKind::StageKept(_)
            | RuleKind::StageShareMin { .. }
            | RuleKind::StageShareMax { .. }
            | RuleKind::FilmLasts
            | RuleKind::Near(_)
            | RuleKind::Limit { .. }
            | RuleKind::Joint { .. }
            | RuleKind::Concentrate { .. }
            | RuleKind::Product { .. }
            | RuleKind::AtLeast(_) => LeftOut::Nothing,
        }
    }

    /// What a limits file allows, if that is what the rule says.
    pub fn regulated(&self) -> Option<Regulated<'_>> {
        match *self {
            RuleKind::Limit { restriction, product } => Some(Regulated::One { restriction, product }),
            RuleKind::Joint { ref members, product } => Some(Regulated::Shared { members, product }),
            RuleKind::Budget
            | RuleKind::PriceOfEffect
            | RuleKind::StrengthMin
            | RuleKind::StrengthMax
            | RuleKind::MaxIdle
            | RuleKind::MaxMaterials
            | RuleKind::MostOf(_)
            | RuleKind::Moves(_)
            | RuleKind::MaxUnusual(_)
            | RuleKind::DoseMin(_)
            | RuleKind::DoseMax(_)
            | RuleKind::NeatMax(_)
            | RuleKind::DoseStep(_)
            | RuleKind::Must(_)
            | RuleKind::Never(_)
            | RuleKind::Fixed(_)
            | RuleKind::GroupMin(_)
            | RuleKind::GroupMax(_)
            | RuleKind::RatioMin { .. }
            | RuleKind::RatioMax { .. }
            | RuleKind::TargetMin(_)
            | RuleKind::TargetMax(_)
            | RuleKind::StageStrengthMin(_)
            | RuleKind::StageStrengthMax(_)
            | RuleKind::StageKept(_)
            | RuleKind::StageShareMin { .. }
            | RuleKind::StageShareMax { .. }
            | RuleKind::FilmLasts
            | RuleKind::Near(_)
            | RuleKind::Concentrate { .. }
            | RuleKind::Product { .. }
            | RuleKind::Only(_)
            | RuleKind::OwnOnly
            | RuleKind::AtLeast(_) => None,
        }
    }

    /// Whether a larger number leaves more formulas inside (`Some(true)`),
    /// fewer (`Some(false)`), or neither is so (`None`: fixed doses, steps
    /// and rules without a number).
    pub fn loosens_upwards(&self) -> Option<bool> {
        use RuleKind::*;
        match self {
            Budget
            | PriceOfEffect
            | StrengthMax
            | MaxIdle
            | MaxMaterials
            | MostOf(_)
            | Moves(_)
            | MaxUnusual(_)
            | DoseMax(_)
            | NeatMax(_)
            | GroupMax(_)
            | RatioMax { .. }
            | TargetMax(_)
            | Near(_)
            | Limit { .. }
            | Joint { .. }
            | Concentrate { .. }
            | Product { .. }
            | StageStrengthMax(_)
            | StageShareMax { .. } => Some(true),
            StrengthMin | DoseMin(_) | GroupMin(_) | RatioMin { .. } | TargetMin(_) | AtLeast(_) => Some(false),
            StageStrengthMin(_) | StageKept(_) | StageShareMin { .. } | FilmLasts => Some(false),
            DoseStep(_) | Must(_) | Never(_) | Fixed(_) | Only(_) | OwnOnly => None,
        }
    }
}
