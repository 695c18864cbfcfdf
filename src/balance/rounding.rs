//! Masses that a balance can show, chosen together: the odour shares that
//! result are the nearest to those that were wanted.
//!
//! A small integer programme, solved exactly by branch and bound. With whole
//! steps `n`, odours for a step `o` and wanted shares `s`, the distance is
//! `sum |o n u - s|` where `u = 1 / sum o n`. Once some lines are decided, the
//! others do best when they keep their proportions to each other, and they
//! bring no less than the difference of the decided from their share: a convex
//! function of `u` alone, least where the decided have the share that is
//! wanted of them. No single share may be off by more than half the distance,
//! since what one has too much the others lack: that leaves few steps to try.

/// Parts of the search before the best so far has to do.
const MOST_NODES: u32 = 5_000_000;
/// A choice that is nearer by less than this share of the distance is not
/// looked for.
const SAME: f64 = 1e-4;
/// Distances below this are none.
const NOTHING: f64 = 1e-12;
/// Scales at which every line is rounded by itself for a start, on each side.
const SCALES: i32 = 40;

/// One thing to weigh.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// Steps of the balance that would be exact; above 0.
    pub steps: f64,
    /// Odour for each step: strength times the neat fraction of the bottle.
    pub odour: f64,
    /// What a step of it adds to the batch, in steps: the neat fraction of the
    /// bottle, or 1 where the batch counts what is poured.
    pub counts: f64,
    /// No fewer steps than these; at least 1.
    pub least: u64,
    /// No more steps than these.
    pub most: u64,
}

impl Wanted {
    fn nearest(&self) -> f64 {
        self.steps.round().max(self.least as f64).min(self.most as f64)
    }
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

/// By how many steps the batch may be off: half a step for each line, as when
/// every line is rounded by itself, or by what the least steps force.
pub fn slack(wanted: &[Wanted]) -> f64 {
    let halves: f64 = wanted.iter().map(|line| line.counts / 2.0).sum();
    let forced: f64 = wanted.iter().map(|line| line.counts * (line.nearest() - line.steps)).sum();
    halves.max(forced.abs())
}

/// Chooses whole steps for every line so that the sum of absolute differences
/// of the odour shares is least, among all choices whose batch is off by no
/// more than [`slack`]. Lines without odour go to the nearest step. The answer
/// is the same on every run.
pub fn nearest(wanted: &[Wanted]) -> Rounded {
    let mut steps: Vec<f64> = wanted.iter().map(Wanted::nearest).collect();
    let mut order: Vec<usize> = (0..wanted.len()).filter(|&line| wanted[line].odour > 0.0).collect();
    // One line alone has all of the odour, whatever its steps.
    if order.len() < 2 {
        return Rounded { steps: whole(&steps), distance: 0.0, proven: true };
    }
    // What a step moves most is decided first.
    order.sort_by(|&a, &b| wanted[b].odour.total_cmp(&wanted[a].odour).then(a.cmp(&b)));
    let search = Search::of(order.iter().map(|&line| wanted[line]).collect());
    for (&line, &chosen) in order.iter().zip(&search.best) {
        steps[line] = chosen;
    }
    Rounded { steps: whole(&steps), distance: search.least, proven: search.is_proven() }
}

fn whole(steps: &[f64]) -> Vec<u64> {
    steps.iter().map(|&steps| steps as u64).collect()
}

struct Search {
    /// Lines with odour, what a step moves most first.
    lines: Vec<Wanted>,
    /// Wanted share of each.
    shares: Vec<f64>,
    /// What the batch counts, in steps, and by how much it may be off.
    batch: f64,
    slack: f64,
    /// Steps of the batch for each unit of odour: of the wanted shares, and
    /// how far lines lie apart in it.
    weight: f64,
    weight_spread: f64,
    /// Total odour that no choice can pass.
    most_odour: f64,
    /// Steps of the lines that are decided.
    now: Vec<f64>,
    best: Vec<f64>,
    least: f64,
    nodes: u32,
}

impl Search {
    /// The whole search among lines that all have odour.
    fn of(lines: Vec<Wanted>) -> Search {
        let mut search = Search::new(lines);
        search.start();
        search.branch();
        search
    }

    /// Whether it came to its end.
    fn is_proven(&self) -> bool {
        self.nodes < MOST_NODES
    }

    fn new(lines: Vec<Wanted>) -> Search {
        let total: f64 = lines.iter().map(|line| line.odour * line.steps).sum();
        let shares: Vec<f64> = lines.iter().map(|line| line.odour * line.steps / total).collect();
        let batch: f64 = lines.iter().map(|line| line.counts * line.steps).sum();
        let slack = slack(&lines);
        let weights = || lines.iter().map(|line| line.counts / line.odour);
        let weight = weights().zip(&shares).map(|(weight, share)| weight * share).sum();
        let weight_spread = weights().fold(0.0, f64::max) - weights().fold(f64::INFINITY, f64::min);
        let most_odour = lines.iter().map(|line| line.odour * (batch + slack) / line.counts).sum();
        Search {
            shares,
            batch,
            slack,
            weight,
            weight_spread,
            most_odour,
            now: Vec::with_capacity(lines.len()),
            best: lines.iter().map(Wanted::nearest).collect(),
            least: f64::INFINITY,
            nodes: 0,
            lines,
        }
    }

    /// Every line rounded by itself, at several scales of the batch.
    fn start(&mut self) {
        // The batch as it is meant comes first.
        for off in (0..=SCALES).flat_map(|off| [-off, off]) {
            let scale = 1.0 + f64::from(off) / f64::from(SCALES) * self.slack / self.batch;
            let scaled = |line: &Wanted| Wanted { steps: line.steps * scale, ..*line }.nearest();
            self.now = self.lines.iter().map(scaled).collect();
            self.try_now();
        }
        self.now.clear();
    }

    /// Keeps what is decided if it is the nearest so far.
    fn try_now(&mut self) {
        let counted: f64 = self.lines.iter().zip(&self.now).map(|(line, steps)| line.counts * steps).sum();
        if (counted - self.batch).abs() > self.slack * (1.0 + 1e-12) {
            return;
        }
        let distance = self.distance();
        if distance < self.least - NOTHING {
            self.least = distance;
            self.best.clone_from(&self.now);
        }
    }

    fn distance(&self) -> f64 {
        let total: f64 = self.lines.iter().zip(&self.now).map(|(line, steps)| line.odour * steps).sum();
        let apart = |((line, steps), share): ((&Wanted, &f64), &f64)| (line.odour * steps / total - share).abs();
        self.lines.iter().zip(&self.now).zip(&self.shares).map(apart).sum()
    }

    /// A distance from which on nothing is looked for.
    fn enough(&self) -> f64 {
        self.least * (1.0 - SAME) - NOTHING
    }

    /// The reciprocals of the total odour that may still bring something
    /// nearer: by the batch, and by the share of every line that is decided.
    fn reciprocals(&self) -> (f64, f64) {
        let half = self.enough() / 2.0;
        let spread = half * self.weight_spread;
        let (lightest, heaviest) = (self.batch - self.slack, self.batch + self.slack);
        let mut low = (self.weight - spread) / heaviest;
        let mut high = if lightest > 0.0 { (self.weight + spread) / lightest } else { f64::INFINITY };
        low = low.max(1.0 / self.most_odour);
        for ((line, steps), share) in self.lines.iter().zip(&self.now).zip(&self.shares) {
            let odour = line.odour * steps;
            low = low.max((share - half) / odour);
            high = high.min((share + half) / odour);
        }
        (low * (1.0 - 1e-12), high * (1.0 + 1e-12))
    }

    fn branch(&mut self) {
        self.nodes = self.nodes.saturating_add(1);
        if self.nodes >= MOST_NODES {
            return;
        }
        let at = self.now.len();
        if at == self.lines.len() {
            return self.try_now();
        }
        let (low, high) = self.reciprocals();
        if low > high || self.at_least(low, high) >= self.enough() || !self.fits(low, high) {
            return;
        }
        let (line, share) = (self.lines[at], self.shares[at]);
        let half = self.enough() / 2.0;
        let first = ((share - half) / (line.odour * high)).ceil().max(line.least as f64);
        let last = ((share + half) / (line.odour * low)).floor().min(line.most as f64);
        // Where what is decided has its share, else the batch as it is meant.
        let odour: f64 = self.lines.iter().zip(&self.now).map(|(line, steps)| line.odour * steps).sum();
        let decided: f64 = self.shares[..at].iter().sum();
        let ideal = if at == 0 { line.steps } else { share * odour / (decided * line.odour) };
        let (mut below, mut above) =
            (ideal.round().clamp(first, last.max(first)), ideal.round().max(first - 1.0) + 1.0);
        while below >= first || above <= last {
            let is_below = below >= first && (above > last || ideal - below <= above - ideal);
            let steps = if is_below { below } else { above };
            if is_below {
                below -= 1.0
            } else {
                above += 1.0
            }
            if steps < first || steps > last {
                continue;
            }
            self.now.push(steps);
            self.branch();
            self.now.pop();
            if self.nodes >= MOST_NODES {
                return;
            }
        }
    }

    /// No less than the distance of any choice with what is decided.
    fn at_least(&self, low: f64, high: f64) -> f64 {
        let at = self.now.len();
        let odours = || self.lines.iter().zip(&self.now).map(|(line, steps)| line.odour * steps);
        let (odour, decided): (f64, f64) = (odours().sum(), self.shares[..at].iter().sum());
        let own = |u: f64| -> f64 { odours().zip(&self.shares).map(|(odour, share)| (odour * u - share).abs()).sum() };
        let u = if at == 0 { low } else { (decided / odour).clamp(low, high) };
        let together = own(u) + (odour * u - decided).abs();
        // Each of the others by itself: no whole step may be where it belongs.
        let misses = |(line, share): (&Wanted, &f64)| {
            let (few, many) = (share / (line.odour * high), share / (line.odour * low));
            let whole = few.ceil().max(line.least as f64);
            if whole <= many { 0.0 } else { line.odour * low * (few - few.floor()).min(whole - many) }
        };
        let alone: f64 = self.lines[at..].iter().zip(&self.shares[at..]).map(misses).sum();
        if alone <= 0.0 {
            return together;
        }
        let corners = odours().zip(&self.shares).map(|(odour, share)| (share / odour).clamp(low, high));
        let least = corners.chain([low, high]).map(own).fold(f64::INFINITY, f64::min);
        together.max(least + alone)
    }

    /// Whether the batch can come out as heavy as it should, and smell as much.
    fn fits(&self, low: f64, high: f64) -> bool {
        let at = self.now.len();
        let half = self.enough() / 2.0;
        let counted: f64 = self.lines.iter().zip(&self.now).map(|(line, steps)| line.counts * steps).sum();
        let (mut lightest, mut heaviest) = (counted, counted);
        let odour: f64 = self.lines.iter().zip(&self.now).map(|(line, steps)| line.odour * steps).sum();
        let (mut weakest, mut strongest) = (odour, odour);
        for (line, share) in self.lines[at..].iter().zip(&self.shares[at..]) {
            let least = ((share - half) / (line.odour * high)).ceil().max(line.least as f64);
            let most = ((share + half) / (line.odour * low)).floor().min(line.most as f64);
            if most < least {
                return false;
            }
            lightest += line.counts * least;
            heaviest += line.counts * most;
            weakest += line.odour * least;
            strongest += line.odour * most;
        }
        let slack = self.slack * (1.0 + 1e-12);
        let is_possible = weakest * low <= 1.0 + 1e-12 && strongest * high >= 1.0 - 1e-12;
        is_possible && lightest <= self.batch + slack && heaviest >= self.batch - slack
    }
}

#[cfg(test)]
mod tests;
