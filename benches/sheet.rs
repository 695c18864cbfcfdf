//! How long sheets take: the import of 3000 materials by 150 columns, the same
//! written out, and a look at the shelf. `cargo bench --bench sheet`.

mod common;

use std::fmt::Write as _;
use std::time::{Duration, Instant};

use permil::analysis::palette::map::map;
use permil::analysis::palette::twins::twins;
use permil::control::Control;
use permil::files::sheet::{DecimalSign, Reading, Writing, import_palette, palette_sheet};
use permil::files::{load_palette, palette_text};

const KNOWN: &str = "material,strength,cas,strength_factor,price,max,max_in_product,tags,note,lasting,natural,bottle,stock,\
    handling,remarks";
const COLUMNS: usize = 150;

/// A sheet in which every score is written.
fn sheet(materials: usize) -> String {
    let descriptors = COLUMNS - KNOWN.split(',').count();
    let mut text = KNOWN.to_owned();
    for at in 0..descriptors {
        let _ = write!(text, ",d{at:03}");
    }
    for row in 0..materials {
        let figure = |at: usize, most: usize| (row * 7919 + at * 104_729) % most;
        let _ = write!(
            text,
            "\nMaterial {row},{}.{},,1.5,{}.5,100,0.5,alcohol; rose,heart,12,,\"10 % in Dipropylene glycol\",50,,free",
            1 + figure(1, 900),
            figure(2, 10),
            5 + figure(3, 4000)
        );
        for at in 0..descriptors {
            let _ = write!(text, ",{}.{}", figure(at, 10), figure(at + 1, 10));
        }
    }
    text + "\n"
}

fn timed<T>(what: &str, runs: usize, work: impl Fn() -> T) -> T {
    let mut times: Vec<Duration> = Vec::new();
    let mut last = None;
    for _ in 0..runs {
        let started = Instant::now();
        last = Some(work());
        times.push(started.elapsed());
    }
    times.sort_unstable();
    let milliseconds = |time: Duration| 1000.0 * time.as_secs_f64();
    println!(
        "{what:<52} median {:7.1} ms, worst {:7.1} ms",
        milliseconds(times[runs / 2]),
        milliseconds(times[runs - 1])
    );
    last.expect("at least one run")
}

fn main() {
    let (materials, runs) = if common::in_earnest() { (3000, 9) } else { (30, 1) };
    let folder = std::env::temp_dir().join(format!("permil-sheet-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    let [csv, toml] = ["shelf.csv", "palette.toml"].map(|name| folder.join(name));
    std::fs::write(&csv, sheet(materials)).expect("written");
    let what = |what: &str| format!("{materials} rows by {COLUMNS} columns: {what}");
    let palette = timed(&what("import, to the file"), runs, || {
        let palette = import_palette(&csv, &Reading::default()).expect("no faults");
        std::fs::write(&toml, palette_text(&palette)).expect("written");
        palette
    });
    timed(&what("reading palette.toml"), runs, || load_palette(&toml).expect("no faults"));
    let writing = Writing { delimiter: b',', decimal: DecimalSign::Point };
    timed(&what("export"), runs, || palette_sheet(&palette, &writing));
    timed(&what("twins"), runs, || twins(&palette, 85.0, &Control::default()));
    timed(&what("map"), runs, || map(&palette));
    std::fs::remove_dir_all(&folder).expect("removed");
}
