//! Options that draw an answer.

use std::path::{Path, PathBuf};

use clap::builder::{PathBufValueParser, TypedValueParser};
use clap::{Args, ValueEnum};

use super::error::CliError;
use super::output::note;
use super::save::spares_input;
use crate::chart::contributions::Contributions;
use crate::chart::dumbbell::Dumbbell;
use crate::chart::profile::{MOST_BLENDS, ProfileChart};
use crate::chart::radar::Radar;
use crate::chart::{self, Chart};
use crate::escape::escaped;
use crate::files::{Scenario, could_save, save_bytes};
use crate::store::{Disk, Store};

/// Where a chart goes.
#[derive(Clone, Debug, Args)]
#[command(next_help_heading = "Output")]
pub struct Plotting {
    /// Draw the answer as well, to FILE.svg or FILE.png; an older chart is
    /// overwritten
    #[arg(long, value_name = "FILE", value_parser = PathBufValueParser::new().try_map(picture))]
    plot: Option<Picture>,
}

/// A file for a picture, in the format of its extension.
#[derive(Clone, Debug)]
struct Picture {
    path: PathBuf,
    is_png: bool,
}

fn picture(path: PathBuf) -> Result<Picture, String> {
    let extension = path.extension().map(|extension| extension.to_string_lossy().to_ascii_lowercase());
    match extension.as_deref() {
        Some("svg") => Ok(Picture { path, is_png: false }),
        Some("png") => Ok(Picture { path, is_png: true }),
        _ => Err("a chart is drawn as .svg or .png; give a file with one of these endings".to_owned()),
    }
}

impl Plotting {
    /// Whether a chart is wanted.
    pub fn is_wanted(&self) -> bool {
        self.plot.is_some()
    }

    /// Whether the chart could be written: asked before long work.
    ///
    /// # Errors
    /// Why it could not.
    pub fn allowed(&self, scenario: &Scenario) -> Result<(), CliError> {
        let Some(Picture { path, .. }) = &self.plot else { return Ok(()) };
        spares_input(path, "--plot", scenario)?;
        Ok(could_save(path, true)?)
    }

    /// Refuses a chart that would overwrite a file or could not be written; `why`
    /// the file is not overwritten.
    ///
    /// # Errors
    /// Which of both.
    pub fn spares(&self, input: &Path, why: &str) -> Result<(), CliError> {
        let Some(Picture { path, .. }) = &self.plot else { return Ok(()) };
        if Disk.is_same(path, input) {
            return Err(CliError::Wrong(format!("--plot would overwrite {}, {why}", shown(input))));
        }
        Ok(could_save(path, true)?)
    }

    /// Draws a chart, if that was asked for and there is one.
    ///
    /// # Errors
    /// Why it was not drawn or written.
    pub fn drawn(&self, chart: Option<&dyn Chart>) -> Result<(), CliError> {
        let Some(Picture { path, is_png }) = &self.plot else { return Ok(()) };
        let Some(chart) = chart else {
            note(&format!("there is nothing to draw; {} was not written", shown(path)));
            return Ok(());
        };
        let drawn = if *is_png { chart::png(chart) } else { Ok(chart::svg(chart).into_bytes()) };
        let bytes = drawn.map_err(|error| CliError::Wrong(format!("{} cannot be drawn: {error}", shown(path))))?;
        Ok(save_bytes(path, &bytes, true)?)
    }

    /// Draws a chart if there is one, likewise.
    ///
    /// # Errors
    /// As [`drawn`](Plotting::drawn).
    pub fn drawn_some<C: Chart>(&self, chart: Option<C>) -> Result<(), CliError> {
        self.drawn(chart.as_ref().map(|chart| chart as &dyn Chart))
    }
}

fn shown(path: &Path) -> String {
    escaped(&path.to_string_lossy())
}

/// The charts of a profile.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum ChartName {
    /// Target and blend on one line for each descriptor, sorted by the gap
    #[default]
    Dumbbell,
    /// What each material brings to each descriptor; of one formula
    Contributions,
    /// Axes around a centre, neighbours alike
    Radar,
}

/// Where the chart of a profile goes, and which one it is.
#[derive(Clone, Debug, Args)]
#[command(next_help_heading = "Output")]
pub struct ProfilePlotting {
    #[command(flatten)]
    plotting: Plotting,
    /// Which chart --plot draws
    #[arg(long, value_enum, default_value_t, value_name = "CHART", requires = "plot")]
    chart: ChartName,
}

impl ProfilePlotting {
    /// Whether a chart is to be drawn.
    pub fn is_asked(&self) -> bool {
        self.plotting.is_wanted()
    }

    /// Whether the chart of so many formulas could be drawn and written.
    ///
    /// # Errors
    /// Why it could not.
    pub fn allowed(&self, formulas: usize, scenario: &Scenario) -> Result<(), CliError> {
        if !self.plotting.is_wanted() {
            return Ok(());
        }
        if formulas > MOST_BLENDS {
            let words = format!("one chart tells at most {MOST_BLENDS} formulas apart; name fewer for --plot");
            return Err(CliError::Wrong(words));
        }
        if formulas > 1 && self.chart == ChartName::Contributions {
            return Err(CliError::Wrong("--chart contributions draws one formula; name one".to_owned()));
        }
        self.plotting.allowed(scenario)
    }

    /// Draws the chart, if that was asked for.
    ///
    /// # Errors
    /// As [`Plotting::drawn`].
    pub fn drawn(&self, make: impl FnOnce() -> Option<ProfileChart>) -> Result<(), CliError> {
        if !self.plotting.is_wanted() {
            return Ok(());
        }
        let profile = make();
        let draw = |chart: &dyn Chart| self.plotting.drawn(Some(chart));
        match (&profile, self.chart) {
            (None, _) => self.plotting.drawn(None),
            (Some(profile), ChartName::Dumbbell) => draw(&Dumbbell(profile)),
            (Some(profile), ChartName::Contributions) => draw(&Contributions(profile)),
            (Some(profile), ChartName::Radar) => draw(&Radar(profile)),
        }
    }
}
