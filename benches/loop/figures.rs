//! What came of a row, as a line of a table.

/// How one loop went.
pub struct Played {
    /// The true match of what is proposed after so many trials, in percent.
    pub proposed: Vec<f64>,
    /// The true match of each trial that was weighed; of a material alone that of nothing.
    pub weighed: Vec<f64>,
    /// Percent of the best formula that is known by what is true.
    pub best: f64,
    /// Of the ranges of nine in ten that were told how many held the truth, of how many.
    pub held: (usize, usize),
    /// Seconds that each proposal took to compute.
    pub seconds: Vec<f64>,
}

/// What came of a row.
pub struct Figures {
    trials: usize,
    all: Vec<Played>,
}

/// The lower quartile, the median and the upper one.
fn quartiles(mut values: Vec<f64>) -> [f64; 3] {
    values.sort_by(f64::total_cmp);
    [0.25, 0.5, 0.75].map(|part| at(&values, part))
}

/// A quantile, between neighbours in proportion.
fn at(sorted: &[f64], part: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else { return f64::NAN };
    let place = part * last as f64;
    let (below, rest) = (place.floor() as usize, place.fract());
    sorted[below] + rest * (sorted[(below + 1).min(last)] - sorted[below])
}

impl Figures {
    /// Of some loops.
    pub fn of(trials: usize, all: Vec<Played>) -> Figures {
        Figures { trials, all }
    }

    /// After how many trials a proposal is told.
    fn told_after(trials: usize) -> impl Iterator<Item = usize> {
        (0..=trials).filter(|after| [0, 1, 2, 3, 4, 5, 6, 8].contains(after))
    }

    /// The head of the table: what is proposed after so many trials, as a median with its
    /// quartiles; the parts of the noses that lie within 1 and 2 points of the best after four
    /// trials and after the last; ranges that held; seconds, the median and the worst.
    pub fn head(trials: usize) -> String {
        let after: Vec<String> = Self::told_after(trials).map(|after| format!("{after:^16}")).collect();
        format!(
            "{:<34}{}| best | within 1, 2 after 4 | at the end | ranges | s (worst)",
            "shelf truth how",
            after.join("")
        )
    }

    /// The line of a row.
    pub fn told(&self, name: &str) -> String {
        let mut line = format!("{name:<34}");
        for after in Self::told_after(self.trials) {
            let [low, middle, high] = quartiles(self.all.iter().map(|one| one.proposed[after]).collect());
            line += &format!("{middle:5.1} ({low:4.1}-{high:4.1})");
        }
        let [low, best, high] = quartiles(self.all.iter().map(|one| one.best).collect());
        line += &format!(" {best:5.1} ({low:4.1}-{high:4.1})");
        for after in [4.min(self.trials), self.trials] {
            let within = |points: f64| {
                let near = self.all.iter().filter(|one| one.best - one.proposed[after] <= points).count();
                (100.0 * near as f64 / self.all.len() as f64).round()
            };
            let [_, short, _] = quartiles(self.all.iter().map(|one| one.best - one.proposed[after]).collect());
            line += &format!("  -{short:3.1} {:3}% {:3}%", within(1.0), within(2.0));
        }
        let [_, middle, _] =
            quartiles(self.all.iter().flat_map(|one| one.weighed.clone()).filter(|it| it.is_finite()).collect());
        let (held, of) = self.all.iter().fold((0, 0), |(held, of), one| (held + one.held.0, of + one.held.1));
        let mut seconds: Vec<f64> = self.all.iter().flat_map(|one| one.seconds.clone()).collect();
        seconds.sort_by(f64::total_cmp);
        let part = if of > 0 { format!("{:2.0}%", 100.0 * held as f64 / of as f64) } else { "  -".to_owned() };
        line + &format!("  w{middle:5.1} {part} of {of}  {:5.2} ({:5.2})", at(&seconds, 0.5), at(&seconds, 1.0))
    }
}
