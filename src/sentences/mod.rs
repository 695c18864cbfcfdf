//! Sentences that reports carry: what is said of a brief, a formula or a material
//! in the same words in JSON, in a text and on a page. The sentences of rules are
//! the problem's own (`problem/sentence.rs`); what a text alone says is in `text/`.

pub mod apart;
pub mod blotter;
pub mod cap;
pub mod care;
pub mod compositions;
pub mod finding;
pub mod identity;
pub mod idle;
pub mod laws;
pub mod left_out;
pub mod noses;
pub mod notes;
pub mod order;
pub mod said;
pub mod usual;
pub mod views;
