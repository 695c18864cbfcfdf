//! What a long search has so far, on a terminal.

use std::sync::Arc;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::output::may_draw;
use crate::clock::{Clock, Moment};
use crate::control::{Control, Count, Progress};
use crate::number::{rounded, rounded_up};
use crate::problem::Problem;
use crate::problem::target::fidelity_percent;

/// A search that ends sooner than this shows nothing.
const PATIENCE: Duration = Duration::from_millis(300);

/// A line on standard error, until it is cleared.
pub struct Drawing(Option<ProgressBar>);

impl Drawing {
    /// A line that nothing is shown on yet.
    fn hidden(quiet: bool) -> Drawing {
        if quiet || !may_draw() {
            return Drawing(None);
        }
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
        if let Ok(style) = ProgressStyle::with_template("{spinner} {elapsed:>4} {msg}") {
            bar.set_style(style);
        }
        Drawing(Some(bar))
    }

    /// Takes the line away.
    pub fn clear(&self) {
        if let Some(bar) = &self.0 {
            bar.finish_and_clear();
        }
    }
}

/// Shows that something is being worked on, where standard error is a terminal.
pub fn busy(what: &'static str, quiet: bool) -> Drawing {
    let drawing = Drawing::hidden(quiet);
    if let Some(line) = &drawing.0 {
        line.set_message(what);
        line.set_draw_target(ProgressDrawTarget::stderr());
        line.enable_steady_tick(PATIENCE);
    }
    drawing
}

/// Shows how far many computations are, where standard error is a terminal.
pub fn counted(quiet: bool) -> Drawing {
    busy("reading", quiet)
}

impl Drawing {
    /// Says something on the line.
    pub fn tell(&self, text: &str) {
        if let Some(bar) = &self.0 {
            bar.set_message(text.to_owned());
        }
    }
}

/// Brings a line to the screen once it has been waited for.
fn show(line: &ProgressBar, begun: Moment) {
    if Clock::default().since(begun) >= PATIENCE && line.is_hidden() {
        line.set_draw_target(ProgressDrawTarget::stderr());
        line.enable_steady_tick(Duration::from_millis(120));
    }
}

/// Shows incumbent, bound and nodes of the search that `control` is passed
/// to, and how many of several computations have ended, where standard error is
/// a terminal.
pub fn draw(problem: &Problem, control: &mut Control, quiet: bool) -> Drawing {
    let drawing = Drawing::hidden(quiet);
    let Some(line) = drawing.0.clone() else { return drawing };
    // The listener outlives this borrow; fidelity needs nothing else.
    let worst = problem.worst_loss();
    let begun = Clock::default().now();
    let counting = line.clone();
    control.counted = Some(Arc::new(move |Count { what, done, of }| {
        counting.set_message(format!("{done} of {of} {what}"));
        show(&counting, begun);
    }));
    control.progress = Some(Arc::new(move |progress: Progress| {
        line.set_message(message(progress, worst));
        show(&line, begun);
    }));
    drawing
}

fn message(progress: Progress, worst_loss: f64) -> String {
    let fidelity = |loss: f64| fidelity_percent(loss, worst_loss);
    let found = match progress.incumbent_loss {
        Some(loss) => format!("{} % found", rounded(fidelity(loss), 2)),
        None => "no formula yet".to_owned(),
    };
    let most = rounded_up(fidelity(progress.bound), 2);
    format!("{found}, at most {most} % possible, {} nodes", progress.nodes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_says_what_is_found_and_what_is_possible() {
        let progress = Progress { incumbent_loss: None, bound: 1.0, nodes: 7 };
        assert_eq!(message(progress, 8.0), "no formula yet, at most 87.50 % possible, 7 nodes");
        let progress = Progress { incumbent_loss: Some(2.0), ..progress };
        assert_eq!(message(progress, 8.0), "75.00 % found, at most 87.50 % possible, 7 nodes");
    }
}
