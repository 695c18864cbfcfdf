//! Building the relaxation of a blend, step by step: the scale of each
//! material's columns, the entries of those columns row by row, then every
//! column of the programme in its order.

use super::super::lp::BoxedLp;
use super::super::remainder::Remainder;
use super::span::{Span, Spans, cap_span};
use super::{Capped, Count, Empty, Kept, Reach, Relaxation, Rows, greatest_loss, greatest_score};
use crate::model::{Blend, LossCap, Role};
use crate::tolerance::search::{ROW_ROOM, WIDER};
use crate::units::Ppt;

/// (row, value) of a column.
pub(super) type Entries = Vec<(usize, f64)>;

/// The relaxation of a blend for the spans of its D. One that its rules leave empty is
/// built only where `even_empty`.
pub(super) fn build(blend: &Blend, spans: &Spans, even_empty: bool) -> Result<Relaxation, Empty> {
    let span = spans.first;
    let remainders = Remainder::all(blend);
    let caps: Vec<Cap> = blend
        .caps
        .iter()
        .enumerate()
        .map(|(index, cap)| Cap { index, cap, span: cap_span(blend, cap, span) })
        .collect();
    let rows = Rows::new(blend, remainders.len());
    let scale = Scale::new(blend, spans, &caps);

    let mut of_materials = odour_entries(blend, &rows, &scale);
    let slacks = add_rules(blend, &rows, &scale, &mut of_materials);
    if slacks.iter().any(Slack::is_short) && !even_empty {
        return Err(Empty);
    }
    let units_ppt = add_remainders(&remainders, &rows, &scale, &mut of_materials);
    caps.iter().for_each(|cap| cap.add(&rows, &scale, &mut of_materials));
    scale.add_views(blend, spans, &rows, &mut of_materials);
    let counts_of = counts_of(blend);

    let mut columns = Columns::new(&rows);
    columns.materials(of_materials, &counts_of, &rows, &scale);
    let d = columns.d(blend, span, &rows, &scale);
    let gaps = columns.gaps(blend, span, &rows, &scale);
    columns.slacks(&slacks, &rows);
    let counts = columns.counts(blend, &rows);
    let remainders = columns.remainders(remainders, &units_ppt, &rows);
    let caps = caps.iter().map(|cap| columns.cap(cap, &rows)).collect();
    let least = spans.views.iter().map(|span| span.least / span.typical()).fold(f64::INFINITY, f64::min);
    let reach = Reach { least, lambda: greatest_loss(blend) };
    let views = columns.views(blend, spans, &rows, reach.lambda, scale.d_ref);
    let Columns { lp, lower, upper, basis } = columns;
    Ok(Relaxation {
        lp,
        rows,
        n: blend.columns.len(),
        scale_ppt: scale.ppt,
        most: scale.most,
        share: scale.share,
        gaps,
        d,
        d_ref: scale.d_ref,
        counts,
        counts_of: counts_of.into(),
        row_sizes: slacks.into_iter().map(|slack| slack.size).collect(),
        remainders,
        caps,
        views,
        reach,
        in_rows: 0.0,
        lower,
        upper,
        basis,
    })
}

/// A cap of a blend, by its place, with what its own D can be.
struct Cap<'a> {
    index: usize,
    cap: &'a LossCap,
    span: Span,
}

/// What one unit of each material's columns is.
pub(super) struct Scale {
    /// Its ppt.
    pub ppt: Vec<f64>,
    /// The greatest dose in such units.
    most: Vec<f64>,
    /// The units of D that it adds.
    share: Vec<f64>,
    /// D in model units of one unit of its column.
    d_ref: f64,
}

impl Scale {
    fn new(blend: &Blend, spans: &Spans, caps: &[Cap]) -> Scale {
        let objective = caps.iter().rev().find(|cap| cap.cap.rule.is_none());
        let d_ref = spans.first.middle();
        // What one part adds to some view is seen in it.
        let finest = |k: usize, ppt: f64| {
            let further = blend.views.iter().zip(&spans.views).filter(|(view, _)| view.columns[k].weight > 0.0);
            further.map(|(view, &span)| span.typical() / view.columns[k].weight).fold(ppt, f64::min)
        };
        let mut scale = Scale { ppt: Vec::new(), most: Vec::new(), share: Vec::new(), d_ref };
        for (k, column) in blend.columns.iter().enumerate() {
            // What an objective of before looks at needs the finer scale.
            let (weight, typical) = match objective {
                Some(Cap { cap, span, .. }) => (cap.columns[k].weight, span.middle()),
                None => (column.weight, d_ref),
            };
            let ppt = match weight {
                // All of it or nothing, however little that is.
                _ if column.role == Role::Stays && column.most > Ppt::ZERO => column.most.as_f64(),
                weight if weight > 0.0 => finest(k, (typical / weight).min(1000.0)),
                _ => finest(k, 1000.0),
            };
            scale.ppt.push(ppt);
            scale.most.push(column.most.as_f64() / ppt);
            scale.share.push(column.weight * ppt / d_ref);
        }
        scale
    }
}

/// For each material, the count rules that it falls under.
fn counts_of(blend: &Blend) -> Vec<Vec<usize>> {
    let mut counts_of = vec![Vec::new(); blend.columns.len()];
    for (index, count) in blend.counts.iter().enumerate() {
        count.columns.iter().for_each(|&column| counts_of[column].push(index));
    }
    counts_of
}

/// What each material adds to D, to the sum of 1000 and to the targets.
fn odour_entries(blend: &Blend, rows: &Rows, scale: &Scale) -> Vec<Entries> {
    let of = |(k, column): (usize, &crate::model::BlendColumn)| {
        let ppt = scale.ppt[k];
        let mut of = vec![(Rows::D, column.weight * ppt / scale.d_ref), (Rows::SUM, ppt / 1000.0)];
        of.extend(column.odours.iter().map(|&(target, odour)| (rows.target(target), odour * ppt / scale.d_ref)));
        of
    };
    blend.columns.iter().enumerate().map(of).collect()
}

/// The row of a linear rule, scaled.
struct Slack {
    /// What the rule was divided by: its largest scaled coefficient.
    size: f64,
    /// Its right-hand side, divided.
    upper: f64,
    /// How far the least that the doses come to lies below it; negative where
    /// none keeps the rule.
    room: f64,
}

impl Slack {
    /// Whether no dose keeps the rule, rounding aside.
    fn is_short(&self) -> bool {
        self.room < -ROW_ROOM * (1.0 + self.upper.abs())
    }
}

/// Adds what each material has in the linear rules.
fn add_rules(blend: &Blend, rows: &Rows, scale: &Scale, into: &mut [Entries]) -> Vec<Slack> {
    let mut slacks = Vec::with_capacity(blend.rows.len());
    for (index, row) in blend.rows.iter().enumerate() {
        let scaled = || row.coefficients.iter().map(|&(column, a)| (column, a * scale.ppt[column]));
        let size = scaled().map(|(_, a)| a.abs()).fold(0.0, f64::max);
        let size = if size > 0.0 { size } else { row.upper.abs().max(1.0) };
        let mut least_activity = 0.0;
        for (column, a) in scaled() {
            into[column].push((rows.rule(index), a / size));
            let dose = |ppt: Ppt| ppt.as_f64() / scale.ppt[column];
            let must_have = if blend.columns[column].must { dose(blend.columns[column].least) } else { 0.0 };
            least_activity += a / size * if a < 0.0 { dose(blend.columns[column].most) } else { must_have };
        }
        let upper = row.upper / size;
        slacks.push(Slack { size, upper, room: upper - least_activity });
    }
    slacks
}

/// Adds what each material has in the remainders; returns the ppt of one unit of
/// each remainder's column.
fn add_remainders(remainders: &[Remainder], rows: &Rows, scale: &Scale, into: &mut [Entries]) -> Vec<f64> {
    let mut units_ppt = Vec::with_capacity(remainders.len());
    for (index, remainder) in remainders.iter().enumerate() {
        let unit_ppt = remainder.fine.iter().map(|&k| scale.ppt[k]).fold(0.0, f64::max);
        for &k in &remainder.fine {
            into[k].push((rows.remainder(index), scale.ppt[k] / unit_ppt));
        }
        units_ppt.push(unit_ppt);
    }
    units_ppt
}

impl Cap<'_> {
    /// Adds what each material has in the rows of the cap.
    fn add(&self, rows: &Rows, scale: &Scale, into: &mut [Entries]) {
        let &Cap { index, cap, span } = self;
        let typical = span.middle();
        for (k, column) in cap.columns.iter().enumerate() {
            let unit = scale.ppt[k] / typical;
            let mut per_unit: Vec<f64> =
                cap.targets.iter().map(|target| -target.score * column.weight * unit).collect();
            column.odours.iter().for_each(|&(target, odour)| per_unit[target] += odour * unit);
            let nonzero = per_unit.into_iter().enumerate().filter(|(_, a)| *a != 0.0);
            into[k].extend(nonzero.map(|(target, a)| (rows.cap_target(index, target), a)));
            if column.weight > 0.0 && cap.most > 0.0 {
                into[k].push((rows.cap_sum(index), -cap.most * column.weight * unit));
            }
        }
    }
}

/// The columns of the programme as they are added, each with its box.
pub(super) struct Columns {
    pub lp: BoxedLp,
    lower: Vec<f64>,
    upper: Vec<f64>,
    /// A unit column for each row, once all are there.
    basis: Vec<usize>,
}

impl Columns {
    fn new(rows: &Rows) -> Columns {
        let total = rows.total();
        Columns { lp: BoxedLp::new(total), lower: Vec::new(), upper: Vec::new(), basis: vec![usize::MAX; total] }
    }

    pub(super) fn push(&mut self, cost: f64, entries: Entries, lower: f64, upper: f64) -> usize {
        self.lower.push(lower);
        self.upper.push(upper);
        self.lp.push(cost, entries)
    }

    /// A column without cost that keeps entries of 0.
    pub(super) fn push_all(&mut self, entries: Entries, lower: f64, upper: f64) -> usize {
        self.lower.push(lower);
        self.upper.push(upper);
        self.lp.push_all(0.0, entries)
    }

    /// A unit column without cost, with which the basis of its row begins.
    pub(super) fn push_basic(&mut self, row: usize, upper: f64) -> usize {
        self.basis[row] = self.push(0.0, vec![(row, 1.0)], 0.0, upper);
        self.basis[row]
    }

    /// Two columns for each material, all undecided ones first. None has a box
    /// yet: a node gives them theirs.
    fn materials(&mut self, entries: Vec<Entries>, counts_of: &[Vec<usize>], rows: &Rows, scale: &Scale) {
        for (k, &most) in scale.most.iter().enumerate() {
            let mut undecided = entries[k].clone();
            if most > 0.0 {
                undecided.extend(counts_of[k].iter().map(|&count| (rows.count(count), 1.0 / most)));
            }
            self.push(0.0, undecided, 0.0, 0.0);
        }
        for of in entries {
            self.push(0.0, of, 0.0, 0.0);
        }
    }

    /// The column D, and the start of the rows without a unit column of their
    /// own: held at 0.
    fn d(&mut self, blend: &Blend, span: Span, rows: &Rows, scale: &Scale) -> usize {
        let mut entries = vec![(Rows::D, -1.0)];
        entries.extend(blend.targets.iter().enumerate().map(|(i, target)| (rows.target(i), -target.score)));
        entries.retain(|(_, value)| *value != 0.0);
        // Where the loss will stand.
        entries.extend(rows.views.iter().map(|view| (view.worst, 0.0)));
        let d = self.push_all(entries, span.least / scale.d_ref, span.most / scale.d_ref);
        // D is no unit column: its row starts with a column held at 0.
        self.push_basic(Rows::D, 0.0);
        self.push_basic(Rows::SUM, 0.0);
        self.lp.rhs[Rows::SUM] = 1.0;
        d
    }

    /// Two columns for each target: what it is passed by and missed by.
    fn gaps(&mut self, blend: &Blend, span: Span, rows: &Rows, scale: &Scale) -> std::ops::Range<usize> {
        let first = self.lp.columns();
        let d_most = span.most / scale.d_ref;
        for (index, target) in blend.targets.iter().enumerate() {
            // No blend passes the greatest score of a single column, and none
            // falls short by more than the target.
            let of_columns = blend.columns.iter().map(|column| (column.weight, &column.odours[..]));
            let excess = (greatest_score(of_columns, index) - target.score).max(0.0) * d_most;
            let (above, below) = (target.weight * target.excess, target.weight);
            let row = rows.target(index);
            // What the first view loses, further ones may lose too.
            let with = |side: f64, weight: f64| -> Entries {
                [(row, side)].into_iter().chain(rows.views.iter().map(|view| (view.worst, -weight))).collect()
            };
            self.basis[row] = self.push(above, with(-1.0, above), 0.0, excess * (1.0 + WIDER));
            self.push(below, with(1.0, below), 0.0, target.score * d_most * (1.0 + WIDER));
        }
        let gaps = first..self.lp.columns();
        if !rows.views.is_empty() {
            // A gap then stands in several rows.
            for row in rows.targets.clone() {
                self.push_basic(row, 0.0);
            }
        }
        gaps
    }

    /// The slack of each linear rule.
    fn slacks(&mut self, slacks: &[Slack], rows: &Rows) {
        for (index, slack) in slacks.iter().enumerate() {
            let row = rows.rule(index);
            self.push_basic(row, slack.room.max(0.0));
            self.lp.rhs[row] = slack.upper;
        }
    }

    /// The slack of each count rule, and the column that holds how many of its
    /// materials are in.
    fn counts(&mut self, blend: &Blend, rows: &Rows) -> Vec<Count> {
        let of = |(index, count): (usize, &crate::model::BlendCount)| {
            let (row, most) = (rows.count(index), count.most);
            let slack = self.push_basic(row, most as f64);
            let used = self.push(0.0, vec![(row, 1.0)], 0.0, 0.0);
            self.lp.rhs[row] = most as f64;
            Count { row, used, slack, most, members: count.columns.clone() }
        };
        blend.counts.iter().enumerate().map(of).collect()
    }

    /// The sum of each remainder.
    fn remainders(&mut self, remainders: Vec<Remainder>, units_ppt: &[f64], rows: &Rows) -> Vec<Kept> {
        let of = |(index, remainder): (usize, Remainder)| {
            let (row, unit_ppt) = (rows.remainder(index), units_ppt[index]);
            let column = self.push(0.0, vec![(row, -1.0)], 0.0, remainder.most.as_f64() / unit_ppt);
            self.basis[row] = column;
            Kept { remainder, column, unit_ppt }
        };
        remainders.into_iter().enumerate().map(of).collect()
    }

    /// The gaps of a cap's targets, and what their sum leaves of the cap.
    fn cap(&mut self, &Cap { index: of, cap, span }: &Cap, rows: &Rows) -> Capped {
        let (first, sum) = (self.lp.columns(), rows.cap_sum(of));
        let (typical, d_most) = (span.middle(), (span.most / span.least).sqrt());
        for (index, target) in cap.targets.iter().enumerate() {
            let row = rows.cap_target(of, index);
            let of_columns = cap.columns.iter().map(|column| (column.weight, &column.odours[..]));
            let excess = (greatest_score(of_columns, index) - target.score).max(0.0) * d_most;
            let above = vec![(row, -1.0), (sum, target.weight * target.excess)];
            self.push(0.0, above, 0.0, excess * (1.0 + WIDER));
            let below = vec![(row, 1.0), (sum, target.weight)];
            self.push(0.0, below, 0.0, target.score * d_most * (1.0 + WIDER));
            // A gap stands in two rows: its own begins with a column held
            // at 0.
            self.push_basic(row, 0.0);
        }
        let gaps = first..self.lp.columns();
        let room = cap.room / typical;
        self.lp.rhs[sum] = room;
        self.push_basic(sum, cap.most * d_most + room);
        Capped {
            gaps,
            typical,
            ends: cap.targets.iter().map(|target| (target.weight * target.excess, target.weight)).collect(),
        }
    }
}
