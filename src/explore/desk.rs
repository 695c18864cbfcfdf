//! What all requests about one brief share.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use super::folder::Folder;
use super::own::Own;
use super::pages::Pages;
use crate::clock;

/// What is explored.
#[derive(Clone, Debug)]
pub struct Options {
    /// The brief.
    pub brief: PathBuf,
    /// The longest that one search may take.
    pub time_limit: Duration,
    /// The time since 1970-01-01 (UTC), for the date of what is made; `None` where nothing
    /// tells it.
    pub since_1970: fn() -> Option<Duration>,
}

impl Options {
    /// A brief, by the calendar of the machine.
    pub fn of(brief: PathBuf, time_limit: Duration) -> Options {
        Options { brief, time_limit, since_1970: clock::since_1970 }
    }
}

/// What all requests about one brief share.
#[derive(Debug)]
pub struct Desk {
    /// What is explored.
    pub options: Options,
    /// Where its files are.
    pub folder: Arc<dyn Folder>,
    /// What may be written over.
    pub(super) own: Own,
    /// What each open page is doing.
    pub pages: Pages,
}

impl Desk {
    /// A desk for a brief whose files are in a folder.
    pub fn new(options: Options, folder: Arc<dyn Folder>) -> Desk {
        Desk { options, folder, own: Own::default(), pages: Pages::default() }
    }
}

/// Why a request was not done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// The request asks for what is not given.
    Wrong,
    /// There is a file of that name.
    Exists,
    /// What is asked about cannot be worked out as it stands.
    Unworkable,
    /// The files could not be written.
    Failed,
}

impl Why {
    /// The status of HTTP that says so.
    pub const fn status(self) -> u16 {
        match self {
            Why::Wrong => 400,
            Why::Exists => 409,
            Why::Unworkable => 422,
            Why::Failed => 500,
        }
    }
}
