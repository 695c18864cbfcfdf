//! Iterations of the bounded primal simplex method, for a new objective over a point that
//! is feasible already: with a single cost the dual method would find every column tied.
//! The ratio test is that of P. M. J. Harris (Mathematical Programming 5, 1973): among the
//! rows that block within a tolerance the one of the largest pivot.

use super::iterate::REFACTOR_AFTER;
use super::lp::BoxedLp;
use super::simplex::{Ended, Scratch, State, VariableStatus};
use crate::tolerance::simplex::{DISAGREES, PIVOT, PRIMAL, RISEN};

/// A reduced cost within this of 0, in units of the largest cost, does not pay.
const PAYS: f64 = 1e-9;
/// So many steps in a row that do not lower the objective are taken for a cycle.
const STALL: u32 = 100;

/// What blocks an entering column.
enum Block {
    /// Its own other bound.
    Own,
    /// The basic column of a row, which leaves at its upper bound or at its lower one.
    Row { row: usize, at_upper: bool },
}

impl State {
    /// Runs the primal simplex method from a point inside all boxes until the basis is
    /// optimal or `iterations` are used up. Costs are those of `lp`, of size 1 at most.
    pub fn run_primal(&mut self, lp: &BoxedLp, iterations: usize, scratch: &mut Scratch) -> Ended {
        self.price_where_it_stands(lp);
        let mut stalled = 0;
        for _ in 0..iterations {
            if self.updates >= REFACTOR_AFTER && !self.refactor_where_it_stands(lp, scratch) {
                return Ended::Trouble;
            }
            let Some(entering) = self.paying() else { return Ended::Optimal };
            scratch.iterations += 1;
            let Some(step) = self.primal_step(lp, entering, scratch) else { return Ended::Trouble };
            stalled = if step > RISEN { 0 } else { stalled + 1 };
            if stalled > STALL {
                return Ended::Trouble;
            }
        }
        Ended::Iterations
    }

    /// Multipliers and reduced costs; every column stays where it is.
    fn price_where_it_stands(&mut self, lp: &BoxedLp) {
        let m = lp.rows;
        self.multipliers.fill(0.0);
        for row in 0..m {
            let cost = lp.cost[self.basis[row] as usize];
            if cost != 0.0 {
                let inverse = &self.inverse[row * m..(row + 1) * m];
                self.multipliers.iter_mut().zip(inverse).for_each(|(pi, v)| *pi += cost * v);
            }
        }
        for at in 0..self.live.len() {
            let j = self.live[at] as usize;
            let is_basic = matches!(self.status[j], VariableStatus::Basic(_));
            self.reduced[j] = if is_basic { 0.0 } else { lp.cost[j] - lp.dot(&self.multipliers, j) };
        }
    }

    /// The inverse afresh; every column stays where it is.
    fn refactor_where_it_stands(&mut self, lp: &BoxedLp, scratch: &mut Scratch) -> bool {
        let before = self.status.clone();
        if !self.refactor(lp, scratch) {
            return false;
        }
        for (now, before) in self.status.iter_mut().zip(before) {
            if !matches!(now, VariableStatus::Basic(_)) {
                *now = before;
            }
        }
        self.compute_values(lp, scratch);
        self.price_where_it_stands(lp);
        true
    }

    /// The column whose move pays most.
    fn paying(&self) -> Option<usize> {
        let (mut best, mut most) = (None, PAYS);
        for &j in self.live.iter() {
            let j = j as usize;
            if self.lower[j] >= self.upper[j] {
                continue;
            }
            let pays = match self.status[j] {
                VariableStatus::AtLower => -self.reduced[j],
                VariableStatus::AtUpper => self.reduced[j],
                VariableStatus::Basic(_) => continue,
            };
            if pays > most {
                (best, most) = (Some(j), pays);
            }
        }
        best
    }

    /// Moves a column until something blocks it; how far the objective fell. `None` where
    /// the numbers went wrong.
    fn primal_step(&mut self, lp: &BoxedLp, entering: usize, scratch: &mut Scratch) -> Option<f64> {
        let m = lp.rows;
        let mut column = std::mem::take(&mut scratch.column);
        self.column_into(lp, entering, &mut column);
        let sign = if self.status[entering] == VariableStatus::AtLower { 1.0 } else { -1.0 };
        let (step, block) = self.blocked(entering, sign, &column);
        let fell = self.reduced[entering].abs() * step;
        for (value, a) in self.values.iter_mut().zip(&column) {
            *value -= sign * step * a;
        }
        let Block::Row { row, at_upper } = block else {
            self.status[entering] = if sign > 0.0 { VariableStatus::AtUpper } else { VariableStatus::AtLower };
            scratch.column = column;
            return Some(fell);
        };
        scratch.row.clear();
        scratch.row.extend_from_slice(&self.inverse[row * m..(row + 1) * m]);
        self.pivot_row(lp, scratch);
        let (pivot, expected) = (column[row], scratch.pivot_row[entering]);
        if (pivot - expected).abs() > DISAGREES * (1.0 + pivot.abs()) {
            return None;
        }
        let start = if sign > 0.0 { self.lower[entering] } else { self.upper[entering] };
        let ratio = self.reduced[entering] / pivot;
        for &j in &scratch.touched {
            self.reduced[j as usize] -= ratio * scratch.pivot_row[j as usize];
        }
        let leaving = self.basis[row] as usize;
        (self.reduced[entering], self.reduced[leaving]) = (0.0, -ratio);
        self.multipliers.iter_mut().zip(&scratch.row).for_each(|(pi, v)| *pi += ratio * v);
        self.status[leaving] = if at_upper { VariableStatus::AtUpper } else { VariableStatus::AtLower };
        self.status[entering] = VariableStatus::Basic(row as u32);
        self.basis[row] = entering as u32;
        self.values[row] = start + sign * step;
        self.update_inverse(row, &column);
        self.updates += 1;
        scratch.column = column;
        Some(fell)
    }

    /// How far a column may move, and what blocks it there.
    fn blocked(&self, entering: usize, sign: f64, column: &[f64]) -> (f64, Block) {
        // How far a row lets it go, with so much room beyond its bound.
        let reach = |row: usize, room: f64| -> Option<(f64, bool)> {
            let (a, j) = (sign * column[row], self.basis[row] as usize);
            if a.abs() < PIVOT {
                return None;
            }
            let (bound, at_upper) = if a > 0.0 { (self.lower[j], false) } else { (self.upper[j], true) };
            let gap = ((self.values[row] - bound) * a.signum()).max(0.0);
            Some(((gap + room * (1.0 + bound.abs())) / a.abs(), at_upper))
        };
        let rows = 0..column.len();
        let most = rows.clone().filter_map(|row| reach(row, PRIMAL)).map(|(far, _)| far).fold(f64::INFINITY, f64::min);
        let own = self.upper[entering] - self.lower[entering];
        let mut chosen: Option<(usize, f64, bool)> = None;
        for row in rows {
            if let Some((far, at_upper)) = reach(row, 0.0)
                && far <= most
                && chosen.is_none_or(|(best, ..)| column[row].abs() > column[best].abs())
            {
                chosen = Some((row, far, at_upper));
            }
        }
        match chosen {
            Some((row, far, at_upper)) if far < own => (far, Block::Row { row, at_upper }),
            _ => (own, Block::Own),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Chance;
    use crate::solve::search::lp::SafeBound;

    /// Random programmes with a point inside: the primal method ends where the dual one
    /// does, and its multipliers prove it.
    #[test]
    fn both_methods_end_at_one_objective() {
        let mut random = Chance::new(11, 0);
        for case in 0..300 {
            let (rows, columns) = (2 + case % 7, 6 + case % 23);
            let mut lp = BoxedLp::new(rows);
            let (mut lower, mut upper, mut inside) = (Vec::new(), Vec::new(), vec![0.0; rows]);
            for _ in 0..columns {
                let entries: Vec<(usize, f64)> = (0..rows)
                    .filter_map(|row| {
                        let a = random.between(-2.0, 2.0);
                        (random.between(0.0, 1.0) < 0.5).then_some((row, a))
                    })
                    .collect();
                let (low, wide) = (random.between(-1.0, 1.0), random.between(0.0, 3.0));
                let at = low + random.between(0.0, 1.0) * wide;
                entries.iter().for_each(|&(row, a)| inside[row] += a * at);
                lp.push(0.0, entries);
                lower.push(low);
                upper.push(low + wide);
            }
            let slacks: Vec<usize> = (0..rows)
                .map(|row| {
                    let room = random.between(0.0, 2.0);
                    lp.rhs[row] = inside[row] + 0.5 * room;
                    lower.push(0.0);
                    upper.push(room);
                    lp.push(0.0, [(row, 1.0)])
                })
                .collect();
            let mut scratch = Scratch::default();
            let mut start = State::new(&lp, lower, upper, &slacks).expect("unit columns");
            assert_eq!(start.run(&lp, f64::INFINITY, 2000, &mut scratch), Ended::Optimal, "{case}");
            for j in 0..columns {
                lp.cost[j] =
                    if case % 3 == 0 { f64::from(u8::from(j == case % columns)) } else { random.between(-1.0, 1.0) };
            }
            let (mut dual, mut primal) = (start.clone(), start);
            dual.price(&lp, &mut scratch);
            assert_eq!(dual.run(&lp, f64::INFINITY, 2000, &mut scratch), Ended::Optimal, "{case}");
            assert_eq!(primal.run_primal(&lp, 2000, &mut scratch), Ended::Optimal, "{case}");
            let (known, found) = (dual.objective(&lp), primal.objective(&lp));
            assert!((known - found).abs() <= 1e-7 * (1.0 + known.abs()), "{case}: {known} {found}");
            let mut bound = SafeBound::default();
            lp.safe_bound(&primal.multipliers, primal.boxes(), &mut bound);
            assert!(bound.value <= found + 1e-7 && bound.value >= found - 1e-6, "{case}: {} {found}", bound.value);
        }
    }
}
