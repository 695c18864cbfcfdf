//! `permil shelf`.

use std::path::PathBuf;

use clap::ValueEnum;

use super::error::CliError;
use super::plot::Plotting;
use super::session::Session;
use super::shared::Shown;
use super::{Ending, names};
use crate::chart::effect::EffectChart;
use crate::chart::shelf_map::ShelfMap;
use crate::control::Control;
use crate::palette::{Note, Palette};
use crate::questions::Outcome;
use crate::questions::shelf::{self, Asked};
use crate::results::shelf::Sort;

const AFTER_HELP: &str = "\
Examples:
  permil shelf profiles/rose-otto/palette.toml
  permil shelf palette.toml --find rosy,green --not metallic
  permil shelf palette.toml --note top --sort effect
  permil shelf palette.toml --sort effect --format csv > shelf.csv
  permil shelf palette.toml --plot map.svg
  permil shelf palette.toml --plot effect.png --chart effect

Exit status:
  0  done
  2  wrong usage, a fault in the palette, or --plot refused";

/// Look at a shelf: what it holds, lacks and has twice
///
/// What is missing (prices, CAS numbers, scores, constituents of naturals,
/// descriptors that one material carries alone); near twins, of which one could
/// replace the other; how many materials each note and each descriptor has.
/// With --full also every material with its strength, price, cost per unit of
/// strength and tenacity in hours. With --note it lists the materials of one
/// note, with --find it ranks them by a few words instead.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The palette
    palette: PathBuf,
    /// Rank the materials by these descriptors
    #[arg(long, value_name = "WORDS", value_delimiter = ',')]
    find: Vec<String>,
    /// Descriptors that they should not have
    #[arg(long, value_name = "WORDS", value_delimiter = ',', requires = "find")]
    not: Vec<String>,
    /// List the materials of this note only
    #[arg(long, value_enum, value_name = "NOTE")]
    note: Option<NoteName>,
    /// The order of the list
    #[arg(long, value_enum, default_value_t, value_name = "ORDER")]
    sort: SortName,
    /// How alike near twins are at least, in percent
    #[arg(long, value_name = "PERCENT", default_value_t = Asked::default().twins_from_percent, value_parser = percent, allow_negative_numbers = true)]
    twins: f64,
    #[command(flatten)]
    plotting: Plotting,
    /// Which chart --plot draws
    #[arg(long, value_enum, default_value_t, value_name = "CHART", requires = "plot", help_heading = "Output")]
    chart: ChartName,
    #[command(flatten)]
    shown: Shown,
}

/// The names of the notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum NoteName {
    /// Smelled mostly in the opening
    #[value(alias = "opening", alias = "head")]
    Top,
    /// Smelled mostly in the heart
    #[value(alias = "middle")]
    Heart,
    /// Smelled mostly in the drydown
    #[value(alias = "drydown")]
    Base,
}

impl From<NoteName> for Note {
    fn from(name: NoteName) -> Note {
        match name {
            NoteName::Top => Note::Opening,
            NoteName::Heart => Note::Heart,
            NoteName::Base => Note::Drydown,
        }
    }
}

/// The names of the orders.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum SortName {
    /// The strongest first
    #[default]
    Strength,
    /// The least cost per unit of strength first
    Effect,
    /// The most tenacious first
    #[value(alias = "tenacity")]
    Lasting,
    /// By name
    Name,
}

impl From<SortName> for Sort {
    fn from(name: SortName) -> Sort {
        match name {
            SortName::Strength => Sort::Strength,
            SortName::Effect => Sort::Effect,
            SortName::Lasting => Sort::Lasting,
            SortName::Name => Sort::Name,
        }
    }
}

/// The charts of a shelf.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum ChartName {
    /// Who smells like whom
    #[default]
    Map,
    /// Strength against what a unit of it costs
    Effect,
}

fn percent(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if number > 0.0 && number <= 100.0 => Ok(number),
        _ => Err("expected a percentage above 0, at most 100".to_owned()),
    }
}

/// Reads the palette and looks at it.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let session = Session::new(&args.shown);
    let palette = session.palette(&args.palette)?;
    args.plotting.spares(&args.palette, "which is read")?;
    let asked = Asked {
        sort: args.sort.into(),
        note: args.note.map(Note::from),
        twins_from_percent: args.twins,
        wanted: descriptors(&args.find, &palette).map_err(CliError::Wrong)?,
        unwanted: descriptors(&args.not, &palette).map_err(CliError::Wrong)?,
    };
    let report = shelf::ask(&palette, &asked, &Control::default())?;
    session.drawn(&report, Outcome::Answered, || match args.chart {
        _ if !args.plotting.is_wanted() => Ok(()),
        ChartName::Map => args.plotting.drawn(Some(&ShelfMap::of_report(&report))),
        ChartName::Effect => args.plotting.drawn(Some(&EffectChart::of_report(&report))),
    })
}

/// The descriptors of some words, each once.
fn descriptors(words: &[String], palette: &Palette) -> Result<Vec<usize>, String> {
    let known: Vec<&str> = palette.descriptors.iter().map(|descriptor| descriptor.name.as_str()).collect();
    let mut found = Vec::new();
    for word in words {
        let at = names::find(word, &known, "descriptor")?;
        if !found.contains(&at) {
            found.push(at);
        }
    }
    Ok(found)
}
