//! From an accord to a product: dosages, labels and the vessel, with every figure worked
//! by hand.

mod support;

use permil::balance::product::{Highest, Passed, Plan, highest_dosages, label, labels, problem_of};
use permil::balance::vessel::Vessel;
use permil::batch::{Batch, PouredLine};
use permil::brief::Basis;
use permil::files::{load_limits, load_palette};
use permil::formula::Formula;
use permil::limits::Limits;
use permil::palette::Palette;
use permil::problem::Problem;
use permil::units::Ppt;
use support::assert_close;

/// Citronellol as such, and an oil that holds a quarter of it with a tenth of eugenol.
const PALETTE: &str = r#"
[descriptors]
rosy = "rose"
[[material]]
name = "Alcohol"
cas = "106-22-9"
strength = 10
price = 50
scores = { rosy = 8 }
[[material]]
name = "Oil"
cas = "8000-46-2"
strength = 10
price = 50
natural = true
constituents = { "106-22-9" = 25, "97-53-0" = 10 }
bottle = { percent = 20, carrier = "Glycol" }
scores = { rosy = 5 }
[[material]]
name = "Wood"
cas = "68155-66-8"
strength = 10
price = 50
bottle = { percent = 50, carrier = "Spirit" }
scores = { rosy = 1 }
[[material]]
name = "Glycol"
cas = "57-55-6"
strength = 0
price = 5
[[material]]
name = "Spirit"
strength = 0
price = 5
"#;

/// 100 ppt of the alcohol and 200 of the oil: 150 ppt of citronellol, 20 of eugenol.
const NEAT: [f64; 5] = [100.0, 200.0, 700.0, 0.0, 0.0];

fn palette() -> Palette {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("palette.toml");
    std::fs::write(&path, PALETTE).expect("written");
    load_palette(&path).unwrap_or_else(|faults| panic!("{}", faults.render(false)))
}

fn limits(text: &str) -> Limits {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("limits.toml");
    std::fs::write(&path, text).expect("written");
    load_limits(&path).unwrap_or_else(|faults| panic!("{}", faults.render(false)))
}

/// A restriction of citronellol, eugenol or linalool under a label; what else its name
/// says tells it from another one.
fn restriction(substance: &str, label: &str, percent: f64, more: &str) -> String {
    let cas = match substance.split(' ').next() {
        Some("Citronellol") => "106-22-9",
        Some("Eugenol") => "97-53-0",
        Some("Linalool") => "78-70-6",
        other => panic!("{other:?}"),
    };
    format!(
        "[[restriction]]\nsubstance = \"{substance}\"\ncas = [\"{cas}\"]\nsource = \"made up\"\n\
         limits = {{ \"{label}\" = {percent} }}\n{more}\n"
    )
}

fn plan(label: &str, dosage_percent: f64, accord_share_percent: f64) -> Plan {
    Plan { categories: vec![label.to_owned()], dosage_percent, accord_share_percent }
}

/// The highest dosages and what is passed, of one plan each.
fn dosages(text: &str, plans: &[Plan]) -> Vec<(Highest, Vec<Passed>)> {
    highest_dosages(&problem_of(palette(), &[limits(text)], Basis::Neat, plans), &NEAT)
}

fn names(passed: &[Passed]) -> Vec<&str> {
    passed.iter().map(|it| it.what.as_str()).collect()
}

/// Half of 20 % of concentrate is accord: 1.5 % of citronellol in the product and 0.2 %
/// of eugenol.
#[test]
fn the_tightest_limit_sets_the_highest_dosage() {
    let of = |citronellol: f64, eugenol: f64| {
        let text = [restriction("Eugenol", "4", eugenol, ""), restriction("Citronellol", "4", citronellol, "")];
        let (highest, passed) = dosages(&text.concat(), &[plan("4", 20.0, 50.0)]).remove(0);
        (highest.dosage_percent, highest.by, highest.restrictions, names(&passed).join(" "))
    };
    let named = |name: &str| Some(name.to_owned());
    // 1.2 % of 1.5 % leave four fifths of the dosage; eugenol alone would allow 40 %.
    assert_eq!(of(1.2, 0.4), (16.0, named("Citronellol"), vec![1], "Citronellol".to_owned()));
    assert_eq!(of(7.0, 0.15), (15.0, named("Eugenol"), vec![0], "Eugenol".to_owned()));
    // Exactly as much as is allowed is allowed.
    assert_eq!(of(1.5, 0.4), (20.0, named("Citronellol"), vec![1], String::new()));
    assert_eq!(of(1.4999, 0.1999).3, "Eugenol Citronellol");
    // Equal dosages: the first that is named.
    assert_eq!(of(1.2, 0.16).1, named("Eugenol"));
    // Nothing is in the way of the concentrate itself, and exactly then nothing sets it.
    assert_eq!(of(7.5, 1.0), (100.0, None, vec![], String::new()));
    assert_eq!(of(7.4, 1.0).1, named("Citronellol"));
    // What may not be used at all.
    assert_eq!((of(0.0, 1.0).0, of(0.0, 1.0).3), (0.0, "Citronellol".to_owned()));
    // What is not in the accord sets nothing, not even at 0.
    let unused = restriction("Linalool", "4", 0.0, "");
    assert_eq!(dosages(&unused, &[plan("4", 20.0, 50.0)])[0].0.by, None);
}

/// A half and two fifths of a limit that two substances share are nine tenths of it.
#[test]
fn a_shared_limit_counts_its_members_in_their_product() {
    let joint = "joint = \"two\"";
    let text = [
        restriction("Linalool", "4", 1.0, joint),
        restriction("Citronellol", "4", 3.0, joint),
        restriction("Eugenol", "4", 0.5, joint),
    ]
    .concat();
    let (highest, passed) = dosages(&text, &[plan("4", 20.0, 50.0)]).remove(0);
    assert_close(highest.dosage_percent, 20.0 / 0.9, 1e-12, "the highest dosage");
    assert_eq!((highest.by.as_deref(), highest.restrictions.as_slice(), passed.len()), (Some("two"), &[1, 2][..], 0));
    let (highest, passed) = dosages(&text, &[plan("4", 30.0, 50.0)]).remove(0);
    assert_close(highest.dosage_percent, 20.0 / 0.9, 1e-12, "whatever the dosage of the plan");
    assert_eq!(names(&passed), ["two"]);
    // Each alone would be passed as well: it is the shared limit that is told.
    assert_eq!(names(&dosages(&text, &[plan("4", 60.0, 50.0)])[0].1), ["two"]);
    // A limit of its own beside the shared one.
    let more = format!("{text}{}", restriction("Eugenol alone", "4", 0.21, ""));
    let (highest, _) = dosages(&more, &[plan("4", 20.0, 50.0)]).remove(0);
    assert_eq!((highest.dosage_percent, highest.restrictions.as_slice()), (21.0, &[3][..]));
}

/// Each product has its own category, dosage and share of accord.
#[test]
fn several_products_are_looked_at_each_by_itself() {
    let joint = "joint = \"two\"";
    let text = [
        restriction("Citronellol", "4", 1.2, ""),
        restriction("Citronellol with", "9", 3.0, joint),
        restriction("Eugenol with", "9", 0.5, joint),
    ]
    .concat();
    let found = dosages(&text, &[plan("4", 20.0, 50.0), plan("9", 10.0, 100.0), plan("7", 10.0, 100.0)]);
    let told: Vec<_> = found.iter().map(|(highest, _)| (highest.dosage_percent, highest.by.as_deref())).collect();
    // In the second 15 % of the concentrate are citronellol, 2 % eugenol: at 10 % it has
    // 1.5 % and 0.2 %, nine tenths of what they share.
    assert_eq!((told[0], told[2]), ((16.0, Some("Citronellol")), (100.0, None)));
    assert_eq!(told[1].1, Some("two"));
    assert_close(told[1].0, 10.0 / 0.9, 1e-12, "the second");
    assert_eq!(found.iter().map(|(_, passed)| passed.len()).collect::<Vec<_>>(), [1, 0, 0]);
    // Several products are told apart by their categories, one alone has no name.
    let name = |plans: &[Plan]| {
        let problem = problem_of(palette(), &[], Basis::Neat, plans);
        problem.products.iter().map(|product| product.name.clone()).collect::<Vec<_>>()
    };
    assert_eq!(name(&[plan("4", 20.0, 50.0)]), [None]);
    assert_eq!(name(&[plan("4", 20.0, 50.0), plan("9", 10.0, 100.0)]), [Some("4".to_owned()), Some("9".to_owned())]);
}

const LABELLED: &str = r#"
[[allergen]]
name = "LINALOOL"
cas = ["78-70-6"]
source = "made up"
label_above = { "leave-on" = 0.001 }
[[allergen]]
name = "CITRONELLOL"
cas = ["106-22-9"]
source = "made up"
label_above = { "leave-on" = 1.5, "rinse-off" = 3 }
[[allergen]]
name = "EUGENOL"
cas = ["97-53-0"]
source = "made up"
label_above = { "leave-on" = 0.199, "*" = 5 }
[[restriction]]
substance = "Eugenol"
cas = ["97-53-0"]
source = "made up"
limits = { "*" = 9, "4" = 8, "9" = 7, "rinse-off" = 6 }
"#;

/// The oil brings 0.5 % of citronellol and 0.2 % of eugenol, the alcohol 1 %.
#[test]
fn a_label_names_what_is_above_its_share_with_its_sources() {
    let limits = [limits(&restriction("Linalool", "5", 1.0, "")), limits(LABELLED)];
    let problem = problem_of(palette(), &limits, Basis::Neat, &[plan("leave-on", 20.0, 50.0)]);
    let found = label(&problem, &limits, &plan("leave-on", 20.0, 50.0), &NEAT);
    let told: Vec<_> = found.iter().map(|it| (it.at, it.percent, it.above_percent, it.is_named)).collect();
    // Exactly the share is not above it; what is not there is not listed.
    assert_eq!(told, [((1, 1), 1.5, 1.5, false), ((1, 2), 0.2, 0.199, true)]);
    assert_eq!((found[0].from.as_slice(), found[1].from.as_slice()), (&[(0, 1.0), (1, 0.5)][..], &[(1, 0.2)][..]));
    // The most first, whichever stands first in the palette.
    let other = label(&problem, &limits, &plan("leave-on", 20.0, 50.0), &[10.0, 200.0, 790.0, 0.0, 0.0]);
    assert_eq!(other[0].from.iter().map(|it| it.0).collect::<Vec<_>>(), [1, 0]);
    // A list that does not speak of the product names nothing; its star speaks of all.
    let candle: Vec<_> = label(&problem, &limits, &plan("candle", 20.0, 50.0), &NEAT);
    assert_eq!(candle.iter().map(|it| (it.at, it.above_percent)).collect::<Vec<_>>(), [((1, 2), 5.0)]);
    assert_eq!(labels(&limits), ["5", "4", "9", "rinse-off", "leave-on"]);
}

fn problem() -> Problem {
    problem_of(palette(), &[], Basis::Neat, &[])
}

fn formula(basis: Basis, ppt: &[f64]) -> Formula {
    Formula::from_doses(basis, &ppt.iter().map(|ppt| Ppt::from_ppt(*ppt)).collect::<Vec<_>>())
}

/// 200 ppt of the oil come with 800 of glycol, 300 of the wood with 300 of spirit: 1000
/// of accord in 2100.
#[test]
fn what_is_assumed_to_stand_in_the_vessel_is_what_the_usual_bottles_pour() {
    let problem = problem();
    let ppt = [500.0, 200.0, 300.0, 0.0, 0.0];
    let vessel = Vessel::assumed(&problem, &formula(Basis::Neat, &ppt));
    assert_close(vessel.accord_percent, 100.0 / 2.1, 1e-9, "accord");
    let glycol = ("Glycol".to_owned(), 0.8);
    assert_eq!((vessel.carriers.as_slice(), vessel.holds_grams), (&[glycol, ("Spirit".to_owned(), 0.3)][..], None));
    // Of half a formula the shares are the same.
    let half = Vessel::assumed(&problem, &formula(Basis::Neat, &ppt.map(|ppt| ppt / 2.0)));
    assert_eq!(half, vessel);
    // Where the parts count what is poured the carriers are among them.
    let poured = Vessel::assumed(&problem, &formula(Basis::Bottle, &ppt));
    assert_eq!((poured.accord_percent, poured.carriers.len()), (100.0, 0));
    // For limits a gram of accord holds its carriers beside it, 1000 ppt each gram.
    assert_eq!(vessel.neat_ppt(&problem, &formula(Basis::Neat, &ppt)), [500.0, 200.0, 300.0, 800.0, 300.0]);
    let own = formula(Basis::Neat, &[400.0, 200.0, 300.0, 100.0, 0.0]);
    assert_eq!(vessel.neat_ppt(&problem, &own), [400.0, 200.0, 300.0, 900.0, 300.0]);
    // The spirit has no number, and water is not of the palette.
    let mut with_water = vessel;
    with_water.carriers.push(("Water".to_owned(), 0.1));
    assert_eq!(with_water.unchecked(&problem).collect::<Vec<_>>(), ["Spirit", "Water"]);
    assert_eq!(with_water.neat_ppt(&problem, &own), [400.0, 200.0, 300.0, 900.0, 300.0]);
}

/// 4 g of the alcohol and 5 g of the oil's bottle, filled up with 1 g of water: 5 g of
/// accord in 10 g.
#[test]
fn a_weighed_vessel_holds_what_was_poured() {
    let line = |material: usize, percent: f64, carrier: Option<&str>, grams: f64| PouredLine {
        material,
        percent,
        carrier: carrier.map(str::to_owned),
        grams,
    };
    let batch = Batch {
        file: None,
        title: None,
        label: None,
        date: None,
        formula: None,
        basis: Basis::Neat,
        lines: vec![line(0, 100.0, None, 4.0), line(1, 20.0, Some("Glycol"), 5.0)],
        top_up: Some(("Water".to_owned(), 1.0)),
        remarks: None,
    };
    let vessel = Vessel::weighed(&batch);
    assert_eq!((vessel.accord_percent, vessel.holds_grams), (50.0, Some(5.0)));
    assert_eq!(vessel.carriers, [("Glycol".to_owned(), 0.8), ("Water".to_owned(), 0.2)]);
    let poured = Vessel::weighed(&Batch { basis: Basis::Bottle, ..batch });
    assert_eq!((poured.accord_percent, poured.holds_grams), (90.0, Some(9.0)));
    assert_eq!(poured.carriers, [("Water".to_owned(), 1.0 / 9.0)]);
    // 50 g of product with 20 % of concentrate, half of it accord: 5 g, in 10 g.
    let shares = vessel.shares(50.0, 20.0, 50.0).expect("it fits");
    assert_eq!((shares.vessel_grams, shares.accord_grams, shares.rest_grams), (10.0, 5.0, 5.0));
    assert_eq!((shares.carriers[0].1, shares.carriers[1].1, shares.solvent_grams), (4.0, 1.0, 35.0));
    // A concentrate that is half accord weighs 1.5 times as much from this vessel.
    assert_close(vessel.most_dosage_percent(50.0), 100.0 / 1.5, 1e-9, "the most");
    let most = vessel.most_dosage_percent(50.0);
    assert!(vessel.shares(50.0, most, 50.0).is_some() && vessel.shares(50.0, most * 1.001, 50.0).is_none());
}
