//! `permil replace`.

use std::path::PathBuf;

use super::Ending;
use super::error::CliError;
use super::lessons::Lessons;
use super::names::find;
use super::save::Saving;
use super::session::{Session, adds_up};
use super::shared::{FormatName, Search, Shown};
use crate::escape::escaped;
use crate::formula::Formula;
use crate::palette::Palette;
use crate::questions::Resolved;
use crate::questions::replace::{self, Asked, Wish};
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
    lessons: Lessons,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
}

/// Reads brief and formula and looks for the replacement.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let mut session = Session::new(&args.shown);
    let scenario = session.scenario(&args.brief)?;
    let (read, more) = session.formula_with_places(&args.formula, &scenario.palette)?;
    args.saving.allowed(&scenario)?;
    let mut resolved = args.lessons.remarked(&session, Resolved::from(scenario))?;
    resolved.warnings.extend(more);
    adds_up(&read.formula, &args.formula, args.rescale)?;
    let formula = replace::in_basis_of(&resolved, &read.formula);
    let wish = wish(args, &formula, &resolved.problem.palette).map_err(CliError::Wrong)?;
    session.warn(&resolved.warnings);
    let (says_why, wants_why) = (args.why, matches!(args.shown.format, FormatName::Json | FormatName::Jsonl));
    let asked = Asked { read: &read, wish, says_why, wants_why, method: args.search.solver.into() };
    let answer =
        session.work(&args.search, Some(&resolved.problem), |control| replace::ask(&resolved, &asked, control))?;
    let title = answer.formula.as_ref().and_then(|formula| formula.title.clone());
    session.keep(args.saving.saved(answer.formula.as_ref(), title, &resolved.problem.palette));
    session.answer(&answer.report, answer.outcome())
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
