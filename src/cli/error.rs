//! Why a command ends without an answer, and the one place that says so.

use super::Ending;
use super::colour::Colour;
use super::output::{self, complain};
use crate::escape::escaped;
use crate::files::{Faults, SaveError};
use crate::questions::Refusal;
use crate::solve::Failure;

/// Why a command ends without an answer. All words but those of a failure are
/// fit to be shown.
#[derive(Debug, thiserror::Error)]
pub enum CliError {
    /// What is wrong with input files.
    #[error("{0}")]
    Faults(Faults, Colour),
    /// Wrong usage or wrong input.
    #[error("{0}")]
    Wrong(String),
    /// A file may not be written, or could not be.
    #[error(transparent)]
    Save(#[from] SaveError),
    /// The question cannot be answered.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// Several of these, to be told in one run.
    #[error("several faults")]
    Several(Vec<CliError>),
}

impl From<Failure> for CliError {
    fn from(failure: Failure) -> CliError {
        Refusal::from(failure).into()
    }
}

impl CliError {
    /// All the errors of several files; nothing where there are none.
    ///
    /// # Errors
    /// The errors, if there are any.
    pub fn all(errors: Vec<CliError>) -> Result<(), CliError> {
        if errors.is_empty() { Ok(()) } else { Err(CliError::Several(errors)) }
    }

    /// Of a file that is refused before anything is worked out: what would let
    /// it be written, where there is something.
    pub fn refused(error: SaveError) -> CliError {
        match error {
            SaveError::Exists(_) => CliError::Wrong(format!("{error}; --force overwrites it")),
            error => CliError::Save(error),
        }
    }

    /// How the command ends. Of several the wrong input decides.
    pub fn ending(&self) -> Ending {
        match self {
            CliError::Faults(..) | CliError::Wrong(_) | CliError::Save(_) => Ending::Wrong,
            CliError::Refused(refusal) => match refusal {
                Refusal::Wrong(_) | Refusal::Failed(Failure::Unsupported(_)) => Ending::Wrong,
                Refusal::No(_) => Ending::No,
                Refusal::Stopped(_) | Refusal::Failed(Failure::Internal(_)) => Ending::NoAnswer,
            },
            CliError::Several(errors) => {
                let mut endings = errors.iter().map(CliError::ending);
                let first = endings.next().unwrap_or(Ending::Wrong);
                if endings.any(|ending| ending == Ending::Wrong) { Ending::Wrong } else { first }
            }
        }
    }

    /// Says on standard error what is wrong, and gives how the command ends.
    pub fn tell(&self) -> Ending {
        match self {
            CliError::Faults(faults, colour) => {
                output::faults(faults, *colour);
            }
            CliError::Refused(Refusal::Failed(failure)) => complain(&escaped(&failure.to_string())),
            CliError::Several(errors) => errors.iter().for_each(|error| {
                error.tell();
            }),
            error => complain(&error.to_string()),
        }
        self.ending()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrong_input_decides_among_several() {
        let no = || Refusal::No(String::new()).into();
        let wrong = || CliError::Wrong(String::new());
        assert_eq!(CliError::Several(vec![no(), wrong()]).ending(), Ending::Wrong);
        assert_eq!(CliError::Several(vec![wrong(), no()]).ending(), Ending::Wrong);
        assert_eq!(CliError::Several(vec![no(), no()]).ending(), Ending::No);
        assert!(CliError::all(Vec::new()).is_ok());
    }

    #[test]
    fn a_failed_check_is_no_fault_of_the_user() {
        assert_eq!(CliError::from(Failure::Internal(String::new())).ending(), Ending::NoAnswer);
        assert_eq!(CliError::from(Failure::Unsupported(String::new())).ending(), Ending::Wrong);
    }
}
