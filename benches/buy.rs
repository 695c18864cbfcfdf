//! How long it takes to say what is worth buying: the rose shelf with a seeded
//! wishlist of forty. `cargo bench --bench buy -- SEEDS`, 10 unless said; with
//! KEEP set in the environment the wishlists stay where it says.

mod common;

use std::fmt::Write as _;
use std::path::Path;
use std::time::Instant;

use permil::analysis::buy::buy;
use permil::control::Control;
use permil::files::load_scenario_to_buy;
use permil::problem::Problem;
use permil::solve::{Method, Status};
use rand::seq::index::sample;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Materials on a wishlist.
const WISHED: usize = 40;

/// A wishlist of made-up materials: two to five of the rose shelf's
/// descriptors each, strengths from 2 to 2000, prices from 10 to 1000.
fn wishlist(seed: u64) -> String {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let shelf = std::fs::read_to_string("profiles/rose-otto/palette.toml").expect("the rose shelf");
    let descriptors = shelf.split("[descriptors]\n").nth(1).and_then(|rest| rest.split("\n\n").next());
    let descriptors = descriptors.expect("descriptors");
    let names: Vec<&str> = descriptors.lines().filter_map(|line| line.split(" = ").next()).collect();
    let mut text = format!("[descriptors]\n{descriptors}\n");
    for index in 0..WISHED {
        let count = random.random_range(2..=5);
        let scores: Vec<String> = sample(&mut random, names.len(), count)
            .into_iter()
            .map(|at| format!("{} = {}", names[at], random.random_range(1..=9)))
            .collect();
        let strength = 10f64.powf(random.random_range(0.3..3.3));
        let price = 10f64.powf(random.random_range(1.0..3.0));
        let scores = scores.join(", ");
        writeln!(
            text,
            "\n[[material]]\nname = \"Wish {index:02}\"\nstrength = {strength:.2}\nscores = {{ {scores} }}\nprice = {price:.2}"
        )
        .expect("text");
    }
    text
}

fn main() {
    let seeds = std::env::args().skip(1).find_map(|argument| argument.parse().ok());
    let seeds = seeds.unwrap_or(if common::in_earnest() { 10 } else { 1 });
    let folder = tempfile::tempdir().expect("a folder");
    let kept = std::env::var("KEEP").ok();
    let folder = kept.as_deref().map_or(folder.path(), Path::new);
    let mut times = Vec::new();
    for seed in 1..=seeds {
        let path = folder.join(format!("wishlist-{seed}.toml"));
        std::fs::write(&path, wishlist(seed)).expect("written");
        let started = Instant::now();
        let scenario = load_scenario_to_buy("profiles/rose-otto/brief.toml".as_ref(), Some(&path)).expect("no faults");
        let problem = Problem::new(scenario.palette, &scenario.brief, &scenario.limits);
        let found = buy(&problem, Method::Auto, &Control::default(), &|_, _| {}).expect("the method takes it");
        let seconds = started.elapsed().as_secs_f64();
        let adding = found.singles.iter().filter(|offer| offer.answer.is_some()).count();
        let open = found.singles.iter().filter(|offer| offer.status != Status::Optimal).count();
        let pair = found.pair.is_some_and(|pair| pair.answer.is_some());
        let of = found.singles.len();
        println!("seed {seed:>2}: {seconds:.3} s, {adding} of {of} add something, a pair more: {pair}, open: {open}");
        times.push(seconds);
    }
    times.sort_by(f64::total_cmp);
    println!("median {:.3} s, worst {:.3} s", times[times.len() / 2], times[times.len() - 1]);
}
