//! The brief: a target profile and the rules a formula must keep.

use std::sync::Arc;

use crate::composition::Composition;
use crate::formula::Formula;
use crate::nose::{self, Heed, Nose};
use crate::palette::{Cas, Palette};
use crate::place::{Place, Placed};
use crate::stage::{Dip, Stage};
use crate::units::Ppt;
pub use crate::wanted::TargetEntry;

/// A brief, resolved against its palette: materials and descriptors are
/// indices into it, and every number is in range.
#[derive(Clone, Debug)]
pub struct Brief {
    /// The file it was read from.
    pub file: Arc<str>,
    /// Its title.
    pub title: Option<String>,
    /// How the blend is compared with the target.
    pub matching: Match,
    /// By which law a formula is judged, or by the worse of both.
    pub laws: Laws,
    /// A profile to start from.
    pub target_from: Option<TargetFrom>,
    /// What the brief says of single descriptors.
    pub target: Vec<TargetEntry>,
    /// What the parts of a formula count.
    pub basis: Basis,
    /// Doses are whole multiples of this, unless a material says otherwise.
    pub step: Option<Placed<Ppt>>,
    /// Least dose if used at all, unless a material says otherwise.
    pub min_dose: Option<Placed<Ppt>>,
    /// Greatest number of materials, carriers included.
    pub max_materials: Option<Placed<usize>>,
    /// Greatest idle weight, in ppt.
    pub max_idle: Option<Placed<Ppt>>,
    /// Greatest number of materials whose dose is outside their usual one.
    pub max_unusual: Option<Placed<usize>>,
    /// Weight of a descriptor that the target does not name.
    pub off_note_weight: f64,
    /// Least strength of the formula.
    pub strength_min: Option<Placed<f64>>,
    /// Greatest strength of the formula.
    pub strength_max: Option<Placed<f64>>,
    /// Nothing but these materials may be used.
    pub only: Option<Placed<Vec<usize>>>,
    /// Present when materials that are not on the shelf are left out.
    pub own_only: Option<Place>,
    /// Greatest price per kg of accord.
    pub max_price: Option<Placed<f64>>,
    /// Greatest price per kg divided by the strength.
    pub max_price_of_effect: Option<Placed<f64>>,
    /// The finished products it goes into; limits hold in each.
    pub uses: Vec<Use>,
    /// Rules for single materials, at most one entry a material.
    pub doses: Vec<DoseEntry>,
    /// Bounds on sums of doses.
    pub groups: Vec<Group>,
    /// Bounds on quotients of doses.
    pub ratios: Vec<Ratio>,
    /// A known formula to stay near to.
    pub near: Option<Near>,
    /// What several noses make of the shelf: the palette's own first, each name
    /// once; empty where the brief names none.
    pub noses: Vec<Nose>,
    /// Whose numbers it goes by, where it says so.
    pub nose: Option<Placed<Heed>>,
    /// How the accord comes on paper.
    pub dip: Dip,
    /// When it is smelled on paper, the earliest first; where there is none it is smelled
    /// as mixed.
    pub stages: Vec<Stage>,
}

impl Brief {
    /// A brief that says nothing.
    pub fn empty(file: Arc<str>) -> Brief {
        Brief {
            file,
            title: None,
            matching: Match::default(),
            laws: Laws::default(),
            target_from: None,
            target: Vec::new(),
            basis: Basis::default(),
            step: None,
            min_dose: None,
            max_materials: None,
            max_idle: None,
            max_unusual: None,
            off_note_weight: 1.0,
            strength_min: None,
            strength_max: None,
            only: None,
            own_only: None,
            max_price: None,
            max_price_of_effect: None,
            uses: Vec::new(),
            doses: Vec::new(),
            groups: Vec::new(),
            ratios: Vec::new(),
            near: None,
            noses: Vec::new(),
            nose: None,
            dip: Dip::default(),
            stages: Vec::new(),
        }
    }

    /// Whose numbers it goes by.
    pub fn heed(&self) -> Heed {
        self.nose.as_ref().map_or_else(Heed::default, |nose| nose.value)
    }

    /// The shelf as the rules have it: where the brief goes by the mean or by one nose,
    /// as that has it, else the palette's own.
    pub fn shelf(&self, own: Palette) -> Palette {
        match self.heed() {
            Heed::Worst => own,
            Heed::Mean => nose::mean(&own, &self.noses),
            Heed::One(at) => self.noses.get(at).map_or_else(|| own.clone(), |nose| nose.palette(&own)),
        }
    }
}

impl Brief {
    /// What is said of single descriptors at a stage: what the stage says goes before what
    /// the brief does, key by key.
    pub fn target_at(&self, stage: &Stage) -> Vec<TargetEntry> {
        let mut entries = self.target.clone();
        for own in &stage.target {
            match entries.iter_mut().find(|entry| entry.descriptor == own.descriptor) {
                Some(entry) => {
                    entry.score = own.score.or(entry.score);
                    entry.weight = own.weight.or(entry.weight);
                    entry.excess = own.excess.or(entry.excess);
                }
                None => entries.push(own.clone()),
            }
        }
        entries
    }
}

/// How a blend is compared with the target.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Match {
    /// At the target's own total: the balance of the character counts.
    #[default]
    Balance,
    /// By the strength-weighted mean of the scores.
    Level,
}

impl Match {
    /// Both of them.
    pub const ALL: [Match; 2] = [Match::Balance, Match::Level];

    /// The word that files, reports and options have for it.
    pub const fn word(self) -> &'static str {
        match self {
            Match::Balance => "balance",
            Match::Level => "level",
        }
    }
}

/// How odour adds up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Law {
    /// Shares go with strength times dose.
    #[default]
    Linear,
    /// Shares go with a power of that, see [`crate::evaluate::SECOND_EXPONENT`].
    Compressive,
}

impl Law {
    /// Both of them.
    pub const ALL: [Law; 2] = [Law::Linear, Law::Compressive];

    /// The word that files and reports have for it.
    pub const fn word(self) -> &'static str {
        match self {
            Law::Linear => "linear",
            Law::Compressive => "compressive",
        }
    }

    /// The other one.
    pub const fn other(self) -> Law {
        match self {
            Law::Linear => Law::Compressive,
            Law::Compressive => Law::Linear,
        }
    }
}

/// By which law a formula is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Laws {
    /// By the linear one.
    #[default]
    Linear,
    /// By the compressive one.
    Compressive,
    /// By both, of which the worse counts.
    Both,
}

impl Laws {
    /// All of them.
    pub const ALL: [Laws; 3] = [Laws::Linear, Laws::Compressive, Laws::Both];

    /// The word that files, reports and options have for it.
    pub const fn word(self) -> &'static str {
        match self {
            Laws::Linear => Law::Linear.word(),
            Laws::Compressive => Law::Compressive.word(),
            Laws::Both => "both",
        }
    }

    /// The laws that count.
    pub const fn each(self) -> &'static [Law] {
        match self {
            Laws::Linear => &[Law::Linear],
            Laws::Compressive => &[Law::Compressive],
            Laws::Both => &Law::ALL,
        }
    }
}

/// A known formula to stay near to.
#[derive(Clone, Debug)]
pub struct Near {
    /// Where the table stands.
    pub place: Place,
    /// The known formula.
    pub composition: Composition,
    /// What may move.
    pub by: MovedBy,
    /// Percent of it that may move.
    pub within: Option<Placed<f64>>,
    /// Percentage points of the match that may be given away to come nearer.
    pub give: Option<Placed<f64>>,
}

/// What is counted of how far a formula is from a known one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum MovedBy {
    /// Shares of the odour.
    #[default]
    Odour,
    /// Shares of the mass, odourless solvents left out.
    Parts,
}

impl MovedBy {
    /// Both of them.
    pub const ALL: [MovedBy; 2] = [MovedBy::Odour, MovedBy::Parts];

    /// The word that files and reports have for it.
    pub const fn word(self) -> &'static str {
        match self {
            MovedBy::Odour => "odour",
            MovedBy::Parts => "parts",
        }
    }
}

/// What the parts of a formula count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Basis {
    /// Neat material.
    #[default]
    Neat,
    /// What is poured from the usual bottle.
    Bottle,
}

impl Basis {
    /// The word that files and reports have for it.
    pub const fn word(self) -> &'static str {
        match self {
            Basis::Neat => "neat",
            Basis::Bottle => "bottle",
        }
    }
}

/// Where a target profile comes from.
#[derive(Clone, Debug)]
pub enum TargetFrom {
    /// A material's scores; it then stays out of the formula unless `[doses]` names it.
    Material(Placed<usize>),
    /// A formula's own profile: the strength-weighted mean of its scores.
    Formula(Placed<Formula>),
}

/// One finished product.
#[derive(Clone, Debug)]
pub struct Use {
    /// Its name; required where there are several.
    pub name: Option<String>,
    /// Where the table stands.
    pub place: Place,
    /// Labels as the limits files use them.
    pub categories: Vec<String>,
    /// Percent of concentrate in the finished product.
    pub dosage_percent: Option<f64>,
    /// Percent of the concentrate that is this accord.
    pub accord_share_percent: f64,
    /// Percent of the finished product that the rest of the concentrate already brings.
    pub reserve: Vec<(Cas, f64)>,
}

/// Whether a material may, must or must not be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Permission {
    /// It may.
    #[default]
    May,
    /// It must.
    Must,
    /// It must not.
    Never,
}

/// An entry of `[doses]`.
#[derive(Clone, Debug)]
pub struct DoseEntry {
    /// Index of the material in the palette.
    pub material: usize,
    /// Where the entry stands.
    pub place: Place,
    /// May, must or never; the place is that of the key `use`, or of the entry.
    pub permission: Placed<Permission>,
    /// Least dose if used at all.
    pub min: Option<Placed<Ppt>>,
    /// Greatest dose.
    pub max: Option<Placed<Ppt>>,
    /// Doses are whole multiples of this.
    pub step: Option<Placed<Ppt>>,
    /// Exactly this dose, above 0.
    pub fixed: Option<Placed<Ppt>>,
}

/// A bound on the sum of neat doses of some materials.
#[derive(Clone, Debug)]
pub struct Group {
    /// Its unique name.
    pub name: String,
    /// Where it stands.
    pub place: Place,
    /// Its members, each once, in the order of the palette.
    pub materials: Vec<usize>,
    /// Least sum, in ppt of neat material.
    pub min: Option<Placed<Ppt>>,
    /// Greatest sum, in ppt of neat material.
    pub max: Option<Placed<Ppt>>,
}

/// A bound on the quotient of two neat doses, read of <= max * to.
#[derive(Clone, Debug)]
pub struct Ratio {
    /// Where it stands.
    pub place: Place,
    /// The dose above the line.
    pub of: usize,
    /// The dose below the line.
    pub to: usize,
    /// of >= min * to.
    pub min: Option<Placed<f64>>,
    /// of <= max * to.
    pub max: Option<Placed<f64>>,
}
