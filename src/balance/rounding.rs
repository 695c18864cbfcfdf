//! Masses that a balance can show, chosen together: the odour shares that
//! result are the nearest to those that were wanted.

/// Leaves and branches looked at before the best so far has to do.
const MOST_NODES: u32 = 2_000_000;

/// One thing to weigh.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// Steps of the balance that would be exact; above 0.
    pub steps: f64,
    /// Odour for each step: strength times the neat fraction of the bottle.
    pub odour: f64,
}

/// Whole steps for each thing to weigh.
#[derive(Clone, Debug, PartialEq)]
pub struct Rounded {
    /// Steps of the balance, at least 1 each.
    pub steps: Vec<u64>,
    /// Sum of the absolute differences of the odour shares, from 0 to 2.
    pub distance: f64,
    /// Whether no other choice is nearer.
    pub proven: bool,
}

/// Chooses for each line the whole step below or above what is wanted (never
/// 0), so that the sum of absolute differences of the odour shares is least;
/// among equals the one that was met first, nearest steps first. Lines without
/// odour go to the nearest step. The total may move by less than a step a line.
pub fn nearest(wanted: &[Wanted]) -> Rounded {
    let total: f64 = wanted.iter().map(|line| line.odour * line.steps).sum();
    let mut order: Vec<usize> = (0..wanted.len()).filter(|&line| total > 0.0 && wanted[line].odour > 0.0).collect();
    // What a step moves most is decided first.
    order.sort_by(|&a, &b| wanted[b].odour.total_cmp(&wanted[a].odour).then(a.cmp(&b)));
    let choices: Vec<[f64; 2]> = wanted.iter().map(|line| choices(line.steps)).collect();
    let span = |line: usize, pick: fn(f64, f64) -> f64| wanted[line].odour * pick(choices[line][0], choices[line][1]);
    let mut rest = vec![(0.0, 0.0); order.len() + 1];
    for at in (0..order.len()).rev() {
        let (low, high) = rest[at + 1];
        rest[at] = (low + span(order[at], f64::min), high + span(order[at], f64::max));
    }
    let start: Vec<f64> = choices.iter().map(|choice| choice[0]).collect();
    let shares = wanted.iter().map(|line| if total > 0.0 { line.odour * line.steps / total } else { 0.0 }).collect();
    let mut search = Search {
        wanted,
        shares,
        order,
        choices,
        rest,
        now: start.clone(),
        best: start,
        least: f64::INFINITY,
        nodes: 0,
    };
    search.branch(0, 0.0);
    let steps = search.best.iter().map(|&steps| steps as u64).collect();
    let distance = if search.order.is_empty() { 0.0 } else { search.least };
    Rounded { steps, distance, proven: search.nodes < MOST_NODES }
}

/// The nearest whole number of steps first, then the one on the other side.
fn choices(steps: f64) -> [f64; 2] {
    let (below, above) = (steps.floor().max(1.0), steps.ceil().max(1.0));
    if steps - below <= above - steps { [below, above] } else { [above, below] }
}

struct Search<'a> {
    wanted: &'a [Wanted],
    shares: Vec<f64>,
    order: Vec<usize>,
    choices: Vec<[f64; 2]>,
    /// Least and greatest odour that the lines from here on can add.
    rest: Vec<(f64, f64)>,
    now: Vec<f64>,
    best: Vec<f64>,
    least: f64,
    nodes: u32,
}

impl Search<'_> {
    fn branch(&mut self, at: usize, odour: f64) {
        self.nodes = self.nodes.saturating_add(1);
        let (low, high) = self.rest[at];
        let bound = self.at_least(at, odour + low, odour + high);
        if bound >= self.least - 1e-12 || self.nodes >= MOST_NODES && self.least.is_finite() {
            return;
        }
        let Some(&line) = self.order.get(at) else {
            // Everything is decided: the bound is the distance itself.
            self.least = bound;
            self.best.clone_from(&self.now);
            return;
        };
        let [first, second] = self.choices[line];
        for steps in if first == second { vec![first] } else { vec![first, second] } {
            self.now[line] = steps;
            self.branch(at + 1, odour + self.wanted[line].odour * steps);
        }
    }

    /// No less than the distance of what is decided, whatever the total odour
    /// between `low` and `high` turns out to be.
    fn at_least(&self, at: usize, low: f64, high: f64) -> f64 {
        let decided = self.order[..at].iter().map(|&line| {
            let odour = self.wanted[line].odour * self.now[line];
            let (least, most) = (odour / high, odour / low);
            (least - self.shares[line]).max(self.shares[line] - most).max(0.0)
        });
        decided.sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn distance(wanted: &[Wanted], steps: &[f64]) -> f64 {
        let sum = |of: &dyn Fn(usize) -> f64| (0..wanted.len()).map(of).sum::<f64>();
        let exact = sum(&|line| wanted[line].odour * wanted[line].steps);
        let got = sum(&|line| wanted[line].odour * steps[line]);
        sum(&|line| (wanted[line].odour * (steps[line] / got - wanted[line].steps / exact)).abs())
    }

    #[test]
    fn together_is_nearer_than_line_by_line() {
        // Equal strengths, 1.5 and 4.5 steps: 1 to 4 or 2 to 5 miss the ratio of
        // 1 to 3 by 0.1 and 0.0714; 1 to 5 by 0.1667, 2 to 4 by 0.1667.
        let wanted = [Wanted { steps: 1.5, odour: 1.0 }, Wanted { steps: 4.5, odour: 1.0 }];
        let rounded = nearest(&wanted);
        assert_eq!(rounded.steps, [2, 5]);
        assert!((rounded.distance - 2.0 * (2.0 / 7.0 - 0.25)).abs() < 1e-12 && rounded.proven);
    }

    #[test]
    fn no_line_vanishes_and_what_fits_stays() {
        let fits = [Wanted { steps: 3.0, odour: 2.0 }, Wanted { steps: 0.2, odour: 0.0 }];
        assert_eq!(nearest(&fits), Rounded { steps: vec![3, 1], distance: 0.0, proven: true });
    }

    #[test]
    fn the_best_of_all_choices() {
        let mut state = 7_u64;
        let mut draw = |most: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (1 + (state >> 33) % most) as f64
        };
        for case in 0..300 {
            let lines = draw(8) as usize;
            let wanted: Vec<Wanted> =
                (0..lines).map(|_| Wanted { steps: draw(4000) / 100.0, odour: draw(1000) / draw(50) }).collect();
            let listed = (0..1_u32 << lines).map(|bits| {
                let pick = |line: usize| choices(wanted[line].steps)[(bits >> line & 1) as usize];
                distance(&wanted, &(0..lines).map(pick).collect::<Vec<f64>>())
            });
            let best = listed.fold(f64::INFINITY, f64::min);
            let rounded = nearest(&wanted);
            let steps: Vec<f64> = rounded.steps.iter().map(|&steps| steps as f64).collect();
            assert!((rounded.distance - best).abs() < 1e-9 && rounded.proven, "case {case}");
            assert!((distance(&wanted, &steps) - best).abs() < 1e-9, "case {case}");
        }
    }
}
