//! Dependencies point one way: units <- domain <- problem <- model <- solve <-
//! analysis <- balance <- sentences <- results <- questions <- text, table <- html <- formats <- chart <- dossier <-
//! explore <- cli, and a borrowed crate is known to one place only, or to two.

use std::fs;
use std::path::{Path, PathBuf};

/// Modules of the crate from the lowest layer up; one line may use its own and
/// the lines above it.
const LAYERS: &[&[&str]] = &[
    &["units", "place", "number", "escape", "odour", "store", "clock", "control", "pool", "chance"],
    &["palette", "brief", "limits", "substances", "formula", "matches", "trials", "batch"],
    &["problem", "files"],
    &["evaluate", "model"],
    &["certificate"],
    &["solve"],
    &["analysis"],
    &["balance"],
    &["sentences"],
    &["results"],
    &["questions"],
    &["text", "table"],
    &["html"],
    &["formats"],
    &["chart"],
    &["dossier"],
    &["explore"],
    &["cli"],
];

/// Crates, and the places that alone may name them.
const BORROWED: &[(&str, &[&str])] = &[
    ("good_lp", &["solve/backend"]),
    ("clap", &["cli"]),
    ("clap_complete", &["cli"]),
    ("clap_mangen", &["cli"]),
    ("indicatif", &["cli"]),
    ("ctrlc", &["cli"]),
    ("toml", &["files"]),
    ("toml_edit", &["files"]),
    ("nalgebra", &["analysis"]),
    ("miette", &["files"]),
    ("serde_json", &["formats", "results/ordered", "explore"]),
    ("rayon", &["pool"]),
    ("plotters", &["chart"]),
    ("plotters_backend", &["chart"]),
    ("resvg", &["chart"]),
    ("ttf_parser", &["chart"]),
    ("png", &["chart/kit"]),
    ("base64", &["chart"]),
    ("maud", &["html", "dossier", "explore"]),
    ("sha2", &["dossier"]),
    ("libm", &["analysis/strengths"]),
    ("axum", &["explore"]),
    ("tokio", &["explore"]),
    ("tokio_stream", &["explore"]),
    ("hyper", &["explore"]),
    ("hyper_util", &["explore"]),
    ("getrandom", &["explore"]),
    ("rand", &["chance"]),
    ("rand_chacha", &["chance"]),
    ("rand_distr", &["chance"]),
];

fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a source folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            into.push(path);
        }
    }
}

/// (path below src, code without comments) of every source file.
fn code() -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut paths = Vec::new();
    sources(&root, &mut paths);
    paths.sort();
    let read = |path: &PathBuf| {
        let text = fs::read_to_string(path).expect("a source file");
        let code: Vec<&str> = text.lines().filter(|line| !line.trim_start().starts_with("//")).collect();
        let below = path.strip_prefix(&root).expect("below src").to_string_lossy().replace('\\', "/");
        (below, code.join("\n"))
    };
    paths.iter().map(read).collect()
}

fn layer(module: &str) -> Option<usize> {
    LAYERS.iter().position(|modules| modules.contains(&module))
}

#[test]
fn modules_use_their_own_layer_and_those_below() {
    let mut seen = 0;
    for (path, code) in code() {
        let module = path.split('/').next().unwrap_or_default().trim_end_matches(".rs");
        if matches!(module, "main" | "lib") {
            continue;
        }
        let own = layer(module).unwrap_or_else(|| panic!("{module} has no layer"));
        for used in code.split("crate::").skip(1) {
            let used: String = used.chars().take_while(|c| c.is_ascii_lowercase() || *c == '_').collect();
            if let Some(other) = layer(&used) {
                assert!(other <= own, "{path} uses crate::{used}, a layer above its own");
                seen += 1;
            }
        }
    }
    assert!(seen > 100, "only {seen} uses were found: the test looks in the wrong place");
}

#[test]
fn borrowed_crates_are_known_to_one_place() {
    for (name, homes) in BORROWED {
        let mut unused: Vec<&str> = homes.to_vec();
        for (path, code) in code() {
            let names = code.match_indices(&format!("{name}::")).any(|(at, _)| {
                let before = code[..at].chars().next_back();
                before.is_none_or(|c| !c.is_alphanumeric() && c != '_' && c != ':')
            });
            if names {
                assert!(
                    homes.iter().any(|home| path.starts_with(home)),
                    "{path} names {name}, which belongs to {homes:?}"
                );
                unused.retain(|home| !path.starts_with(home));
            }
        }
        assert!(unused.is_empty(), "{name} is not used in {unused:?} any more");
    }
}
