//! Running a property over many cases: a fixed number of them, or for as long
//! as is asked. A failure is made small, kept, and does not end a long run.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use proptest::strategy::Strategy;
use proptest::test_runner::{Config, RngAlgorithm, TestCaseError, TestError, TestRng, TestRunner};

use crate::folder::Folder;

/// A case of a long run that takes longer than this counts as a hang: its
/// files are kept and the run ends. The slowest honest ones take seconds, on a
/// busy machine a minute.
const HANG: Duration = Duration::from_secs(300);
/// Cases between two looks at the clock.
const BATCH: u32 = 64;

/// A case that can be written down.
pub trait Case: std::fmt::Debug {
    /// The files that make it.
    fn folder(&self) -> Folder;
}

/// How many cases are run, from which seed, and where failures are kept.
pub struct Campaign {
    name: String,
    seed: u64,
    cases: u32,
    until: Option<Instant>,
    keep: Option<PathBuf>,
}

/// Runs a campaign for its share of PERMIL_FUZZ_SECONDS, and fails with all
/// that it found.
pub fn long(name: &str, share: u64, run: impl FnOnce(&Campaign) -> Vec<String>) {
    let number = |name: &str, unless: u64| match std::env::var(name) {
        Ok(text) => text.parse().unwrap_or_else(|_| panic!("{name}: {text} is not a whole number")),
        Err(_) => unless,
    };
    let keep = std::env::var_os("PERMIL_FUZZ_KEEP")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("target/fuzz-findings"), PathBuf::from);
    let seconds = number("PERMIL_FUZZ_SECONDS", 60).div_ceil(share);
    let campaign = Campaign {
        name: name.to_owned(),
        seed: number("PERMIL_FUZZ_SEED", 1),
        cases: BATCH,
        until: Some(Instant::now() + Duration::from_secs(seconds)),
        keep: Some(keep),
    };
    let found = run(&campaign);
    assert!(found.is_empty(), "{} failures: {found:#?}", found.len());
}

impl Campaign {
    /// A fixed number of cases.
    pub fn short(name: &str, cases: u32) -> Campaign {
        Campaign { name: name.to_owned(), seed: 1, cases, until: None, keep: None }
    }

    /// Judges cases; returns what failed, once for each reason.
    pub fn run<S: Strategy>(&self, strategy: S, judge: impl Fn(&S::Value) -> Result<(), String>) -> Vec<String>
    where
        S::Value: Case,
    {
        let watch = self.until.map(|_| Watch::start(self.keep.clone().unwrap_or_default(), &self.name));
        let mut found: Vec<String> = Vec::new();
        let mut reasons: Vec<String> = Vec::new();
        let (mut round, mut cases) = (0u64, 0u64);
        loop {
            let config = Config {
                cases: self.cases,
                failure_persistence: None,
                max_shrink_iters: 3000,
                max_shrink_time: 120_000,
                ..Config::default()
            };
            let mut seed = [0; 32];
            seed[..8].copy_from_slice(&self.seed.to_le_bytes());
            seed[8..16].copy_from_slice(&round.to_le_bytes());
            let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &seed);
            let outcome = TestRunner::new_with_rng(config, rng).run(&strategy, |case| {
                if let Some(watch) = &watch {
                    watch.begin(&case);
                }
                judge(&case).map_err(TestCaseError::fail)
            });
            cases += u64::from(self.cases);
            if let Err(error) = outcome {
                let (why, folder) = match &error {
                    TestError::Fail(why, case) => (why.message().to_owned(), Some(case.folder())),
                    TestError::Abort(why) => (why.message().to_owned(), None),
                };
                // Numbers differ from case to case; the words make the reason.
                let reason: String = why.chars().filter(|c| !c.is_ascii_digit()).take(60).collect();
                let place = format!("{}-{}-{round}", self.name, self.seed);
                if let (Some(keep), Some(folder)) = (&self.keep, &folder) {
                    folder.write_with_reason(&keep.join(&place), &why);
                }
                if self.until.is_none() || !reasons.contains(&reason) {
                    let files = if self.until.is_none() { format!("\n{folder:?}") } else { String::new() };
                    found.push(format!("{place}: {why}{files}"));
                    reasons.push(reason);
                }
            }
            round += 1;
            match self.until {
                Some(until) if Instant::now() < until => {}
                _ => break,
            }
        }
        println!("{}: {cases} cases, {} kinds of failure", self.name, found.len());
        found
    }
}

/// Ends the process where one case does not end, with its files kept.
struct Watch {
    present: Arc<Mutex<Option<(Instant, Folder)>>>,
}

impl Watch {
    fn start(keep: PathBuf, name: &str) -> Watch {
        let present: Arc<Mutex<Option<(Instant, Folder)>>> = Arc::default();
        let seen = Arc::downgrade(&present);
        let place = keep.join(format!("{name}-hang"));
        std::thread::spawn(move || {
            while let Some(present) = seen.upgrade() {
                if let Some((since, folder)) = &*present.lock().unwrap_or_else(PoisonError::into_inner)
                    && since.elapsed() > HANG
                {
                    folder.write_with_reason(&place, "it does not end");
                    eprintln!("a case takes longer than {HANG:?}: {}", place.display());
                    std::process::exit(101);
                }
                drop(present);
                std::thread::sleep(Duration::from_millis(500));
            }
        });
        Watch { present }
    }

    fn begin(&self, case: &impl Case) {
        *self.present.lock().unwrap_or_else(PoisonError::into_inner) = Some((Instant::now(), case.folder()));
    }
}

/// Writes a file, and the folders above it.
pub fn write(path: &Path, bytes: &[u8]) {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder).unwrap();
    }
    fs::write(path, bytes).unwrap();
}
