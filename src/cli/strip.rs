//! `permil strip`.

use std::path::PathBuf;

use clap::ValueEnum;

use super::Ending;
use super::error::CliError;
use super::plot::Plotting;
use super::session::{Session, adds_up};
use super::shared::{Sections, Shown};
use crate::chart::descriptors::DescriptorsChart;
use crate::chart::drying::DryingChart;
use crate::chart::stages::StagesChart;
use crate::questions::Resolved;
use crate::questions::strip::{self, Asked};

const AFTER_HELP: &str = "\
Examples:
  permil strip profiles/rose-otto/mod-1.toml --brief profiles/rose-otto/brief.toml
  permil strip mod-1.toml --brief brief.toml --at 2,30,240 --percent 10
  permil strip mod-1.toml --brief brief.toml --plot drying.svg
  permil strip mod-1.toml --brief brief.toml --plot words.svg --chart descriptors

Exit status:
  0  done
  1  the parts of the formula do not add up to 1000
  2  wrong usage, a fault in the files, or --plot refused";

/// Most times of one answer: as many as stand side by side.
const MOST_TIMES: usize = 6;

/// Follow a formula on a blotter: who carries the odour when
///
/// And what is left of each material at each time, and when it is gone.
///
/// Materials leave an ideal film in still air by their tenacity (lasting of the
/// palette, else vapour_pressure, else the median of their note); at each time what is
/// left is judged against the brief's target. Nothing is solved. The likely range of a
/// match is drawn over scores, strengths and tenacities.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The formula
    formula: PathBuf,
    /// The brief that it is held against
    #[arg(long, value_name = "BRIEF")]
    brief: PathBuf,
    /// Minutes after dipping, up to six of them [default: the brief's stages, else
    /// 5,60,480,1440]
    #[arg(long, value_name = "MINUTES", value_delimiter = ',', value_parser = minutes)]
    at: Vec<f64>,
    /// Percent of the accord in what the blotter is dipped in [default: what
    /// `[blotter]` of the brief says, else lasting_percent of the palette]
    #[arg(long, value_name = "PERCENT", value_parser = percent)]
    percent: Option<f64>,
    /// Weight of the film in g/m2, where tenacities come from vapour pressures
    /// [default: what the brief says, else what the shelf's tenacities come to]
    #[arg(long, value_name = "WEIGHT", value_parser = film_weight)]
    film_weight: Option<f64>,
    /// Scale a formula whose parts do not add up to 1000
    #[arg(long)]
    rescale: bool,
    #[command(flatten)]
    plotting: Plotting,
    /// Which chart --plot draws
    #[arg(long, value_enum, default_value_t, value_name = "CHART", requires = "plot", help_heading = "Output")]
    chart: ChartName,
    #[command(flatten)]
    shown: Shown,
    #[command(flatten)]
    sections: Sections,
}

/// The charts of a formula that dries.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum ChartName {
    /// Who carries the odour: ribbons of odour share over time
    #[default]
    Drying,
    /// Descriptors over time, with what is wanted at each stage
    Descriptors,
    /// Target and blend side by side at each time
    Stages,
}

fn within(text: &str, least: f64, most: f64, what: &str) -> Result<f64, String> {
    let value: Option<f64> = text.trim().parse().ok();
    value.filter(|value| (least..=most).contains(value)).ok_or_else(|| format!("expected {what}"))
}

fn minutes(text: &str) -> Result<f64, String> {
    within(text, 0.0, 1e6, "minutes from 0 to 1000000")
}

fn percent(text: &str) -> Result<f64, String> {
    within(text, 1e-3, 100.0, "percent from 0.001 to 100")
}

fn film_weight(text: &str) -> Result<f64, String> {
    within(text, 1e-3, 1e4, "g/m2 from 0.001 to 10000")
}

/// Reads brief and formula and dries it.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    if args.at.len() > MOST_TIMES {
        return Err(CliError::Wrong(format!("--at takes up to {MOST_TIMES} times, here are {}", args.at.len())));
    }
    let session = Session::new(&args.shown).with(args.sections);
    let scenario = session.scenario(&args.brief)?;
    args.plotting.allowed(&scenario)?;
    let mut resolved = Resolved::from(scenario);
    let formula = session.formula(&args.formula, &resolved.problem.palette, &mut resolved.warnings)?;
    adds_up(&formula, &args.formula, args.rescale)?;
    session.warn(&resolved.warnings);
    let asked = Asked { minutes: args.at.clone(), percent: args.percent, film_weight: args.film_weight };
    let answer = strip::ask(&resolved, &formula, &asked)?;
    let report = &answer.report;
    session.drawn(report, answer.outcome(), || match args.chart {
        ChartName::Drying => args.plotting.drawn(Some(&DryingChart::of_report(report))),
        ChartName::Descriptors => args.plotting.drawn_some(DescriptorsChart::of_report(report)),
        ChartName::Stages => args.plotting.drawn(Some(&StagesChart::of_report(report))),
    })
}
