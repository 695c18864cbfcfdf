//! The views of several noses: each judges a formula by its own scores and strengths.

use std::sync::Arc;

use super::resolve::wanted_scores;
use super::{Problem, View};
use crate::brief::Brief;
use crate::nose::Heed;

impl Problem {
    /// A view for every nose where the worst of several counts, else the brief's own
    /// alone. A target that is taken from a material or a formula is what each nose
    /// makes of that.
    pub(super) fn views_of_noses(&self, brief: &Brief) -> Vec<View> {
        let own = self.own_view();
        if brief.heed() != Heed::Worst || brief.noses.is_empty() {
            return vec![own];
        }
        let view = |(at, nose): (usize, &crate::nose::Nose)| {
            let name = Arc::clone(&nose.name);
            if at == 0 {
                // The palette's own.
                return View { name, nose: Some(0), ..own.clone() };
            }
            let palette = Arc::new(nose.palette(&self.palette));
            let mut as_smelled = Problem { palette, targets: Vec::new(), ..self.clone() };
            let wanted = wanted_scores(&as_smelled, brief.target_from.as_ref());
            as_smelled.resolve_targets(brief, &wanted);
            View { name, nose: Some(at), ..as_smelled.own_view() }
        };
        brief.noses.iter().enumerate().map(view).collect()
    }
}
