//! `permil adjust`.

use std::path::PathBuf;

use super::Ending;
use super::error::CliError;
use super::lessons::Lessons;
use super::names::find;
use super::plot::Plotting;
use super::save::Saving;
use super::session::{Session, adds_up};
use super::shared::{Search, Sections, Shown, in_range};
use crate::chart::dumbbell::Dumbbell;
use crate::chart::profile::ProfileChart;
use crate::escape::escaped;
use crate::problem::Problem;
use crate::questions::Resolved;
use crate::questions::adjust::{self, Asked, POINTS, Wish};
use crate::units::Ppt;

const AFTER_HELP: &str = "\
Examples:
  permil adjust brief.toml mod-1.toml --more rosy --less metallic
  permil adjust brief.toml mod-1.toml --more honeyed --by 1 --keep Nerol --save mod-2.toml
  permil adjust brief.toml mod-1.toml --more rosy --by parts --plot change.svg
  permil adjust brief.toml mod-1.toml --less metallic --add-only --batch 20

Exit status:
  0  a change, or nothing was to be changed
  1  no change does it within the rules, or the parts of the formula do not
     add up to 1000
  2  wrong usage, a fault in the files, or --save or --plot refused
  3  stopped without an answer, or a result failed its own check";

/// Move a formula that was smelled in a wanted direction
///
/// Finds the smallest change that gives the blend more or less of what is asked
/// for, inside every rule of the brief, and says what it does to everything
/// else. Smallest is what changes the odour least: by how much the scores that
/// were not asked for change, added up, and a hundredth of the scale (0.1 on the
/// 0-10 scale) for each percent of the odour that counts that a material brings
/// more or less of. Of changes that are equal in that
/// the one that moves the fewest parts is taken, and where a change of fewer
/// materials is no more than a tenth larger, that one. With --add-only nothing
/// is taken out of the beaker: the answer is what to add to it, in grams, as
/// little as changes the odour by no more than a tenth more than the least.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// The formula
    formula: PathBuf,
    /// Have more of a descriptor; may be repeated
    #[arg(long, value_name = "DESCRIPTOR")]
    more: Vec<String>,
    /// Have less of a descriptor; may be repeated
    #[arg(long, value_name = "DESCRIPTOR")]
    less: Vec<String>,
    /// By how much at least, each, on the scale of the scores [default: 0.5];
    /// "parts" asks for the change that moves the fewest parts, or adds the fewest grams, whatever it
    /// smells of. May be given once for each
    #[arg(long, value_name = "SCORE|parts", value_parser = by, allow_negative_numbers = true)]
    by: Vec<By>,
    /// Leave a material at its dose; with --add-only add nothing of it. May be
    /// repeated
    #[arg(long, value_name = "MATERIAL")]
    keep: Vec<String>,
    /// Change no dose by more than so many ‰
    #[arg(long, value_name = "DOSE", value_parser = ppt, allow_negative_numbers = true, conflicts_with = "add_only")]
    most_change: Option<f64>,
    /// Take nothing out: say what to add to the beaker
    #[arg(long, requires = "batch")]
    add_only: bool,
    /// Grams of the formula that are in the beaker, in the basis of the brief
    #[arg(long, value_name = "GRAMS", value_parser = grams, requires = "add_only", allow_negative_numbers = true)]
    batch: Option<f64>,
    /// Scale a formula whose parts do not add up to 1000
    #[arg(long)]
    rescale: bool,
    #[command(flatten)]
    saving: Saving,
    #[command(flatten)]
    plotting: Plotting,
    #[command(flatten)]
    lessons: Lessons,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
    #[command(flatten)]
    sections: Sections,
}

/// What --by is given: by how much, or by what measure.
#[derive(Clone, Copy, Debug, PartialEq)]
enum By {
    Points(f64),
    Parts,
}

fn by(text: &str) -> Result<By, String> {
    match text {
        "parts" => Ok(By::Parts),
        _ => in_range(text, 100.0, "a difference of scores").map(By::Points),
    }
}

fn ppt(text: &str) -> Result<f64, String> {
    in_range(text, 1000.0, "a dose in ‰")
}

fn grams(text: &str) -> Result<f64, String> {
    in_range(text, 1e9, "a number of grams")
}

/// Reads brief and formula and looks for the change.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let mut session = Session::new(&args.shown).with(args.sections);
    let scenario = session.scenario(&args.brief)?;
    let mut more = Vec::new();
    let read = session.formula(&args.formula, &scenario.palette, &mut more)?;
    args.saving.allowed(&scenario)?;
    args.plotting.allowed(&scenario)?;
    let mut resolved = args.lessons.remarked(&session, Resolved::from(scenario))?;
    resolved.warnings.extend(more);
    adds_up(&read, &args.formula, args.rescale)?;
    let wish = wish(args, &resolved.problem).map_err(CliError::Wrong)?;
    session.warn(&resolved.warnings);
    let title = read.title.as_ref().map(|title| if wish.asks() { format!("{title}, adjusted") } else { title.clone() });
    let asked = Asked { formula: &read, wish, batch_grams: args.batch, method: args.search.solver.into() };
    let what = "looking for the smallest change";
    let answer = session.busy(&args.search, what, |control| adjust::ask(&resolved, &asked, control))?;
    session.keep(args.saving.saved(answer.formula.as_ref(), title, &resolved.problem.palette));
    let draw = || args.plotting.drawn_some(ProfileChart::of_adjustment(&answer.report).as_ref().map(Dumbbell));
    session.drawn(&answer.report, answer.outcome(), draw)
}

/// What the options ask for.
fn wish(args: &Args, problem: &Problem) -> Result<Wish, String> {
    let points: Vec<f64> =
        args.by.iter().filter_map(|by| if let By::Points(points) = by { Some(*points) } else { None }).collect();
    if points.len() > 1 {
        return Err("--by names two differences of scores".to_owned());
    }
    let mut wish = Wish {
        by: points.first().copied().unwrap_or(POINTS),
        by_parts: args.by.contains(&By::Parts),
        most_change: args.most_change.map(Ppt::from_ppt),
        ..Wish::default()
    };
    for (names, option, into) in [(&args.more, "--more", &mut wish.more), (&args.less, "--less", &mut wish.less)] {
        for name in names {
            let counted = descriptor(name, option, problem)?;
            if !into.contains(&counted) {
                into.push(counted);
            }
        }
    }
    if let Some(both) = wish.more.iter().find(|counted| wish.less.contains(counted)) {
        let name = &problem.palette.descriptors[problem.targets[*both].descriptor].name;
        return Err(format!("\"{}\" is to be both more and less", escaped(name)));
    }
    let materials: Vec<&str> = problem.palette.materials.iter().map(|material| material.name.as_str()).collect();
    for name in &args.keep {
        let material =
            find(name, &materials, "material").map_err(|error| format!("--keep {}: {error}", escaped(name)))?;
        if !wish.keep.contains(&material) {
            wish.keep.push(material);
        }
    }
    Ok(wish)
}

/// The place of a descriptor among those that count.
fn descriptor(name: &str, option: &str, problem: &Problem) -> Result<usize, String> {
    let all: Vec<&str> = problem.palette.descriptors.iter().map(|descriptor| descriptor.name.as_str()).collect();
    let found = find(name, &all, "descriptor").map_err(|error| format!("{option} {}: {error}", escaped(name)))?;
    let counted = problem.targets.iter().position(|target| target.descriptor == found);
    counted.ok_or_else(|| {
        let name = escaped(all[found]);
        format!("{option} {name}: it does not count in this brief; [target] gives it a score or a weight")
    })
}
