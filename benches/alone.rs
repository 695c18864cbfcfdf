//! How the engine of the page compares with one native thread on the same briefs, both warm:
//! from the request of a move to the proven formula, reading the files included.
//!
//! `cargo run --release --bin bundle -- target/permil.html`, then `cargo bench --bench alone`: needs
//! node and taskset. `PERMIL_BOUND` names the folder of the bound engine
//! (`target/web/bound`), `RUNS` how often each is solved (15): the least time counts.

mod common;

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use common::blend::{TEN_WHOLE_PARTS, problem};
use permil::clock::Clock;
use permil::explore::{Desk, Options, Shelf};
use permil::files::palette_text;
use permil::files::shipped::Shipped;
use serde_json::{Value, json};

/// Materials, descriptors and seed of what is timed.
const TIMED: [(usize, usize, u64); 3] = [(200, 40, 1), (200, 40, 2), (1000, 80, 1)];

/// An instance as the files that a page is handed.
fn files(materials: usize, descriptors: usize, seed: u64) -> BTreeMap<String, String> {
    let instance = common::instance(materials, descriptors, seed);
    let palette = palette_text(&problem(&instance, TEN_WHOLE_PARTS).palette);
    let mut brief = "palette = \"palette.toml\"\nmatch = \"level\"\n[target]\n".to_owned();
    for (descriptor, score) in instance.target.iter().enumerate() {
        let _ = writeln!(brief, "descriptor-{descriptor} = {score}");
    }
    let _ = write!(
        brief,
        "[formula]\nstep = 1\nmin_dose = 2\nmax_materials = 10\n[budget]\nmax_price = {}\n",
        instance.blend_price_per_kg
    );
    [("palette.toml".to_owned(), palette), ("brief.toml".to_owned(), brief)].into()
}

fn cases() -> Vec<(String, BTreeMap<String, String>)> {
    let place = |file| Shipped::Rose.place(file).to_owned();
    let rose = Shipped::Rose.files().map(|file| (place(file), Shipped::Rose.text(file))).collect();
    let sized = TIMED.iter().map(|&(materials, descriptors, seed)| {
        (format!("{materials} x {descriptors}, seed {seed}"), files(materials, descriptors, seed))
    });
    [("rose".to_owned(), rose)].into_iter().chain(sized).collect()
}

/// The least time of a native solve in ms, on as many threads as this process has cores.
fn native(files: &BTreeMap<String, String>, runs: usize) -> f64 {
    let shelf = Shelf::of(files.iter().map(|(path, text)| (path.clone(), text.clone().into_bytes())));
    let options = Options::of("brief.toml".into(), Duration::from_secs(600));
    let desk = Desk::new(options, Arc::new(shelf));
    let mut least = f64::INFINITY;
    for seq in 1..=runs {
        let body = json!({ "view": { "page": "a" }, "seq": seq }).to_string();
        let since = Instant::now();
        let nanoseconds: Arc<AtomicU64> = Arc::default();
        let told = Arc::clone(&nanoseconds);
        desk.reply("/solve", &body, Clock::default(), move |line| {
            let is_final = String::from_utf8_lossy(&line).contains("\"kind\":\"final\"");
            if is_final {
                told.store(since.elapsed().as_nanos() as u64, Ordering::Relaxed);
            }
            // What comes after the formula is not asked for.
            !is_final
        });
        let nanoseconds = nanoseconds.load(Ordering::Relaxed);
        assert!(nanoseconds > 0, "no formula was proven");
        least = least.min(nanoseconds as f64 / 1e6);
    }
    least
}

fn main() {
    let runs = std::env::var("RUNS").ok().and_then(|text| text.parse().ok()).unwrap_or(15);
    // The part of it that runs on one core.
    if std::env::args().any(|argument| argument == "native") {
        let told: Vec<f64> = cases().iter().map(|(_, files)| native(files, runs)).collect();
        println!("{}", json!(told));
        return;
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let bound = std::env::var_os("PERMIL_BOUND").map_or_else(|| root.join("target/web/bound"), PathBuf::from);
    if !common::in_earnest() || !bound.is_dir() {
        println!("the engine of the page was not timed: {} is not there, or this is no cargo bench", bound.display());
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("cases.json");
    let told: Vec<Value> = cases().iter().map(|(name, files)| json!({ "name": name, "files": files })).collect();
    std::fs::write(&path, json!(told).to_string()).expect("the cases");
    let numbers = |command: &mut Command| -> Vec<Vec<f64>> {
        let ran = command.output().expect("a process");
        assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
        let value: Value = serde_json::from_slice(&ran.stdout).expect("JSON");
        let of = |value: &Value| {
            value.as_array().map_or_else(
                || vec![value.as_f64().unwrap_or(f64::NAN)],
                |all| all.iter().map(|one| one.as_f64().unwrap_or(f64::NAN)).collect(),
            )
        };
        value.as_array().expect("a list").iter().map(of).collect()
    };
    let own = std::env::current_exe().expect("this program");
    let native = numbers(Command::new("taskset").args(["-c", "0"]).arg(own).arg("native"));
    let script = root.join("benches/alone_engine.mjs");
    let page = numbers(Command::new("node").arg(script).arg(&bound).arg(&path).arg(runs.to_string()));
    println!("brief                 one native thread  page: warm   first   quotient   memory");
    for ((name, _), (native, page)) in cases().iter().zip(native.iter().zip(&page)) {
        let [warm, first, mebibytes] = page[..] else { panic!("three numbers") };
        println!(
            "{name:20} {:14.1} ms {warm:8.1} ms {first:7.1} {:8.2} {mebibytes:7.1} MiB",
            native[0],
            warm / native[0]
        );
    }
}
