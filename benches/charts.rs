//! How long a chart takes, as SVG and as PNG. `cargo bench --bench charts`.

#[allow(dead_code, reason = "the tests use the rest")]
#[path = "../tests/support/charts.rs"]
mod charts;
mod common;

use std::time::{Duration, Instant};

use charts::Case;
use permil::chart;

fn main() {
    let runs = if common::in_earnest() { 15 } else { 1 };
    for case in [Case::Ordinary, Case::Many] {
        case.each(|name, drawing| {
            let svg = median(runs, || drop(chart::svg(drawing)));
            let png = median(runs, || drop(chart::png(drawing)));
            println!("{case:?} {name:<20} SVG {:>6.2} ms, PNG {:>6.1} ms", milliseconds(svg), milliseconds(png));
        });
    }
}

fn milliseconds(time: Duration) -> f64 {
    1000.0 * time.as_secs_f64()
}

fn median(runs: usize, work: impl Fn()) -> Duration {
    let time = |_| {
        let started = Instant::now();
        work();
        started.elapsed()
    };
    let mut times: Vec<Duration> = (0..runs).map(time).collect();
    times.sort_unstable();
    times[runs / 2]
}
