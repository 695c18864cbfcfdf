//! The views of the laws by which odours may add up: each view of a brief is judged by one
//! of them, or once by each.

use std::sync::Arc;

use super::{Problem, View};
use crate::brief::{Law, Laws};

impl Problem {
    /// Each of some views once for every law that counts.
    pub(super) fn views_by(laws: Laws, views: Vec<View>) -> Vec<View> {
        let by = |view: View| laws.each().iter().map(move |&law| View { law, ..view.clone() });
        views.into_iter().flat_map(by).collect()
    }

    /// The same problem judged by other laws, whatever it was judged by.
    pub fn by_laws(&self, laws: Laws) -> Problem {
        let first = self.views.first().map_or(Law::Linear, |view| view.law);
        let once = self.views.iter().filter(|view| view.law == first).cloned().collect();
        let paper = self.paper.as_ref().map(|paper| Arc::new(paper.by_laws(laws)));
        Problem { views: Problem::views_by(laws, once), paper, ..self.clone() }
    }

    /// The laws that its views follow, in words.
    pub fn laws_in_words(&self) -> &'static str {
        let follows = |law: Law| self.views.iter().any(|view| view.law == law);
        match (follows(Law::Linear), follows(Law::Compressive)) {
            (true, true) => "both laws",
            (false, true) => "the compressive law",
            (_, false) => "the linear law",
        }
    }
}
