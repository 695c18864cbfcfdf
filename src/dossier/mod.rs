//! The report to keep or send: everything that is known of a brief and its
//! formula on one page that needs nothing else.
//!
//! The answers of [`questions::report`](crate::questions::report) are set as HTML
//! by [`page`]: fonts and drawings inside, no script, no address of any network.
//! The same input and day give the same bytes as long as every answer was proven in the
//! time allowed.

pub mod files;
mod page;
mod parts;
mod style;

pub use page::page;

pub use crate::questions::report::{Answer as Dossier, LabelOf, Reader, Subject};
