//! Answers as text, JSON and CSV.
