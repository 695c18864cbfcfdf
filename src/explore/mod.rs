//! The page on which a brief is explored: what it asks for and what it is answered.
//!
//! The state of a page is a set of changes to the brief, kept in the page's
//! address. They are written into the text of the brief, in memory, and that text is
//! read like any file: what the page shows is what `propose` finds for the brief that
//! the page would save.
//!
//! Nothing here knows how requests travel: [`serve`] has the server on the loopback
//! interface, and a browser that holds the whole program asks [`Desk`] itself.

mod around;
mod ask;
mod bench;
mod changes;
mod desk;
mod download;
mod folder;
mod local;
mod own;
mod page;
mod pages;
mod parts;
mod piece;
mod requests;
mod save;
#[cfg(feature = "serve")]
pub mod serve;
mod shell;
mod solve;

pub use desk::{Desk, Options};
pub use folder::{Folder, Shelf};
pub use local::Reply;
pub use page::{Content, content};
pub use pages::Pages;
pub use piece::{Later, Sink};
pub use requests::{Ask, Download, Files, Save, Solve};

use crate::files::Faults;
use crate::files::edit::BriefEdits;

/// Reads a brief once, so that its faults are told before a page opens.
///
/// # Errors
/// All the faults of the brief and the files that it names.
pub fn check(desk: &Desk) -> Result<Vec<String>, Faults> {
    let bench = bench::Bench::open(&desk.folder, &desk.options.brief, &BriefEdits::default())?;
    Ok(bench.resolved.warnings)
}
