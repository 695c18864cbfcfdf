//! Answers as data: one report type for each command, made from what the
//! analysis found.
//!
//! It serialises to the JSON of that command, and text, pages and tables are made
//! from the same fields, so that no format can say what another does not know.

pub mod adjust;
pub mod broken;
pub mod buy;
pub mod care;
pub mod check;
pub mod compare;
pub mod compositions;
pub mod course;
pub mod coverage;
pub mod doubt;
pub mod finding;
mod formula;
mod head;
pub mod identity;
pub mod idle;
pub mod journal;
pub mod learn;
pub mod learn_lasting;
pub mod learn_slips;
pub mod leeway;
pub mod limits;
mod most;
pub mod near;
pub mod next;
pub mod next_law;
pub mod noses;
mod offered;
mod ordered;
mod parts;
pub mod product;
pub mod propose;
mod purchase;
pub mod push;
mod reasons;
pub mod replace;
pub mod shelf;
pub mod stages;
pub mod starts;
pub mod states;
pub mod steady;
pub mod strengths;
pub mod strip;
pub mod sure;
pub mod taught;
pub mod teaching;
pub mod tradeoff;
mod usual;
pub mod verify;
mod views;
pub mod weigh;
pub mod worth;

pub use care::{Care, Caution, cautions};
pub use coverage::{CoverageReport, WithoutFigure};
pub use formula::{FormulaReport, PartLine, ProfileLine};
pub use head::{Head, on_scale};
pub use idle::{IdleReport, WayOutLine};
pub use limits::{AdviceLine, JointLine, LimitLine};
pub use near::{LackingLine, NearReport};
pub use offered::Offered;
pub use ordered::Ordered;
pub use parts::FormulaParts;
pub use purchase::{Item, PackLine, PurchaseReport};
pub use reasons::{ChangeLine, ConflictLine, ReasonsReport, RepairLine};
pub use sure::RangeLine;
pub use usual::UsualLine;
pub use views::{ViewLine, ViewsReport};
pub use worth::{Around, BindingLine, WithoutLine};
