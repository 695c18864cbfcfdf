//! Naturals whose composition is known and which were smelled, beside a palette.

use super::smelled::Smelled;
use crate::analysis::learn::odds;
use crate::brief::Match;
use crate::results::compositions::CompositionLine;

/// What the palette makes of each of them; nothing where the trials are of what was
/// mixed alone.
pub fn beside(read: &Smelled, matching: Match) -> Vec<CompositionLine> {
    let found = odds(&read.palette, &read.trials, &read.neat_ppt, matching);
    CompositionLine::all(&read.palette, &read.trials, &found)
}
