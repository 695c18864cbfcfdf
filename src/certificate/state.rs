//! The part of all formulas that a line of the tree speaks of: which doses each
//! column may have, and what the sum of 1000 says of them. Whole numbers only.

use std::rc::Rc;

use super::exact::Exact;
use super::rungs::Rungs;
use super::{Change, Remainder, Said};
use crate::model::{Blend, BlendColumn};
use crate::units::{Ppt, gcd};

/// Which doses a column may have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Doses {
    /// Whether it may be 0, as a column that is not used.
    pub may_be_out: bool,
    /// Least dose when used, on the grid.
    pub least: Ppt,
    /// Greatest dose when used, on the grid; below `least` where it may not be
    /// used.
    pub most: Ppt,
}

impl Doses {
    /// The doses of a column.
    ///
    /// A column that no count speaks of and that may begin at its first step is
    /// simply in from 0: nothing tells using it from not using it.
    fn of(column: &BlendColumn, is_counted: bool) -> Doses {
        let grid = grid_of(column);
        let (least, most) = (column.least.ceil_to(grid), column.most.floor_to(grid));
        let from_nothing = column.least <= column.step.max(Ppt::LEAST);
        if !column.must && !is_counted && column.least <= column.most && from_nothing {
            return Doses { may_be_out: false, least: Ppt::ZERO, most };
        }
        // Counts are of doses above 0: one of 0 is out, whatever else is said.
        let is_nothing_in_range = column.least <= Ppt::ZERO;
        Doses { may_be_out: !column.must || is_nothing_in_range, least: least.max(grid), most }
    }

    pub(super) fn may_be_in(&self) -> bool {
        self.least <= self.most
    }

    fn is_empty(&self) -> bool {
        !self.may_be_out && !self.may_be_in()
    }

    fn is_settled(&self) -> bool {
        !self.may_be_in() || !self.may_be_out && self.least == self.most
    }

    fn never_in(&mut self) {
        (self.least, self.most) = (Ppt::from_units(1), Ppt::ZERO);
    }

    /// What is left of them after something is said.
    pub(super) fn after(mut self, said: Said, grid: Ppt) -> Doses {
        match said {
            Said::Out => self.never_in(),
            Said::In(least) => {
                self.may_be_out = false;
                self.least = self.least.max(least.ceil_to(grid));
            }
            Said::AtLeast(least) => self.least = self.least.max(least.ceil_to(grid)),
            Said::AtMost(most) => self.most = self.most.min(most.floor_to(grid)),
        }
        self
    }

    /// What something that is said leaves out; `None` where that is nothing.
    ///
    /// With [`Doses::after`], every dose is in one of the two: `ceil_to` and
    /// `below` are neighbours on the grid, `floor_to` and `above` likewise.
    pub(super) fn left_out(mut self, said: Said, grid: Ppt) -> Option<Doses> {
        match said {
            Said::Out => self.may_be_out = false,
            Said::In(least) => self.most = self.most.min(below(least, grid)),
            Said::AtLeast(least) => {
                self.may_be_out = false;
                self.most = self.most.min(below(least, grid));
            }
            Said::AtMost(most) => {
                self.may_be_out = false;
                self.least = self.least.max(above(most, grid));
            }
        }
        (!self.is_empty()).then_some(self)
    }
}

/// A D that no 1000 parts pass.
pub fn greatest_d(blend: &Blend) -> f64 {
    // 1000 times a double is rounded, by less than this. The check's own number,
    // by intention none of the search's table.
    1000.0 * (1.0 + 1e-9) * blend.columns.iter().map(|column| column.weight).fold(0.0, f64::max)
}

/// The greatest dose of a grid below a dose.
fn below(dose: Ppt, grid: Ppt) -> Ppt {
    (dose - Ppt::from_units(1)).floor_to(grid)
}

/// The least dose of a grid above a dose.
pub(super) fn above(dose: Ppt, grid: Ppt) -> Ppt {
    (dose + Ppt::from_units(1)).ceil_to(grid)
}

/// A grid, above 0, that has all doses of a column: its step, the one dose that
/// it may have, or the least unit.
pub(super) fn grid_of(column: &BlendColumn) -> Ppt {
    let step = column.step.units();
    if step > 0 && column.least.units() % step == 0 {
        column.step
    } else if column.least == column.most && column.least > Ppt::ZERO {
        column.least
    } else {
        Ppt::from_units(1)
    }
}

/// Least and greatest D, and what the greatest leaves of each column's dose.
#[derive(Clone, Debug)]
pub(super) struct Span {
    pub least: Exact,
    pub most: Exact,
    /// The greatest dose of each column with which it alone does not pass the
    /// greatest D.
    pub room: Rc<[Ppt]>,
}

impl Span {
    /// D between two ends. `weights` are what a ppt of each column adds to D.
    ///
    /// A dose x of k brings q_k x of D, and no column brings less than 0; so in
    /// whole units x is at most the quotient, rounded down.
    pub(super) fn new(least: Exact, most: Exact, weights: &[Exact]) -> Span {
        let scaled = if most.is_negative() { Exact::zero() } else { most.times(&Exact::whole(Ppt::UNITS)) };
        let room = |weight: &Exact| match weight.is_positive() {
            true => Ppt::from_units(scaled.whole_quotient(weight, Ppt::WHOLE.units())),
            false => Ppt::WHOLE,
        };
        Span { room: weights.iter().map(room).collect(), least, most }
    }
}

/// A part of all formulas.
#[derive(Clone, Debug)]
pub(super) struct Part {
    /// Doses of each column.
    pub doses: Vec<Doses>,
    /// Least and greatest sum of each remainder.
    pub remainders: Vec<(Ppt, Ppt)>,
    /// Least and greatest D.
    pub d: Span,
    /// Rungs under a rule on idle weight.
    pub rungs: Rungs,
    /// Whether it was seen to hold no formula.
    pub is_void: bool,
}

impl Part {
    /// All formulas.
    pub(super) fn whole(blend: &Blend, remainders: &[Remainder], d: Span, rungs: Rungs) -> Part {
        let mut counted = vec![false; blend.columns.len()];
        blend.counts.iter().flat_map(|count| &count.columns).for_each(|&k| counted[k] = true);
        let doses = blend.columns.iter().zip(counted).map(|(column, counted)| Doses::of(column, counted)).collect();
        let range = |Remainder { step, columns }: &Remainder| {
            let most: Ppt = columns.iter().map(|&k| blend.columns[k].most).sum();
            // The sums that a multiple of the step completes to 1000.
            let least = (-Ppt::WHOLE).ceil_to(*step) + Ppt::WHOLE;
            (least, (most.min(Ppt::WHOLE) - Ppt::WHOLE).floor_to(*step) + Ppt::WHOLE)
        };
        Part { remainders: remainders.iter().map(range).collect(), d, rungs, doses, is_void: false }
    }

    /// Takes over what is said of a column.
    pub(super) fn apply(&mut self, blend: &Blend, (k, said): Change) {
        self.doses[k] = self.doses[k].after(said, grid_of(&blend.columns[k]));
    }

    /// Leaves out what a full count has no room for, and sees whether anything
    /// is left.
    ///
    /// Theorem: no formula is lost. A column that may not be out and is in a
    /// count has a dose above 0 (`Doses::of`); so with as many of them as the
    /// count allows, all others of it are 0.
    pub(super) fn settle(&mut self, blend: &Blend) {
        for count in &blend.counts {
            let used = count.columns.iter().filter(|&&k| !self.doses[k].may_be_out).count();
            self.is_void |= used > count.most;
            if used == count.most {
                for &k in &count.columns {
                    if self.doses[k].may_be_out {
                        self.doses[k].never_in();
                    }
                }
            }
        }
        self.is_void |= self.doses.iter().any(Doses::is_empty)
            || self.remainders.iter().any(|(least, most)| least > most)
            || self.d.least > self.d.most
            || self.rungs.are_none();
    }

    /// Whether a column that smells may be in, as one has to: D > 0.
    pub(super) fn may_smell(&self, blend: &Blend) -> bool {
        self.doses.iter().zip(&blend.columns).any(|(doses, column)| doses.may_be_in() && column.weight > 0.0)
    }

    /// What the sum of 1000 leaves for each column.
    pub(super) fn sums(&self, blend: &Blend) -> Sums {
        let mut rest = Ppt::WHOLE.units();
        let grids: Vec<i64> = self
            .doses
            .iter()
            .zip(&blend.columns)
            .map(|(doses, column)| {
                let is_settled = doses.is_settled();
                if is_settled && doses.may_be_in() {
                    rest -= doses.least.units();
                }
                if is_settled { 0 } else { grid_of(column).units() }
            })
            .collect();
        // Greatest common divisors of all grids but one, from both sides.
        let mut after = vec![0; grids.len() + 1];
        for k in (0..grids.len()).rev() {
            after[k] = gcd(after[k + 1], grids[k]);
        }
        let mut before = 0;
        let others = (0..grids.len())
            .map(|k| {
                let all_but_one = gcd(before, after[k + 1]);
                before = gcd(before, grids[k]);
                all_but_one
            })
            .collect();
        Sums { all: before, others, rest }
    }

    /// Whether none of these doses of a column completes the sum.
    ///
    /// Theorem: doses of a column that is not settled are multiples of its grid,
    /// so the others add up to what the settled ones leave of 1000, less a
    /// multiple of their common divisor, and this column has to have the rest.
    pub(super) fn takes_none(&self, blend: &Blend, sums: &Sums, k: usize, doses: Doses) -> bool {
        let own = &self.doses[k];
        // The column is one of the others' sum no more.
        let rest = if own.is_settled() && own.may_be_in() { sums.rest + own.least.units() } else { sums.rest };
        let step = sums.others[k];
        if doses.may_be_out && is_multiple(rest, step) {
            return false;
        }
        !doses.may_be_in() || !meets(doses, grid_of(&blend.columns[k]).units(), rest, step)
    }

    /// Whether no doses on their grids complete a sum of 1000.
    pub(super) fn has_no_sum(&self, blend: &Blend) -> bool {
        let sums = self.sums(blend);
        let none_of = |k: usize| !self.doses[k].is_settled() && self.takes_none(blend, &sums, k, self.doses[k]);
        !is_multiple(sums.rest, sums.all) || (0..self.doses.len()).any(none_of)
    }
}

/// What the sum of 1000 leaves, in units.
pub(super) struct Sums {
    /// Greatest common divisor of the grids of columns that are not settled.
    all: i64,
    /// The same without one column.
    others: Vec<i64>,
    /// What the settled ones leave of 1000.
    rest: i64,
}

fn is_multiple(of: i64, step: i64) -> bool {
    if step == 0 { of == 0 } else { of % step == 0 }
}

/// Whether one of the doses in, multiples of `grid`, is `rest` modulo `step`
/// (0: is `rest`).
fn meets(doses: Doses, grid: i64, rest: i64, step: i64) -> bool {
    let (first, last) = (doses.least.units(), doses.most.units());
    if step == 0 {
        return first <= rest && rest <= last && rest % grid == 0;
    }
    // i grid = rest - first modulo step.
    let divisor = gcd(grid, step);
    let (wanted, modulus) = (rest - first, step / divisor);
    if wanted % divisor != 0 {
        return false;
    }
    let inverse = inverse(i128::from(grid / divisor), i128::from(modulus));
    let i = (i128::from(wanted / divisor) * inverse).rem_euclid(i128::from(modulus));
    i128::from(first) + i * i128::from(grid) <= i128::from(last)
}

/// The inverse of a number modulo another that has no divisor in common with it
/// (Euclid).
fn inverse(of: i128, modulus: i128) -> i128 {
    let (mut a, mut b, mut x, mut y) = (of.rem_euclid(modulus), modulus, 1, 0);
    while b != 0 {
        let quotient = a / b;
        (a, b) = (b, a - quotient * b);
        (x, y) = (y, x - quotient * y);
    }
    x.rem_euclid(modulus)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{BlendCount, Role};

    const fn units(units: i64) -> Ppt {
        Ppt::from_units(units)
    }

    #[test]
    fn what_is_kept_and_what_is_left_out_are_all_doses_and_nothing_twice() {
        let members = |doses: Doses, grid: i64| -> Vec<i64> {
            let used = (doses.least.units()..=doses.most.units()).filter(|dose| dose % grid == 0);
            doses.may_be_out.then_some(-1).into_iter().chain(used).collect()
        };
        for grid in [1, 3, 4] {
            for may_be_out in [false, true] {
                for (least, most) in [(0, 12), (12, 24), (12, 12), (24, 12)] {
                    let doses = Doses { may_be_out, least: units(least), most: units(most) };
                    for at in 0..30 {
                        for said in [Said::Out, Said::In(units(at)), Said::AtLeast(units(at)), Said::AtMost(units(at))]
                        {
                            let mut both = members(doses.after(said, units(grid)), grid);
                            let left = doses.left_out(said, units(grid));
                            both.extend(left.map(|doses| members(doses, grid)).unwrap_or_default());
                            both.sort_unstable();
                            assert_eq!(both, members(doses, grid), "{doses:?}, {said:?}, grid {grid}");
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn a_dose_completes_the_sum_exactly_where_listing_finds_one() {
        for (first, last) in [(0, 0), (0, 40), (7, 30), (12, 12)] {
            for grid in 1..8 {
                for step in 0..12 {
                    for rest in -20..45 {
                        let on_grid = |dose: i64| dose.div_euclid(grid) * grid;
                        let doses =
                            Doses { may_be_out: false, least: units(-on_grid(-first)), most: units(on_grid(last)) };
                        let fits = |dose: i64| is_multiple(rest - dose, step);
                        let listed = (first..=last).filter(|dose| dose % grid == 0).any(fits);
                        let found = doses.may_be_in() && meets(doses, grid, rest, step);
                        assert_eq!(found, listed, "{first}..{last} by {grid}, {rest} modulo {step}");
                    }
                }
            }
        }
    }

    fn column(least: i64, most: i64, step: i64, must: bool) -> BlendColumn {
        let odours = vec![(0, 1.0)];
        let (least, most, step) = (units(least), units(most), units(step));
        BlendColumn { material: 0, role: Role::Any, weight: 0.7, odours, least, most, step, must, price: None }
    }

    #[test]
    fn grids_have_every_dose_of_a_column() {
        for ((least, most, step), grid) in [
            ((10, 50, 5), 5),
            // From a least dose that is on no step of its own.
            ((12, 50, 5), 1),
            ((0, 50, 0), 1),
            ((33, 33, 0), 33),
            ((0, 0, 0), 1),
        ] {
            assert_eq!(grid_of(&column(least, most, step, false)), units(grid), "{least} to {most} by {step}");
        }
    }

    #[test]
    fn a_column_begins_at_nothing_only_where_using_it_tells_nothing() {
        // In the least dose that a file may say.
        let one = Ppt::LEAST.units();
        let of = |least: i64, most: i64, step: i64, must, is_counted| {
            let doses = Doses::of(&column(least * one, most * one, step * one, must), is_counted);
            (doses.may_be_out, doses.least.units() / one, doses.most.units() / one)
        };
        assert_eq!(of(5, 52, 5, false, false), (false, 0, 50), "from the first step on");
        assert_eq!(of(5, 52, 5, false, true), (true, 5, 50), "counted");
        assert_eq!(of(5, 52, 5, true, false), (false, 5, 50), "it must be in");
        assert_eq!(of(10, 52, 5, false, false), (true, 10, 50), "a least dose");
        assert_eq!(of(0, 52, 5, true, true), (true, 5, 50), "a dose of 0 is out");
        assert_eq!(of(6, 4, 0, false, false), (true, 6, 4), "no dose but none at all");
        assert!(Doses::of(&column(6 * one, 4 * one, 0, true), false).is_empty());
        assert!(!Doses::of(&column(6 * one, 4 * one, 0, false), false).is_empty());
        // Crossed below the first step.
        assert_eq!(of(3, 2, 5, false, false), (true, 3, 2));
    }

    fn blend(counts: Vec<BlendCount>) -> Blend {
        let columns = vec![column(0, Ppt::WHOLE.units(), 1, false); 3];
        let (targets, rows, caps) = (Vec::new(), Vec::new(), Vec::new());
        Blend {
            columns,
            targets,
            rows,
            counts,
            ladder: None,
            caps,
            views: Vec::new(),
            materials: 1,
            contradiction: None,
        }
    }

    #[test]
    fn the_greatest_d_is_passed_by_no_formula() {
        // 0.7 as a double is a little less than seven tenths, and 1000 of them are rounded.
        let exact = Exact::of(0.7).unwrap().times(&Exact::whole(1000));
        let greatest = greatest_d(&blend(Vec::new()));
        assert!(Exact::of(greatest).unwrap() > exact && greatest < 700.001, "{greatest}");
    }

    #[test]
    fn a_part_is_void_when_anything_of_it_has_nothing_left() {
        let blend = blend(vec![BlendCount { columns: vec![0, 1, 2], most: 1 }]);
        let number = |value: f64| Exact::of(value).expect("a number");
        let part = |least: f64, most: f64, remainder: (i64, i64)| {
            let weights = [number(0.7), number(0.7), number(0.7)];
            let d = Span::new(number(least), number(most), &weights);
            let mut part = Part::whole(&blend, &[], d, Rungs::all(&blend).expect("finite"));
            part.remainders.push((units(remainder.0), units(remainder.1)));
            part
        };
        let is_void = |mut part: Part| {
            part.settle(&blend);
            part.is_void
        };
        assert!(!is_void(part(1.0, 2.0, (0, 5))) && !is_void(part(2.0, 2.0, (5, 5))), "ends may meet");
        assert!(is_void(part(2.0, 1.0, (0, 5))), "D");
        assert!(is_void(part(1.0, 2.0, (6, 5))), "a remainder");
        let mut without = part(1.0, 2.0, (0, 5));
        without.doses[1] = Doses { may_be_out: false, least: units(2), most: units(1) };
        assert!(is_void(without), "a column");

        // With one in, the others of the count are out; with two in, there is nothing.
        let mut full = part(1.0, 2.0, (0, 5));
        full.apply(&blend, (1, Said::In(units(1))));
        full.settle(&blend);
        assert!(!full.is_void && full.doses[1].may_be_in() && !full.doses[0].may_be_in() && !full.doses[2].may_be_in());
        let mut over = part(1.0, 2.0, (0, 5));
        over.apply(&blend, (0, Said::In(units(1))));
        over.apply(&blend, (1, Said::In(units(1))));
        assert!(is_void(over), "a count");
    }

    /// Steps of 7 never add up to 1000 of anything; 300 and at most one 50 do not either.
    #[test]
    fn doses_that_complete_no_sum_are_seen() {
        let has_no_sum = |columns: [(i64, i64); 3]| {
            let mut blend = blend(Vec::new());
            for (column, (step, most)) in blend.columns.iter_mut().zip(columns) {
                let [step, most] = [step, most].map(|ppt| Ppt::from_ppt(ppt as f64));
                (column.least, column.step, column.most) = (step, step, most);
            }
            let number = |value: f64| Exact::of(value).expect("a number");
            let weights = [number(0.7), number(0.7), number(0.7)];
            let d = Span::new(number(0.0), number(1000.0), &weights);
            Part::whole(&blend, &[], d, Rungs::all(&blend).expect("finite")).has_no_sum(&blend)
        };
        assert!(has_no_sum([(7, 700), (14, 700), (21, 700)]) && !has_no_sum([(7, 700), (6, 600), (21, 700)]));
        assert!(has_no_sum([(300, 900), (300, 900), (50, 50)]) && !has_no_sum([(300, 900), (300, 900), (50, 100)]));
        assert!(has_no_sum([(50, 50), (300, 900), (300, 900)]) && !has_no_sum([(100, 900), (300, 900), (50, 50)]));
    }
}
