//! Dependencies point one way: units <- domain <- problem <- model <- solve <-
//! analysis <- balance <- sentences <- results <- questions <- text, table <- html <- formats <- chart <- dossier <-
//! explore <- cli, and a borrowed crate is known to one place only, or to two.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Modules of the crate from the lowest layer up; one line may use its own and
/// the lines above it.
const LAYERS: &[&[&str]] = &[
    &[
        "units",
        "place",
        "number",
        "portable",
        "escape",
        "odour",
        "store",
        "clock",
        "control",
        "pool",
        "chance",
        "film",
        "tied",
        "tolerance",
    ],
    &[
        "palette",
        "brief",
        "limits",
        "wanted",
        "stage",
        "strength",
        "nose",
        "tenacity",
        "thresholds",
        "sensitivity",
        "follow",
        "substances",
        "formula",
        "composition",
        "matches",
        "trials",
        "batch",
    ],
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
    ("libm", &["portable", "analysis/strengths", "solve/curved"]),
    ("axum", &["explore/serve"]),
    ("tokio", &["explore/serve"]),
    ("tokio_stream", &["explore/serve"]),
    ("hyper", &["explore/serve"]),
    ("hyper_util", &["explore/serve"]),
    ("getrandom", &["explore/serve"]),
    ("rand", &["chance"]),
    ("rand_chacha", &["chance"]),
    ("rand_distr", &["chance"]),
];

/// Modules that answer the questions: terminal, page and report ask
/// `questions` instead of putting one together of these.
const ANSWERING: &[&str] =
    &["analysis", "balance", "solve::propose", "solve::direct", "solve::feasibility", "solve::certify"];

/// Places above the questions that name one of them all the same: for the type
/// of a change that a button makes, for what a file of the shelf is read as, or
/// because their question has no file of its own yet.
const ASKING_THEMSELVES: &[(&str, &str)] = &[
    ("explore/changes", "analysis::loosen"),
    ("explore/parts/reasons", "analysis::conflict"),
    ("explore/parts/reasons", "analysis::repair"),
    ("cli/shared", "balance::unfold"),
    ("cli/product", "balance::product"),
    ("cli/product", "balance::unfold"),
    ("cli/weigh", "balance"),
];

/// What belongs to the machine, and the places that alone may name it. Words in
/// tests within `src` do not count.
const MACHINE: &[(&str, &[&str])] = &[
    ("std::fs", &["store.rs", "files/write.rs", "files/fresh.rs", "explore/serve/door.rs"]),
    (".canonicalize()", &["store.rs"]),
    ("fs::canonicalize", &["files/write.rs"]),
    (".is_symlink()", &["files/write.rs", "files/fresh.rs"]),
    ("std::path::absolute", &["store.rs"]),
    ("Instant", &["clock.rs"]),
    ("SystemTime", &["clock.rs"]),
    ("std::thread", &["pool.rs"]),
    ("available_parallelism", &["pool.rs"]),
    ("std::env", &["cli", "explore/serve/door.rs"]),
];

/// Files that are reached from themselves by way of another, by layer (those beside
/// lib.rs in one list). The lists may only get shorter.
const CIRCLES: &[(&str, &[&str])] = &[
    ("", &["batch.rs", "brief.rs", "formula.rs", "limits.rs", "substances.rs", "trials.rs"]),
    (
        "analysis",
        &["analysis/learn/drying.rs", "analysis/learn/kin.rs", "analysis/learn/model.rs", "analysis/learn/unknowns.rs"],
    ),
    ("certificate", &["certificate/check.rs", "certificate/reading.rs", "certificate/shape.rs"]),
    ("chart", &["chart/kit/canvas.rs", "chart/kit/style.rs"]),
    (
        "dossier",
        &[
            "dossier/page.rs",
            "dossier/parts/brief.rs",
            "dossier/parts/client.rs",
            "dossier/parts/figures.rs",
            "dossier/parts/formula.rs",
            "dossier/parts/limits.rs",
            "dossier/parts/proof.rs",
            "dossier/parts/weigh.rs",
        ],
    ),
    (
        "files",
        &[
            "files/allergens.rs",
            "files/base.rs",
            "files/batch.rs",
            "files/limits.rs",
            "files/palette.rs",
            "files/review.rs",
            "files/trials.rs",
            "files/value.rs",
            "files/walk.rs",
        ],
    ),
    (
        "solve",
        &[
            "solve/search/epochs.rs",
            "solve/search/explore.rs",
            "solve/search/grid.rs",
            "solve/search/node.rs",
            "solve/search/prove.rs",
            "solve/search/prove_part.rs",
        ],
    ),
    ("text", &["text/overshoot.rs", "text/weigh.rs"]),
];

fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a source folder") {
        let path = entry.expect("an entry").path();
        if path.join("Cargo.toml").exists() {
            // A package of its own: what makes the page without a server, above all layers.
        } else if path.is_dir() {
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
fn terminal_page_and_report_ask_the_questions() {
    let mut unused = ASKING_THEMSELVES.to_vec();
    for (path, code) in code() {
        if !["cli/", "explore/", "dossier/"].iter().any(|folder| path.starts_with(folder)) {
            continue;
        }
        for used in code.split("crate::").skip(1) {
            let is_of = |module: &str| used.strip_prefix(module).is_some_and(|rest| !rest.starts_with('_'));
            if !ANSWERING.iter().any(|module| is_of(module)) {
                continue;
            }
            let own = ASKING_THEMSELVES.iter().filter(|(place, module)| path.starts_with(place) && is_of(module));
            let allowed: Vec<_> = own.collect();
            let shown: String = used.chars().take_while(|c| *c != ';' && *c != '\n').collect();
            assert!(!allowed.is_empty(), "{path} uses crate::{shown}, which its question is to do");
            unused.retain(|exception| !allowed.contains(&exception));
        }
    }
    assert!(unused.is_empty(), "these ask the questions now: {unused:?}");
}

#[test]
fn nothing_in_a_question_touches_the_machine() {
    let machine = ["std::fs", "std::env", "std::thread", "Instant::now", "SystemTime", "clock::", "Disk", "println!"];
    let questions = code().into_iter().filter(|(path, _)| path.starts_with("questions/"));
    let mut seen = 0;
    for (path, code) in questions {
        seen += 1;
        for it in machine {
            assert!(!code.contains(it), "{path} names {it}");
        }
    }
    assert!(seen > 8, "only {seen} questions were found: the test looks in the wrong place");
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

/// The code of a file without the tests at its end.
fn without_tests(code: &str) -> &str {
    code.split("#[cfg(test)]\nmod tests").next().unwrap_or_default()
}

#[test]
fn the_machine_is_known_to_named_places() {
    let files = code();
    for (word, homes) in MACHINE {
        let mut unused: Vec<&str> = homes.to_vec();
        for (path, code) in &files {
            let code = without_tests(code);
            let names = code.match_indices(word).any(|(at, _)| {
                let is_part = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
                let starts_a_word = word.starts_with('.') || !is_part(code[..at].chars().next_back());
                starts_a_word && !is_part(code[at + word.len()..].chars().next())
            });
            if names {
                assert!(
                    homes.iter().any(|home| path.starts_with(home)),
                    "{path} names {word}, which belongs to {homes:?}"
                );
                unused.retain(|home| !path.starts_with(home));
            }
        }
        assert!(unused.is_empty(), "{word} is not used in {unused:?} any more");
    }
}

/// Every path that a code names after `head`, which ends in `::`: `a::{b, c::d}` is
/// `a::b` and `a::c::d`.
fn paths_after(code: &str, head: &str) -> Vec<Vec<String>> {
    let mut paths = Vec::new();
    for (at, _) in code.match_indices(head) {
        let before = code[..at].chars().next_back();
        if before.is_none_or(|c| !c.is_alphanumeric() && c != '_' && c != ':') {
            tree(&code[at + head.len()..], &mut Vec::new(), &mut paths);
        }
    }
    paths
}

/// Reads one tree of a path, and gives what follows it.
fn tree<'c>(code: &'c str, above: &mut Vec<String>, into: &mut Vec<Vec<String>>) -> &'c str {
    let code = code.trim_start();
    if let Some(mut rest) = code.strip_prefix('{') {
        loop {
            rest = rest.trim_start().trim_start_matches(',').trim_start();
            match rest.strip_prefix('}') {
                Some(after) => return after,
                None if rest.is_empty() => return rest,
                None => {}
            }
            let after = tree(rest, above, into);
            // What is no path would be read for ever.
            rest =
                if after.len() == rest.len() { &rest[rest.chars().next().map_or(0, char::len_utf8)..] } else { after };
        }
    }
    let end = code.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(code.len());
    if end == 0 {
        // `*`, or the end of a generic: the module itself.
        into.push(above.clone());
        return code.strip_prefix('*').unwrap_or(code);
    }
    above.push(code[..end].to_owned());
    let rest = &code[end..];
    let after = match rest.strip_prefix("::") {
        Some(rest) => tree(rest, above, into),
        None => {
            into.push(above.clone());
            let renamed = rest.trim_start().strip_prefix("as ").map(str::trim_start);
            renamed.map_or(rest, |name| name.trim_start_matches(|c: char| c.is_alphanumeric() || c == '_'))
        }
    };
    above.pop();
    after
}

/// The module of a file below src: `report/text/mod.rs` is report, text.
fn module_of(path: &str) -> Vec<String> {
    let path = path.trim_end_matches(".rs");
    let path = path.strip_suffix("/mod").unwrap_or(path);
    if path == "lib" { Vec::new() } else { path.split('/').map(str::to_owned).collect() }
}

/// The files that a file names by `crate::` and `super::`; where a module only hands
/// a name on, the file that has it.
struct Uses {
    files: BTreeMap<Vec<String>, (String, String)>,
}

impl Uses {
    fn new() -> Uses {
        let own = |(path, code): (String, String)| (module_of(&path), (path, without_tests(&code).to_owned()));
        Uses { files: code().into_iter().filter(|(path, _)| path != "main.rs").map(own).collect() }
    }

    /// The module that a path from the root leads to.
    fn resolve(&self, path: &[String], depth: usize) -> Option<Vec<String>> {
        let module = (0..=path.len()).rev().map(|end| &path[..end]).find(|module| self.files.contains_key(*module))?;
        let handed_on = path.get(module.len()).filter(|_| depth < 8).and_then(|name| {
            let (_, code) = &self.files[module];
            let mut heads = code.split("pub use ").skip(1).chain(code.split("pub(crate) use ").skip(1));
            heads.find_map(|code| {
                let mut paths = Vec::new();
                tree(code, &mut Vec::new(), &mut paths);
                let found = paths.into_iter().find(|path| path.last() == Some(name))?;
                let from = self.absolute(module, found)?;
                self.resolve(&from, depth + 1)
            })
        });
        handed_on.or_else(|| Some(module.to_vec()))
    }

    /// A path that a module names, from the root.
    fn absolute(&self, module: &[String], path: Vec<String>) -> Option<Vec<String>> {
        let mut base = module.to_vec();
        let mut rest = &path[..];
        match rest.first()?.as_str() {
            "crate" => {
                base.clear();
                rest = &rest[1..];
            }
            "self" => rest = &rest[1..],
            _ => {}
        }
        while rest.first().is_some_and(|step| step == "super") {
            base.pop()?;
            rest = &rest[1..];
        }
        base.extend(rest.iter().cloned());
        Some(base)
    }

    fn of(&self, module: &[String], code: &str) -> BTreeSet<Vec<String>> {
        let paths = paths_after(code, "crate::").into_iter().filter_map(|path| self.resolve(&path, 0));
        let above = paths_after(code, "super::").into_iter().filter_map(|path| {
            let path = std::iter::once("super".to_owned()).chain(path).collect();
            self.resolve(&self.absolute(module, path)?, 0)
        });
        paths.chain(above).filter(|used| used != module && !used.is_empty()).collect()
    }
}

#[test]
fn paths_are_read_with_their_branches() {
    let code = "use crate::a::{self, b::{C, d as e}, F};\nlet x = crate::g::h(1) < 2; not_crate::z::y";
    let read: Vec<String> = paths_after(code, "crate::").iter().map(|path| path.join(".")).collect();
    assert_eq!(read, ["a.self", "a.b.C", "a.b.d", "a.F", "g.h"]);
}

#[test]
fn files_of_a_layer_are_not_in_circles() {
    let uses = Uses::new();
    let modules: Vec<&Vec<String>> = uses.files.keys().collect();
    let place: BTreeMap<&Vec<String>, usize> = modules.iter().enumerate().map(|(at, module)| (*module, at)).collect();
    let next: Vec<Vec<usize>> = modules
        .iter()
        .map(|module| uses.of(module, &uses.files[*module].1).iter().map(|used| place[used]).collect())
        .collect();
    let edges: usize = next.iter().map(Vec::len).sum();
    assert!(edges > 500, "only {edges} uses were found: the test looks in the wrong place");
    let reached = |from: usize| {
        let mut seen = vec![false; modules.len()];
        let mut open = next[from].clone();
        while let Some(at) = open.pop() {
            if !std::mem::replace(&mut seen[at], true) {
                open.extend(&next[at]);
            }
        }
        seen
    };
    let seen: Vec<Vec<bool>> = (0..modules.len()).map(reached).collect();
    let mut circles: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for at in 0..modules.len() {
        if seen[at][at] {
            let (path, _) = &uses.files[modules[at]];
            // Files beside lib.rs stand in one list.
            let layer = path.split_once('/').map_or("", |(layer, _)| layer);
            circles.entry(layer).or_default().insert(path);
        }
    }
    let mut wrong = Vec::new();
    let allowed = |layer: &str| CIRCLES.iter().find(|(of, _)| *of == layer).map_or(&[][..], |(_, files)| files);
    for (layer, files) in &circles {
        for file in files.iter().filter(|file| !allowed(layer).contains(file)) {
            let at = modules.iter().position(|module| uses.files[*module].0 == **file).unwrap_or_default();
            let with: Vec<&str> =
                next[at].iter().filter(|&&to| seen[to][at]).map(|&to| uses.files[modules[to]].0.as_str()).collect();
            wrong.push(format!("{file} uses {with:?}, and is reached from there"));
        }
    }
    assert!(wrong.is_empty(), "circles of files:\n{}", wrong.join("\n"));
    for (layer, files) in CIRCLES {
        let past: Vec<&&str> =
            files.iter().filter(|file| !circles.get(layer).is_some_and(|it| it.contains(**file))).collect();
        assert!(past.is_empty(), "{past:?} are in no circle any more: take them off the list");
    }
}

/// Functions whose last digit hangs on the machine: `portable` has them.
#[test]
fn no_last_digit_hangs_on_the_machine() {
    const MACHINES: [&str; 15] = [
        "powf", "exp", "exp2", "exp_m1", "ln", "ln_1p", "log10", "log2", "sin", "cos", "tan", "atan2", "cbrt", "hypot",
        "tanh",
    ];
    for (path, code) in code() {
        if path == "portable.rs" {
            continue;
        }
        for name in MACHINES {
            let call = [format!(".{name}("), format!("f64::{name}")];
            let found = call.iter().find(|call| {
                code.match_indices(call.as_str()).any(|(at, call)| {
                    let after = code[at + call.len()..].chars().next();
                    call.ends_with('(') || after.is_none_or(|c| !c.is_alphanumeric() && c != '_')
                })
            });
            assert!(found.is_none(), "{path} asks the machine for {name}");
        }
    }
}
