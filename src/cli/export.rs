//! `permil export`.

use std::path::PathBuf;

use super::Ending;
use super::colour::Colour;
use super::error::CliError;
use super::output;
use super::sheets::{Decimal, Delimiter, Target};
use crate::files::sheet::{DecimalSign, Writing, formula_sheet, palette_sheet};
use crate::files::{left_behind, load_formula_with_warnings, load_palette, load_palette_of_formula};

const AFTER_HELP: &str = "\
`permil import` reads the file back as the same palette. Where your spreadsheet \
writes 1,5 for one and a half, export with --decimal comma, or it may take 5.12 \
for a day in December. Comments of the TOML file stay behind.

Examples:
  permil export profiles/rose-otto/palette.toml --save shelf.csv
  permil export palette.toml --decimal comma --save shelf.csv
  permil export --formula mod-1.toml --save mod-1.csv

Exit status:
  0  saved
  2  wrong usage, a fault in the files, or a file that is there already";

/// Write a palette or a formula as CSV for a spreadsheet
///
/// One row for each material: the keys of palette.toml, then a column for each
/// descriptor. A cell that a spreadsheet would run as a formula, or take for a
/// number or a date, is written as text.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The palette
    #[arg(required_unless_present = "formula")]
    palette: Option<PathBuf>,
    /// Write this formula instead; its palette is the one that it names, unless
    /// one is given
    #[arg(long, value_name = "FILE")]
    formula: Option<PathBuf>,
    /// The mark before the decimals
    #[arg(long, value_enum, value_name = "SIGN", default_value = "point")]
    decimal: Decimal,
    /// What parts the cells; semicolons where the decimals have a comma, commas
    /// elsewhere
    #[arg(long, value_enum, value_name = "MARK")]
    delimiter: Option<Delimiter>,
    #[command(flatten)]
    target: Target,
    /// When to use colour
    #[arg(long, value_enum, default_value_t, value_name = "WHEN", help_heading = "Output")]
    color: Colour,
}

/// Reads the file and saves it as a sheet.
///
/// # Errors
/// Why nothing was saved.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let inputs: Vec<_> = [&args.palette, &args.formula].into_iter().flatten().map(PathBuf::as_path).collect();
    args.target.allowed(&inputs)?;
    let delimiter = args.delimiter.unwrap_or(match args.decimal {
        Decimal::Point => Delimiter::Comma,
        Decimal::Comma => Delimiter::Semicolon,
    });
    let writing = Writing { delimiter: delimiter.byte(), decimal: DecimalSign::from(args.decimal) };
    let (bytes, said) = sheet(args, &writing).map_err(|faults| CliError::Faults(faults, args.color))?;
    args.target.write(&bytes)?;
    let said = format!("{}: {said}\n", args.target.shown());
    Ok(if args.target.quiet { Ending::Done } else { output::print(&said, Ending::Done) })
}

fn sheet(args: &Args, writing: &Writing) -> Result<(Vec<u8>, String), crate::files::Faults> {
    let Some(path) = &args.formula else {
        let path = args.palette.clone().unwrap_or_default();
        let palette = load_palette(&path)?;
        output::warn(&left_behind(&path), args.target.quiet);
        let said = format!("{} materials, {} descriptors", palette.materials.len(), palette.descriptors.len());
        return Ok((palette_sheet(&palette, writing), said));
    };
    let palette = match &args.palette {
        Some(palette) => load_palette(palette)?,
        None => load_palette_of_formula(path)?,
    };
    let (formula, warnings) = load_formula_with_warnings(path, &palette)?;
    output::warn(&warnings, args.target.quiet);
    let said = format!("{} materials, {} parts", formula.parts.len(), formula.sum());
    Ok((formula_sheet(&formula, &palette, writing), said))
}
