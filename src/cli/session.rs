//! One run of a command: it reads, warns, works, saves, draws, prints and ends.

use std::path::{Path, PathBuf};

use super::error::CliError;
use super::output::{self, complain};
use super::shared::{FormatName, Search, Shown};
use super::{Ending, progress, stop};
use crate::control::Control;
use crate::escape::escaped;
use crate::files::{Faults, Scenario, load_formula_with_warnings_in, load_scenario_in};
use crate::formats::Report;
use crate::formula::Formula;
use crate::palette::Palette;
use crate::problem::Problem;
use crate::questions::{Outcome, Refusal, Resolved};
use crate::store::{Disk, Once};
use crate::units::Ppt;

impl From<Outcome> for Ending {
    fn from(outcome: Outcome) -> Ending {
        match outcome {
            Outcome::Answered => Ending::Done,
            Outcome::No | Outcome::Impossible(_) => Ending::No,
            Outcome::Stopped => Ending::NoAnswer,
        }
    }
}

/// One run of a command.
pub struct Session {
    shown: Shown,
    /// The files, each as it was read.
    pub store: Once<'static>,
    /// How it ends in spite of an answer: a file could not be written.
    late: Option<Ending>,
}

impl Session {
    /// A run that shows its answer so.
    pub fn new(shown: &Shown) -> Session {
        Session { shown: *shown, store: Once::over(&Disk), late: None }
    }

    /// Faults of a file, to be shown in this run's colours.
    pub fn faulty(&self, faults: Faults) -> CliError {
        CliError::Faults(faults, self.shown.color)
    }

    /// Reads a brief and what it names.
    ///
    /// # Errors
    /// All the faults of all these files.
    pub fn scenario(&self, brief: &Path) -> Result<Scenario, CliError> {
        load_scenario_in(&self.store, brief).map_err(|faults| self.faulty(faults))
    }

    /// Reads a formula; what is said of it goes to the warnings.
    ///
    /// # Errors
    /// All the faults of the file.
    pub fn formula(&self, path: &Path, palette: &Palette, warnings: &mut Vec<String>) -> Result<Formula, CliError> {
        let (formula, more) =
            load_formula_with_warnings_in(&self.store, path, palette).map_err(|faults| self.faulty(faults))?;
        warnings.extend(more);
        Ok(formula)
    }

    /// Reads several formulas.
    ///
    /// # Errors
    /// The faults of all of them.
    pub fn formulas(&self, paths: &[PathBuf], of: &mut Resolved) -> Result<Vec<Formula>, CliError> {
        let (mut formulas, mut errors) = (Vec::with_capacity(paths.len()), Vec::new());
        for path in paths {
            match self.formula(path, &of.problem.palette, &mut of.warnings) {
                Ok(formula) => formulas.push(formula),
                Err(error) => errors.push(error),
            }
        }
        CliError::all(errors).map(|()| formulas)
    }

    /// Says what may not be what was meant.
    pub fn warn(&self, warnings: &[String]) {
        output::warn(warnings, self.shown.quiet);
    }

    /// Does long work: within the limits of `search` and until Ctrl-C. With a
    /// problem, what there is so far of it stands on a line of standard error.
    pub fn work<T>(&self, search: &Search, problem: Option<&Problem>, work: impl FnOnce(&Control) -> T) -> T {
        let mut control = stop::control(search, stop::on_interrupt());
        let drawing = problem.map(|problem| progress::draw(problem, &mut control, self.shown.quiet));
        let done = work(&control);
        if let Some(drawing) = drawing {
            drawing.clear();
        }
        done
    }

    /// Whether the answer is for reading, with its warnings among the rest.
    pub fn is_text(&self) -> bool {
        self.shown.format == FormatName::Text
    }

    /// Tells what went wrong beside the answer, which is printed all the same,
    /// and says whether nothing did.
    pub fn keep(&mut self, done: Result<(), CliError>) -> bool {
        match done {
            Ok(()) => true,
            Err(error) => {
                self.late = Some(error.tell());
                false
            }
        }
    }

    /// Prints an answer, with the chart that `draw` writes.
    ///
    /// # Errors
    /// Standard output cannot be written.
    pub fn drawn(
        mut self,
        report: &impl Report,
        outcome: Outcome,
        draw: impl FnOnce() -> Result<(), CliError>,
    ) -> Result<Ending, CliError> {
        if self.shown.format == FormatName::Csv
            && let Some(why) = outcome.why()
        {
            // A table without rows does not say why.
            complain(why);
        }
        self.keep(draw());
        let ending = self.late.unwrap_or(outcome.into());
        Ok(output::answer(report, self.shown.format.into(), self.shown.color, ending))
    }

    /// Prints an answer.
    ///
    /// # Errors
    /// Standard output cannot be written.
    pub fn answer(self, report: &impl Report, outcome: Outcome) -> Result<Ending, CliError> {
        self.drawn(report, outcome, || Ok(()))
    }

    /// Ends without an answer on standard output.
    pub fn end(self, outcome: Outcome) -> Ending {
        self.late.unwrap_or(outcome.into())
    }
}

/// Whether a formula may be used: its parts add up to 1000, or are to be scaled.
///
/// # Errors
/// The sum.
pub fn adds_up(formula: &Formula, path: &Path, rescale: bool) -> Result<(), CliError> {
    if formula.sum() == Ppt::WHOLE || rescale {
        return Ok(());
    }
    let (file, sum) = (escaped(&path.to_string_lossy()), formula.sum());
    Err(Refusal::No(format!("the parts of {file} add up to {sum}, not 1000; --rescale scales them")).into())
}
