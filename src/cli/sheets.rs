//! Options of the commands that read and write sheets.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::error::CliError;
use crate::escape::escaped;
use crate::files::sheet::{BottleUnit, DecimalSign};
use crate::files::{could_save, save_bytes};
use crate::store::{Disk, Store};

/// What parts the cells of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Delimiter {
    /// ,
    Comma,
    /// ;
    Semicolon,
    /// A tab
    Tab,
}

impl Delimiter {
    /// The mark.
    pub fn byte(self) -> u8 {
        match self {
            Delimiter::Comma => b',',
            Delimiter::Semicolon => b';',
            Delimiter::Tab => b'\t',
        }
    }
}

/// The mark before the decimals.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Decimal {
    /// 1.5
    Point,
    /// 1,5
    Comma,
}

/// What a bottle's number without a percent sign counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Bottle {
    /// 0.1 is 10 %
    Fraction,
    /// 0.1 is 0.1 %
    Percent,
}

impl From<Bottle> for BottleUnit {
    fn from(bottle: Bottle) -> BottleUnit {
        match bottle {
            Bottle::Fraction => BottleUnit::Fraction,
            Bottle::Percent => BottleUnit::Percent,
        }
    }
}

impl From<Decimal> for DecimalSign {
    fn from(decimal: Decimal) -> DecimalSign {
        match decimal {
            Decimal::Point => DecimalSign::Point,
            Decimal::Comma => DecimalSign::Comma,
        }
    }
}

/// Where the result goes.
#[derive(Clone, Debug, Args)]
#[command(next_help_heading = "Output")]
pub struct Target {
    /// The file to write
    #[arg(long, value_name = "FILE")]
    save: PathBuf,
    /// Overwrite an older file
    #[arg(long)]
    force: bool,
    /// Say nothing where all went well
    #[arg(long, short)]
    pub quiet: bool,
}

impl Target {
    /// Where it goes.
    pub fn path(&self) -> &Path {
        &self.save
    }

    /// Whether the file may be written: no input is overwritten, and no older file
    /// unless that is asked for.
    ///
    /// # Errors
    /// Why it may not.
    pub fn allowed(&self, inputs: &[&Path]) -> Result<(), CliError> {
        if let Some(input) = inputs.iter().find(|input| Disk.is_same(&self.save, input)) {
            let input = escaped(&input.to_string_lossy());
            return Err(CliError::Wrong(format!("--save would overwrite {input}, which is read")));
        }
        could_save(&self.save, self.force).map_err(CliError::refused)
    }

    /// Writes the file, whole or not at all.
    ///
    /// # Errors
    /// Why it was not written.
    pub fn write(&self, bytes: &[u8]) -> Result<(), CliError> {
        save_bytes(&self.save, bytes, self.force).map_err(CliError::refused)
    }

    /// Whether an older file may be overwritten.
    pub fn force(&self) -> bool {
        self.force
    }

    /// The path as it is shown.
    pub fn shown(&self) -> String {
        escaped(&self.save.to_string_lossy())
    }
}
