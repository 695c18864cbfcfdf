//! The program against made-up input: files in all states of disrepair, and
//! briefs with every kind of rule and numbers from everywhere in their ranges.
//!
//! The ordinary tests try some hundred cases each. The long ones are ignored;
//! they try as many as fit in PERMIL_FUZZ_SECONDS from PERMIL_FUZZ_SEED on and
//! keep what fails, made small, in PERMIL_FUZZ_KEEP (target/fuzz-findings):
//!
//!     PERMIL_FUZZ_SECONDS=600 cargo test --release --test fuzz -- --ignored
//!
//! What failed once stays in tests/corpus/failed and is tried on every run.

mod briefs;
mod campaign;
mod edits;
mod folder;
mod forgeries;
mod judge_files;
mod judge_proposals;
mod plain;
mod shelf;
#[path = "../support/mod.rs"]
mod support;
mod tally;

use std::path::PathBuf;

use campaign::{Campaign, long};

/// Nodes of a search: enough for a proof on most of these briefs, and few
/// enough that none of them takes long.
const NODES: u64 = 2000;

fn corpus(part: &str) -> Vec<PathBuf> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus").join(part);
    let entries = std::fs::read_dir(&folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
    let mut folders: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).filter(|path| path.is_dir()).collect();
    folders.sort();
    folders
}

#[test]
fn broken_files_give_a_scenario_or_faults_with_places() {
    let seeds = folder::seeds();
    let found = Campaign::short("files", 1500).run(edits::strategy(&seeds), |folder| judge_files::judge(folder, None));
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn proposals_keep_every_rule_and_their_word() {
    let found =
        Campaign::short("briefs", 150).run(briefs::strategy(6, false), |case| judge_proposals::judge(case, NODES));
    assert!(found.is_empty(), "{found:#?}");
    // Enough of each kind for this to mean something.
    let tally = &judge_proposals::TALLY;
    for (name, least) in [("optimal", 40), ("infeasible", 20), ("listed", 5), ("with witness", 30)] {
        assert!(tally.get(name) >= least, "{}", tally.words());
    }
}

#[test]
fn what_failed_once_fails_no_more() {
    let mut failed = Vec::new();
    for path in corpus("failed") {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let folder = folder::Folder::read(&path);
        let judged = match name.split('-').next() {
            Some("files") => judge_files::judge(&folder, Some(NODES)),
            Some("forgeries") => forgeries::judge_folder(&folder, 1, NODES)
                .and_then(|()| forgeries::judge_certificate(&folder, &path.join("certificate.txt"), NODES)),
            _ => judge_proposals::judge_folder(&folder, NODES),
        };
        failed.extend(judged.err().map(|why| format!("{name}: {why}")));
    }
    assert!(failed.is_empty(), "{failed:#?}");
}

#[test]
#[ignore = "as long as PERMIL_FUZZ_SECONDS says"]
fn long_files() {
    let seeds = folder::seeds();
    long("files", 4, |campaign| campaign.run(edits::strategy(&seeds), |folder| judge_files::judge(folder, None)));
}

/// Broken files that still load are solved as well: their numbers are such as
/// nobody writes.
#[test]
#[ignore = "as long as PERMIL_FUZZ_SECONDS says"]
fn long_loaded() {
    let seeds = folder::seeds();
    long("files-solved", 4, |campaign| {
        campaign.run(edits::strategy(&seeds), |folder| judge_files::judge(folder, Some(200)))
    });
}

#[test]
#[ignore = "as long as PERMIL_FUZZ_SECONDS says"]
fn long_briefs() {
    long("briefs", 4, |campaign| campaign.run(briefs::strategy(8, false), |case| judge_proposals::judge(case, NODES)));
    println!("{}", judge_proposals::TALLY.words());
}

/// More materials, and numbers from the ends of their ranges.
#[test]
#[ignore = "as long as PERMIL_FUZZ_SECONDS says"]
fn long_wild_briefs() {
    long("briefs-wild", 4, |campaign| {
        campaign.run(briefs::strategy(24, true), |case| judge_proposals::judge(case, NODES))
    });
    println!("{}", judge_proposals::TALLY.words());
}

/// Certificates of real proofs, changed in every way, ask for the impossible: a
/// better formula is known.
#[test]
fn forged_certificates_pass_for_none() {
    let found =
        Campaign::short("forgeries", 60).run(forgeries::strategy(6, false), |case| forgeries::judge(case, NODES));
    assert!(found.is_empty(), "{found:#?}");
    let tally = &forgeries::TALLY;
    for (name, least) in [("certificates", 30), ("refused", 2000), ("narrowed", 5), ("split", 10)] {
        assert!(tally.get(name) >= least, "{}", tally.words());
    }
}

#[test]
#[ignore = "as long as PERMIL_FUZZ_SECONDS says"]
fn long_forgeries() {
    long("forgeries", 1, |campaign| campaign.run(forgeries::strategy(8, false), |case| forgeries::judge(case, NODES)));
    println!("{}", forgeries::TALLY.words());
}
