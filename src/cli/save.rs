//! Options that save a formula or a palette.

use std::path::{Path, PathBuf};

use clap::Args;

use super::error::CliError;
use crate::brief::{Brief, TargetFrom};
use crate::escape::escaped;
use crate::files::{Edit, LARGEST_FILE, Scenario, could_save, edited_palette, save_formula, save_text};
use crate::formula::Formula;
use crate::limits::Limits;
use crate::palette::Palette;
use crate::questions::Refusal;
use crate::store::{Disk, Store};

/// Where a formula goes.
#[derive(Clone, Debug, Args)]
#[command(next_help_heading = "Output")]
pub struct Saving {
    /// Write the formula to a file
    #[arg(long, value_name = "FILE")]
    save: Option<PathBuf>,
    /// Let --save overwrite an older formula
    #[arg(long, requires = "save")]
    force: bool,
}

impl Saving {
    /// Whether a formula is to be saved.
    pub fn is_asked(&self) -> bool {
        self.save.is_some()
    }

    /// Whether a formula may be saved: asked before the search, so that nobody
    /// waits for an answer that is then lost. No file that the brief needs is
    /// overwritten.
    ///
    /// # Errors
    /// Why it may not be saved.
    pub fn allowed(&self, scenario: &Scenario) -> Result<(), CliError> {
        let Some(path) = &self.save else { return Ok(()) };
        spares_input(path, "--save", scenario)?;
        could_save(path, self.force).map_err(CliError::refused)
    }

    /// Saves a formula, if that was asked for.
    ///
    /// # Errors
    /// Why it was not saved.
    pub fn saved(&self, formula: Option<&Formula>, title: Option<String>, palette: &Palette) -> Result<(), CliError> {
        let (Some(path), Some(formula)) = (&self.save, formula) else { return Ok(()) };
        let formula = Formula { title, ..formula.clone() };
        Ok(save_formula(path, &formula, palette, self.force)?)
    }
}

/// Whether a path is not that of a file that the brief needs.
///
/// # Errors
/// Which file it would overwrite.
pub fn spares_input(path: &Path, option: &str, scenario: &Scenario) -> Result<(), CliError> {
    needed(path, option, &scenario.palette, &scenario.brief, &scenario.limits)
}

fn needed(path: &Path, option: &str, palette: &Palette, brief: &Brief, limits: &[Limits]) -> Result<(), CliError> {
    let mut inputs = vec![&brief.file, &palette.file];
    inputs.extend(limits.iter().map(|limits| &limits.file));
    if let Some(TargetFrom::Formula(formula)) = &brief.target_from {
        inputs.extend(&formula.value.file);
    }
    inputs.extend(brief.near.as_ref().map(|near| &near.composition.file));
    match inputs.into_iter().find(|input| is_same(path, input)) {
        None => Ok(()),
        Some(input) => {
            Err(CliError::Wrong(format!("{option} would overwrite {}, which the brief needs", escaped(input))))
        }
    }
}

/// Whether two paths lead to one file.
pub fn is_same(path: &Path, other: &str) -> bool {
    Disk.is_same(path, Path::new(other))
}

/// Where a changed palette goes.
#[derive(Clone, Debug, Args)]
#[command(next_help_heading = "Output")]
pub struct PaletteSaving {
    /// Write a palette with the new numbers to a file: comments and order stay
    #[arg(long, value_name = "FILE")]
    save: Option<PathBuf>,
    /// Let --save overwrite an older file
    #[arg(long, requires = "save")]
    force: bool,
}

impl PaletteSaving {
    /// Whether it was asked for.
    pub fn is_wanted(&self) -> bool {
        self.save.is_some()
    }

    /// Whether the palette may be saved. No file that is read is overwritten: what
    /// was learnt would count twice next time.
    ///
    /// # Errors
    /// Why it may not be saved.
    pub fn allowed(&self, inputs: &[&Path]) -> Result<(), CliError> {
        let Some(path) = &self.save else { return Ok(()) };
        if let Some(input) = inputs.iter().find(|input| is_same(path, &input.to_string_lossy())) {
            let input = escaped(&input.to_string_lossy());
            return Err(CliError::Wrong(format!("--save would overwrite {input}, which is read")));
        }
        could_save(path, self.force).map_err(CliError::refused)
    }

    /// Saves the palette of a file with some numbers changed, if that was
    /// asked for. The paths of the formulas of bases stay as they are written.
    ///
    /// # Errors
    /// Why it was not saved.
    pub fn saved(&self, palette: &Path, edits: &[Edit]) -> Result<(), CliError> {
        let Some(path) = &self.save else { return Ok(()) };
        let text = Disk.text(palette, LARGEST_FILE).ok().and_then(|text| edited_palette(&text, edits));
        let text = text.ok_or_else(|| {
            Refusal::Stopped(format!("{} changed while it was read", escaped(&palette.to_string_lossy())))
        })?;
        save_text(path, &text, self.force).map_err(CliError::refused)
    }
}
