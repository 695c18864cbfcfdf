//! Input files: TOML text to domain and back.
