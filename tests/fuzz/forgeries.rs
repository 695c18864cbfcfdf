//! Certificates of made-up briefs, forged: no claim that a formula is known to
//! disprove may pass.

use std::path::Path;

use permil::problem::Problem;
use proptest::prelude::*;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use crate::briefs;
use crate::campaign::Case;
use crate::folder::Folder;
use crate::support::forge::{Fate, Subject, kinds};
use crate::support::random::scenario;
use crate::tally::Tally;

/// Forgeries of one certificate.
const FORGERIES: u32 = 150;

/// What was tried, for the report of a run.
pub static TALLY: Tally = Tally::new();

/// A brief, and the seed of what is done to its certificate.
#[derive(Clone, Debug)]
pub struct Forged {
    brief: Brief,
    seed: u64,
}

/// Laid around a formula, with every kind of rule; or of a seed, with steps of
/// several sizes.
#[derive(Clone, Debug)]
enum Brief {
    Around(Box<briefs::Scenario>),
    OfSeed(u64),
}

impl Case for Forged {
    fn folder(&self) -> Folder {
        let mut folder = match &self.brief {
            Brief::Around(scenario) => scenario.folder(),
            Brief::OfSeed(seed) => {
                let (palette, brief) = scenario(*seed);
                let files = [("palette.toml", palette), ("brief.toml", brief)];
                Folder { files: files.map(|(name, text)| (name.to_owned(), text.into_bytes())).into() }
            }
        };
        folder.files.push(("forgeries.txt".to_owned(), format!("{}\n", self.seed).into_bytes()));
        folder
    }
}

pub fn strategy(most: usize, wild: bool) -> impl Strategy<Value = Forged> {
    let around = briefs::strategy(most, wild).prop_map(|scenario| Brief::Around(Box::new(scenario)));
    let of_seed = any::<u64>().prop_map(Brief::OfSeed);
    (prop_oneof![2 => around, 1 => of_seed], any::<u64>()).prop_map(|(brief, seed)| Forged { brief, seed })
}

/// Certifies a brief and forges the certificate.
pub fn judge(case: &Forged, nodes: u64) -> Result<(), String> {
    judge_folder(&case.folder(), case.seed, nodes)
}

/// A certificate that passed once and must not; nothing where none was kept.
pub fn judge_certificate(folder: &Folder, certificate: &Path, nodes: u64) -> Result<(), String> {
    let Ok(text) = std::fs::read_to_string(certificate) else { return Ok(()) };
    let forged = permil::certificate::read(&text).map_err(|error| error.to_string())?;
    let subject = Subject::try_of(&problem_of(folder)?, nodes)?.ok_or("it has no certificate of its own")?;
    if !subject.is_false(forged.claim) {
        return Err(format!("{:?} may be true beside {:?}", forged.claim, subject.known));
    }
    if subject.passes(&forged) { Err("it passes".to_owned()) } else { Ok(()) }
}

fn problem_of(folder: &Folder) -> Result<Problem, String> {
    let place = tempfile::tempdir().map_err(|error| error.to_string())?;
    folder.write(place.path());
    let scenario = permil::files::load_scenario(&place.path().join("brief.toml"));
    let scenario = scenario.map_err(|faults| faults.render(false))?;
    Ok(Problem::new(scenario.palette, &scenario.brief, &scenario.limits))
}

/// The same of the files of a brief.
pub fn judge_folder(folder: &Folder, seed: u64, nodes: u64) -> Result<(), String> {
    let Ok(problem) = problem_of(folder) else { return Ok(()) };
    let Some(subject) = Subject::try_of(&problem, nodes)? else {
        TALLY.add("without a certificate", 1);
        return Ok(());
    };
    if !subject.passes(&subject.certificate) {
        return Err("a certificate that was just written does not pass".to_owned());
    }
    if subject.is_false(subject.certificate.claim) {
        return Err("a certificate claims more than its own formula allows".to_owned());
    }
    if subject.blend.columns.is_empty() {
        return Ok(());
    }
    TALLY.add("certificates", 1);
    kinds(&subject.certificate).into_iter().for_each(|kind| TALLY.add(kind, 1));
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    for _ in 0..FORGERIES {
        match subject.forge(&mut random) {
            Ok(fate) => TALLY.add(
                match fate {
                    Fate::Unreadable => "unreadable",
                    Fate::Refused => "refused",
                    Fate::Passed => "passed with a claim that may be true",
                },
                1,
            ),
            Err(text) => return Err(format!("{:?} is known, and this passes:\n{text}", subject.known)),
        }
    }
    Ok(())
}
