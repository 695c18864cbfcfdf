//! What must hold of the readers, whatever is in the files.

use std::fs;
use std::path::Path;

use permil::brief::{Brief, TargetFrom};
use permil::escape::steers;
use permil::files::{self, Faults, Scenario, formula_text, save_formula};
use permil::formula::Formula;
use permil::palette::Palette;
use permil::problem::{Change, Problem};
use permil::units::Ppt;

use crate::folder::Folder;
use crate::judge_proposals;

/// Fails with what is wrong.
macro_rules! must {
    ($holds:expr, $($what:tt)+) => {{
        let holds: bool = $holds;
        if !holds {
            return Err(format!($($what)+));
        }
    }};
}
pub(crate) use must;

/// Messages of this many bytes could still be scrolled through: at most 200
/// faults of a file are kept, and each shows one short line.
const LONGEST: usize = 2_000_000;

/// Reads every file of a folder; with a number of nodes, what loads is solved
/// too.
pub fn judge(folder: &Folder, nodes: Option<u64>) -> Result<(), String> {
    let place = tempfile::tempdir().map_err(|error| error.to_string())?;
    folder.write(place.path());
    let brief = place.path().join("brief.toml");
    let palette = match files::load_palette(&place.path().join("palette.toml")) {
        Ok(palette) => {
            sound_palette(&palette)?;
            Some(palette)
        }
        Err(faults) => {
            faults_have_places(&faults)?;
            None
        }
    };
    match files::load_scenario(&brief) {
        Err(faults) => faults_have_places(&faults)?,
        Ok(scenario) => {
            sound_scenario(&scenario)?;
            if let Some(nodes) = nodes {
                judge_proposals::judge_scenario(&scenario, None, place.path(), nodes, false)?;
            }
        }
    }
    let formulas = folder.files.iter().filter(|(name, _)| name.starts_with("formula") || name.starts_with("old"));
    for (name, _) in formulas {
        let Some(palette) = &palette else { break };
        let path = place.path().join(name);
        match files::load_formula(&path, palette) {
            Err(faults) => faults_have_places(&faults)?,
            Ok(formula) => {
                sound_formula(&formula, palette)?;
                must!(!formula.parts.is_empty(), "{name} is read as an empty formula");
                comes_back(&formula, palette, &path)?;
            }
        }
        // Over an older file in whatever state a formula is saved whole.
        let whole = Formula { file: None, title: None, basis: Default::default(), parts: vec![(0, Ppt::WHOLE)] };
        save_formula(&path, &whole, palette, true).map_err(|error| format!("{name} is not saved over: {error}"))?;
        match files::load_formula(&path, palette) {
            Ok(read) => must!(read.parts == whole.parts && read.basis == whole.basis, "saved over {name}: {read:?}"),
            Err(faults) => {
                let text = fs::read_to_string(&path).unwrap_or_default();
                return Err(format!("what was saved over {name} does not load:\n{faults}\n{text}"));
            }
        }
    }
    Ok(())
}

/// A formula that was read is the same after writing and reading.
fn comes_back(formula: &Formula, palette: &Palette, beside: &Path) -> Result<(), String> {
    let path = beside.with_file_name("copy.toml");
    fs::write(&path, formula_text(formula, palette, &path)).map_err(|error| error.to_string())?;
    match files::load_formula(&path, palette) {
        Ok(read) => {
            must!(read.parts == formula.parts, "parts {:?} come back as {:?}", formula.parts, read.parts);
            must!(read.basis == formula.basis && read.title == formula.title, "{formula:?} comes back as {read:?}");
            Ok(())
        }
        Err(faults) => Err(format!("a written formula does not load:\n{faults}")),
    }
}

/// Every fault stands at a place that its file has, and can be shown.
fn faults_have_places(faults: &Faults) -> Result<(), String> {
    must!(faults.count() > 0, "no faults, and no value either");
    for fault in faults.iter() {
        must!(!fault.message.trim().is_empty(), "a fault without a message");
        let shown = [Some(&fault.message), fault.help.as_ref()];
        for text in shown.into_iter().flatten() {
            must!(!text.chars().any(steers), "a message that steers a terminal: {text:?}");
        }
        let Some(place) = &fault.place else { return Err(format!("a fault without a place: {}", fault.message)) };
        let bytes = fs::read(Path::new(&*place.file)).map_err(|error| format!("{place}: {error}"))?;
        let line = bytes.split(|byte| *byte == b'\n').nth(place.line.wrapping_sub(1));
        let Some(line) = line else { return Err(format!("{place} lies beyond the file: {}", fault.message)) };
        must!((1..=line.len() + 2).contains(&place.column), "{place}: column {} of {}", place.column, line.len());
    }
    for (colour, width) in [(false, 80), (true, 80), (false, 24)] {
        let text = faults.render_to_width(colour, width);
        must!(text.len() < LONGEST, "messages of {} bytes", text.len());
        must!(colour || !text.chars().any(|c| c != '\n' && steers(c)), "steers a terminal: {text:?}");
    }
    Ok(())
}

fn sound_palette(palette: &Palette) -> Result<(), String> {
    must!(!palette.descriptors.is_empty() && !palette.materials.is_empty(), "an empty palette is read as sound");
    must!(palette.scale > 0.0 && palette.scale <= 1000.0, "scale {}", palette.scale);
    for material in &palette.materials {
        let name = &material.name;
        must!(!name.trim().is_empty(), "a material without a name");
        must!(material.scores.len() == palette.descriptors.len(), "{name} has {} scores", material.scores.len());
        must!(
            material.scores.iter().all(|s| (0.0..=palette.scale).contains(s)),
            "{name}: scores {:?}",
            material.scores
        );
        must!(material.strength == 0.0 || (1e-6..=1e6).contains(&material.strength), "{name}: {}", material.strength);
        must!(material.price_per_kg.is_none_or(|p| (0.0..=1e9).contains(&p)), "{name}: {:?}", material.price_per_kg);
        must!(material.bottles.iter().all(|b| b.percent > 0.0 && b.percent <= 100.0), "{name}: {:?}", material.bottles);
        for dose in [&material.min, &material.max, &material.step].into_iter().flatten() {
            must!((Ppt::ZERO..=Ppt::WHOLE).contains(&dose.value), "{name}: a dose of {}", dose.value);
        }
    }
    let names: std::collections::BTreeSet<&str> = palette.materials.iter().map(|m| m.name.as_str()).collect();
    must!(names.len() == palette.materials.len(), "two materials have one name");
    Ok(())
}

fn sound_formula(formula: &Formula, palette: &Palette) -> Result<(), String> {
    must!(formula.parts.iter().all(|(_, dose)| *dose > Ppt::ZERO), "parts of nothing: {:?}", formula.parts);
    must!(formula.parts.iter().all(|(m, _)| *m < palette.materials.len()), "parts of nobody: {:?}", formula.parts);
    must!(formula.parts.windows(2).all(|pair| pair[0].0 < pair[1].0), "parts out of order: {:?}", formula.parts);
    Ok(())
}

/// What a brief that loads promises to all that comes after.
fn sound_scenario(scenario: &Scenario) -> Result<(), String> {
    let Scenario { palette, brief, limits, .. } = scenario;
    sound_palette(palette)?;
    let materials = palette.materials.len();
    let Brief { doses, groups, ratios, target, .. } = brief;
    must!(doses.iter().all(|entry| entry.material < materials), "a dose for nobody");
    must!(groups.iter().all(|group| group.materials.iter().all(|m| *m < materials)), "a group of nobody");
    must!(ratios.iter().all(|ratio| ratio.of < materials && ratio.to < materials), "a ratio of nobody");
    must!(ratios.iter().all(|ratio| ratio.of != ratio.to), "a ratio to itself");
    must!(target.iter().all(|entry| entry.descriptor < palette.descriptors.len()), "a target for nothing");
    must!(brief.step.as_ref().is_none_or(|step| step.value > Ppt::ZERO), "a step of nothing");
    if let Some(TargetFrom::Formula(formula)) = &brief.target_from {
        sound_formula(&formula.value, palette)?;
    }
    must!(limits.iter().all(|file| !file.restrictions.is_empty()), "limits without a restriction");
    let problem = Problem::new(palette.clone(), brief, limits);
    must!(problem.worst_loss() > 0.0 && problem.worst_loss().is_finite(), "worst loss {}", problem.worst_loss());
    must!(problem.target_total() > 0.0, "the target is empty");
    for rule in &problem.rules {
        must!(rule.at.is_finite() && rule.at >= 0.0, "{} stands at {}", rule.id, rule.at);
        let of_moved = problem.order(rule, Change::To(rule.at * 2.0 + 1.0));
        let words = [problem.sentence(rule), problem.order(rule, Change::Dropped), of_moved];
        must!(words.iter().all(|text| !text.is_empty()), "{} has no words", rule.id);
        must!(!rule.place.file.is_empty() && rule.place.line > 0, "{} has no place", rule.id);
    }
    Ok(())
}
