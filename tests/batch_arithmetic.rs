//! Bottles, dilutions, sheets and stocks, with every figure worked by hand.

use std::sync::Arc;

use permil::balance::bottle::pick;
use permil::balance::dilution::{Mixing, dilution};
use permil::balance::ethanol::{density_g_per_ml, mixture};
use permil::balance::sheet::{Asked, Sheet, picks, sheet, weighed, whole_or_not};
use permil::balance::stock::{cost, largest_batch};
use permil::balance::total::{batch_that_fits, left_grams};
use permil::balance::tremble::tremble;
use permil::balance::unfold::unfold;
use permil::brief::Basis;
use permil::files::{Scenario, load_palette, load_scenario};
use permil::formula::Formula;
use permil::palette::{Base, Bottle, Cas, Material, Palette};
use permil::problem::Problem;
use permil::units::Ppt;

const PALETTE: &str = r#"
[descriptors]
rosy = "rose"
[[material]]
name = "Rose"
strength = 1
scores = { rosy = 8 }
[[material]]
name = "Wood"
strength = 1
price = 10
scores = { rosy = 0 }
[[material]]
name = "Weak"
strength = 1
scores = { rosy = 1 }
bottle = { percent = 50, carrier = "Glycol" }
stock = 3
[[material]]
name = "Faint"
strength = 1
scores = { rosy = 1 }
bottle = [{ percent = 10, carrier = "Glycol" }, { percent = 1, carrier = "Spirit" }]
[[material]]
name = "Glycol"
strength = 0
"#;

fn palette() -> Palette {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("palette.toml");
    std::fs::write(&path, PALETTE).expect("written");
    load_palette(&path).unwrap_or_else(|faults| panic!("{}", faults.render(false)))
}

fn problem(brief: &str) -> Problem {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).expect("written");
    write("palette.toml", PALETTE);
    write("brief.toml", &format!("palette = \"palette.toml\"\nmatch = \"level\"\n{brief}"));
    let Scenario { palette, brief, limits, .. } =
        load_scenario(&folder.path().join("brief.toml")).unwrap_or_else(|faults| panic!("{}", faults.render(false)));
    Problem::new(palette, &brief, &limits)
}

fn formula(basis: Basis, ppt: &[f64]) -> Formula {
    Formula::from_doses(basis, &ppt.iter().map(|ppt| Ppt::from_ppt(*ppt)).collect::<Vec<_>>())
}

fn asked(batch_grams: f64, step_grams: f64, least_grams: f64) -> Asked {
    Asked { batch_grams, step_grams, least_grams }
}

/// 5 mg are 0.05 g of the 10 % bottle: just as much as weighs well.
#[test]
fn the_strongest_bottle_that_weighs_well_is_poured() {
    let faint = &palette().materials[3];
    let of = |grams: f64| {
        let pick = pick(faint, Basis::Neat, grams, 0.05);
        (pick.percent, pick.grams, pick.carrier)
    };
    assert_eq!(of(0.005), (10.0, 0.05, Some("Glycol".to_owned())));
    assert_eq!(of(0.004_999), (1.0, 0.4999, Some("Spirit".to_owned())));
    // A bottle of the neat material has no carrier, whatever was written on it.
    let whole = Bottle { percent: 100.0, carrier: Some("Glycol".to_owned()) };
    let neat = Material { bottles: vec![whole], ..faint.clone() };
    assert_eq!(pick(&neat, Basis::Neat, 1.0, 0.05).carrier, None);
}

fn mixings(neat_grams: f64, bottle_percent: f64) -> (f64, Vec<Mixing>) {
    let made = dilution(neat_grams, bottle_percent, 0.05, 0.001).expect("a dilution");
    (made.percent, made.mixings)
}

#[test]
fn a_dilution_is_weaker_than_its_bottle_and_made_in_round_amounts() {
    let carriers = |neat: f64, bottle: f64| -> Vec<(f64, f64, f64)> {
        mixings(neat, bottle).1.iter().map(|it| (it.take_grams, it.carrier_grams, it.gives_percent)).collect()
    };
    // A bottle of 10 % is not diluted to 10 %.
    assert_eq!(mixings(0.05, 10.0).0, 1.0);
    // 4 g of the 1 % are poured: with a quarter to spare exactly 5 g are made.
    assert_eq!(carriers(0.04, 10.0), [(0.5, 4.5, 1.0)]);
    // 6 g are 7.5 g with that, and the next round amount is 10.
    assert_eq!(carriers(0.06, 10.0), [(1.0, 9.0, 1.0)]);
    // 40 g: 50; 45 g: 56.25, so 100.
    assert_eq!((carriers(0.4, 10.0), carriers(0.45, 10.0)), (vec![(5.0, 45.0, 1.0)], vec![(10.0, 90.0, 1.0)]));
    // A hundredth takes 0.1 g to 10.
    assert_eq!(carriers(0.000_05, 10.0), [(0.1, 9.9, 0.1)]);
    // More than a hundred times is not diluted at once, exactly a hundred times is.
    assert_eq!((mixings(0.000_05, 10.05).1.len(), mixings(0.000_05, 10.0).1.len()), (2, 1));
}

#[test]
fn ethanol_and_water_have_their_own_densities() {
    let mixed = mixture(100.0, 70.0, 96.0).expect("strong enough");
    let by_mass = mixed.ethanol_grams / mixed.ethanol_ml;
    assert!((by_mass - 0.807_4).abs() < 2e-4, "{by_mass} g/ml of 96 % by volume");
    assert!((mixed.water_ml * density_g_per_ml(0.0) - mixed.water_grams).abs() < 1e-12);
    let density = mixed.grams / mixed.ml;
    assert!((density - 0.885_5).abs() < 2e-4, "{density} g/ml of 70 % by volume");
}

/// Of 1 to 0.225 to 0.225 the nearest whole steps are 9, 2 and 2. What is in the
/// vessel and is enough gets no more: 8, 2, 2.
#[test]
fn nothing_is_added_to_a_line_that_is_full() {
    let palette = palette();
    let weighed_at = |step: f64, wanted: [f64; 3], held: f64| {
        let formula = formula(Basis::Neat, &[1.0, 1.0, 0.0]);
        let mut picked = picks(&palette, &formula, 1.0, 0.0);
        picked.push(picked[0].clone());
        for (at, (pick, grams)) in picked.iter_mut().zip(wanted).enumerate() {
            (pick.0, pick.2.grams) = ([0, 1, 2][at], grams);
        }
        let made = weighed(&palette, Basis::Neat, picked, step, &|material| if material == 0 { held } else { 0.0 });
        let of = |material: usize| made.lines.iter().find(|line| line.material == material).expect("a line").grams;
        [of(0), of(1), of(2)]
    };
    let steps = |wanted: [f64; 3], held: f64| weighed_at(1.0, wanted, held);
    assert_eq!(steps([8.0, 1.8, 1.8], 0.0), [9.0, 2.0, 2.0]);
    // What the balance shows is no matter: the same in halves of a gram.
    assert_eq!(weighed_at(0.5, [4.0, 0.9, 0.9], 0.0), [4.5, 1.0, 1.0]);
    assert_eq!(weighed_at(0.5, [4.0, 0.9, 0.9], 4.0), [4.0, 1.0, 1.0]);
    assert_eq!(steps([8.0, 1.8, 1.8], 8.0), [8.0, 2.0, 2.0]);
    // Half a step more than it holds is not full, a little less is.
    assert_eq!(steps([8.5, 1.9125, 1.9125], 8.0), [9.0, 2.0, 2.0]);
    assert_eq!(steps([8.49, 1.91, 1.91], 8.0), [8.0, 2.0, 2.0]);
    // An empty vessel holds nothing back: of what is wanted a step is weighed at least.
    assert_eq!(steps([0.3, 0.3, 0.3], 0.0), [1.0, 1.0, 1.0]);
    // What binary arithmetic adds to eight steps is no ninth.
    assert_eq!(steps([8.0, 1.8, 1.8], 8.000_000_000_5), [8.0, 2.0, 2.0]);
    assert_eq!(steps([8.0, 1.8, 1.8], 8.001)[0], 9.0);
    assert_eq!((whole_or_not(3.000_000_000_4), whole_or_not(3.001)), (3.0, 3.001));
    assert_eq!((whole_or_not(2_000_000.000_1), whole_or_not(0.3)), (2_000_000.0, 0.3));
}

/// 20 g of neat: 10 of rose, 6 as 12 g of the weak bottle, 4 as 40 g of the faint one.
fn three() -> (Palette, Formula, Sheet) {
    let palette = palette();
    let formula = formula(Basis::Neat, &[500.0, 0.0, 300.0, 200.0, 0.0]);
    let made = sheet(&palette, &formula, asked(20.0, 0.01, 0.05));
    (palette, formula, made)
}

#[test]
fn carriers_of_one_name_are_one_and_what_has_no_price_is_named_once() {
    let (mut palette, _, made) = three();
    assert_eq!(made.carriers(), [("Glycol".to_owned(), 42.0)]);
    assert_eq!((made.poured_grams(), made.neat_grams()), (62.0, 20.0));
    let (sum, without) = cost(&palette, &made, Some((4, 5.0)));
    assert_eq!((sum, without.join(" ")), (None, "Rose Weak Faint Glycol".to_owned()));
    for (material, price) in palette.materials.iter_mut().zip([100.0, 10.0, 50.0, 200.0, 2.0]) {
        material.price_per_kg = Some(price);
    }
    // 1 + 0.3 + 0.8 of materials, 47 g of glycol at 2 a kilo.
    assert_eq!(cost(&palette, &made, Some((4, 5.0))), (Some(2.194), Vec::new()));
    // 3 g of the weak bottle are on hand of 12.
    assert_eq!(largest_batch(&palette, &made, 20.0), Some(5.0));
}

#[test]
fn a_batch_fills_its_total_to_the_last_digit() {
    let (palette, wanted, _) = three();
    // What needs no carrier is the whole total, as it was written.
    let neat = formula(Basis::Neat, &[500.0, 500.0, 0.0, 0.0, 0.0]);
    assert_eq!(batch_that_fits(&palette, &neat, 11.234_567, 0.0), 11.234_567);
    // 3.1 g are poured for each gram: five digits, rounded down.
    assert_eq!(batch_that_fits(&palette, &wanted, 62.0, 0.0), 20.0);
    assert_eq!(batch_that_fits(&palette, &wanted, 100.0, 0.0), 32.258);
    assert_eq!(batch_that_fits(&palette, &wanted, 0.31, 0.0), 0.1);
    assert_eq!(batch_that_fits(&palette, &wanted, 1.0, 0.0), 0.322_58);
    assert_eq!(left_grams(100.0, 62.0, 0.01), 38.0);
    assert_eq!((left_grams(10.0, 9.996, 0.01), left_grams(10.0, 9.994, 0.01)), (0.0, 0.01));
    assert_eq!(left_grams(10.0, 12.0, 0.01), 0.0);
}

/// A gram of each of two equal strengths, weighed one after the other on a balance that
/// shows a tenth: the share of the first is 1/2 + r/2 - s/4, where the readings r and s
/// are off by up to 0.05. Nine of ten lie within 0.0263 of a half, by the areas of a
/// trapezium, and nine of ten distances from it between 0.00125 and 0.0296.
#[test]
fn what_errors_of_weighing_do_is_what_the_arithmetic_of_two_readings_says() {
    let problem = problem("[target]\nrosy = 4\n");
    let made = sheet(&problem.palette, &formula(Basis::Neat, &[500.0, 500.0]), asked(2.0, 0.1, 0.0));
    assert_eq!(made.lines.iter().map(|line| line.material).collect::<Vec<_>>(), [0, 1]);
    let found = tremble(&problem, &made, 0.1, 7).expect("it smells");
    let (low, high) = found.profile[0];
    // The ends of a thousand draws are off by 0.006 points, one standard deviation.
    assert!((low - (4.0 - 8.0 * 0.0263)).abs() < 0.025 && (high - (4.0 + 8.0 * 0.0263)).abs() < 0.025, "{low} {high}");
    let (least, most) = found.fidelity_percent;
    assert!((least - (100.0 - 200.0 * 0.0296)).abs() < 0.6 && (most - (100.0 - 200.0 * 0.00125)).abs() < 0.15);
    // A balance that shows a tenth of that is a tenth as far off.
    let finer = tremble(&problem, &made, 0.01, 7).expect("it smells").profile[0];
    assert!((finer.1 - finer.0 - (high - low) / 10.0).abs() < 0.002, "{finer:?}");
    // The same seed gives the same draws; what smells of nothing has no figure.
    assert_eq!(tremble(&problem, &made, 0.1, 7).expect("it smells").profile, [(low, high)]);
    let silent = sheet(&problem.palette, &formula(Basis::Neat, &[0.0, 0.0, 0.0, 0.0, 1000.0]), asked(2.0, 0.1, 0.0));
    assert!(tremble(&problem, &silent, 0.1, 7).is_none());
}

/// A palette with a base of rose, of a wood that only shares the palette's name, and of
/// something that the palette lacks.
fn with_base() -> (Palette, Material, Material) {
    let mut palette = palette();
    let own = palette.materials[0].clone();
    let stranger = Material { price_per_kg: Some(99.0), ..palette.materials[1].clone() };
    let unknown = Material { name: "Unknown".to_owned(), ..own.clone() };
    let parts = vec![
        (own.clone(), Ppt::from_ppt(500.0)),
        (stranger.clone(), Ppt::from_ppt(300.0)),
        (unknown.clone(), Ppt::from_ppt(200.0)),
    ];
    let base = Material { name: "Base".to_owned(), base: Some(Arc::new(Base { parts })), ..own };
    palette.materials.push(base);
    (palette, stranger, unknown)
}

#[test]
fn a_base_is_replaced_by_what_it_is_mixed_from() {
    let (palette, ..) = with_base();
    let wanted = formula(Basis::Neat, &[100.0, 500.0, 0.0, 0.0, 0.0, 400.0]);
    let wanted = Formula { title: Some("Mine".to_owned()), file: Some("mine.toml".into()), ..wanted };
    let unfolded = unfold(&palette, &wanted).expect("neat");
    assert_eq!((&unfolded.formula.title, &unfolded.formula.file), (&wanted.title, &wanted.file));
    let parts = |unfolded: &permil::balance::unfold::Unfolded| {
        let name = |material: usize| unfolded.palette.materials[material].name.clone();
        unfolded.formula.parts.iter().map(|&(material, dose)| (name(material), dose.as_f64())).collect::<Vec<_>>()
    };
    let of = |name: &str, ppt: f64| (name.to_owned(), ppt);
    // 200 of rose are added to the palette's own 100; the other wood stands beside it.
    assert_eq!(
        parts(&unfolded),
        [of("Rose", 300.0), of("Wood", 500.0), of("Wood (in Base)", 120.0), of("Unknown", 80.0)]
    );
    assert_eq!(unfolded.bases, ["Base"]);
    // What comes of the base before the palette's own, and twice the same stranger.
    let mut twice = palette.clone();
    let second = Material { name: "Another base".to_owned(), ..palette.materials[5].clone() };
    twice.materials.insert(0, second);
    let unfolded = unfold(&twice, &formula(Basis::Neat, &[100.0, 200.0, 0.0, 0.0, 0.0, 0.0, 700.0])).expect("neat");
    assert_eq!(
        parts(&unfolded),
        [of("Rose", 600.0), of("Wood (in Another base)", 30.0), of("Unknown", 160.0), of("Wood (in Base)", 210.0),]
    );
    // What is poured of a base is not known neat.
    assert!(unfold(&palette, &formula(Basis::Bottle, &[600.0, 0.0, 0.0, 0.0, 0.0, 400.0])).is_err());
    assert!(unfold(&palette, &formula(Basis::Bottle, &[600.0, 400.0])).is_ok());
}

/// One material is another if limits, smell and cost cannot tell them apart.
#[test]
fn a_material_of_a_base_is_the_palettes_own_only_if_nothing_tells_them_apart() {
    let (palette, ..) = with_base();
    let own = palette.materials[0].clone();
    let number = Cas::parse("97-54-1").expect("a number");
    let other: [(&str, Material); 7] = [
        ("number", Material { cas: Some(number.clone()), ..own.clone() }),
        ("strength", Material { strength: 2.0, ..own.clone() }),
        ("scores", Material { scores: vec![7.0], ..own.clone() }),
        ("price", Material { price_per_kg: Some(1.0), ..own.clone() }),
        ("natural", Material { natural: true, ..own.clone() }),
        ("constituents", Material { constituents: Some(vec![(number, 1.0)]), ..own.clone() }),
        ("stock", Material { stock_grams: Some(1.0), ..own.clone() }),
    ];
    for (what, part) in other {
        let mut palette = palette.clone();
        palette.materials[5].base = Some(Arc::new(Base { parts: vec![(part, Ppt::WHOLE)] }));
        let unfolded = unfold(&palette, &formula(Basis::Neat, &[500.0, 0.0, 0.0, 0.0, 0.0, 500.0])).expect("neat");
        let is_own = unfolded.formula.parts.len() == 1;
        assert_eq!(is_own, what == "stock", "{what}");
    }
    // A base of the palette is no material that a base holds, be they alike in all else.
    let mut palette = palette;
    palette.materials[0].base = palette.materials[5].base.clone();
    palette.materials[5].base = Some(Arc::new(Base { parts: vec![(own, Ppt::WHOLE)] }));
    let unfolded = unfold(&palette, &formula(Basis::Neat, &[0.0, 0.0, 0.0, 0.0, 0.0, 1000.0])).expect("neat");
    assert_eq!(unfolded.palette.materials[unfolded.formula.parts[0].0].name, "Rose (in Base)");
}
