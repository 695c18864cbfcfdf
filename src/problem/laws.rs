//! The views of the laws by which odours may add up: each view of a brief is judged by one
//! of them, or once by each.

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
        Problem { views: Problem::views_by(laws, once), ..self.clone() }
    }
}
