//! `permil adjust`.

use std::path::PathBuf;

use super::names::find;
use super::output::{self, complain};
use super::plot::Plotting;
use super::save::Saving;
use super::shared::{FormatName, Search, Sections, Shown, failed, in_range};
use super::{Ending, stop};
use crate::analysis::add::{BEAKER, add};
use crate::analysis::adjust::{Wish, adjust};
use crate::analysis::basis::in_basis;
use crate::analysis::repair::Reasons;
use crate::chart::dumbbell::Dumbbell;
use crate::chart::profile::ProfileChart;
use crate::cli::progress;
use crate::control::Control;
use crate::escape::escaped;
use crate::evaluate::evaluate;
use crate::files::{Scenario, load_formula_with_warnings, load_scenario};
use crate::formula::Formula;
use crate::problem::Problem;
use crate::results::adjust::{AdjustReport, Outcome, Subject};
use crate::solve::{Failure, Method, Status};
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

/// Points that are asked for where --by names none.
const POINTS: f64 = 0.5;

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
pub fn run(args: &Args) -> Ending {
    let colour = args.shown.color;
    let scenario = match load_scenario(&args.brief) {
        Ok(scenario) => scenario,
        Err(faults) => return output::faults(&faults, colour),
    };
    let Scenario { palette, brief, limits, mut warnings } = scenario;
    let (read, more) = match load_formula_with_warnings(&args.formula, &palette) {
        Ok(read) => read,
        Err(faults) => return output::faults(&faults, colour),
    };
    if !args.saving.may(&palette, &brief, &limits) || !args.plotting.may(&palette, &brief, &limits) {
        return Ending::Wrong;
    }
    let problem = Problem::new(palette, &brief, &limits);
    warnings.extend(problem.warnings.iter().cloned());
    warnings.extend(more);
    if read.sum() != Ppt::WHOLE && !args.rescale {
        let file = escaped(&args.formula.to_string_lossy());
        complain(&format!("the parts of {file} add up to {}, not 1000; --rescale scales them", read.sum()));
        return Ending::No;
    }
    let formula = in_basis(&problem.palette, &read.rescaled(), problem.basis);
    let wish = match wish(args, &problem) {
        Ok(wish) => wish,
        Err(why) => {
            complain(&why);
            return Ending::Wrong;
        }
    };
    if let Method::Borrowed(_) = args.search.solver.into() {
        complain("the smallest change is found by the search of permil alone: --solver auto or search");
        return Ending::Wrong;
    }
    if evaluate(&problem, &formula).is_err() {
        complain("nothing in the formula has an odour that counts, so it cannot be moved");
        return Ending::Wrong;
    }
    output::warn(&warnings, args.shown.quiet);

    let control = stop::control(&args.search, stop::on_interrupt());
    let drawing = progress::busy("looking for the smallest change", args.shown.quiet);
    let subject = Subject { problem: &problem, brief: &brief, read: &read, formula: &formula };
    let found = solve(&subject, &wish, args.batch, &control, warnings);
    drawing.clear();
    let (report, answer, status) = match found {
        Ok(found) => found,
        Err(failure) => return failed(&failure),
    };
    let title = read.title.as_ref().map(|title| if wish.asks() { format!("{title}, adjusted") } else { title.clone() });
    let saved = args.saving.save(answer.as_ref(), title, &problem.palette);
    let (ending, words) = match status {
        Status::Optimal | Status::Feasible => (saved, ""),
        Status::Infeasible => (Ending::No, "no change does it within the rules (proven)"),
        Status::Unknown => (Ending::NoAnswer, "stopped without an answer"),
    };
    let profile = ProfileChart::of_adjustment(&report);
    let ending = args.plotting.draw_some(profile.as_ref().map(Dumbbell), ending);
    if args.shown.format == FormatName::Csv && !words.is_empty() {
        // A table without the new formula does not say why.
        complain(words);
    }
    output::answer_on(&args.sections.on(output::page(&args.shown)), &report, &args.shown, ending)
}

/// The report, the formula in it, and how sure it is.
fn solve(
    subject: &Subject,
    wish: &Wish,
    batch: Option<f64>,
    control: &Control,
    warnings: Vec<String>,
) -> Result<(AdjustReport, Option<Formula>, Status), Failure> {
    let (problem, formula) = (subject.problem, subject.formula);
    let reasons = |status: Status, rules: &Problem| match status {
        // The reasons are looked for in what is left of the time.
        Status::Infeasible => {
            let mut reasons = Reasons::of(rules, control);
            // What is in the beaker cannot be wished out of it.
            let of_beaker = |rule: usize| &*rules.rules[rule].place.file == BEAKER;
            reasons.repairs.retain(|repair| !repair.changes.iter().any(|(rule, _)| of_beaker(*rule)));
            reasons
        }
        _ => Reasons::default(),
    };
    if let Some(batch) = batch {
        let found = add(problem, formula, wish, batch, control)?;
        let outcome = Outcome {
            status: found.status,
            answer: found.found.as_ref().map(|(answer, _)| answer),
            bound: None,
            smallest: found.smallest,
            furthest: found.furthest.as_ref(),
            needs: None,
            batch: Some(batch),
            added: found.found.as_ref().map(|(_, added)| added.as_slice()),
            rules: &found.rules,
        };
        let report = AdjustReport::new(subject, wish, &outcome, &reasons(found.status, &found.rules), warnings);
        return Ok((report, found.found.map(|(answer, _)| answer.formula), found.status));
    }
    let found = adjust(problem, formula, wish, control)?;
    let outcome = Outcome {
        status: found.status,
        answer: found.answer.as_ref(),
        bound: Some(found.bound),
        smallest: found.smallest,
        furthest: found.furthest.as_ref(),
        needs: found.needs,
        batch: None,
        added: None,
        rules: &found.rules,
    };
    // One number says it all where it is the option alone that stands in the way.
    let why = if found.needs.is_some() { Reasons::default() } else { reasons(found.status, &found.rules) };
    let report = AdjustReport::new(subject, wish, &outcome, &why, warnings);
    Ok((report, found.answer.map(|answer| answer.formula), found.status))
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
