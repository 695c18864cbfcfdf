//! How near the loop comes: propose, weigh, smell, learn, propose again, with noses and
//! shelves that are made up, so that the truth is known.
//! `cargo bench --bench loop [-- NOSES [FIRST]] [WORD...]`: NOSES how many noses (24), FIRST
//! the seed of the first (1001; seeds from 1 on are for trying), WORD a row's name or a part
//! of it, all rows without one. `TRIALS` sets how many trials each loop has (8), `NODES`
//! the nodes of a search (2000): nothing here is stopped by a clock, so that a run gives the
//! same figures again, but for its times. A row tells how a shelf is
//! proposed from ("how") and what is true of it ("truth"); what it was true of is in
//! [`world`].

#[path = "../common/mod.rs"]
mod common;
mod figures;
mod play;
#[path = "../../tests/support/smelled.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod smelled;
mod ways;
mod world;

use permil::control::Control;
use permil::pool::in_parallel;

use figures::Figures;
use play::play;
use ways::Way;
use world::{Shelf, Truth, World};

/// One row: a shelf, what is true of it, and how it is worked with.
struct Row {
    shelf: Shelf,
    truth: Truth,
    way: Way,
}

impl Row {
    fn name(&self) -> String {
        format!("{} {} {}", self.shelf.word(), self.truth.word(), self.way.word())
    }
}

fn number(name: &str, default: usize) -> usize {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(default)
}

/// Every row that is told.
fn rows() -> Vec<Row> {
    let mut rows = Vec::new();
    for shelf in Shelf::ALL {
        for truth in Truth::ALL {
            rows.extend(Way::ALL.map(|way| Row { shelf, truth, way }));
        }
    }
    rows
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with("--")).collect();
    let numbers: Vec<usize> = words.iter().filter_map(|word| word.parse().ok()).collect();
    let words: Vec<&String> = words.iter().filter(|word| word.parse::<usize>().is_err()).collect();
    let is_earnest = common::in_earnest();
    let noses = numbers.first().copied().unwrap_or(if is_earnest { 24 } else { 1 });
    let first = numbers.get(1).copied().unwrap_or(1001);
    let trials = number("TRIALS", if is_earnest { 8 } else { 1 });
    println!("{}", Figures::head(trials));
    for row in rows() {
        let name = row.name();
        if !words.iter().all(|word| name.contains(*word)) {
            continue;
        }
        let seeds: Vec<u64> = (first..first + noses).map(|seed| seed as u64).collect();
        let played = in_parallel(&seeds, &Control::default(), |&seed| {
            let world = World::new(row.shelf, row.truth, seed);
            play(&world, row.way, trials, seed)
        });
        let figures = Figures::of(trials, played.into_iter().flatten().collect());
        println!("{}", figures.told(&name));
        if !is_earnest {
            break;
        }
    }
}
