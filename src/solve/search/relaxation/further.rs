//! The rows and columns of further views: their D, their gaps, and that each loses at most
//! what the objective says. `views` has what they mean.

use super::build::{Columns, Entries, Scale};
use super::rows::OfView;
use super::span::{Span, Spans};
use super::{Rows, ViewColumns, greatest_score};
use crate::model::{Blend, BlendView, CapColumn};
use crate::problem::Target;
use crate::tolerance::search::WIDER;

/// A further view with what its own D can be, and its rows.
struct Further<'a> {
    view: &'a BlendView,
    span: Span,
    rows: &'a OfView,
}

impl Scale {
    /// Adds what each material has in the rows of further views.
    pub(super) fn add_views(&self, blend: &Blend, spans: &Spans, rows: &Rows, into: &mut [Entries]) {
        Further::all(blend, spans, rows).iter().for_each(|view| view.add(self, into));
    }
}

impl Columns {
    /// What the worst view passes the first by, and for each further view its D, its gaps
    /// and what it lies below the worst. None where there is one view.
    pub(super) fn views(
        &mut self,
        blend: &Blend,
        spans: &Spans,
        rows: &Rows,
        lambda: f64,
        d_ref: f64,
    ) -> Vec<ViewColumns> {
        let further = Further::all(blend, spans, rows);
        if further.is_empty() {
            return Vec::new();
        }
        // `N` is at most the weighted gaps, and `N - lambda D` no less than `- lambda D`.
        let numerator = |targets: &[Target], d_most: f64, greatest: &dyn Fn(usize) -> f64| -> f64 {
            let of = |(index, target): (usize, &Target)| {
                let excess = (greatest(index) - target.score).max(0.0);
                target.weight * (target.excess * excess).max(target.score) * d_most
            };
            targets.iter().enumerate().map(of).sum()
        };
        let own = |index: usize| greatest_score(blend.columns.iter().map(|it| (it.weight, &it.odours[..])), index);
        let d_most = spans.first.most / d_ref;
        let most = further.iter().map(|of| numerator(&of.view.targets, of.d_most(), &|index| of.greatest(index)));
        let most = most.fold(numerator(&blend.targets, d_most, &own), f64::max);
        let wide = |least: f64| (most + lambda * least) * (1.0 + WIDER);
        self.push(1.0, further.iter().map(|of| (of.rows.worst, -1.0)).collect(), 0.0, wide(d_most));
        further.iter().map(|of| self.further(of, wide(of.d_most()))).collect()
    }

    /// One further view; it lies below the worst by at most `wide`.
    fn further(&mut self, of: &Further, wide: f64) -> ViewColumns {
        let &Further { view, span, rows } = of;
        let (typical, d_most) = (span.typical(), of.d_most());
        let mut entries = vec![(rows.d, -1.0)];
        let scored = view.targets.iter().enumerate().filter(|(_, target)| target.score != 0.0);
        entries.extend(scored.map(|(index, target)| (rows.targets.start + index, -target.score)));
        entries.push((rows.worst, 0.0));
        let d = self.push_all(entries, span.least / typical, span.most / typical);
        self.push_basic(rows.d, 0.0);
        let first = self.lp.columns();
        let ends: Vec<(f64, f64)> = view.targets.iter().map(|it| (it.weight * it.excess, it.weight)).collect();
        for (index, (target, &(above, below))) in view.targets.iter().zip(&ends).enumerate() {
            let row = rows.targets.start + index;
            let excess = (of.greatest(index) - target.score).max(0.0) * d_most;
            self.push(0.0, vec![(row, -1.0), (rows.worst, above)], 0.0, excess * (1.0 + WIDER));
            self.push(0.0, vec![(row, 1.0), (rows.worst, below)], 0.0, target.score * d_most * (1.0 + WIDER));
        }
        let gaps = first..self.lp.columns();
        for row in rows.targets.clone() {
            self.push_basic(row, 0.0);
        }
        self.push_basic(rows.worst, wide);
        ViewColumns { d, gaps, typical, ends }
    }
}

impl<'a> Further<'a> {
    /// Those of a blend.
    fn all(blend: &'a Blend, spans: &Spans, rows: &'a Rows) -> Vec<Further<'a>> {
        let views = blend.views.iter().zip(&spans.views).zip(&rows.views);
        views.map(|((view, &span), rows)| Further { view, span, rows }).collect()
    }

    /// The greatest D in units of its column.
    fn d_most(&self) -> f64 {
        self.span.most / self.span.typical()
    }

    /// The greatest score of a target that a column alone has.
    fn greatest(&self, target: usize) -> f64 {
        greatest_score(self.view.columns.iter().map(|it| (it.weight, &it.odours[..])), target)
    }

    /// Adds what each material has in the rows of the view.
    fn add(&self, scale: &Scale, into: &mut [Entries]) {
        let typical = self.span.typical();
        for (k, CapColumn { weight, odours }) in self.view.columns.iter().enumerate() {
            let unit = scale.ppt[k] / typical;
            if *weight > 0.0 {
                into[k].push((self.rows.d, weight * unit));
            }
            into[k].extend(odours.iter().map(|&(target, odour)| (self.rows.targets.start + target, odour * unit)));
        }
    }
}
