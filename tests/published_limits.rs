//! Limit arithmetic on published figures, worked by hand.
//!
//! Sources: IFRA Standard "Methyl eugenol", 49th Amendment (2020): 0.016 % of
//! the finished product in category 4. Regulation (EC) 1223/2009, read in the
//! French transposition (arrêté of 6 February 2001): methyl eugenol banned as an
//! ingredient, 0.01 % tolerated in fine fragrance from natural essences; rose
//! ketones at most 0.02 % as the sum of the isomers (Annex III, 160 to 163).
//! What the naturals below contain is made up, to make round sums.

use permil::brief::Basis;
use permil::files;
use permil::formula::Formula;
use permil::problem::Problem;
use permil::problem::check::{Checker, REPORT_TOLERANCE};
use permil::units::Ppt;

const PALETTE: &str = r#"
[descriptors]
rosy = "rose"

[[material]]
name = "Phenylethyl alcohol"
cas = "60-12-8"
strength = 1
scores = { rosy = 7 }
step = 0.0001

[[material]]
name = "Methyl eugenol"
cas = "93-15-2"
strength = 1
scores = { rosy = 1 }

[[material]]
name = "Rose oil"
strength = 1
scores = { rosy = 9 }
natural = true
constituents = { "93-15-2" = 2.5 }

[[material]]
name = "Clove oil"
strength = 1
scores = { rosy = 1 }
natural = true
constituents = { "93-15-2" = 0.5, "97-53-0" = 80 }

[[material]]
name = "beta-Damascenone"
cas = "23696-85-7"
strength = 100
scores = { rosy = 5 }

[[material]]
name = "alpha-Damascone"
cas = "24720-09-0"
strength = 100
scores = { rosy = 5 }
"#;

const IFRA: &str = r#"
[[restriction]]
substance = "Methyl eugenol"
cas = ["93-15-2"]
source = "IFRA Standard Methyl eugenol, 49th Amendment (2020)"
verified = true
limits = { "4" = 0.016, "9" = 0.00087 }
"#;

const EU: &str = r#"
[[restriction]]
substance = "Methyl eugenol, added"
cas = ["93-15-2"]
source = "Regulation (EC) 1223/2009, Annex II"
verified = true
applies = "added"
limits = { "*" = 0 }

[[restriction]]
substance = "Methyl eugenol, traces"
cas = ["93-15-2"]
source = "Regulation (EC) 1223/2009, Annex II"
verified = true
applies = "constituents"
limits = { "fine-fragrance" = 0.01 }

[[restriction]]
substance = "Rose ketones"
cas = ["23696-85-7", "57378-68-4", "23726-92-3", "24720-09-0"]
source = "Regulation (EC) 1223/2009, Annex III, 160 to 163"
verified = true
limits = { "leave-on" = 0.02 }
"#;

/// A problem with the given limits files, categories and dosage.
fn problem(limits: &[&str], categories: &str, dosage: f64) -> Problem {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).expect("written");
    write("palette.toml", PALETTE);
    let names: Vec<String> = (0..limits.len()).map(|index| format!("\"limits-{index}.toml\"")).collect();
    for (index, text) in limits.iter().enumerate() {
        write(&format!("limits-{index}.toml"), text);
    }
    write(
        "brief.toml",
        &format!(
            "palette = \"palette.toml\"\nlimits = [{}]\n[target]\nrosy = 5\n[formula]\nstep = 0.0001\n\
             [use]\ncategory = [{categories}]\ndosage = {dosage}\n",
            names.join(", ")
        ),
    );
    match files::load_scenario(&folder.path().join("brief.toml")) {
        Ok(scenario) => Problem::new(scenario.palette, &scenario.brief, &scenario.limits),
        Err(faults) => panic!("{}", faults.render(false)),
    }
}

/// The ids of the rules that a formula breaks: the given doses, filled up to
/// 1000 with phenylethyl alcohol.
fn broken(problem: &Problem, doses: &[(&str, f64)]) -> Vec<String> {
    let mut all = vec![Ppt::ZERO; problem.palette.materials.len()];
    for (name, ppt) in doses {
        let index = problem.palette.materials.iter().position(|material| material.name == *name);
        all[index.expect("a material")] = Ppt::from_ppt(*ppt);
    }
    all[0] = Ppt::WHOLE - all.iter().copied().sum();
    let formula = Formula::from_doses(Basis::Neat, &all);
    let breaches = Checker::new(problem).breaches(&formula, REPORT_TOLERANCE);
    breaches.iter().map(|breach| problem.rules[breach.rule].id.to_string()).collect()
}

#[test]
fn methyl_eugenol_may_be_0_8_permille_of_a_concentrate_dosed_at_20_percent() {
    let problem = problem(&[IFRA], "\"4\"", 20.0);
    // 0.016 % / 20 % = 0.08 % = 0.8 permille, exactly and not a step more.
    assert!(broken(&problem, &[("Methyl eugenol", 0.8)]).is_empty());
    assert_eq!(broken(&problem, &[("Methyl eugenol", 0.8001)]), ["limit:Methyl eugenol"]);
}

#[test]
fn the_stricter_of_two_categories_holds() {
    let problem = problem(&[IFRA], "\"4\", \"9\"", 20.0);
    // 0.00087 % / 20 % = 0.0435 permille.
    assert!(broken(&problem, &[("Methyl eugenol", 0.0435)]).is_empty());
    assert_eq!(broken(&problem, &[("Methyl eugenol", 0.0436)]), ["limit:Methyl eugenol"]);
}

#[test]
fn eu_law_bans_adding_it_and_tolerates_traces_of_naturals() {
    let problem = problem(&[EU, IFRA], "\"4\", \"fine-fragrance\"", 20.0);
    assert_eq!(broken(&problem, &[("Methyl eugenol", 0.0001)]), ["limit:Methyl eugenol, added"]);
    // 0.01 % / 20 % = 0.5 permille of methyl eugenol = 20 permille of an oil
    // that holds 2.5 %; IFRA alone would allow 32.
    assert!(broken(&problem, &[("Rose oil", 20.0)]).is_empty());
    assert_eq!(broken(&problem, &[("Rose oil", 20.0001)]), ["limit:Methyl eugenol, traces"]);
    assert_eq!(
        broken(&problem, &[("Rose oil", 32.0001)]),
        ["limit:Methyl eugenol, traces", "limit:Methyl eugenol"],
        "both rules stand side by side"
    );
}

#[test]
fn two_naturals_and_the_neat_substance_add_up() {
    let problem = problem(&[IFRA], "\"4\"", 20.0);
    // 0.2 + 16 x 2.5 % + 40 x 0.5 % = 0.2 + 0.4 + 0.2 = 0.8 permille.
    let mixture = |neat| [("Methyl eugenol", neat), ("Rose oil", 16.0), ("Clove oil", 40.0)];
    assert!(broken(&problem, &mixture(0.2)).is_empty());
    assert_eq!(broken(&problem, &mixture(0.2001)), ["limit:Methyl eugenol"]);
}

#[test]
fn isomers_add_up() {
    let problem = problem(&[EU], "\"leave-on\"", 20.0);
    // 0.02 % / 20 % = 1 permille for the sum of the isomers.
    assert!(broken(&problem, &[("beta-Damascenone", 0.6), ("alpha-Damascone", 0.4)]).is_empty());
    assert_eq!(broken(&problem, &[("beta-Damascenone", 0.6), ("alpha-Damascone", 0.4001)]), ["limit:Rose ketones"]);
}
