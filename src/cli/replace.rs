//! `permil replace`.

use std::path::PathBuf;

use super::names::find;
use super::output::{self, complain};
use super::save::Saving;
use super::shared::{FormatName, Search, Shown, failed};
use super::{Ending, progress, stop};
use crate::analysis::basis::in_basis;
use crate::analysis::repair::Reasons;
use crate::analysis::replace::{Wish, replace};
use crate::escape::escaped;
use crate::files::{ReadFormula, Scenario, load_formula_with_places, load_scenario};
use crate::formula::Formula;
use crate::palette::Palette;
use crate::problem::Problem;
use crate::results::replace::{ReplaceReport, Subject};
use crate::solve::Status;
use crate::units::Ppt;

const AFTER_HELP: &str = "\
Examples:
  permil replace brief.toml mod-1.toml --out Linalool
  permil replace brief.toml mod-1.toml --out Eugenol --out Nerol --with 2 --free 1
  permil replace brief.toml mod-1.toml --limit \"beta-Damascenone=0.2\" --save mod-2.toml

Exit status:
  0  a replacement, or nothing was to be replaced
  1  nothing can take its place within the rules, or the parts of the formula
     do not add up to 1000
  2  wrong usage, a fault in the files, or --save refused
  3  stopped without an answer, or a result failed its own check";

/// Replace an ingredient that was withdrawn, restricted or ran out
///
/// Finds the formula that comes nearest to the old one's own profile without
/// what is taken out. A strong material is not replaced weight for weight, so
/// one material makes up the sum: a solvent of the formula, beside which the
/// other doses stay, or that with the largest dose, beside which they keep their
/// proportions, as far as their steps allow. Where nothing fits, one more dose may
/// move, then two, then two new materials may come in; the answer says what was
/// not enough. What is new comes from the materials that the brief allows.
/// Solvents come in only where [doses] names them, and do not count as new.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: rules, and the target to compare with
    brief: PathBuf,
    /// The formula
    formula: PathBuf,
    /// Take a material out; may be repeated
    #[arg(long, value_name = "MATERIAL")]
    out: Vec<String>,
    /// Lower a material to so many ‰ in the basis of the brief; may be
    /// repeated
    #[arg(long, value_name = "MATERIAL=DOSE")]
    limit: Vec<String>,
    /// New materials at most
    #[arg(long, value_name = "N", default_value = "1", value_parser = clap::value_parser!(u16).range(1..=100))]
    with: u16,
    /// Let so many of the other doses move and hold all others where they are,
    /// with nothing else to make up the sum
    #[arg(long, value_name = "K")]
    free: Option<u16>,
    /// Where nothing fits, name the rules that collide
    #[arg(long)]
    why: bool,
    /// Scale a formula whose parts do not add up to 1000
    #[arg(long)]
    rescale: bool,
    #[command(flatten)]
    saving: Saving,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
}

/// Reads brief and formula and looks for the replacement.
pub fn run(args: &Args) -> Ending {
    let colour = args.shown.color;
    let scenario = match load_scenario(&args.brief) {
        Ok(scenario) => scenario,
        Err(faults) => return output::faults(&faults, colour),
    };
    let Scenario { palette, brief, limits, mut warnings } = scenario;
    let (ReadFormula { formula: read, places }, more) = match load_formula_with_places(&args.formula, &palette) {
        Ok(read) => read,
        Err(faults) => return output::faults(&faults, colour),
    };
    if !args.saving.may(&palette, &brief, &limits) {
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
    let wish = match wish(args, &formula, &problem.palette) {
        Ok(wish) => wish,
        Err(why) => {
            complain(&why);
            return Ending::Wrong;
        }
    };
    let Some(own) = problem.with_profile_of(&brief, &formula) else {
        complain("nothing in the formula has an odour that counts, so nothing can be told to come near it");
        return Ending::Wrong;
    };
    output::warn(&warnings, args.shown.quiet);

    let control = stop::control(&args.search, stop::on_interrupt());
    let drawing = progress::count("searches", args.shown.quiet);
    let done = |done, of| drawing.done(done, of);
    let found = replace(&own, &formula, &places, &wish, args.search.solver.into(), &control, &done);
    drawing.clear();
    let found = match found {
        Ok(found) => found,
        Err(failure) => return failed(&failure),
    };
    let status = found.solution.status;
    // The reasons are looked for in what is left of the time.
    let is_told = args.why || args.shown.format == FormatName::Json;
    let reasons = match status {
        Status::Infeasible if is_told => Reasons::of(&found.rules, &control),
        _ => Reasons::default(),
    };
    let answer = found.solution.answer.as_ref().map(|answer| &answer.formula);
    let saved = args.saving.save(answer, title(&read, &wish, &problem.palette), &problem.palette);
    let subject = Subject { problem: &problem, own: &own, brief: &brief, read: &read, formula: &formula };
    let report = ReplaceReport::new(&subject, &wish, &found, &reasons, warnings);
    let report = ReplaceReport { says_why: args.why, ..report };
    let ending = match status {
        Status::Optimal | Status::Feasible => saved,
        Status::Infeasible => Ending::No,
        Status::Unknown => Ending::NoAnswer,
    };
    if args.shown.format == FormatName::Csv && answer.is_none() {
        // A table without the new formula does not say why.
        complain(match status {
            Status::Infeasible => "nothing can take its place within the rules (proven)",
            _ => "stopped without an answer",
        });
    }
    output::answer(&report, &args.shown, ending)
}

/// What the options ask for, of materials that the formula has.
fn wish(args: &Args, formula: &Formula, palette: &Palette) -> Result<Wish, String> {
    let free = args.free.map_or(0, usize::from);
    let mut wish = Wish { new: args.with.into(), free, widens: args.free.is_none(), ..Wish::default() };
    for name in &args.out {
        let material = part(name, "--out", formula, palette)?;
        if !wish.out.contains(&material) {
            wish.out.push(material);
        }
    }
    for text in &args.limit {
        let (name, dose) = text
            .rsplit_once('=')
            .ok_or_else(|| format!("--limit {}: expected MATERIAL=DOSE, such as \"Nerol=40\"", escaped(text)))?;
        let material = part(name, "--limit", formula, palette)?;
        let most = dose.trim().parse::<f64>().ok().filter(|dose| (0.0..=1000.0).contains(dose));
        let most = most.ok_or_else(|| format!("--limit {}: expected a dose from 0 to 1000 ‰", escaped(text)))?;
        let named = escaped(&palette.materials[material].name);
        if wish.out.contains(&material) {
            return Err(format!("\"{named}\" is both taken out and lowered"));
        }
        if wish.lowered.iter().any(|(lowered, _)| *lowered == material) {
            return Err(format!("\"{named}\" is lowered twice"));
        }
        wish.lowered.push((material, Ppt::from_ppt(most)));
    }
    Ok(wish)
}

/// The part of a formula that an option names.
fn part(name: &str, option: &str, formula: &Formula, palette: &Palette) -> Result<usize, String> {
    let parts: Vec<&str> =
        formula.parts.iter().map(|(material, _)| palette.materials[*material].name.as_str()).collect();
    let all: Vec<&str> = palette.materials.iter().map(|material| material.name.as_str()).collect();
    match find(name, &parts, "part of the formula") {
        Ok(at) => Ok(formula.parts[at].0),
        Err(_) if find(name, &all, "material").is_ok() => {
            Err(format!("{option} {}: it is not in the formula", escaped(name)))
        }
        Err(error) => Err(format!("{option} {}: {error}", escaped(name))),
    }
}

/// A title that says what is not in it any more.
fn title(read: &Formula, wish: &Wish, palette: &Palette) -> Option<String> {
    let asked = wish.out.iter().chain(wish.lowered.iter().map(|(material, _)| material));
    let names: Vec<&str> = asked.map(|&material| palette.materials[material].name.as_str()).collect();
    let old = read.title.clone()?;
    Some(if names.is_empty() { old } else { format!("{old}, {} replaced", names.join(" and ")) })
}
