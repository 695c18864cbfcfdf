//! Options that several commands take.

use clap::{Args, ValueEnum};

use super::colour::Colour;
use crate::balance::unfold::{Unfolded, unfold};
use crate::clock;
use crate::formats::Format;
use crate::formula::Formula;
use crate::palette::Palette;
use crate::solve::Method;
use crate::solve::backend::Backend;
use crate::text::Page;
use crate::trials::Date;

/// How the answer is shown.
#[derive(Clone, Copy, Debug, Args)]
#[command(next_help_heading = "Output")]
pub struct Shown {
    /// Text for reading, JSON with every number in full, or CSV for a
    /// spreadsheet
    #[arg(long, value_enum, default_value_t, value_name = "FORMAT")]
    pub format: FormatName,
    /// Show the whole answer as text, not only what is needed first
    #[arg(long)]
    pub full: bool,
    /// No progress and no warnings on standard error
    #[arg(long, short)]
    pub quiet: bool,
    /// When to use colour
    #[arg(long, value_enum, default_value_t, value_name = "WHEN")]
    pub color: Colour,
}

/// Which parts of a short answer are shown at length.
#[derive(Clone, Copy, Debug, Args)]
#[command(next_help_heading = "Output")]
pub struct Sections {
    /// Show each limit with its use and its room, and all that was not checked
    #[arg(long)]
    pub limits: bool,
    /// Show where the limits come from
    #[arg(long)]
    pub sources: bool,
}

impl Sections {
    /// The page with these parts at length.
    pub fn on(self, page: Page) -> Page {
        Page { limits: self.limits, sources: self.sources, ..page }
    }
}

/// The names of the formats.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum FormatName {
    /// For reading
    #[default]
    Text,
    /// One object with every number in full
    Json,
    /// The same on one line
    Jsonl,
    /// Rows for a spreadsheet
    Csv,
}

impl From<FormatName> for Format {
    fn from(name: FormatName) -> Format {
        match name {
            FormatName::Text => Format::Text,
            FormatName::Json => Format::Json,
            FormatName::Jsonl => Format::JsonLine,
            FormatName::Csv => Format::Csv,
        }
    }
}

/// How long and by which method is searched.
#[derive(Clone, Copy, Debug, Args)]
#[command(next_help_heading = "Search")]
pub struct Search {
    /// Stop after so many seconds with the best formula so far
    #[arg(long, value_name = "SECONDS", default_value = "10", value_parser = seconds, allow_negative_numbers = true, hide_short_help = true)]
    pub time_limit: f64,
    /// Stop after so many nodes of the search with the best formula so far
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..), hide_short_help = true)]
    pub node_limit: Option<u64>,
    /// Threads for independent searches, one a core unless said; the answer is
    /// the same for any number
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1024), hide_short_help = true)]
    pub threads: Option<u32>,
    /// Which method answers
    #[arg(long, value_enum, default_value_t, value_name = "NAME", hide_short_help = true)]
    pub solver: Solver,
}

/// The names of the methods.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Solver {
    /// What suits the brief: a linear programme where that is enough, the
    /// search elsewhere
    #[default]
    Auto,
    /// The exact search of permil
    Search,
    /// microlp, a second opinion on the arithmetic
    Microlp,
    /// Clarabel, likewise; for briefs without steps, counts and least doses
    Clarabel,
    /// HiGHS, likewise
    #[cfg(feature = "highs")]
    Highs,
}

impl From<Solver> for Method {
    fn from(solver: Solver) -> Method {
        match solver {
            Solver::Auto => Method::Auto,
            Solver::Search => Method::Search,
            Solver::Microlp => Method::Borrowed(Backend::Microlp),
            Solver::Clarabel => Method::Borrowed(Backend::Clarabel),
            #[cfg(feature = "highs")]
            Solver::Highs => Method::Borrowed(Backend::Highs),
        }
    }
}

/// The longest time limit, in seconds.
const LONGEST: f64 = 1e6;

/// A time limit.
pub fn seconds(text: &str) -> Result<f64, String> {
    in_range(text, LONGEST, "a number of seconds")
}

/// A number above 0 and up to `most`; `what` it is, for the complaint.
pub fn in_range(text: &str, most: f64, what: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if number > 0.0 && number <= most => Ok(number),
        _ => Err(format!("expected {what} above 0, at most {most}")),
    }
}

/// A day.
pub fn date(text: &str) -> Result<Date, String> {
    Date::parse(text).ok_or_else(|| "expected a day such as 2026-11-02".to_owned())
}

/// The present day (UTC).
pub fn present_day() -> Date {
    Date::at(clock::since_1970().unwrap_or_default())
}

/// A formula whose bases are replaced by what they are mixed from, if that is
/// wanted; the error is a complaint.
pub fn unfolded(wanted: bool, palette: Palette, formula: Formula) -> Result<Unfolded, String> {
    match wanted {
        false => Ok(Unfolded { palette, formula, bases: Vec::new() }),
        true => unfold(&palette, &formula).map_err(|why| format!("--unfold: {why}")),
    }
}

/// What is said of bases where a corrected palette is saved: their numbers
/// follow from their formulas and are not written.
pub fn bases_stay(palette: &Palette) -> Option<String> {
    let bases = palette.materials.iter().filter(|material| material.formula.is_some());
    let names: Vec<&str> = bases.map(|material| material.name.as_str()).collect();
    (!names.is_empty()).then(|| {
        format!("{}: a base keeps the numbers of its formula, and the path to it as written", names.join(", "))
    })
}
