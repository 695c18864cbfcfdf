//! Bounds on D, the strength of a blend's odour in model units.

use super::super::lp::SafeBound;
use super::super::simplex::{Ended, Scratch};
use super::{Empty, Relaxation, ViewColumns};
use crate::model::{Blend, BlendView, CapColumn, LossCap};
use crate::problem::Target;
use crate::tolerance::search::{FAINT, WIDER};
use crate::units::Ppt;

/// Least and greatest D inside the rules, in model units.
#[derive(Clone, Copy, Debug)]
pub struct Span {
    /// A lower bound on D.
    pub least: f64,
    /// An upper bound on D.
    pub most: f64,
}

impl Span {
    /// The geometric mean of both: a typical D.
    pub fn middle(self) -> f64 {
        (self.least * self.most).sqrt()
    }

    /// What the D of a further view is measured in.
    pub fn typical(self) -> f64 {
        self.middle().max(self.most * FAINT)
    }
}

/// What is known of each D.
#[derive(Clone, Debug)]
pub struct Spans {
    /// That of the first view.
    pub first: Span,
    /// Those of the further ones.
    pub views: Vec<Span>,
}

impl Spans {
    /// From the doses alone; `None` where no formula has an odour, in some view.
    pub(super) fn crude(blend: &Blend) -> Option<Spans> {
        let first = crude_span(blend)?;
        let of =
            |view: &BlendView| Some(beside(span_of(blend, |k| view.columns[k].weight)?, blend, &view.columns, first));
        Some(Spans { views: blend.views.iter().map(of).collect::<Option<_>>()?, first })
    }
}

impl Relaxation {
    /// Solves for the least and the greatest of each D over boxes from 0 to the
    /// greatest dose (all columns undecided).
    pub(super) fn tighten_spans(mut self, crude: &Spans, scratch: &mut Scratch) -> Result<Spans, Empty> {
        let first = self.tighten_span(self.d, self.d_ref, crude.first, scratch)?;
        let mut views = Vec::with_capacity(crude.views.len());
        for (index, &span) in crude.views.iter().enumerate() {
            let ViewColumns { d, typical, .. } = self.views[index];
            views.push(self.tighten_span(d, typical, span, scratch)?);
        }
        Ok(Spans { first, views })
    }

    /// The same for one D, by its column and what a unit of it is.
    fn tighten_span(&mut self, d: usize, unit: f64, crude: Span, scratch: &mut Scratch) -> Result<Span, Empty> {
        self.lp.cost.fill(0.0);
        let mut span = crude;
        let mut bound = SafeBound::default();
        for sign in [1.0, -1.0] {
            self.lp.cost[d] = sign;
            let Some(mut state) = self.start() else { continue };
            let all: Vec<(usize, f64, f64)> = (0..self.n).map(|k| (k, 0.0, self.most[k])).collect();
            state.change_bounds(&self.lp, &all, scratch);
            match state.run(&self.lp, f64::INFINITY, 2000 + 20 * self.lp.rows, scratch) {
                Ended::Infeasible(row) if self.lp.proves_infeasible(state.inverse_row(row), state.boxes()) => {
                    return Err(Empty);
                }
                Ended::Trouble => continue,
                _ => {}
            }
            self.lp.safe_bound(&state.multipliers, state.boxes(), &mut bound);
            let value = sign * bound.value * unit;
            if sign > 0.0 {
                span.least = span.least.max(value);
            } else {
                span.most = span.most.min(value);
            }
        }
        // Equal up to rounding (a single formula): keep a thin interval.
        if span.least > span.most {
            let middle = span.least.midpoint(span.most);
            span = Span { least: middle * (1.0 - WIDER), most: middle * (1.0 + WIDER) };
        }
        Ok(span)
    }
}

/// The greatest value of a target's profile that a column alone has, of columns
/// by what one ppt adds to `D` and to each `P`.
pub fn greatest_score<'a>(columns: impl Iterator<Item = (f64, &'a [(usize, f64)])>, target: usize) -> f64 {
    let scores = columns.filter(|(weight, _)| *weight > 0.0).map(|(weight, odours)| {
        odours.iter().find(|(index, _)| *index == target).map_or(0.0, |(_, odour)| odour / weight)
    });
    scores.fold(0.0, f64::max)
}

/// The greatest loss that any blend can have in any view, a little more.
pub fn greatest_loss(blend: &Blend) -> f64 {
    let of = |targets: &[Target], columns: &dyn Fn(usize) -> f64| {
        let worst = |(index, target): (usize, &Target)| {
            target.weight * ((columns(index) - target.score) * target.excess).max(target.score)
        };
        targets.iter().enumerate().map(worst).sum::<f64>() * 1.01 + 1e-3
    };
    let own = |index: usize| greatest_score(blend.columns.iter().map(|it| (it.weight, &it.odours[..])), index);
    let further = blend.views.iter().map(|view| {
        of(&view.targets, &|index| greatest_score(view.columns.iter().map(|it| (it.weight, &it.odours[..])), index))
    });
    further.fold(of(&blend.targets, &own), f64::max)
}

/// Bounds on D from the doses alone: fill 1000 parts with the weakest and
/// with the strongest columns. `None` where no formula has an odour.
pub(super) fn crude_span(blend: &Blend) -> Option<Span> {
    span_of(blend, |k| blend.columns[k].weight)
}

/// The same for the D of a cap, where that of the blend is known. A cap of which no
/// column has an odour says nothing.
pub(super) fn cap_span(blend: &Blend, cap: &LossCap, of_blend: Span) -> Span {
    let Some(crude) = span_of(blend, |k| cap.columns[k].weight) else { return Span { least: 1.0, most: 1.0 } };
    if cap.rule.is_none() { crude } else { beside(crude, blend, &cap.columns, of_blend) }
}

/// What is known of a D beside that of the blend: each column brings so many times as
/// much to the one as to the other.
fn beside(crude: Span, blend: &Blend, columns: &[CapColumn], of_blend: Span) -> Span {
    let both = blend.columns.iter().zip(columns).filter(|(column, _)| column.most > Ppt::ZERO);
    let times = both.map(|(column, own)| (column.weight, own.weight)).filter(|(of_d, own)| of_d + own > 0.0);
    let times = times.map(|(of_d, own)| own / of_d);
    let (least, most) =
        times.fold((f64::INFINITY, 0.0_f64), |(least, most), times| (least.min(times), most.max(times)));
    let least = crude.least.max(least * of_blend.least * (1.0 - WIDER));
    let most = crude.most.min(most * of_blend.most * (1.0 + WIDER));
    // Equal up to rounding they leave a thin interval.
    Span { least: least.min(most), most: most.max(least) }
}

fn span_of(blend: &Blend, weight: impl Fn(usize) -> f64) -> Option<Span> {
    let mut by_weight: Vec<(f64, f64)> =
        blend.columns.iter().enumerate().map(|(k, column)| (weight(k), column.most.as_f64())).collect();
    by_weight.sort_by(|x, y| x.0.total_cmp(&y.0));
    let fill = |columns: &mut dyn Iterator<Item = &(f64, f64)>| {
        let (mut left, mut d) = (1000.0, 0.0);
        for (weight, most) in columns {
            let dose = most.min(left);
            d += weight * dose;
            left -= dose;
        }
        d
    };
    let most = fill(&mut by_weight.iter().rev());
    // Something with an odour is in every formula, at its least dose.
    let scented = blend.columns.iter().enumerate().filter(|(k, column)| weight(*k) > 0.0 && column.most > Ppt::ZERO);
    let least_one =
        scented.map(|(k, column)| weight(k) * column.least.max(Ppt::LEAST).as_f64()).min_by(f64::total_cmp)?;
    let least = fill(&mut by_weight.iter()).max(least_one);
    Some(Span { least: least.min(most) * (1.0 - WIDER), most: most * (1.0 + WIDER) })
}
