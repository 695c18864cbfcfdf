//! How long it takes to bound what any formula reaches by the clock of its own film:
//! `cargo bench --bench clocks`. The rose that holds on paper over any doses, as its files ask
//! for it and with other stages; `LIMIT` sets the seconds after which a solve is stopped (20).

mod common;

use std::path::Path;
use std::time::{Duration, Instant};

use permil::control::Control;
use permil::files::load_scenario;
use permil::problem::Problem;
use permil::solve::Method;
use permil::solve::clocks::settle;

/// Minutes of the second and the third stage.
const STAGES: [(u32, u32); 3] = [(60, 480), (120, 1440), (240, 2880)];

/// Seconds that all threads of the process have computed, where the system tells.
fn computed() -> f64 {
    let told = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // User and system time, in hundredths: the 14th and the 15th field, the name being the 2nd.
    let after_name = told.rsplit(')').next().unwrap_or_default();
    let fields = after_name.split_whitespace().skip(11).take(2);
    fields.filter_map(|field| field.parse::<f64>().ok()).sum::<f64>() / 100.0
}

fn main() {
    let limit = std::env::var("LIMIT").ok().and_then(|text| text.parse().ok()).unwrap_or(20.0);
    let rose = Path::new("profiles/rose-otto");
    let folder = tempfile::tempdir().expect("a folder");
    for name in ["palette.toml", "limits.toml", "second-nose.toml", "lasting.toml", "stages.toml"] {
        std::fs::copy(rose.join(name), folder.path().join(name)).expect("copied");
    }
    let text = std::fs::read_to_string(rose.join("stages.toml")).expect("a brief");
    let mut briefs = vec!["stages.toml".to_owned(), "lasting.toml".to_owned()];
    for (second, third) in STAGES {
        let name = format!("5-{second}-{third}.toml");
        // What is wanted at each stage, and that something is left at the last.
        let lines = text.lines().filter(|line| !line.starts_with("kept"));
        let text = lines.collect::<Vec<_>>().join("\n");
        let text = text.replace("minutes = 120", &format!("minutes = {second}"));
        let text = text.replace("minutes = 480", &format!("minutes = {third}"));
        let text = text.split("[[stage.share]]").next().unwrap_or_default().to_owned();
        std::fs::write(folder.path().join(&name), text).expect("written");
        briefs.push(name);
    }
    println!(
        "{:<18} {:>8} {:>8} {:>7} {:>7} {:>7} {:>7}",
        "brief", "match %", "bound %", "gap %", "boxes", "cpu s", "s"
    );
    let most = if common::in_earnest() { briefs.len() } else { 1 };
    for name in briefs.iter().take(most) {
        let scenario = load_scenario(&folder.path().join(name)).expect("no faults");
        let problem = Problem::new(scenario.palette, &scenario.brief, &scenario.limits).relaxed();
        let (began, before) = (Instant::now(), computed());
        let control = Control::default().within(Duration::from_secs_f64(limit));
        let settled = settle(&problem, Method::Auto, &control).expect("a solution");
        let (seconds, cpu) = (began.elapsed().as_secs_f64(), computed() - before);
        let solution = settled.solution;
        let (loss, bound) =
            (solution.answer.map_or(f64::NAN, |it| it.evaluation.loss), solution.bound.unwrap_or(f64::NAN));
        let percent = |loss: f64| 100.0 * (1.0 - loss / problem.worst_loss());
        let gap = 100.0 * (loss - bound) / loss;
        let (found, most) = (percent(loss), percent(bound));
        println!("{name:<18} {found:>8.3} {most:>8.3} {gap:>7.2} {:>7} {cpu:>7.2} {seconds:>7.2}", solution.nodes);
    }
}
