//! `permil import`.

use std::path::PathBuf;

use super::Ending;
use super::output::{self, Colour, complain};
use super::shared::in_range;
use super::sheets::{Decimal, Delimiter, Target, told};
use crate::escape::escaped;
use crate::files::sheet::{Reading, import_formula, import_palette};
use crate::files::{LARGEST_FILE, load_palette, palette_text, save_formula, substances};
use crate::palette::{Material, Palette};
use crate::report::identity::name_and_number;
use crate::units::Ppt;

const AFTER_HELP: &str = "\
A shelf has one row for each material. The headings are the keys of palette.toml \
in any order: material, strength, cas, price, ...; every other heading is a \
descriptor. Rows above the headings tell what a row cannot: #name, #currency, \
#scale, #remarks, #decimal (one half, as the sheet writes it), and #meaning with \
the meaning of each descriptor in its column. profiles/FILES.md tells the rest. \
A formula has the headings material and one of parts, grams, drops.

Examples:
  permil import shelf.csv --save palette.toml
  permil import shelf.csv --decimal comma --currency CHF --save palette.toml
  permil import --formula mod-1.csv --palette palette.toml --save mod-1.toml
  permil import --formula drops.csv --palette palette.toml --drop-mass 0.02 \\
      --save mod-1.toml

Exit status:
  0  saved
  2  wrong usage, a fault in the sheet, or a file that is there already";

/// Make a palette or a formula of a spreadsheet's CSV file
///
/// Reads cells parted by commas, semicolons or tabs, with decimal points or
/// commas, percent and currency signs. What could be read in two ways is an
/// error that shows the cell, never a guess; all errors are told at once, and
/// nothing is written where there is one.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The shelf as CSV
    #[arg(required_unless_present = "formula", conflicts_with = "formula")]
    shelf: Option<PathBuf>,
    /// Read a formula instead
    #[arg(long, value_name = "FILE", requires = "palette")]
    formula: Option<PathBuf>,
    /// The palette whose materials the formula names
    #[arg(long, value_name = "FILE", requires = "formula")]
    palette: Option<PathBuf>,
    /// What a drop weighs in grams, for a formula that was counted in drops:
    /// each becomes neat parts by the dilution of its usual bottle
    #[arg(long, value_name = "GRAMS", requires = "formula", allow_negative_numbers = true,
          value_parser = |text: &str| in_range(text, 10.0, "a number of grams"))]
    drop_mass: Option<f64>,
    /// The mark before the decimals, where the sheet does not tell
    #[arg(long, value_enum, value_name = "SIGN")]
    decimal: Option<Decimal>,
    /// What parts the cells, where the headings do not tell
    #[arg(long, value_enum, value_name = "MARK")]
    delimiter: Option<Delimiter>,
    /// The currency of the prices, where the sheet does not tell
    #[arg(long, value_name = "LABEL", conflicts_with = "formula", value_parser = label)]
    currency: Option<String>,
    #[command(flatten)]
    target: Target,
    /// When to use colour
    #[arg(long, value_enum, default_value_t, value_name = "WHEN", help_heading = "Output")]
    color: Colour,
}

/// The label of a currency.
fn label(text: &str) -> Result<String, String> {
    if text.trim().is_empty() { Err("expected a label: EUR".to_owned()) } else { Ok(text.trim().to_owned()) }
}

/// Reads the sheet and saves what it says.
pub fn run(args: &Args) -> Ending {
    let inputs: Vec<_> =
        [&args.shelf, &args.formula, &args.palette].into_iter().flatten().map(PathBuf::as_path).collect();
    if !args.target.may(&inputs) {
        return Ending::Wrong;
    }
    let reading = Reading {
        delimiter: args.delimiter.map(Delimiter::byte),
        decimal: args.decimal.map(Into::into),
        currency: args.currency.clone(),
        drop_grams: args.drop_mass,
    };
    let said = match (&args.shelf, &args.formula, &args.palette) {
        (Some(_), ..) => shelf(args, &reading),
        (None, Some(formula), Some(palette)) => parts(args, formula, palette, &reading),
        _ => return Ending::Wrong,
    };
    match said {
        Ok(_) if args.target.quiet => Ending::Done,
        Ok(said) => output::print(&said, Ending::Done),
        Err(ending) => ending,
    }
}

fn shelf(args: &Args, reading: &Reading) -> Result<String, Ending> {
    let path = args.shelf.as_deref().ok_or(Ending::Wrong)?;
    let palette = import_palette(path, reading).map_err(|faults| output::faults(&faults, args.color))?;
    let text = palette_text(&palette);
    if text.len() as u64 > LARGEST_FILE {
        complain("the palette would be bigger than 16 MiB, the largest that is read; import it in parts");
        return Err(Ending::Wrong);
    }
    if !args.target.write(text.as_bytes()) {
        return Err(Ending::Wrong);
    }
    let names: Vec<String> = palette.descriptors.iter().take(12).map(|descriptor| escaped(&descriptor.name)).collect();
    let more = palette.descriptors.len() - names.len();
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    let numbers = missing_numbers(&palette);
    Ok(format!(
        "{}: {} materials, prices in {}, scores from 0 to {}\nDescriptors: {}{more}\n{numbers}",
        args.target.shown(),
        palette.materials.len(),
        escaped(&palette.currency),
        palette.scale,
        names.join(", "),
    ))
}

/// What is without a CAS number, and what its name may mean.
fn missing_numbers(palette: &Palette) -> String {
    let smelled = palette.materials.iter().filter(|material| !material.is_carrier() && material.formula.is_none());
    let without: Vec<&Material> = smelled.filter(|material| material.cas.is_none()).collect();
    let mut said = String::new();
    let mut unknown = 0;
    for material in &without {
        match substances().by_name(&material.name) {
            Some(known) => {
                said += &format!("{} has no CAS number: {}?\n", escaped(&material.name), name_and_number(known));
            }
            None => unknown += 1,
        }
    }
    let more = if unknown == without.len() { "" } else { "more " };
    match unknown {
        0 => {}
        1 => said += &format!("1 {more}material has no CAS number.\n"),
        _ => said += &format!("{unknown} {more}materials have no CAS number.\n"),
    }
    if !without.is_empty() {
        said += "Limits and label lists pass by what has no number.\n";
    }
    said
}

fn parts(
    args: &Args,
    formula: &std::path::Path,
    palette: &std::path::Path,
    reading: &Reading,
) -> Result<String, Ending> {
    let shown = |faults| output::faults(&faults, args.color);
    let palette = load_palette(palette).map_err(shown)?;
    let read = import_formula(formula, &palette, reading).map_err(shown)?;
    if !told(save_formula(args.target.path(), &read.formula, &palette, args.target.force())) {
        return Err(Ending::Wrong);
    }
    let sum = read.formula.sum();
    let count = read.formula.parts.len();
    let note = read.note.map(|note| format!("{}.\n", capital(&note))).unwrap_or_default();
    let hint = if sum == Ppt::WHOLE { "" } else { "; commands that read it scale it with --rescale" };
    Ok(format!("{}: {count} materials, {sum} parts{hint}\n{note}", args.target.shown()))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
