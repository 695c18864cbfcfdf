//! One run of a command: it reads, warns, works, saves, draws, prints and ends.

use std::path::{Path, PathBuf};

use super::error::CliError;
use super::output::{self, complain};
use super::shared::{FormatName, Search, Sections, Shown};
use super::{Ending, progress, stop};
use crate::composition::Composition;
use crate::control::Control;
use crate::escape::escaped;
use crate::files::{
    Faults, ReadFormula, Scenario, load_composition_in, load_formula_with_places_in, load_formula_with_warnings_in,
    load_matches_in, load_palette_in, load_scenario_in, load_scenario_to_buy_in, load_trials_in,
};
use crate::formats::Report;
use crate::formula::Formula;
use crate::matches::Matches;
use crate::palette::Palette;
use crate::problem::Problem;
use crate::questions::smelled::{Smelled, share_palette};
use crate::questions::{Outcome, Refusal, Resolved};
use crate::store::{Disk, Once, Store};
use crate::text::Page;
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
    page: Page,
    /// The files, each as it was read.
    pub store: Once<'static>,
    /// How it ends in spite of an answer: a file could not be written.
    late: Option<Ending>,
}

impl Session {
    /// A run that shows its answer so.
    pub fn new(shown: &Shown) -> Session {
        Session { shown: *shown, page: output::page(shown), store: Once::over(Disk), late: None }
    }

    /// The same with some parts of the answer at length.
    pub fn with(self, sections: Sections) -> Session {
        Session { page: sections.on(self.page), ..self }
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

    /// Reads a composition, with what may not be what was meant.
    ///
    /// # Errors
    /// All the faults of the file.
    pub fn composition(&self, path: &Path, palette: &Palette) -> Result<(Composition, Vec<String>), CliError> {
        load_composition_in(&self.store, path, palette).map_err(|faults| self.faulty(faults))
    }

    /// Reads a brief and what it names, with a wishlist among its materials.
    ///
    /// # Errors
    /// All the faults of all these files.
    pub fn scenario_to_buy(&self, brief: &Path, wishlist: Option<&Path>) -> Result<Scenario, CliError> {
        load_scenario_to_buy_in(&self.store, brief, wishlist).map_err(|faults| self.faulty(faults))
    }

    /// Reads a palette.
    ///
    /// # Errors
    /// All the faults of the file.
    pub fn palette(&self, path: &Path) -> Result<Palette, CliError> {
        load_palette_in(&self.store, path).map_err(|faults| self.faulty(faults))
    }

    /// Reads matches of dilutions, with what may not be what was meant.
    ///
    /// # Errors
    /// All the faults of the file.
    pub fn matches(&self, path: &Path, palette: &Palette) -> Result<(Matches, Vec<String>), CliError> {
        load_matches_in(&self.store, path, palette).map_err(|faults| self.faulty(faults))
    }

    /// Reads trials and the palette that they are of.
    ///
    /// # Errors
    /// All the faults of both files, or parts that do not add up.
    pub fn smelled(&self, path: &Path, rescale: bool) -> Result<Smelled, CliError> {
        let read = load_trials_in(&self.store, path).map_err(|faults| self.faulty(faults))?;
        let (palette, trials, warnings) = read;
        Ok(Smelled::of(palette, trials, warnings, rescale)?)
    }

    /// Reads trials whose naturals are to be held against the palette of a brief,
    /// where some were named.
    ///
    /// # Errors
    /// All the faults of the files, or that they are of another palette.
    pub fn naturals(&self, path: Option<&Path>, own: &Palette) -> Result<Option<Smelled>, CliError> {
        let Some(path) = path else { return Ok(None) };
        let read = self.smelled(path, true)?;
        self.share_palette(own, &read)?;
        self.warn(&read.warnings);
        Ok(Some(read))
    }

    /// Refuses trials of another palette than a brief's.
    ///
    /// # Errors
    /// Which palettes they are of.
    pub fn share_palette(&self, own: &Palette, read: &Smelled) -> Result<(), CliError> {
        let is_same = |one: &str, other: &str| self.store.is_same(Path::new(one), Path::new(other));
        Ok(share_palette(own, read, is_same)?)
    }

    /// Reads a formula with the lines of its parts, and what may not be what was
    /// meant.
    ///
    /// # Errors
    /// All the faults of the file.
    pub fn formula_with_places(&self, path: &Path, palette: &Palette) -> Result<(ReadFormula, Vec<String>), CliError> {
        load_formula_with_places_in(&self.store, path, palette).map_err(|faults| self.faulty(faults))
    }

    /// Reads a formula that a brief is asked about, if one is named.
    ///
    /// # Errors
    /// All the faults of the file, or that its parts do not add up to 1000.
    pub fn given(
        &self,
        path: Option<&Path>,
        rescale: bool,
        scenario: &mut Scenario,
    ) -> Result<Option<Formula>, CliError> {
        let Some(path) = path else { return Ok(None) };
        let formula = self.formula(path, &scenario.palette, &mut scenario.warnings)?;
        adds_up(&formula, path, rescale)?;
        Ok(Some(formula))
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

    /// Does long work in two steps within one limit: `show` tells what the first
    /// comes to before the second begins.
    ///
    /// # Errors
    /// What the first step says.
    pub fn in_steps<A, B>(
        &self,
        search: &Search,
        problem: &Problem,
        first: impl FnOnce(&Control) -> Result<A, Refusal>,
        show: impl FnOnce(&A),
        then: impl FnOnce(A, &Control) -> B,
    ) -> Result<B, Refusal> {
        let mut control = stop::control(search, stop::on_interrupt());
        let drawing = progress::draw(problem, &mut control, self.shown.quiet);
        let found = first(&control);
        drawing.clear();
        let found = found?;
        show(&found);
        let drawing = progress::busy("solving again for what holds it back", self.shown.quiet);
        let done = then(found, &control.untold());
        drawing.clear();
        Ok(done)
    }

    /// Prints the first part of an answer, before all of it is known.
    pub fn begin(&self, text: impl FnOnce(&Page) -> String) {
        // What cannot be written now cannot be written later, and is told then.
        output::print(&text(&self.page), Ending::Done);
    }

    /// Prints the rest of an answer, with the chart that `draw` writes.
    pub fn follows(
        self,
        text: impl FnOnce(&Page) -> String,
        outcome: Outcome,
        draw: impl FnOnce() -> Result<(), CliError>,
    ) -> Ending {
        let page = self.page;
        let ending = self.ending(outcome, draw);
        output::print(&text(&page), ending)
    }

    /// Does long work of which nothing can be said on the way but `what` it is.
    pub fn busy<T>(&self, search: &Search, what: &'static str, work: impl FnOnce(&Control) -> T) -> T {
        let control = stop::control(search, stop::on_interrupt());
        let drawing = progress::busy(what, self.shown.quiet);
        let done = work(&control);
        drawing.clear();
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
        self,
        report: &impl Report,
        outcome: Outcome,
        draw: impl FnOnce() -> Result<(), CliError>,
    ) -> Result<Ending, CliError> {
        let (page, shown) = (self.page, self.shown);
        let ending = self.ending(outcome, draw);
        Ok(output::answer_on(&page, report, &shown, ending))
    }

    /// Draws, and says how the run ends.
    fn ending(mut self, outcome: Outcome, draw: impl FnOnce() -> Result<(), CliError>) -> Ending {
        if self.shown.format == FormatName::Csv
            && let Some(why) = outcome.why()
        {
            // A table without rows does not say why.
            complain(why);
        }
        self.keep(draw());
        self.late.unwrap_or(outcome.into())
    }

    /// Prints an answer.
    ///
    /// # Errors
    /// Standard output cannot be written.
    pub fn answer(self, report: &impl Report, outcome: Outcome) -> Result<Ending, CliError> {
        self.drawn(report, outcome, || Ok(()))
    }

    /// Ends without an answer on standard output; why there is none is said.
    pub fn end(self, outcome: Outcome) -> Ending {
        if let Some(why) = outcome.why() {
            complain(why);
        }
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
