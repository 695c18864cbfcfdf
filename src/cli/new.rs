//! `permil new`.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use clap::ValueEnum;

use super::Ending;
use super::error::CliError;
use super::output;
use crate::escape::escaped;
use crate::files::shipped::Shipped;
use crate::files::write_folder;

const AFTER_HELP: &str = "\
Examples:
  permil new mine
  permil new mine --like six
  permil new mine --like empty

Exit status:
  0  written
  2  wrong usage, or a folder that is not empty or cannot be written; nothing is
     left behind then";

/// Write a scenario to start from into a new folder
///
/// Writes a shelf, a brief and what else a scenario has into a folder that is new
/// or empty: all files or none, and never over anything. Change them into your
/// own. Whatever they say of smell, strength, price and stock is invented, and the
/// limits are for orientation.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The folder, which is made if need be
    folder: PathBuf,
    /// Which scenario it begins as
    #[arg(long, value_enum, default_value_t, value_name = "NAME")]
    like: Like,
}

/// The names of the scenarios.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum Like {
    /// A stand-in for rose otto: 45 materials, limits, two finished products,
    /// trials to learn from
    #[default]
    Rose,
    /// Six materials and a few rules, small enough to check by hand
    Six,
    /// A shelf on which an accord stands ready mixed
    Base,
    /// A jasmine shelf of 65 materials, many nearly odourless, with usual doses and a
    /// published composition
    Jasmine,
    /// A shelf to fill, with three examples of how a material is written
    Empty,
}

impl Like {
    fn shipped(self) -> Shipped {
        match self {
            Like::Rose => Shipped::Rose,
            Like::Six => Shipped::Six,
            Like::Base => Shipped::Base,
            Like::Jasmine => Shipped::Jasmine,
            Like::Empty => Shipped::Empty,
        }
    }

    /// What to type next, and what for. `@` is the folder.
    fn next(self) -> &'static [(&'static str, &'static str)] {
        match self {
            Like::Rose => &[
                ("propose @/brief.toml", "the nearest blend inside the rules"),
                ("explore @/brief.toml", "the same on a page, with sliders"),
                ("shelf @/palette.toml", "what the shelf holds and lacks"),
                ("weigh @/mod-1.toml --batch 10 --balance 0.001", "onto the balance"),
                ("learn @/trials.toml", "what the trials teach"),
            ],
            Like::Six => &[
                ("propose @/brief.toml", "the nearest blend inside the rules"),
                ("compare @/brief.toml @/formula.toml", "how near a formula of yours is"),
                ("shelf @/palette.toml", "what the shelf holds and lacks"),
            ],
            Like::Base => &[
                ("propose @/brief.toml", "the nearest blend inside the rules"),
                ("weigh @/mod-1.toml --batch 10 --balance 0.001 --unfold", "the base taken apart"),
                ("shelf @/palette.toml", "what the shelf holds and lacks"),
            ],
            Like::Jasmine => &[
                ("propose @/numbers-alone.toml", "what the numbers alone come to"),
                ("propose @/brief.toml", "the same with what is usual"),
                ("check @/brief.toml", "what looks odd about brief and shelf"),
                ("compare @/brief.toml @/mod-1.toml", "how near a formula of yours is"),
            ],
            Like::Empty => &[
                ("shelf @/palette.toml", "what the shelf holds and lacks"),
                ("check @/brief.toml", "whether brief and shelf fit together"),
                ("propose @/brief.toml", "the nearest blend inside the rules"),
                ("explore @/brief.toml", "the same on a page, with sliders"),
            ],
        }
    }
}

/// Writes the files and says what they are.
///
/// # Errors
/// Why none was written.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let shipped = args.like.shipped();
    let files: Vec<(&str, String)> = shipped.files().map(|file| (shipped.place(file), shipped.text(file))).collect();
    write_folder(&args.folder, &files).map_err(|error| CliError::Wrong(error.to_string()))?;
    Ok(output::print(&told(args), Ending::Done))
}

/// What was written, and what to type next.
fn told(args: &Args) -> String {
    let shipped = args.like.shipped();
    let mut text = format!("Written into {}\n", escaped(&args.folder.to_string_lossy()));
    let width = shipped.files().map(|file| shipped.place(file).len()).max().unwrap_or(0);
    for file in shipped.files() {
        let _ = writeln!(text, "  {:width$}  {}", shipped.place(file), file.about);
    }
    text += "\nScores, strengths, prices and stock are invented, and the limits are for\n\
             orientation: put your own in their place.\n\nNext\n";
    let folder = typed(&args.folder);
    for (command, purpose) in args.like.next() {
        let _ = writeln!(text, "  permil {}\n      {purpose}", command.replace('@', &folder));
    }
    text
}

/// A path as it is typed in a shell.
fn typed(path: &Path) -> String {
    let path = escaped(&path.to_string_lossy());
    let path = path.trim_end_matches('/');
    let is_plain = path.chars().all(|c| c.is_alphanumeric() || "/._-+\\:".contains(c)) && !path.starts_with('-');
    match (is_plain, path.is_empty()) {
        (true, false) => path.to_owned(),
        (_, true) => "/".to_owned(),
        (false, false) => format!("'{}'", path.replace('\'', "'\\''")),
    }
}
