//! What a brief, or a stage of it, says of one descriptor.

use crate::place::{Place, Placed};

/// What the brief says of one descriptor; `None` where the key is absent.
#[derive(Clone, Debug)]
pub struct TargetEntry {
    /// Index of the descriptor in the palette.
    pub descriptor: usize,
    /// Where it stands.
    pub place: Place,
    /// Wanted score.
    pub score: Option<f64>,
    /// Weight of the gap (default 1).
    pub weight: Option<f64>,
    /// Multiplies the weight where the blend has too much (default 1).
    pub excess: Option<f64>,
    /// Hard floor of the blend's profile, in points.
    pub min: Option<Placed<f64>>,
    /// Hard ceiling of the blend's profile, in points.
    pub max: Option<Placed<f64>>,
}
