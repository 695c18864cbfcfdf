//! Checking a certificate, in plain arithmetic that knows how far rounding may
//! have put it off. Nothing here searches, and nothing is shared with what
//! does.

use super::state::{Doses, Part, above, step_of};
use super::{BoundOnD, Certificate, Claim, Entry, Multipliers, Said};
use crate::model::Blend;
use crate::units::Ppt;

/// Why a certificate proves nothing.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Fault {
    /// It is about other materials.
    #[error("it is about other materials, or the same in another order")]
    OtherColumns,
    /// An index lies beyond what the brief has.
    #[error("line {0} of its tree speaks of something that the brief does not have")]
    Unknown(usize),
    /// A remainder has columns on other steps.
    #[error("remainder {0} leaves out a material that does not keep its step")]
    Remainder(usize),
    /// A bound on D is not proven.
    #[error("its multipliers do not prove the {0} D")]
    D(&'static str),
    /// Multipliers do not prove what they should.
    #[error("the multipliers in line {0} of its tree do not prove what they should")]
    Multipliers(usize),
    /// A part that is called empty is not.
    #[error("line {0} of its tree calls a part empty that is not")]
    NotEmpty(usize),
    /// The two sides of a split leave something out.
    #[error("the sides of the split in line {0} of its tree leave something out")]
    Gap(usize),
    /// The tree ends early, or goes on after its end.
    #[error("its tree is not complete")]
    Incomplete,
}

/// Checks that a certificate proves its claim of a blend with these column
/// names. Returns the number of parts that were closed.
///
/// # Errors
/// The first [`Fault`].
pub fn check(certificate: &Certificate, blend: &Blend, names: &[String]) -> Result<usize, Fault> {
    if certificate.columns != names {
        return Err(Fault::OtherColumns);
    }
    let checker = Checker { blend, certificate, rules: by_column(blend), counts: counts_of(blend) };
    checker.check_remainders()?;
    let mut whole = Part::whole(blend, &certificate.remainders);
    whole.d = checker.span(&whole)?;
    let mut open = vec![whole];
    let mut closed = 0;
    for (index, entry) in certificate.entries.iter().enumerate() {
        let line = index + 1;
        let mut part = open.pop().ok_or(Fault::Incomplete)?;
        checker.check_indices(entry).ok_or(Fault::Unknown(line))?;
        let is_left = part.close_counts(blend);
        match entry {
            Entry::Empty => {
                if is_left && !part.has_no_sum(blend) && part.may_smell(blend) {
                    return Err(Fault::NotEmpty(line));
                }
                closed += 1;
            }
            Entry::Closed(by) => {
                if is_left && !checker.reading(&part, by).proves(by) {
                    return Err(Fault::Multipliers(line));
                }
                closed += 1;
            }
            Entry::Narrowed(by, changes) => {
                let reading = checker.reading(&part, by);
                let before = part.clone();
                for &(k, said) in changes {
                    let left_out = before.doses[k].left_out(said, step_of(&blend.columns[k]));
                    if left_out.is_some_and(|doses| !checker.with(&reading, &before, k, doses).proves(by)) {
                        return Err(Fault::Multipliers(line));
                    }
                    part.apply(blend, (k, said));
                }
                open.push(part);
            }
            Entry::OnGrid(changes) => {
                let before = part.clone();
                for &(k, said) in changes {
                    let (step, rest) = before.rest(blend, Some(k));
                    let left_out = before.doses[k].left_out(said, step_of(&blend.columns[k]));
                    if left_out.is_some_and(|doses| !before.takes_none(blend, k, doses, step, rest)) {
                        return Err(Fault::Multipliers(line));
                    }
                    part.apply(blend, (k, said));
                }
                open.push(part);
            }
            &Entry::Split(k, less, more) => {
                let step = step_of(&blend.columns[k]);
                let left = part.doses[k].left_out(less, step).and_then(|doses| doses.left_out(more, step));
                if left.is_some() {
                    return Err(Fault::Gap(line));
                }
                let mut other = part.clone();
                part.apply(blend, (k, less));
                other.apply(blend, (k, more));
                open.extend([other, part]);
            }
            &Entry::SplitRemainder(index, most, least) => {
                let step = certificate.remainders[index].step;
                let next = above(most - Ppt::WHOLE, step) + Ppt::WHOLE;
                if least > next {
                    return Err(Fault::Gap(line));
                }
                let mut other = part.clone();
                part.remainders[index].1 = part.remainders[index].1.min(most);
                other.remainders[index].0 = other.remainders[index].0.max(least);
                open.extend([other, part]);
            }
            &Entry::SplitD(at) => {
                let mut other = part.clone();
                part.d.1 = part.d.1.min(at);
                other.d.0 = other.d.0.max(at);
                open.extend([other, part]);
            }
        }
    }
    if open.is_empty() { Ok(closed) } else { Err(Fault::Incomplete) }
}

/// A bound on D that multipliers prove: a lower one for a `sign` of 1, an upper
/// one for -1.
pub fn bound_on_d(certificate: &Certificate, blend: &Blend, by: Multipliers, sign: f64) -> BoundOnD {
    let checker = Checker { blend, certificate, rules: by_column(blend), counts: counts_of(blend) };
    let whole = Part::whole(blend, &certificate.remainders);
    BoundOnD { at: sign * checker.least_of_d(&whole, &by, sign), by }
}

/// (row, coefficient) of each column.
fn by_column(blend: &Blend) -> Vec<Vec<(usize, f64)>> {
    let mut by_column = vec![Vec::new(); blend.columns.len()];
    for (index, row) in blend.rows.iter().enumerate() {
        row.coefficients.iter().for_each(|&(k, a)| by_column[k].push((index, a)));
    }
    by_column
}

/// The counts of each column.
fn counts_of(blend: &Blend) -> Vec<Vec<usize>> {
    let mut counts = vec![Vec::new(); blend.columns.len()];
    for (index, count) in blend.counts.iter().enumerate() {
        count.columns.iter().for_each(|&k| counts[k].push(index));
    }
    counts
}

/// A sum and how far it may be off.
#[derive(Clone, Copy, Default)]
struct Sum {
    value: f64,
    doubt: f64,
}

/// Half an epsilon is what one operation rounds away; this leaves room for the
/// rounding of the estimate.
const ROUNDING: f64 = f64::EPSILON;

impl Sum {
    /// Adds a product of two exact numbers.
    fn add(&mut self, term: f64) {
        self.add_doubtful(Sum { value: term, doubt: ROUNDING * term.abs() });
    }

    fn add_doubtful(&mut self, other: Sum) {
        self.value += other.value;
        self.doubt += other.doubt + ROUNDING * self.value.abs();
    }

    fn times(self, by: f64) -> Sum {
        let value = self.value * by;
        Sum { value, doubt: self.doubt * by.abs() + ROUNDING * value.abs() }
    }
}

/// What multipliers say of a part.
struct Reading {
    /// The bound.
    total: Sum,
    /// What one part of each column adds, and what using it adds.
    columns: Vec<(Sum, f64)>,
    /// Whether it is to show that there is no formula at all: then the loss is
    /// no reason.
    of_nothing: bool,
}

impl Reading {
    fn proves(&self, by: &Multipliers) -> bool {
        let least = self.total.value - self.total.doubt;
        if by.objective > 0.0 { least >= 0.0 && !self.of_nothing } else { least > 0.0 }
    }
}

struct Checker<'a> {
    blend: &'a Blend,
    certificate: &'a Certificate,
    rules: Vec<Vec<(usize, f64)>>,
    counts: Vec<Vec<usize>>,
}

impl Checker<'_> {
    /// The bound that multipliers prove of a part. Those with a sign are taken
    /// as 0 where they have the other one.
    fn reading(&self, part: &Part, by: &Multipliers) -> Reading {
        let blend = self.blend;
        let lambda = match self.certificate.claim {
            Claim::NoneBelow(loss) => loss,
            Claim::None => 0.0,
        };
        let dense = |entries: &[(usize, f64)], length: usize| {
            let mut all = vec![0.0; length];
            entries.iter().for_each(|&(index, value)| all[index] = value);
            all
        };
        let mut targets = dense(&by.targets, blend.targets.len());
        for (value, target) in targets.iter_mut().zip(&blend.targets) {
            let reach = if by.objective > 0.0 { (target.weight, target.weight * target.excess) } else { (0.0, 0.0) };
            *value = value.clamp(-reach.0, reach.1);
        }
        let positive = |mut values: Vec<f64>| {
            values.iter_mut().for_each(|value| *value = value.max(0.0));
            values
        };
        let rules = positive(dense(&by.rules, blend.rows.len()));
        let counts = positive(dense(&by.counts, blend.counts.len()));
        let remainders = dense(&by.remainders, self.certificate.remainders.len());

        let mut total = Sum::default();
        total.add(1000.0 * by.sum);
        blend.rows.iter().zip(&rules).for_each(|(row, rho)| total.add(-rho * row.upper));
        blend.counts.iter().zip(&counts).for_each(|(count, mu)| total.add(-mu * count.most as f64));
        for ((least, most), tau) in part.remainders.iter().zip(&remainders) {
            if *tau != 0.0 {
                total.add((tau * least.as_f64()).min(tau * most.as_f64()));
            }
        }
        if by.d != 0.0 {
            total.add((by.d * part.d.0).min(by.d * part.d.1));
        }
        // What one unit of D costs, and what each column brings of it.
        let mut of_d = Sum::default();
        if by.objective > 0.0 {
            of_d.add(-lambda);
            targets.iter().zip(&blend.targets).for_each(|(v, target)| of_d.add(-v * target.score));
        }
        of_d.add(-by.d);
        let mut columns = Vec::with_capacity(blend.columns.len());
        for (k, column) in blend.columns.iter().enumerate() {
            let mut own = of_d.times(column.weight);
            column.odours.iter().for_each(|&(target, odour)| own.add(targets[target] * odour));
            self.rules[k].iter().for_each(|&(row, a)| own.add(rules[row] * a));
            own.add(-by.sum);
            columns.push((own, self.counts[k].iter().map(|&count| counts[count]).sum()));
        }
        for (remainder, tau) in self.certificate.remainders.iter().zip(&remainders) {
            remainder.columns.iter().for_each(|&k| columns[k].0.add(-tau));
        }
        for (k, &column) in columns.iter().enumerate() {
            total.add_doubtful(self.least(part, k, part.doses[k], column));
        }
        Reading { total, columns, of_nothing: self.certificate.claim == Claim::None }
    }

    /// The least that a column adds.
    fn least(&self, part: &Part, k: usize, doses: Doses, (own, using): (Sum, f64)) -> Sum {
        let mut least = Sum { value: f64::INFINITY, doubt: 0.0 };
        let mut offer = |at: Sum| {
            if at.value - at.doubt < least.value - least.doubt {
                least = at;
            }
        };
        if doses.may_be_out {
            offer(Sum::default());
        }
        if doses.may_be_in {
            let mut most = doses.most.as_f64();
            let weight = self.blend.columns[k].weight;
            if weight > 0.0 {
                most = most.min(part.d.1 / weight * (1.0 + 1e-12));
            }
            for dose in [doses.least.as_f64(), most] {
                let mut at = own.times(dose);
                at.add(using);
                offer(at);
            }
        }
        // Nothing is left of the column: then of the part, neither.
        if least.value.is_infinite() { Sum { value: 0.0, doubt: 0.0 } } else { least }
    }

    /// The same for a part that differs in the doses of one column.
    fn with(&self, reading: &Reading, part: &Part, k: usize, doses: Doses) -> Reading {
        let mut total = reading.total;
        let before = self.least(part, k, part.doses[k], reading.columns[k]);
        total.add_doubtful(Sum { value: -before.value, doubt: before.doubt });
        total.add_doubtful(self.least(part, k, doses, reading.columns[k]));
        Reading { total, columns: Vec::new(), of_nothing: reading.of_nothing }
    }

    /// The least of `sign * D` that multipliers prove.
    fn least_of_d(&self, whole: &Part, by: &Multipliers, sign: f64) -> f64 {
        let by = Multipliers { objective: 0.0, d: 0.0, ..by.clone() };
        let reading = self.reading(whole, &by);
        let mut total = reading.total;
        for (k, &(own, using)) in reading.columns.iter().enumerate() {
            let before = self.least(whole, k, whole.doses[k], (own, using));
            total.add_doubtful(Sum { value: -before.value, doubt: before.doubt });
            let mut with_d = own;
            with_d.add(sign * self.blend.columns[k].weight);
            total.add_doubtful(self.least(whole, k, whole.doses[k], (with_d, using)));
        }
        total.value - total.doubt
    }

    /// Least and greatest D, where they are proven.
    fn span(&self, whole: &Part) -> Result<(f64, f64), Fault> {
        let mut span = whole.d;
        let [least, most] = &self.certificate.d;
        if let Some(BoundOnD { at, by }) = least {
            if !self.knows(by) || self.least_of_d(whole, by, 1.0) < *at {
                return Err(Fault::D("least"));
            }
            span.0 = *at;
        }
        if let Some(BoundOnD { at, by }) = most {
            if !self.knows(by) || self.least_of_d(whole, by, -1.0) < -at {
                return Err(Fault::D("greatest"));
            }
            span.1 = *at;
        }
        Ok(span)
    }

    /// Whether all other columns keep the step of each remainder.
    fn check_remainders(&self) -> Result<(), Fault> {
        for (index, remainder) in self.certificate.remainders.iter().enumerate() {
            let step = remainder.step.units();
            let keeps = |k: usize| {
                let column = &self.blend.columns[k];
                let on = |dose: Ppt| dose.units() % step == 0;
                on(column.least) && (column.least == column.most || !column.step.is_zero() && on(column.step))
            };
            let all = self.blend.columns.len();
            let fits = step > 0
                && remainder.columns.iter().all(|&k| k < all)
                && (0..all).all(|k| remainder.columns.contains(&k) || keeps(k));
            if !fits {
                return Err(Fault::Remainder(index));
            }
        }
        Ok(())
    }

    /// Whether multipliers are those of rows that there are.
    fn knows(&self, by: &Multipliers) -> bool {
        let below = |entries: &[(usize, f64)], length: usize| entries.iter().all(|&(index, _)| index < length);
        below(&by.targets, self.blend.targets.len())
            && below(&by.rules, self.blend.rows.len())
            && below(&by.counts, self.blend.counts.len())
            && below(&by.remainders, self.certificate.remainders.len())
    }

    /// Whether an entry speaks only of what there is.
    fn check_indices(&self, entry: &Entry) -> Option<()> {
        let (columns, remainders) = (self.blend.columns.len(), self.certificate.remainders.len());
        let changes = |changes: &[(usize, Said)]| changes.iter().all(|&(k, _)| k < columns);
        let fits = match entry {
            Entry::Closed(by) => self.knows(by),
            Entry::Narrowed(by, all) => self.knows(by) && changes(all),
            Entry::OnGrid(all) => changes(all),
            Entry::Split(k, ..) => *k < columns,
            Entry::SplitRemainder(index, ..) => *index < remainders,
            Entry::Empty | Entry::SplitD(_) => true,
        };
        fits.then_some(())
    }
}
