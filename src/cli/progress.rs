//! What a long search has so far, on a terminal.

use std::sync::Arc;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::output::may_draw;
use crate::control::{Control, Progress};
use crate::number::rounded;
use crate::problem::Problem;

/// A search that ends sooner than this shows nothing.
const PATIENCE: Duration = Duration::from_millis(300);

/// A line on standard error, until it is cleared.
pub struct Drawing(Option<ProgressBar>);

impl Drawing {
    /// Takes the line away.
    pub fn clear(&self) {
        if let Some(bar) = &self.0 {
            bar.finish_and_clear();
        }
    }
}

/// Shows incumbent, bound and nodes of the search that `control` is passed
/// to, where standard error is a terminal.
pub fn draw(problem: &Problem, control: &mut Control, quiet: bool) -> Drawing {
    if quiet || !may_draw() {
        return Drawing(None);
    }
    let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
    if let Ok(style) = ProgressStyle::with_template("{spinner} {elapsed:>4} {msg}") {
        bar.set_style(style);
    }
    let line = bar.clone();
    // The listener outlives this borrow; fidelity needs nothing else.
    let worst = problem.worst_loss();
    let begun = Instant::now();
    control.progress = Some(Arc::new(move |progress: Progress| {
        line.set_message(message(progress, worst));
        if begun.elapsed() >= PATIENCE && line.is_hidden() {
            line.set_draw_target(ProgressDrawTarget::stderr());
            line.enable_steady_tick(Duration::from_millis(120));
        }
    }));
    Drawing(Some(bar))
}

fn message(progress: Progress, worst_loss: f64) -> String {
    let fidelity = |loss: f64| rounded(100.0 * (1.0 - loss / worst_loss).max(0.0), 2);
    let so_far =
        progress.incumbent_loss.map_or("no formula yet".to_owned(), |loss| format!("{} % found", fidelity(loss)));
    format!("{so_far}, at most {} % possible, {} nodes", fidelity(progress.bound), progress.nodes)
}
