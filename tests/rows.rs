//! The rows that the search works on say the same as the check of a formula, which knows
//! no rows: of every rule that compares two numbers, on formulas just inside and just outside.

use std::sync::Arc;

use permil::brief::Basis;
use permil::files::{Scenario, load_scenario};
use permil::formula::Formula;
use permil::model::{Blend, Role};
use permil::palette::{Base, Material};
use permil::problem::check::{Checker, SEARCH_TOLERANCE};
use permil::problem::{Problem, Rule, RuleId, RuleKind, UsualDoses};
use permil::units::Ppt;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const PALETTE: &str = r#"
[descriptors]
rosy = "rose"
green = "leaf"
[[material]]
name = "Oil"
cas = "8000-46-2"
strength = 10
price = 100
natural = true
constituents = { "97-54-1" = 2, "106-22-9" = 30 }
scores = { rosy = 8, green = 1 }
[[material]]
name = "Oxide"
strength = 40
price = 20
bottle = { percent = 25, carrier = "Glycol" }
scores = { rosy = 2, green = 6 }
[[material]]
name = "Glycol"
cas = "57-55-6"
strength = 0.5
price = 5
scores = { green = 1 }
[[material]]
name = "Isoeugenol"
cas = "97-54-1"
strength = 30
price = 300
scores = { rosy = 4, green = 3 }
[[material]]
name = "Base"
strength = 15
price = 60
scores = { rosy = 5 }
[[material]]
name = "Filler"
cas = "68155-66-8"
strength = 1
price = 1
scores = { rosy = 1 }
"#;
const OIL: usize = 0;
const OXIDE: usize = 1;
const GLYCOL: usize = 2;
const ISOEUGENOL: usize = 3;
const BASE: usize = 4;
const FILLER: usize = 5;

const LIMITS: &str = r#"
[[restriction]]
substance = "Isoeugenol"
cas = ["97-54-1", "106-22-9"]
source = "made up"
limits = { "4" = 1 }
[[restriction]]
substance = "Isoeugenol as such"
cas = ["97-54-1"]
applies = "added"
source = "made up"
limits = { "4" = 1 }
[[restriction]]
substance = "Isoeugenol of naturals"
cas = ["97-54-1"]
applies = "constituents"
source = "made up"
limits = { "4" = 1 }
[[restriction]]
substance = "Glycol"
cas = ["57-55-6"]
source = "made up"
limits = { "4" = 1 }
"#;

const USE: &str =
    "[use]\ncategory = \"4\"\ndosage = 20\naccord_share = 60\nreserve = { \"97-54-1\" = 0.01, \"57-55-6\" = 0.02 }\n";

/// The palette's problem without a rule. Half of the base is oil, a tenth is isoeugenol.
fn problem(basis: &str, matching: &str, product: &str) -> Problem {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).expect("written");
    write("palette.toml", PALETTE);
    write("limits.toml", LIMITS);
    let head = "palette = \"palette.toml\"\nlimits = [\"limits.toml\"]\n";
    let named = "[doses]\nGlycol = { min = 0.001 }\n";
    let text = format!(
        "{head}match = \"{matching}\"\n[target]\nrosy = 5\ngreen = 2\n[formula]\nbasis = \"{basis}\"\n{product}{named}"
    );
    write("brief.toml", &text);
    let Scenario { mut palette, brief, limits, .. } =
        load_scenario(&folder.path().join("brief.toml")).unwrap_or_else(|faults| panic!("{}", faults.render(false)));
    let part = |material: usize, ppt: f64| (palette.materials[material].clone(), Ppt::from_ppt(ppt));
    let parts = vec![part(OIL, 500.0), part(ISOEUGENOL, 100.0), part(FILLER, 400.0)];
    palette.materials[BASE] = Material { base: Some(Arc::new(Base { parts })), ..palette.materials[BASE].clone() };
    Problem::new(palette, &brief, &limits).with_rules(|_| false)
}

fn with(problem: &Problem, rules: &[(RuleKind, f64)]) -> Problem {
    let mut problem = problem.clone();
    let place = permil::place::Place { file: "brief.toml".into(), line: 1, column: 1 };
    let rule =
        |(kind, at): &(RuleKind, f64)| Rule { id: RuleId::Budget, kind: kind.clone(), place: place.clone(), at: *at };
    problem.rules = rules.iter().map(rule).collect();
    problem
}

/// Every kind of rule that is a row or a cap.
fn kinds() -> Vec<RuleKind> {
    let mut kinds = vec![
        RuleKind::Budget,
        RuleKind::PriceOfEffect,
        RuleKind::StrengthMin,
        RuleKind::StrengthMax,
        RuleKind::GroupMin([OIL, GLYCOL, BASE].into()),
        RuleKind::GroupMax([OIL, GLYCOL, BASE].into()),
        RuleKind::RatioMin { of: OIL, to: GLYCOL },
        RuleKind::RatioMax { of: OIL, to: GLYCOL },
        RuleKind::TargetMin(0),
        RuleKind::TargetMax(1),
        RuleKind::NeatMax(GLYCOL),
        RuleKind::NeatMax(OXIDE),
        RuleKind::Concentrate { material: GLYCOL, product: 0 },
        RuleKind::Concentrate { material: OXIDE, product: 0 },
        RuleKind::Product { material: GLYCOL, product: 0 },
        RuleKind::Product { material: OXIDE, product: 0 },
        RuleKind::Joint { members: [(0, 2.0), (3, 0.5)].into(), product: 0 },
    ];
    kinds.extend((0..4).map(|restriction| RuleKind::Limit { restriction, product: 0 }));
    let contrary = [kinds[0].clone(), kinds[1].clone(), kinds[16].clone(), kinds[17].clone()];
    kinds.extend(contrary.into_iter().map(|kind| RuleKind::AtLeast(Arc::new(kind))));
    kinds
}

/// What a formula has of a rule, in the rule's unit.
fn has(problem: &Problem, kind: &RuleKind, formula: &Formula) -> f64 {
    let beyond = if kind.loosens_upwards() == Some(true) { 1e-9 } else { 1e9 };
    let asked = with(problem, &[(kind.clone(), beyond)]);
    Checker::new(&asked).breaches(formula, SEARCH_TOLERANCE).first().map_or(0.0, |breach| breach.has)
}

/// Whether columns, rows and counts of the model let a formula be.
fn admits(problem: &Problem, formula: &Formula) -> bool {
    let blend = Blend::new(problem);
    let Some(doses) = blend.column_doses(formula) else { return false };
    let within = blend.columns.iter().zip(&doses).all(|(column, dose)| {
        let is_in = column.least <= *dose && *dose <= column.most;
        if dose.is_zero() { !column.must } else { is_in }
    });
    let ppt: Vec<f64> = doses.iter().map(|dose| dose.as_f64()).collect();
    let keeps = |row: &permil::model::BlendRow| {
        let terms = row.coefficients.iter().map(|&(column, a)| a * ppt[column]);
        let (sum, size) = terms.fold((0.0, row.upper.abs()), |(sum, size), term| (sum + term, size + term.abs()));
        sum <= row.upper + 1e-9 * size
    };
    let counted = blend
        .counts
        .iter()
        .all(|count| count.columns.iter().filter(|&&column| !doses[column].is_zero()).count() <= count.most);
    blend.contradiction.is_none() && within && counted && blend.rows.iter().all(keeps)
}

/// Formulas of two to six materials, in turn of all kinds of mixture.
fn formulas(basis: Basis, random: &mut ChaCha8Rng) -> Vec<Formula> {
    (0..25)
        .map(|case| {
            let mut doses = vec![Ppt::ZERO; 6];
            let mut left = Ppt::WHOLE;
            for dose in doses.iter_mut().take(FILLER) {
                if case % 5 == 0 || random.random_bool(0.6) {
                    *dose = Ppt::from_ppt(10f64.powf(random.random_range(0.0..2.2)));
                    left = left - *dose;
                }
            }
            doses[FILLER] = left;
            Formula::from_doses(basis, &doses)
        })
        .collect()
}

/// For every rule, in both bases and both ways to match.
fn on_all(mut test: impl FnMut(&Problem, &RuleKind, &Formula)) {
    let mut random = ChaCha8Rng::seed_from_u64(21);
    for (basis, name) in [(Basis::Neat, "neat"), (Basis::Bottle, "bottle")] {
        for matching in ["level", "balance"] {
            let problem = problem(name, matching, USE);
            for kind in kinds() {
                formulas(basis, &mut random).iter().for_each(|formula| test(&problem, &kind, formula));
            }
        }
    }
}

#[test]
fn rows_and_check_agree_just_inside_and_just_outside() {
    let mut tried = 0;
    on_all(|problem, kind, formula| {
        let has = has(problem, kind, formula);
        if !(1e-6..1e8).contains(&has) {
            return;
        }
        tried += 1;
        for (factor, is_inside) in [(1.0 + 2e-7, true), (1.0 - 2e-7, false)] {
            let is_inside = is_inside == (kind.loosens_upwards() == Some(true));
            let problem = with(problem, &[(kind.clone(), has * factor)]);
            let checked = Checker::new(&problem).breaches(formula, SEARCH_TOLERANCE).is_empty();
            assert_eq!(checked, is_inside, "the check of {kind:?} at {factor} of {has}: {formula:?}");
            assert_eq!(admits(&problem, formula), is_inside, "the rows of {kind:?} at {factor} of {has}: {formula:?}");
        }
    });
    assert!(tried > 1000, "{tried}");
}

/// Where all other doses are held and the rule is full, what it leaves of a column that
/// adds to it is the dose that it has: no less, or formulas would be lost, and no more,
/// or a column that is ruled out would be held at traces.
#[test]
fn a_row_alone_leaves_a_column_the_dose_that_fills_it() {
    let mut tried = 0;
    on_all(|problem, kind, formula| {
        let has = has(problem, kind, formula);
        // Of a contrary the dose is at its least.
        if !(1e-6..1e8).contains(&has) || kind.loosens_upwards() != Some(true) {
            return;
        }
        let used: Arc<[usize]> = formula.parts.iter().map(|(material, _)| *material).collect();
        for &(material, dose) in &formula.parts {
            let mut rules = vec![(kind.clone(), has), (RuleKind::Only(used.clone()), 1.0)];
            for &(other, dose) in formula.parts.iter().filter(|(other, _)| *other != material) {
                let ppt = dose.as_f64();
                rules.extend([
                    (RuleKind::Must(other), 1.0),
                    (RuleKind::DoseMin(other), ppt),
                    (RuleKind::DoseMax(other), ppt),
                ]);
            }
            let blend = Blend::new(&with(problem, &rules));
            let column = &blend.columns[blend.columns_of(material)[0]];
            let looser = with(problem, &[(kind.clone(), has * (1.0 + 1e-4)), rules[1].clone()]);
            let adds = {
                // Whether more of it breaks the rule: by the check, on a tenth more.
                let more = Formula::from_doses(
                    formula.basis,
                    &(0..6)
                        .map(|m| if m == material { Ppt::from_ppt(dose.as_f64() * 1.1) } else { formula.dose(m) })
                        .collect::<Vec<_>>(),
                );
                !Checker::new(&looser).breaches(&more, SEARCH_TOLERANCE).is_empty()
            };
            let (most, dose) = (column.most.as_f64(), dose.as_f64());
            assert!(
                most >= dose * (1.0 - 1e-9) - 1e-8,
                "{kind:?} leaves {most} of {material}, which has {dose}: {formula:?}"
            );
            if adds {
                tried += 1;
                assert!(
                    most <= dose * (1.0 + 1e-6) + 1e-6,
                    "{kind:?} leaves {most} of {material}, which has {dose}: {formula:?}"
                );
            }
        }
    });
    assert!(tried > 500, "{tried}");
}

fn neat() -> Problem {
    problem("neat", "level", USE)
}

/// (least, most) of a material's first column, and the rule that contradicts the others.
fn left(rules: &[(RuleKind, f64)], material: usize) -> ((f64, f64), Option<usize>) {
    let blend = Blend::new(&with(&neat(), rules));
    let column = &blend.columns[blend.columns_of(material)[0]];
    ((column.least.as_f64(), column.most.as_f64()), blend.contradiction)
}

#[test]
fn a_cap_below_the_least_dose_leaves_nothing() {
    let cap = |at: f64| (RuleKind::NeatMax(OIL), at);
    let min = (RuleKind::DoseMin(OIL), 5.0);
    // Exactly the least dose is left; less is none, and a contradiction where it must be used.
    assert_eq!(left(&[cap(5.0), min.clone()], OIL), ((5.0, 5.0), None));
    assert_eq!(left(&[cap(4.0), min.clone()], OIL), ((5.0, 0.0), None));
    assert_eq!(left(&[cap(4.0), min.clone(), (RuleKind::Must(OIL), 1.0)], OIL), ((5.0, 0.0), Some(0)));
    // Down to the grid, and of several caps the smallest holds in any order.
    assert_eq!(left(&[cap(7.9), (RuleKind::DoseStep(OIL), 2.0)], OIL), ((2.0, 6.0), None));
    assert_eq!(left(&[cap(7.0), cap(9.0)], OIL).0.1, 7.0);
    assert_eq!(left(&[cap(9.0), cap(7.0)], OIL).0.1, 7.0);
    // A group's row leaves what the others, which must be used, do not take.
    let group = (RuleKind::GroupMax([OIL, OXIDE].into()), 50.0);
    assert_eq!(left(std::slice::from_ref(&group), OIL).0.1, 50.0);
    let must = [(RuleKind::Must(OXIDE), 1.0), (RuleKind::DoseMin(OXIDE), 30.0)];
    assert_eq!(left(&[group.clone(), must[0].clone(), must[1].clone()], OIL).0.1, 20.0);
    assert_eq!(left(&[group.clone(), must[1].clone()], OIL).0.1, 50.0);
    assert_eq!(left(&[group, must[0].clone(), must[1].clone(), (RuleKind::DoseStep(OIL), 3.0)], OIL).0.1, 18.0);
    // A row that allows nothing leaves a column out: not even a trace is left.
    assert_eq!(left(&[(RuleKind::GroupMax([OIL, OXIDE].into()), 0.0)], OIL).0.1, 0.0);
}

/// The dearest is isoeugenol at 300 a kilo, then the oil at 100.
#[test]
fn a_row_that_no_formula_can_break_is_dropped() {
    let rows = |rules: &[(RuleKind, f64)]| Blend::new(&with(&neat(), rules)).rows.len();
    let budget = |at: f64| (RuleKind::Budget, at);
    assert_eq!((rows(&[budget(300.001)]), rows(&[budget(300.0)]), rows(&[budget(299.9)])), (0, 1, 1));
    // A tenth of the one and the rest of the other: 30 + 90.
    let few = (RuleKind::DoseMax(ISOEUGENOL), 100.0);
    assert_eq!((rows(&[budget(120.001), few.clone()]), rows(&[budget(119.999), few])), (0, 1));
    // No formula is weaker than the glycol: 0.5.
    assert_eq!((rows(&[(RuleKind::StrengthMin, 0.499)]), rows(&[(RuleKind::StrengthMin, 0.501)])), (0, 1));
}

fn counts(rules: &[(RuleKind, f64)]) -> Vec<(Vec<usize>, usize)> {
    let blend = Blend::new(&with(&neat(), rules));
    blend.counts.iter().map(|count| (count.columns.clone(), count.most)).collect()
}

#[test]
fn counts_are_made_of_what_they_restrict() {
    let all: Vec<usize> = (0..6).collect();
    assert_eq!(counts(&[(RuleKind::MaxMaterials, 3.0)]), [(all, 3)]);
    // As many as there are, or more, restrict nothing; fewer than none are none.
    assert_eq!(counts(&[(RuleKind::MaxMaterials, 6.0)]), []);
    assert_eq!(counts(&[(RuleKind::MostOf([OIL, BASE].into()), -1.0)]), [(vec![OIL, BASE], 0)]);
    assert_eq!(counts(&[(RuleKind::MostOf([OIL, BASE].into()), 2.0)]), []);
}

/// A material whose dose is counted has a column for each kind of dose.
#[test]
fn doses_that_are_counted_have_columns_of_their_own() {
    let usual = UsualDoses { least: Ppt::from_ppt(10.0), most: Ppt::from_ppt(20.0) };
    let counted = RuleKind::MaxUnusual([(OIL, usual), (BASE, usual)].into());
    let must = (RuleKind::Must(OIL), 1.0);
    let blend = Blend::new(&with(&neat(), &[(counted.clone(), 1.0), must, (RuleKind::DoseMin(OIL), 8.0)]));
    let of = |material: usize| -> Vec<(usize, Role, f64)> {
        let columns = blend.columns_of(material).into_iter();
        columns.map(|at| (at, blend.columns[at].role, blend.columns[at].least.as_f64())).collect()
    };
    assert_eq!(of(OIL), [(0, Role::Usual, 10.0), (1, Role::Unusual, 8.0)]);
    assert_eq!(of(BASE).iter().map(|it| (it.0, it.1)).collect::<Vec<_>>(), [(5, Role::Usual), (6, Role::Unusual)]);
    // One at most of a material's columns, and of the unusual ones as many as are allowed.
    let made: Vec<_> = blend.counts.iter().map(|count| (count.columns.clone(), count.most)).collect();
    assert_eq!(made, [(vec![0, 1], 1), (vec![5, 6], 1), (vec![1, 6], 1)]);
    // What must be used is asked for in any of its columns: at least its least dose in all.
    let row = blend.rows.iter().find(|row| row.rule == 1).expect("a row");
    assert_eq!((row.coefficients.as_slice(), row.upper), (&[(0, -1.0), (1, -1.0)][..], -8.0));
    assert!(!blend.columns[0].must && !blend.columns[1].must);
    // A dose that stays is counted by what it is.
    let stays = |ppt: f64| (RuleKind::Moves([(OIL, Ppt::from_ppt(ppt)), (BASE, Ppt::from_ppt(15.0))].into()), 1.0);
    for (ppt, has_unusual) in [(15.0, false), (30.0, true)] {
        let blend = Blend::new(&with(&neat(), &[(counted.clone(), 0.0), stays(ppt)]));
        let staying = blend.columns_of(OIL).into_iter().find(|&at| blend.columns[at].role == Role::Stays);
        assert_eq!(staying.is_none(), has_unusual, "none of what is unusual may be used: {ppt}");
    }
    let blend = Blend::new(&with(&neat(), &[(counted, 1.0), stays(30.0)]));
    let staying =
        blend.columns_of(OIL).into_iter().find(|&at| blend.columns[at].role == Role::Stays).expect("a column");
    let unusual: Vec<usize> = (0..blend.columns.len()).filter(|&at| blend.columns[at].role == Role::Unusual).collect();
    let many = blend.counts.iter().find(|count| count.columns.contains(&unusual[0]) && count.columns.len() > 2);
    assert!(
        blend.counts.iter().any(|count| count.columns.contains(&staying) && count.columns.contains(&unusual[1])),
        "{many:?}"
    );
    // Each set of columns is said once, though two rules speak of it.
    let mut sets: Vec<_> = blend.counts.iter().map(|count| (count.columns.clone(), count.most)).collect();
    sets.sort();
    sets.dedup();
    assert_eq!(sets.len(), blend.counts.len());
    // Of two doses that stay one may move: the row counts each whole where it stays.
    let row = blend.rows.iter().find(|row| row.rule == 1).expect("a row");
    let kept: Vec<f64> = row.coefficients.iter().map(|(_, a)| *a).collect();
    assert_eq!((kept, row.upper), (vec![-1.0 / 30.0, -1.0 / 15.0], -1.0));
}

/// 0.1 and 0.2 % are in the rest of the concentrate of what 0.3 % are allowed: nothing may
/// be added, and binary arithmetic has no say in it.
#[test]
fn a_limit_that_the_rest_fills_leaves_its_sources_out_and_nothing_else() {
    let product = USE.replace("\"97-54-1\" = 0.01", "\"97-54-1\" = 0.1, \"106-22-9\" = 0.2");
    let problem = problem("neat", "level", &product);
    let limit = |at: f64| Blend::new(&with(&problem, &[(RuleKind::Limit { restriction: 0, product: 0 }, at)]));
    let full = limit(0.3);
    let most: Vec<f64> = full.columns.iter().map(|column| column.most.as_f64()).collect();
    // Oil, isoeugenol and the base bring it.
    assert_eq!((most, full.rows.len(), full.contradiction), (vec![0.0, 1000.0, 1000.0, 0.0, 0.0, 1000.0], 0, None));
    // A little more room is a row; 0.2 more percent are 0.2 / 0.12 % of the accord, 30 % of it isoeugenol.
    let more = limit(0.5);
    assert_eq!((more.rows.len(), more.contradiction), (1, None));
    let row = &more.rows[0];
    assert!((row.upper - 0.2).abs() < 1e-12 && (row.upper_cancelled - 0.6).abs() < 1e-12, "{row:?}");
    // Less than the rest brings cannot be.
    assert_eq!(limit(0.2).contradiction, Some(0));
    assert_eq!(limit(0.299_999).contradiction, Some(0));
}

/// A coefficient of decimals that take each other away is 0, whatever binary leaves; what
/// took itself away is known.
#[test]
fn what_decimals_take_away_leaves_no_trace() {
    let mut problem = neat();
    let palette = Arc::make_mut(&mut problem.palette);
    (palette.materials[OIL].price_per_kg, palette.materials[OIL].strength) = (Some(2.1), 7.0);
    (palette.materials[OXIDE].price_per_kg, palette.materials[OXIDE].strength) = (Some(3.1), 7.0);
    // Strong and cheap: it makes room for the others.
    palette.materials[FILLER].strength = 100.0;
    assert_ne!(2.1 / 1000.0, 0.3 * (7.0 / 1000.0));
    let blend = Blend::new(&with(&problem, &[(RuleKind::PriceOfEffect, 0.3)]));
    let row = &blend.rows[0];
    assert!(!row.coefficients.iter().any(|(column, _)| *column == OIL), "{row:?}");
    let of = |list: &[(usize, f64)], column: usize| list.iter().find(|it| it.0 == column).expect("an entry").1;
    assert!((of(&row.coefficients, OXIDE) - 0.001).abs() < 1e-12);
    assert!((of(&row.cancelled, OIL) - 0.004_2).abs() < 1e-12 && (of(&row.cancelled, OXIDE) - 0.004_2).abs() < 1e-12);
    assert!((of(&row.cancelled, FILLER) - 0.002).abs() < 1e-12, "the smaller of 0.001 and 0.03, twice");
    // Of a ratio no column has anything on both sides.
    let ratio = Blend::new(&with(&problem, &[(RuleKind::RatioMax { of: OIL, to: OXIDE }, 3.0)]));
    assert_eq!(
        (ratio.rows[0].coefficients.as_slice(), ratio.rows[0].cancelled.len()),
        (&[(OIL, 1.0), (OXIDE, -3.0)][..], 0)
    );
}
