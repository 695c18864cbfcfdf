//! `permil import`.

use std::path::{Path, PathBuf};

use super::Ending;
use super::colour::Colour;
use super::error::CliError;
use super::output;
use super::shared::in_range;
use super::sheets::{Bottle, Decimal, Delimiter, Target};
use crate::escape::escaped;
use crate::files::sheet::{ReadShelf, Reading, headings, import_formula, import_shelf};
use crate::files::{LARGEST_FILE, load_palette, nearest, palette_text, save_formula, substances};
use crate::palette::{Material, Palette};
use crate::sentences::identity::name_and_number;
use crate::text::{Ink, Page};
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
  permil import shelf.csv --map 'Duft=material' --ignore 'Cost,g left' \\
      --bottle percent --save palette.toml
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
    /// What a bottle's number without a percent sign counts: 0.1 may be 10 % or
    /// 0.1 %
    #[arg(long, value_enum, value_name = "UNIT")]
    bottle: Option<Bottle>,
    /// What a heading stands for: a known heading, or `descriptor` for a smell
    #[arg(long, value_name = "HEADING=KEY", conflicts_with = "formula", value_parser = mapping)]
    map: Vec<(String, String)>,
    /// Headings of columns to leave out, with commas between them
    #[arg(long, value_name = "HEADINGS", conflicts_with = "formula", value_delimiter = ',')]
    ignore: Vec<String>,
    /// The currency of the prices, where the sheet does not tell
    #[arg(long, value_name = "LABEL", conflicts_with = "formula", value_parser = label)]
    currency: Option<String>,
    #[command(flatten)]
    target: Target,
    /// When to use colour
    #[arg(long, value_enum, default_value_t, value_name = "WHEN", help_heading = "Output")]
    color: Colour,
}

/// What a heading stands for.
fn mapping(text: &str) -> Result<(String, String), String> {
    let (heading, key) = text.rsplit_once('=').ok_or("expected HEADING=KEY: \"Duft=material\"")?;
    let (heading, key) = (heading.trim(), key.trim());
    if headings().chain(["descriptor", "name"]).any(|known| known.eq_ignore_ascii_case(key)) {
        Ok((heading.to_owned(), key.to_owned()))
    } else {
        let near = nearest(key, headings()).map_or_else(
            || format!("expected one of {}, or descriptor", headings().collect::<Vec<_>>().join(", ")),
            |near| format!("did you mean {near}?"),
        );
        Err(format!("no column is called {}; {near}", escaped(key)))
    }
}

/// The label of a currency.
fn label(text: &str) -> Result<String, String> {
    if text.trim().is_empty() { Err("expected a label: EUR".to_owned()) } else { Ok(text.trim().to_owned()) }
}

/// Reads the sheet and saves what it says.
///
/// # Errors
/// Why nothing was saved.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let inputs: Vec<_> =
        [&args.shelf, &args.formula, &args.palette].into_iter().flatten().map(PathBuf::as_path).collect();
    args.target.allowed(&inputs)?;
    let reading = Reading {
        delimiter: args.delimiter.map(Delimiter::byte),
        decimal: args.decimal.map(Into::into),
        currency: args.currency.clone(),
        drop_grams: args.drop_mass,
        bottle: args.bottle.map(Into::into),
        map: args.map.clone(),
        ignore: args.ignore.iter().map(|heading| heading.trim().to_owned()).filter(|it| !it.is_empty()).collect(),
    };
    let said = match (&args.shelf, &args.formula, &args.palette) {
        (Some(path), ..) => shelf(args, path, &reading)?,
        (None, Some(formula), Some(palette)) => parts(args, formula, palette, &reading)?,
        _ => return Ok(Ending::Wrong),
    };
    Ok(if args.target.quiet { Ending::Done } else { output::print(&said, Ending::Done) })
}

fn shelf(args: &Args, path: &Path, reading: &Reading) -> Result<String, CliError> {
    let ReadShelf { palette, scored, notes } =
        import_shelf(path, reading).map_err(|faults| CliError::Faults(faults, args.color))?;
    let text = palette_text(&palette);
    if text.len() as u64 > LARGEST_FILE {
        let words = "the palette would be bigger than 16 MiB, the largest that is read; import it in parts";
        return Err(CliError::Wrong(words.to_owned()));
    }
    args.target.write(text.as_bytes())?;
    output::warn(&notes, args.target.quiet);
    let scored = palette.descriptors.iter().zip(scored);
    let names: Vec<String> = scored.map(|(it, cells)| format!("{} {cells}", escaped(&it.name))).collect();
    let mut said = format!(
        "{}: {} {}, prices in {}, scores from 0 to {}\n",
        args.target.shown(),
        palette.materials.len(),
        if palette.materials.len() == 1 { "material" } else { "materials" },
        escaped(&palette.currency),
        palette.scale,
    );
    let taken = format!("Taken for smells, each with the cells that its column has: {}.", names.join(", "));
    Page::default().paragraph(&mut said, "", 0, &taken, Ink::Plain);
    if palette.descriptors.iter().any(|descriptor| descriptor.meaning.is_empty()) {
        said += "A column that is no smell is left out with --ignore \"HEADING\".\n";
    }
    said += &missing_numbers(&palette);
    Ok(said)
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

fn parts(args: &Args, formula: &Path, palette: &Path, reading: &Reading) -> Result<String, CliError> {
    let shown = |faults| CliError::Faults(faults, args.color);
    let palette = load_palette(palette).map_err(shown)?;
    let read = import_formula(formula, &palette, reading).map_err(shown)?;
    save_formula(args.target.path(), &read.formula, &palette, args.target.force()).map_err(CliError::refused)?;
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
