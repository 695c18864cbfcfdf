//! Reports for reading, at 80 columns and without colour as well.

mod buy;
mod care;
mod check;
mod compare;
mod formula;
mod limits;
mod page;
mod propose;
mod reasons;
mod replace;
mod table;
mod worth;

pub use buy::buy;
pub use check::check;
pub use compare::compare;
pub use page::Page;
pub use propose::propose;
pub use replace::replace;
