//! `permil propose` for many briefs: each by itself, one line of JSON each.

use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use serde::{Deserialize, Serialize};

use super::error::CliError;
use super::output::{self, complain};
use super::progress;
use super::shared::{Search, Shown};
use super::{Ending, stop};
use crate::control::Control;
use crate::escape::escaped;
use crate::files::{briefs_within, load_scenario_in};
use crate::formats::json;
use crate::pool::in_parallel;
use crate::questions::Resolved;
use crate::questions::propose::{self, Asked};
use crate::results::propose::ProposeReport;
use crate::store::{Disk, Once, Store};

/// What is asked of every brief.
pub struct Many<'a> {
    /// The briefs, and folders that hold some.
    pub named: &'a [PathBuf],
    /// How each is asked.
    pub asked: Asked,
    /// How long each may take.
    pub search: &'a Search,
    /// A file of lines that an earlier run has written, and that this one goes on with.
    pub resume: Option<&'a Path>,
    /// How it is shown.
    pub shown: &'a Shown,
}

/// A brief of which there is no report.
#[derive(Debug, Serialize)]
struct Broken<'a> {
    command: &'static str,
    brief: &'a str,
    status: &'static str,
    errors: Vec<String>,
}

/// What is looked at of a line that was written before.
#[derive(Debug, Deserialize)]
struct Written {
    asked: String,
}

/// A line: which brief was asked, and what came of it.
#[derive(Debug, Serialize)]
struct Line<'a, T: Serialize> {
    /// The path by which the brief was asked.
    asked: &'a str,
    #[serde(flatten)]
    told: &'a T,
}

/// What came of one brief.
struct Done {
    line: String,
    ending: Ending,
}

/// Answers all of them, and says how the worst one ended.
///
/// # Errors
/// Nothing was to be done, or nothing can be written.
pub fn run(many: &Many<'_>) -> Result<Ending, CliError> {
    let mut briefs = Vec::new();
    for path in many.named {
        if path.is_dir() {
            let within = briefs_within(path).map_err(|why| CliError::Wrong(format!("{} {why}", shown(path))))?;
            if within.is_empty() {
                return Err(CliError::Wrong(format!("{} holds no brief", shown(path))));
            }
            briefs.extend(within);
        } else {
            briefs.push(path.clone());
        }
    }
    let done: BTreeSet<String> = many.resume.map(written).transpose()?.unwrap_or_default();
    let left: Vec<&PathBuf> = briefs.iter().filter(|path| !done.contains(&*path.to_string_lossy())).collect();
    let mut to: Box<dyn Write + Send> = match many.resume {
        Some(path) => Box::new(Disk.append(path).map_err(|error| unwritable(path, &error))?),
        None => Box::new(std::io::stdout()),
    };
    if let (Some(path), false) = (many.resume, many.shown.quiet) {
        output::note(&format!(
            "{} of {} briefs are in {} already",
            briefs.len() - left.len(),
            briefs.len(),
            shown(path)
        ));
    }
    all(many, &left, &mut to)
}

fn shown(path: &Path) -> String {
    escaped(&path.to_string_lossy())
}

fn unwritable(path: &Path, error: &std::io::Error) -> CliError {
    CliError::Wrong(format!("{} cannot be written: {error}", shown(path)))
}

/// The briefs that whole lines of a file are about.
fn written(path: &Path) -> Result<BTreeSet<String>, CliError> {
    if Disk.identity(path).is_none() {
        return Ok(BTreeSet::new());
    }
    let text = Disk.text(path, u64::MAX).map_err(|why| CliError::Wrong(format!("{} {why}", shown(path))))?;
    let mut done = BTreeSet::new();
    for (at, line) in text.split_inclusive('\n').enumerate() {
        // The last one may have been broken off.
        if line.ends_with('\n') && !line.trim().is_empty() {
            let line = json::read::<Written>(line).map_err(|_| {
                CliError::Wrong(format!("{}:{} is no line that propose has written", shown(path), at + 1))
            })?;
            done.insert(line.asked);
        }
    }
    Ok(done)
}

/// Solves side by side and writes in the order given, each as soon as those before it are
/// written.
fn all(many: &Many<'_>, briefs: &[&PathBuf], to: &mut (dyn Write + Send)) -> Result<Ending, CliError> {
    let stop = stop::on_interrupt();
    let whole = Control {
        stop: Arc::clone(&stop),
        threads: many.search.threads.map(|threads| threads as usize),
        ..Control::default()
    };
    let line = progress::counted(many.shown.quiet);
    let place =
        Mutex::new(Place { next: 0, waiting: BTreeMap::new(), to, failed: None, ending: Ending::Done, broken: 0 });
    let numbered: Vec<(usize, &PathBuf)> = briefs.iter().copied().enumerate().collect();
    in_parallel(&numbered, &whole, |(at, path)| {
        let done = one(many, path, &stop);
        // What Ctrl-C has cut short is not told as if it were an answer.
        if whole.should_stop() {
            return;
        }
        let mut place = place.lock().unwrap_or_else(PoisonError::into_inner);
        place.take(*at, done);
        if place.failed.is_some() {
            stop.store(true, std::sync::atomic::Ordering::Relaxed);
        }
        line.tell(&format!("{} of {} briefs, {} without a formula", place.next, briefs.len(), place.broken));
    });
    line.clear();
    let place = place.into_inner().unwrap_or_else(PoisonError::into_inner);
    if let Some(error) = place.failed {
        // A reader that has seen enough is no fault.
        if error.kind() == std::io::ErrorKind::BrokenPipe {
            return Ok(place.ending);
        }
        complain(&format!("the answers cannot be written: {error}"));
        return Ok(Ending::Wrong);
    }
    if place.next < briefs.len() {
        complain(&format!("stopped after {} of {} briefs", place.next, briefs.len()));
        return Ok(Ending::NoAnswer);
    }
    Ok(place.ending)
}

/// Where lines are put into their order.
struct Place<'w> {
    next: usize,
    waiting: BTreeMap<usize, Done>,
    to: &'w mut (dyn Write + Send),
    failed: Option<std::io::Error>,
    ending: Ending,
    broken: usize,
}

impl Place<'_> {
    fn take(&mut self, at: usize, done: Done) {
        self.waiting.insert(at, done);
        while let Some(done) = self.waiting.remove(&self.next) {
            self.next += 1;
            self.broken += usize::from(done.ending != Ending::Done);
            self.ending = self.ending.worse(done.ending);
            if let Err(error) = self.to.write_all(done.line.as_bytes()).and_then(|()| self.to.flush()) {
                self.failed.get_or_insert(error);
                return;
            }
        }
    }
}

/// Answers one brief on the thread that it is given.
fn one(many: &Many<'_>, path: &Path, stop: &Arc<std::sync::atomic::AtomicBool>) -> Done {
    let name = path.to_string_lossy().into_owned();
    let broken = |status: &'static str, errors: Vec<String>, ending: Ending| {
        let told = Broken { command: "propose", brief: &name, status, errors };
        Done { line: json::line(&Line { asked: &name, told: &told }), ending }
    };
    let scenario = match load_scenario_in(&Once::over(Disk), path) {
        Ok(scenario) => scenario,
        Err(faults) => {
            let told = faults.iter().map(|fault| {
                let place = fault.place.as_ref().map_or(String::new(), |at| format!("{}:{}: ", at.file, at.line));
                let help = fault.help.as_ref().map_or(String::new(), |help| format!("; {help}"));
                format!("{place}{fault}{help}")
            });
            return broken("wrong", told.collect(), Ending::Wrong);
        }
    };
    let resolved = Resolved::from(scenario);
    let limit = Duration::from_secs_f64(many.search.time_limit).max(Duration::from_nanos(1));
    let control =
        Control { stop: Arc::clone(stop), node_limit: many.search.node_limit, threads: Some(1), ..Control::default() };
    match propose::ask(&resolved, &many.asked, &control.within(limit)) {
        Ok(answer) => {
            let ending = answer.outcome().into();
            let told: &ProposeReport = &answer.report;
            Done { line: json::line(&Line { asked: &name, told }), ending }
        }
        Err(refusal) => {
            let error = CliError::from(refusal);
            broken("failed", vec![error.to_string()], error.ending())
        }
    }
}
