//! The engine of the page gives the same bytes as the native one, for every brief of the
//! reference and the shipped ones: pieces of the page, sheets, drawings, reports. Not part of
//! `cargo test`: `tests/alone_check.sh` runs it, where there is node.
//!
//! `PERMIL_BOUND` names the folder of the bound engine.

mod support;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use permil::clock::Clock;
use permil::explore::{Desk, Options, Shelf};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use support::program::reference_cases;

fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// All files of a folder and those below it, by their paths.
fn files(folder: &Path, at: &str, into: &mut BTreeMap<String, String>) {
    for entry in fs::read_dir(folder).expect("a folder").flatten() {
        let name = format!("{at}{}", entry.file_name().to_string_lossy());
        if entry.path().is_dir() {
            files(&entry.path(), &format!("{name}/"), into);
        } else if let Ok(text) = fs::read_to_string(entry.path()) {
            into.insert(name, text);
        }
    }
}

fn asked() -> Vec<Value> {
    let view = json!({ "page": "a" });
    let mut asked = vec![json!({ "address": "/solve", "body": { "view": view, "seq": 1 } })];
    for file in ["csv", "svg", "png", "weigh", "report"] {
        asked.push(json!({ "address": "/download", "body": { "view": view, "file": file } }));
    }
    asked
}

/// What the native engine says.
fn native(name: &str, files: &BTreeMap<String, String>, brief: &str) -> Vec<Value> {
    let shelf = Shelf::of(files.iter().map(|(path, text)| (path.clone(), text.clone().into_bytes())));
    let since_1970 = || Some(Duration::from_secs(1_700_000_000));
    let options = Options { brief: brief.into(), time_limit: Duration::from_secs(3600), since_1970 };
    let desk = Desk::new(options, Arc::new(shelf));
    asked()
        .iter()
        .map(|one| {
            let lines: Arc<Mutex<Vec<u8>>> = Arc::default();
            let keep = Arc::clone(&lines);
            let take = move |line: Vec<u8>| {
                keep.lock().expect("the lines").extend(line);
                true
            };
            let address = one["address"].as_str().expect("an address");
            let reply = desk.reply(address, &one["body"].to_string(), Clock::lent(|| Duration::ZERO), take);
            let lines = lines.lock().expect("the lines");
            json!({
                "name": name, "address": address, "file": one["body"]["file"], "status": reply.status, "kind": reply.kind,
                "content": digest(&reply.content), "lines": digest(&lines), "bytes": reply.content.len(),
            })
        })
        .collect()
}

#[test]
#[ignore = "needs node and the engine of the page: tests/alone_check.sh"]
fn the_same_bytes_in_a_browsers_engine() {
    let bound = std::env::var("PERMIL_BOUND").expect("PERMIL_BOUND names the bound engine");
    let mut cases: Vec<(String, BTreeMap<String, String>, String)> = Vec::new();
    for case in reference_cases() {
        // These take long to prove; what is compared is arithmetic, not patience.
        let name = case.file_name().expect("a name").to_string_lossy().into_owned();
        if ["15-count-alone"].contains(&name.as_str()) {
            continue;
        }
        let mut held = BTreeMap::new();
        files(&case, "", &mut held);
        cases.push((name, held, "brief.toml".to_owned()));
    }
    let mut profiles = BTreeMap::new();
    files(&PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("profiles"), "", &mut profiles);
    for brief in ["rose-otto/brief.toml", "six-materials/brief.toml", "rose-base/brief.toml"] {
        cases.push((brief.to_owned(), profiles.clone(), brief.to_owned()));
    }
    let asked = asked();
    let told: Vec<Value> = cases
        .iter()
        .map(|(name, files, brief)| json!({ "name": name, "files": files, "brief": brief, "asked": asked }))
        .collect();
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("cases.json");
    fs::write(&path, json!(told).to_string()).expect("the cases");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/alone_bytes.mjs");
    let ran = Command::new("node").arg(script).arg(&bound).arg(&path).output().expect("node");
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    let theirs: Vec<Value> = serde_json::from_slice(&ran.stdout).expect("JSON");
    let ours: Vec<Value> = cases.iter().flat_map(|(name, files, brief)| native(name, files, brief)).collect();
    assert_eq!(theirs.len(), ours.len());
    let apart: Vec<String> = ours
        .iter()
        .zip(&theirs)
        .filter(|(own, other)| own != other)
        .map(|(own, other)| format!("{own}\n{other}"))
        .collect();
    println!("{} answers of {} briefs, {} differ", ours.len(), cases.len(), apart.len());
    assert!(apart.is_empty(), "{}", apart.join("\n"));
}
