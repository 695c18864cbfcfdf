//! How long the doubt of a formula takes: twelve materials that smell of all
//! twenty descriptors, every number uncertain; and the rose scenario, with the
//! search for a steady formula. `cargo bench --bench doubt -- RUNS`, 10 unless
//! said.

use std::fmt::Write as _;
use std::time::Instant;

use permil::analysis::doubt::draws::{Asked, doubt};
use permil::analysis::steady::{Aim, steady};
use permil::analysis::strengths::strengths;
use permil::chance::Chance;
use permil::control::Control;
use permil::files::{load_matches, load_palette, load_scenario};
use permil::formula::Formula;
use permil::problem::Problem;
use permil::solve::{Method, propose};
use permil::units::Ppt;

fn timed(what: &str, runs: usize, mut run: impl FnMut() -> String) {
    let mut times = Vec::new();
    let mut said = String::new();
    for _ in 0..runs {
        let started = Instant::now();
        said = run();
        times.push(1000.0 * started.elapsed().as_secs_f64());
    }
    times.sort_by(f64::total_cmp);
    println!("{what:<44} median {:8.1} ms, worst {:8.1} ms; {said}", times[times.len() / 2], times[times.len() - 1]);
}

/// A brief of twelve materials that smell of twenty descriptors each.
fn twelve_by_twenty(matching: &str) -> (Problem, Formula) {
    let mut chance = Chance::new(1, 0);
    let mut palette = "[descriptors]\n".to_owned();
    let mut brief = format!("palette = \"palette.toml\"\nmatch = \"{matching}\"\n[target]\n");
    for d in 0..20 {
        writeln!(palette, "d{d} = \"\"").unwrap();
        writeln!(brief, "d{d} = {:.2}", chance.between(1.0, 8.0)).unwrap();
    }
    for m in 0..12 {
        let scores: Vec<String> = (0..20).map(|d| format!("d{d} = {:.2}", chance.between(0.5, 9.5))).collect();
        let strength = 10f64.powf(chance.between(0.0, 3.0));
        writeln!(palette, "[[material]]\nname = \"M{m}\"\nstrength = {strength:.2}").unwrap();
        writeln!(palette, "scores = {{ {} }}", scores.join(", ")).unwrap();
    }
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("palette.toml"), palette).expect("written");
    std::fs::write(folder.path().join("brief.toml"), brief).expect("written");
    let scenario = load_scenario(&folder.path().join("brief.toml")).expect("no faults");
    let problem = Problem::new(scenario.palette, &scenario.brief, &scenario.limits);
    let doses: Vec<Ppt> = (0..12).map(|_| Ppt::from_ppt(chance.between(20.0, 150.0))).collect();
    let formula = Formula::from_doses(problem.basis, &doses).rescaled();
    (problem, formula)
}

fn main() {
    let number = |argument: String| argument.parse::<usize>().ok();
    let runs = std::env::args().skip(1).find_map(number).unwrap_or(10);
    for matching in ["balance", "level"] {
        let (problem, formula) = twelve_by_twenty(matching);
        for threads in [Some(1), None] {
            let control = Control { threads, ..Control::default() };
            let asked = Asked { draws: 10_000, seed: 1, shares: true };
            let what = format!("12 x 20, {matching}, {}", threads.map_or("all threads", |_| "one thread"));
            timed(&what, runs, || {
                let found = doubt(&problem, std::slice::from_ref(&formula), asked, &control).expect("not stopped");
                let cloud = &found.clouds[0];
                format!("{:.2} ± {:.2} %, {} numbers", cloud.fidelity.mean, cloud.fidelity.sd, cloud.numbers.len())
            });
        }
    }
    let scenario = load_scenario("profiles/rose-otto/brief.toml".as_ref()).expect("no faults");
    let problem = Problem::new(scenario.palette, &scenario.brief, &scenario.limits);
    let best = propose(&problem, Method::Auto, &Control::default()).expect("no failure").answer.expect("a formula");
    timed("rose, the proposal", runs, || {
        let asked = Asked { draws: 10_000, seed: 1, shares: true };
        let found =
            doubt(&problem, std::slice::from_ref(&best.formula), asked, &Control::default()).expect("an answer");
        format!("{:.2} %", found.clouds[0].fidelity.mean)
    });
    timed("rose, a steady formula", runs.min(3), || {
        let found = steady(&problem, &best, Aim::Steady, 1, Method::Auto, &Control::default()).expect("an answer");
        format!("gains {:.2} ± {:.2}, from {} candidates", found.gain, found.gain_error, found.candidates)
    });
    let palette = load_palette("profiles/rose-otto/palette.toml".as_ref()).expect("no faults");
    let (matches, _) = load_matches("profiles/rose-otto/matches.toml".as_ref(), &palette).expect("no faults");
    timed("rose, strengths from its matches", runs, || {
        let found = strengths(&palette, &matches).expect("an answer");
        format!("{} materials", found.materials.len())
    });
}
