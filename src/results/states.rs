//! States as enums. Each case has one word, the same in JSON and in tables;
//! texts and pages look at the case.

use serde::{Serialize, Serializer};

use super::finding::{FindingKind, Severity};
use super::identity::IdentityKind;
use crate::analysis::check::Verdict as Possibility;
use crate::analysis::coverage::Answer;
use crate::analysis::journal::WhyDue;
use crate::analysis::learn::Why;
use crate::analysis::next::Per;
use crate::analysis::palette::missing::Lack;
use crate::analysis::strengths::ties::Tie;
use crate::brief::{Basis, Match, MovedBy};
use crate::matches::Verdict as Compared;
use crate::palette::Note;
use crate::solve::Status;
use crate::solve::clocks::Holds;
use crate::trials::Medium;

/// Serialises enums as their words.
macro_rules! in_a_word {
    ($($name:ty),* $(,)?) => {
        $(impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.word())
            }
        })*
    };
}

/// Gives an enum its words, by which it serialises.
macro_rules! words {
    ($($name:ident { $($case:ident = $word:literal,)* })*) => {
        $(impl $name {
            /// The word that reports have for it.
            pub const fn word(self) -> &'static str {
                match self { $($name::$case => $word,)* }
            }
        }
        in_a_word!($name);)*
    };
}

// What has a word in its own module.
in_a_word!(Holds, Status, Match, Basis, MovedBy, Note, Medium, FindingKind);

words! {
    Possibility {
        Possible = "possible",
        Contradictory = "contradictory",
        Unknown = "unknown",
    }
    WhyDue {
        Never = "never",
        OpeningOnly = "opening only",
        YoungOnly = "young only",
        Once = "once",
    }
    Why {
        Medium = "medium",
        Minutes = "minutes",
        Age = "age",
        Nose = "nose",
        NotJudged = "not judged",
        NothingToCompare = "nothing to compare",
        NoOdour = "no odour",
    }
    Lack {
        Price = "price",
        Cas = "cas",
        Scores = "scores",
        Constituents = "constituents",
    }
    Tie {
        Equal = "equal",
        Order = "order",
        None = "none",
    }
    Compared {
        Equal = "equal",
        Stronger = "stronger",
    }
    FormulaStatus {
        Optimal = "optimal",
        Feasible = "feasible",
        Infeasible = "infeasible",
        Unknown = "unknown",
        Broken = "broken",
        Unjudged = "unjudged",
        Unused = "unused",
    }
    Removal {
        Possible = "possible",
        Required = "required",
        Impossible = "impossible",
        NotComputed = "not computed",
    }
    Role {
        Indispensable = "indispensable",
        Dispensable = "dispensable",
        CouldComeIn = "could come in",
        StaysOut = "stays out",
        NotComputed = "not computed",
    }
    FigureKnown {
        Limit = "limit",
        Free = "free",
        NoFigure = "no figure for this category",
        InNoFile = "in no file",
        ConstituentsUnknown = "constituents unknown",
        NoCas = "no CAS number",
    }
    SmallestIn {
        Odour = "odour",
        Parts = "parts",
    }
    Distrust {
        Restless = "restless",
        Misfits = "misfits",
    }
    Foresight {
        Predicts = "predicts",
        MerelyFits = "merely fits",
        TooFew = "too few",
        CannotTell = "cannot tell",
    }
    WhichNumber {
        Strength = "strength",
        Score = "score",
    }
    CapReason {
        Own = "own",
        Palette = "palette",
        Concentrate = "concentrate",
        Product = "product",
        Restriction = "restriction",
        Joint = "joint",
        Stock = "stock",
    }
    Traded {
        Price = "price",
        Effect = "effect",
        Strength = "strength",
        Count = "count",
        Dose = "dose",
    }
    AdvisedIn {
        Concentrate = "concentrate",
        Product = "product",
    }
    PouredFrom {
        Batch = "batch",
        UsualBottles = "usual bottles",
    }
    PricedBy {
        Packs = "packs",
        PricePerKg = "price per kg",
        Unknown = "unknown",
    }
    Certified {
        Proven = "proven",
        Bounded = "bounded",
        Refuted = "refuted",
    }
    IdentityKind {
        ByName = "matched by name",
        MayBe = "may be",
        OtherNumber = "other number",
        LeftOut = "left out",
    }
    Severity {
        Warning = "warning",
        Note = "note",
    }
    DoseMove {
        New = "new",
        Out = "out",
        Lowered = "lowered",
        Moved = "moved",
    }
    SlipKind {
        Number = "number",
        Bottle = "bottle",
        Dilution = "dilution",
        Missing = "missing",
    }
    LessonKind {
        Single = "single",
        Mod = "mod",
        Match = "match",
    }
    Per {
        Minute = "minute",
        Cost = "cost",
        Trial = "trial",
    }
}

/// How a formula stands to the rules of its brief.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FormulaStatus {
    /// Keeps them, and is proven best.
    Optimal,
    /// Keeps them.
    Feasible,
    /// No formula keeps them.
    Infeasible,
    /// Neither a formula nor a proof that there is none.
    Unknown,
    /// Breaks some.
    Broken,
    /// Has no odour, and so no numbers.
    Unjudged,
    /// Its parts do not add up to 1000.
    Unused,
}

impl From<Status> for FormulaStatus {
    fn from(status: Status) -> FormulaStatus {
        match status {
            Status::Optimal => FormulaStatus::Optimal,
            Status::Feasible => FormulaStatus::Feasible,
            Status::Infeasible => FormulaStatus::Infeasible,
            Status::Unknown => FormulaStatus::Unknown,
        }
    }
}

/// Whether there is a formula without a material.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Removal {
    /// There is.
    Possible,
    /// The brief asks for the material.
    Required,
    /// No formula keeps the rules without it.
    Impossible,
    /// Not found out in time.
    NotComputed,
}

/// What a material is to the formulas near the best.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// All have it.
    Indispensable,
    /// It is in the formula, and one near it does without.
    Dispensable,
    /// It is not in the formula, and one near it has it.
    CouldComeIn,
    /// None has it.
    StaysOut,
    /// Not found out in time.
    NotComputed,
}

/// What limits files know of a substance in a category.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FigureKnown {
    /// A limit.
    Limit,
    /// Looked up, and not restricted.
    Free,
    /// Restricted, without a figure for this category.
    NoFigure,
    /// Not named anywhere.
    InNoFile,
    /// A natural of unknown constituents.
    ConstituentsUnknown,
    /// It has no number to be found by.
    NoCas,
}

impl From<Answer> for FigureKnown {
    fn from(answer: Answer) -> FigureKnown {
        match answer {
            Answer::Limited { .. } => FigureKnown::Limit,
            Answer::Free => FigureKnown::Free,
            Answer::NoFigure => FigureKnown::NoFigure,
            Answer::InNoFile => FigureKnown::InNoFile,
            Answer::ConstituentsUnknown => FigureKnown::ConstituentsUnknown,
            Answer::NoCas => FigureKnown::NoCas,
        }
    }
}

/// What makes a change small.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SmallestIn {
    /// How much of the odour changes.
    Odour,
    /// The sum of all changes of doses.
    Parts,
}

/// Why what was learned is not to be relied on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Distrust {
    /// The fit did not come to rest.
    Restless,
    /// Too many trials do not fit.
    Misfits,
}

/// What leaving trials out says of a fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Foresight {
    /// It foretells trials that it has not seen.
    Predicts,
    /// It follows trials that it has seen, and foretells no other.
    MerelyFits,
    /// Too few trials to tell.
    TooFew,
    /// Enough trials, and no clear answer.
    CannotTell,
}

/// Which number of a material is uncertain.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhichNumber {
    /// Its strength.
    Strength,
    /// One of its scores.
    Score,
}

/// Where a cap on a dose comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CapReason {
    /// The brief.
    Own,
    /// The palette.
    Palette,
    /// Advice on the concentrate.
    Concentrate,
    /// Advice on the finished product.
    Product,
    /// A restriction.
    Restriction,
    /// A limit that several restrictions share.
    Joint,
    /// What is left in the bottle.
    Stock,
}

/// What is traded for fidelity.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Traded {
    /// The price per kg.
    Price,
    /// The price of the effect.
    Effect,
    /// The strength.
    Strength,
    /// The number of materials.
    Count,
    /// The dose of a material.
    Dose,
}

/// What advice of the palette counts in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AdvisedIn {
    /// Percent of the concentrate.
    Concentrate,
    /// Percent of the finished product.
    Product,
}

/// What a product is poured from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PouredFrom {
    /// A batch that was weighed.
    Batch,
    /// An accord mixed from the usual bottles.
    UsualBottles,
}

/// What a purchase is priced by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PricedBy {
    /// The packs on offer.
    Packs,
    /// The price per kg, where no packs are known.
    PricePerKg,
    /// Nothing: it has no price.
    Unknown,
}

/// What a certificate comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Certified {
    /// The formula is the best that the rules allow, or there is none, as
    /// claimed.
    Proven,
    /// The bound is proven, but a better formula is not excluded.
    Bounded,
    /// What is claimed does not hold.
    Refuted,
}

/// What is to be weighed next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LessonKind {
    /// One material alone.
    Single,
    /// A mod: a formula that differs a little.
    Mod,
    /// Two materials, diluted until they smell equally strong.
    Match,
}

/// What a single slip was that would explain a trial.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SlipKind {
    /// A score that was written down wrongly.
    Number,
    /// A wrong bottle.
    Bottle,
    /// A bottle of another dilution.
    Dilution,
    /// A material that was left out.
    Missing,
}

/// What becomes of a dose.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DoseMove {
    /// The material was not there before.
    New,
    /// The material goes.
    Out,
    /// It was asked to go down.
    Lowered,
    /// It moves with the others.
    Moved,
}
