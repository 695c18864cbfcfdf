//! `permil propose`.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::error::CliError;
use super::leeway::margin;
use super::lessons::Lessons;
use super::many::{self, Many};
use super::plot::ProfilePlotting;
use super::save::Saving;
use super::session::Session;
use super::shared::{FormatName, Search, Sections, Shown};
use super::{Ending, stop};
use crate::brief::Laws;
use crate::certificate;
use crate::chart::profile::ProfileChart;
use crate::control::Control;
use crate::files::{could_save, save_text};
use crate::questions::Resolved;
use crate::questions::propose::{self, Aim, Answer, Asked, teaching};
use crate::solve::Solution;
use crate::store::{Disk, Store};
use crate::text;

const AFTER_HELP: &str = "\
Examples:
  permil propose profiles/rose-otto/brief.toml
  permil propose brief.toml --save accord.toml
  permil propose brief.toml --plot accord.svg
  permil propose brief.toml --plot accord.png --chart contributions
  permil propose brief.toml --time-limit 60 --format csv > accord.csv
  permil propose brief.toml --save best.toml --certificate best.proof
  permil propose brief.toml --steady --save steady.toml
  permil propose brief.toml --trials trials.toml --save next-mod.toml
  permil propose brief.toml --trials trials.toml --explore -n 3
  permil propose briefs/ --format jsonl --no-worth > answers.jsonl
  permil propose briefs/ --format jsonl --resume answers.jsonl

Exit status:
  0  a formula, proven best or the best found in the time allowed
  1  no blend can meet the brief
  2  wrong usage, a fault in the files, or --save or --plot refused
  3  stopped without an answer or before the certificate was done, or a result
     failed its own check";

/// Find the blend that comes nearest to a brief
///
/// Finds the blend that comes nearest to the target within every rule of the
/// brief, and says how near it is, whether it is proven best, what it costs,
/// what each material brings, what falls short, and how much room the limits
/// leave. With --steady it looks further, for a formula that stays good whatever
/// the numbers are within their errors; that one is inside the rules, and not
/// proven. With --trials it learns from what was smelled first, and proposes the
/// formula of which the best match is to be expected on the next blotter; that is
/// not proven either. With --explore besides it gives up a little of that for a mod
/// that teaches more. Ctrl-C or the time limit returns the best so far and says how much
/// better it could still be.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules. Several, or a folder that holds some: each by itself,
    /// side by side on all cores, one line of JSON each in the order given
    #[arg(required = true, value_name = "BRIEF")]
    briefs: Vec<PathBuf>,
    /// Leave out what each rule costs and which materials could go: both take
    /// solving again
    #[arg(long)]
    no_worth: bool,
    /// Write what the proof rests on to a file, for `permil verify`; takes as
    /// long again as the search, and as much of the time limit
    #[arg(long, value_name = "FILE", conflicts_with = "trials")]
    certificate: Option<PathBuf>,
    /// Look for a formula that is good over what scores and strengths may be,
    /// on average and in the worst tenth, rather than at what is written
    #[arg(long, conflicts_with = "certificate")]
    steady: bool,
    /// With several briefs: add the lines to a file, and go on where it ends
    #[arg(long, value_name = "FILE", conflicts_with_all = ["certificate", "save", "plot"])]
    resume: Option<PathBuf>,
    /// Judge by this law instead of the brief's: linear, compressive (strong
    /// materials weigh less), or both, of which the worse counts
    #[arg(long, value_name = "LAW", value_parser = laws)]
    law: Option<Laws>,
    #[command(flatten)]
    lessons: Lessons,
    /// With --trials: of the formulas nearly as good as the best to be expected take the one
    /// that brings the end of the loop nearest by what its smelling will teach
    #[arg(long, requires = "trials", conflicts_with = "steady", help_heading = "Trials")]
    explore: bool,
    /// With --explore: how many % points less than of the best may be expected of it
    #[arg(long, value_name = "POINTS", requires = "explore", default_value_t = teaching::MARGIN, value_parser = margin, allow_negative_numbers = true, help_heading = "Trials")]
    margin: f64,
    /// With --explore: how many mods for one session, each chosen by what it adds to those
    /// before it; --save keeps the first
    #[arg(short = 'n', long = "count", value_name = "N", requires = "explore", default_value_t = 1, value_parser = clap::value_parser!(u16).range(1..=9), help_heading = "Trials")]
    count: u16,
    #[command(flatten)]
    saving: Saving,
    #[command(flatten)]
    plotting: ProfilePlotting,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
    #[command(flatten)]
    sections: Sections,
}

impl Args {
    fn asked(&self) -> Asked {
        let aim = self.steady.then_some(Aim::Steady);
        Asked { method: self.search.solver.into(), worth: !self.no_worth, aim, explore: None }
    }

    /// Whether something is wanted that many briefs cannot have.
    fn is_for_one(&self) -> bool {
        self.certificate.is_some()
            || self.saving.is_asked()
            || self.plotting.is_asked()
            || self.law.is_some()
            || self.lessons.is_asked()
    }
}

/// Reads the brief, solves it and reports.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let [brief] = &args.briefs[..] else { return many(args) };
    // One of many by itself, as another machine answers it, has the same line there.
    let is_line = args.shown.format == FormatName::Jsonl && !args.is_for_one();
    if args.resume.is_some() || brief.is_dir() || is_line {
        return many(args);
    }
    let mut session = Session::new(&args.shown).with(args.sections);
    let mut scenario = session.scenario(brief)?;
    scenario.brief.laws = args.law.unwrap_or(scenario.brief.laws);
    args.saving.allowed(&scenario)?;
    args.plotting.allowed(1, &scenario)?;
    args.certificate.as_deref().map_or(Ok(()), may_certify)?;
    let resolved = Resolved::from(scenario);
    session.warn(&resolved.warnings);
    let (resolved, taught) = args.lessons.taught(&session, resolved)?;
    let mut asked = args.asked();
    asked.aim = asked.aim.or(taught.as_ref().and_then(|taught| resolved.expects(taught)));
    if let Some(taught) = taught.as_ref().filter(|_| args.explore) {
        asked.explore = Some(resolved.explores(taught, args.margin, args.count.into())?);
        asked.aim = Some(Aim::Expected);
    }
    // What is sought over draws is not known before they are judged.
    let in_parts = session.is_text() && asked.aim.is_none();
    let first = |solution: &Solution| {
        if in_parts {
            session.begin(|page| {
                let at_once = propose::at_once(&resolved, solution).with_taught(taught.clone());
                text::propose_formula(&at_once, page)
            });
        }
    };
    let find = |control: &Control| propose::found(&resolved, &asked, control);
    let explain = |solution, control: &Control| propose::explained(&resolved, solution, &asked, control);
    let mut answer = session.in_steps(&args.search, &resolved.problem, find, first, explain)?;
    answer.report = answer.report.with_taught(taught.clone());
    let title = resolved.brief.title.clone();
    let is_saved = session.keep(args.saving.saved(answer.formula(), title, &resolved.problem.palette));
    if let Some(path) = args.certificate.as_deref().filter(|_| is_saved) {
        session.keep(certify(&resolved, &answer, args, path));
    }
    let draw = || args.plotting.drawn(|| ProfileChart::of_proposal(&answer.report));
    if in_parts {
        return Ok(session.follows(|page| text::propose_reasons(&answer.report, page), answer.outcome(), draw));
    }
    session.drawn(&answer.report, answer.outcome(), draw)
}

/// Many briefs, each by itself.
fn many(args: &Args) -> Result<Ending, CliError> {
    if args.shown.format != FormatName::Jsonl {
        return Err(CliError::Wrong("several briefs are answered with --format jsonl, a line each".to_owned()));
    }
    if args.is_for_one() {
        return Err(CliError::Wrong("--save, --certificate, --plot, --law and --trials are for one brief".to_owned()));
    }
    let (named, asked, search, shown) = (&args.briefs, args.asked(), &args.search, &args.shown);
    many::run(&Many { named, asked, search, resume: args.resume.as_deref(), shown })
}

/// The law, or both.
fn laws(text: &str) -> Result<Laws, String> {
    let known = Laws::ALL.into_iter().find(|laws| laws.word() == text);
    known.ok_or_else(|| format!("expected {}", Laws::ALL.map(Laws::word).join(", ")))
}

/// Whether a certificate may be written there. An older certificate is
/// overwritten, anything else is not.
fn may_certify(path: &Path) -> Result<(), CliError> {
    let is_older = Disk.text(path, certificate::MOST_BYTES).is_ok_and(|text| text.starts_with(certificate::HEAD));
    Ok(could_save(path, is_older)?)
}

/// Writes the certificate of a solution. It has the time of the search once
/// more.
fn certify(resolved: &Resolved, answer: &Answer, args: &Args, path: &Path) -> Result<(), CliError> {
    let control = stop::control(&args.search, Arc::default());
    let text = propose::certificate(resolved, &answer.solution, &control)?;
    Ok(save_text(path, &text, true)?)
}
