//! Palettes and formulas through spreadsheets: there and back, as four habits
//! write them, and what cannot be read.

mod support;

use std::path::Path;

use permil::brief::Basis;
use permil::files::sheet::{
    DecimalSign, Reading, Writing, formula_sheet, import_formula, import_palette, palette_sheet,
};
use permil::files::{load_palette, palette_text};
use permil::formula::Formula;
use permil::palette::{Bottle, Cas, Descriptor, Material, Note, Pack, Palette, Usual};
use permil::place::{Place, Placed};
use permil::units::Ppt;
use proptest::prelude::*;
use support::program::Folder;

fn place() -> Place {
    Place { file: "made up".into(), line: 1, column: 1 }
}

/// A palette without its places and its file.
fn bare(palette: &Palette) -> String {
    let mut palette = palette.clone();
    palette.file = "".into();
    for material in &mut palette.materials {
        material.place = place();
        for dose in [&mut material.min, &mut material.max, &mut material.step].into_iter().flatten() {
            dose.place = place();
        }
        let percents = [&mut material.max_in_concentrate_percent, &mut material.max_in_product_percent];
        percents.into_iter().flatten().for_each(|percent| percent.place = place());
    }
    format!("{palette:#?}")
}

fn read(text: &[u8], reading: &Reading) -> Result<Palette, String> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shelf.csv");
    std::fs::write(&path, text).unwrap();
    import_palette(&path, reading).map_err(|faults| {
        let text = faults.render_to_width(false, 2000);
        text.replace(&*path.to_string_lossy(), "shelf.csv")
    })
}

/// A palette through palette.toml.
fn through_toml(palette: &Palette) -> Palette {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("palette.toml");
    std::fs::write(&path, palette_text(palette)).unwrap();
    load_palette(&path).unwrap_or_else(|faults| panic!("{}\n{}", faults.render(false), palette_text(palette)))
}

const WRITINGS: [(u8, DecimalSign); 4] =
    [(b',', DecimalSign::Point), (b';', DecimalSign::Comma), (b'\t', DecimalSign::Comma), (b',', DecimalSign::Comma)];

#[test]
fn the_shipped_shelves_come_back() {
    for path in
        ["profiles/rose-otto/palette.toml", "profiles/rose-otto/wishlist.toml", "profiles/six-materials/palette.toml"]
    {
        let palette = load_palette(Path::new(path)).unwrap();
        for (delimiter, decimal) in WRITINGS {
            let sheet = palette_sheet(&palette, &Writing { delimiter, decimal });
            let back = read(&sheet, &Reading::default()).unwrap_or_else(|faults| panic!("{faults}"));
            assert_eq!(bare(&back), bare(&palette), "{path}");
            assert_eq!(bare(&through_toml(&back)), bare(&palette), "{path}");
        }
    }
}

/// Names that wish nobody well.
fn name() -> impl Strategy<Value = String> {
    prop_oneof![
        "[a-zA-Zé ]{1,12}",
        "[=+@#'\"\\\\;,\n\t -]{0,3}[a-z0-9{}.\u{1b}\u{202e}%€ -]{1,8}",
        prop::sample::select(vec![
            "price",
            "Strength",
            "strenght",
            "descriptor: x",
            "1,234",
            "10-5",
            "May 5",
            "TRUE",
            "#scale",
            "#meaning",
            "none",
            "neat",
            "a in b",
            "'=1",
            "\\u{41}",
            "sep=;",
            "Total",
            " padded ",
            "60-12-8",
            "0.5",
            "a\r\nb",
        ])
        .prop_map(str::to_owned),
    ]
    .prop_filter("a name is not blank", |name| !name.trim().is_empty() && name != "remarks")
}

fn number(most: f64) -> impl Strategy<Value = f64> {
    prop_oneof![
        (0u32..2_000_000).prop_map(|it| f64::from(it) / 1000.0),
        (1u32..1000).prop_map(f64::from),
        (1e-6f64..1000.0),
    ]
    .prop_map(move |it| if it > most { it % most } else { it })
}

fn cas() -> impl Strategy<Value = Cas> {
    prop::sample::select(vec!["60-12-8", "106-24-1", "97-53-0", "7732-18-5"]).prop_map(|it| Cas::parse(it).unwrap())
}

fn bottles() -> impl Strategy<Value = Vec<Bottle>> {
    let bottle = (number(99.0), prop::option::of(name()))
        .prop_map(|(percent, carrier)| Bottle { percent: percent + 0.5, carrier });
    prop::collection::vec(bottle, 0..4)
}

fn constituents() -> impl Strategy<Value = Option<Vec<(Cas, f64)>>> {
    prop::option::of(prop::collection::btree_map(cas(), number(100.0), 0..4).prop_map(|it| it.into_iter().collect()))
}

/// Two doses as usual ones; one percent is 10 ppt, so that what is written in
/// percent is a multiple of ten units.
fn usual(a: Option<Ppt>, b: Option<Ppt>, in_percent: bool) -> Option<Usual> {
    let unit = Ppt::from_units(if in_percent { Usual::PPT_PER_PERCENT } else { 1 });
    let (a, b) = (a?.floor_to(unit), b?.floor_to(unit));
    Some(Usual { least: a.min(b), most: a.max(b), in_percent })
}

fn material(descriptors: usize) -> impl Strategy<Value = Material> {
    let free = || prop::option::of(prop_oneof![Just(String::new()), name()]);
    let dose = || prop::option::of((0i64..1_000_000_000_000).prop_map(Ppt::from_units));
    let numbers =
        (number(1e6), prop::option::of(number(1e3)), prop::option::of(number(1e3)), prop::option::of(number(1e3)));
    let rest = (
        dose(),
        dose(),
        prop::option::of(1i64..1_000_000),
        prop::option::of(number(100.0)),
        prop::option::of(number(100.0)),
    );
    let lists = (
        prop::collection::btree_set(name(), 0..3),
        bottles(),
        constituents(),
        prop::collection::vec((number(1e3), number(1e3)), 0..3),
    );
    let flags = (any::<bool>(), any::<bool>(), prop::option::of(0usize..3), any::<bool>());
    let scores = prop::collection::vec(prop_oneof![Just(0.0), number(10.0)], descriptors);
    (name(), prop::option::of(cas()), numbers, rest, lists, flags, scores, free(), free()).prop_map(
        |(
            name,
            cas,
            (strength, factor, price, stock),
            (a, b, step, conc, prod),
            (tags, bottles, constituents, packs),
            flags,
            scores,
            handling,
            remarks,
        )| {
            let carrier = flags.3 && flags.0;
            let placed = |value| Placed { value, place: place() };
            let bottles: Vec<Bottle> =
                bottles.into_iter().filter(|bottle| bottle.carrier.as_ref() != Some(&name)).collect();
            // The smaller of two doses is the least, diluted or not.
            let (min, max) = match (a, b) {
                (Some(a), Some(b)) => (Some(a.min(b)), Some(a.max(b))),
                other => other,
            };
            Material {
                name,
                place: place(),
                cas,
                strength: if carrier { 0.0 } else { strength + 0.001 },
                strength_factor: factor.map(|it| it + 1.0),
                said: Default::default(),
                score_words: Vec::new(),
                scores: if carrier { vec![0.0; scores.len()] } else { scores },
                score_error: stock.map(|it| it % 10.0),
                price_per_kg: price,
                min: min.map(placed),
                max: max.map(placed),
                max_in_concentrate_percent: conc.map(|value| Placed { value, place: place() }),
                max_in_product_percent: prod.map(|value| Placed { value, place: place() }),
                step: step.map(|micro| placed(Ppt::from_units(micro * 1000))),
                usual: usual(a, b, flags.0),
                tags: tags.into_iter().collect(),
                note: flags.2.map(|at| [Note::Opening, Note::Heart, Note::Drydown][at]),
                lasting_hours: price,
                lasting_factor: factor.map(|it| it + 1.5),
                molar_mass: stock.map(|it| it % 1000.0 + 1.0),
                vapour_pressure: price.map(|it| it % 1000.0 + 0.001),
                natural: flags.0,
                constituents,
                bottles,
                packs: packs
                    .into_iter()
                    .map(|(grams, price)| Pack { grams: grams + 0.001, price: price + 0.001 })
                    .collect(),
                stock_grams: stock,
                have: flags.1,
                handling,
                remarks,
                formula: None,
                base: None,
            }
        },
    )
}

fn palette() -> impl Strategy<Value = Palette> {
    let free = || prop::option::of(name());
    let descriptors = prop::collection::btree_map(name(), prop_oneof![Just(String::new()), name()], 1..5);
    (descriptors, free(), name(), free()).prop_flat_map(|(descriptors, name, currency, remarks)| {
        let descriptors: Vec<Descriptor> =
            descriptors.into_iter().map(|(name, meaning)| Descriptor { name, meaning }).collect();
        prop::collection::vec(material(descriptors.len()), 1..6).prop_map(move |mut materials| {
            let mut seen = std::collections::BTreeSet::new();
            materials.retain(|material| seen.insert(material.name.clone()));
            let file = "".into();
            let (name, currency, remarks) = (name.clone(), currency.clone(), remarks.clone());
            Palette {
                file,
                name,
                currency,
                scale: 10.0,
                descriptors: descriptors.clone(),
                lasting_percent: if materials.len() % 2 == 0 { 100.0 } else { 12.5 },
                score_words: Vec::new(),
                materials,
                remarks,
                tied: None,
            }
        })
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, rng_seed: proptest::test_runner::RngSeed::Fixed(6), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_palette_comes_back(palette in palette(), at in 0usize..4) {
        let (delimiter, decimal) = WRITINGS[at];
        let sheet = palette_sheet(&palette, &Writing { delimiter, decimal });
        let text = String::from_utf8(sheet.clone()).unwrap();
        let back = read(&sheet, &Reading::default());
        let back = back.map_err(|faults| TestCaseError::fail(format!("{faults}\n{text}")))?;
        prop_assert_eq!(bare(&back), bare(&palette), "{}", text);
        prop_assert_eq!(bare(&through_toml(&back)), bare(&palette));
        // No cell begins as a formula does.
        let mut cells = csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(delimiter).from_reader(&sheet[..]);
        for record in cells.records() {
            for cell in record.unwrap().iter() {
                prop_assert!(!cell.starts_with(['=', '+', '@', '-', '\t', '\r']), "{cell}");
            }
        }
    }
}

/// The same shelf as four habits of spreadsheets write it.
#[test]
fn four_habits() {
    let plain = "material,cas,strength,price,max in product,bottle,rosy,fresh\n\
        Phenylethyl alcohol,60-12-8,40,1234.5,,,7,2.5\n\
        \"beta-Damascenone, 10 %\",23726-93-4,4000,2100,0.043,10 % in Dipropylene glycol,5,\n\
        Dipropylene glycol,,0,3,,,,\n";
    // Semicolons, decimal commas, a byte order mark, grouped thousands, other order.
    let european = "\u{feff}sep=;\r\nPRICE (EUR/kg);Rosy;Material;Strength;Bottle;CAS;Fresh;Max in product (%)\r\n\
        1.234,50 €;7,0;Phenylethyl alcohol;40;;CAS 60-12-8;2,5;\r\n\
        2.100,00 €;5;beta-Damascenone, 10 %;4.000;\"10 % in Dipropylene glycol\";CAS 23726-93-4;;0,043 %\r\n\
        3,00 €;;Dipropylene glycol;0;;;;\r\n";
    let european = european.replace(";Rosy;", ";rosy;").replace(";Fresh;", ";fresh;");
    // Tabs, quotes around everything, rows of separators, blanks at the ends.
    let tabs = "\"name\"\t\"cas\"\t\"strength\"\t\"price\"\t\"max_in_product\"\t\"bottle\"\t\"rosy\"\t\"fresh\"\t\"\"\r\n\
        \"Phenylethyl alcohol \"\t\"60-12-8\"\t\"40\"\t\"€1,234.50\"\t\"\"\t\"\"\t\"7\"\t\"2.5\"\t\"\"\r\n\t\t\t\t\t\t\t\t\r\n\
        \"beta-Damascenone, 10 %\"\t\"23726-93-4\"\t\"4000\"\t\"2,100.00 EUR\"\t\"0.043%\"\t\"10% in Dipropylene glycol\"\t\"5\"\t\"\"\t\"\"\r\n\
        \"Dipropylene glycol\"\t\"\"\t\"0\"\t\"3\"\t\"\"\t\"\"\t\"\"\t\"\"\t\"\"\r\n";
    // Narrow blanks between thousands, exponents, a column for the carrier, empty lines.
    let narrow = "material;strength;price;rosy;fresh;bottle;carrier;cas;max_in_product\n\n\
        Phenylethyl alcohol;4E+01;1\u{202f}234,50;7;2,5;;;60-12-8;\n\n\
        beta-Damascenone, 10 %;4\u{a0}000;2\u{202f}100;5;0;10 %;Dipropylene glycol;23726-93-4;0,0430\n\
        Dipropylene glycol;0;3;;;;;;\n";
    let wanted = bare(&read(plain.as_bytes(), &Reading::default()).unwrap_or_else(|faults| panic!("{faults}")));
    for (habit, text) in [("European", european.as_str()), ("tabs", tabs), ("narrow", narrow)] {
        let back = read(text.as_bytes(), &Reading::default()).unwrap_or_else(|faults| panic!("{habit}\n{faults}"));
        assert_eq!(bare(&back), wanted, "{habit}");
    }
    let palette = read(plain.as_bytes(), &Reading::default()).unwrap();
    assert_eq!(palette.materials[0].price_per_kg, Some(1234.5));
    assert_eq!(palette.materials[1].bottles, [Bottle { percent: 10.0, carrier: Some("Dipropylene glycol".into()) }]);
    assert_eq!(palette.currency, "EUR");
}

#[track_caller]
fn refused(text: &str, wanted: &[&str]) {
    let faults = read(text.as_bytes(), &Reading::default()).expect_err(text);
    for wanted in wanted {
        assert!(faults.contains(wanted), "no {wanted:?} in\n{faults}");
    }
}

#[test]
fn what_could_be_two_numbers_is_never_guessed() {
    let sheet = "material;strength;price;rosy\nA;40;1,234;7\nB;40;1,500;7\n";
    refused(
        sheet,
        &["row 2, column `price`: 1,234 may be 1234 or 1.234", "row 3", "--decimal point", "and the same in row 3"],
    );
    for (decimal, price) in [(DecimalSign::Point, 1234.0), (DecimalSign::Comma, 1.234)] {
        let reading = Reading { decimal: Some(decimal), ..Reading::default() };
        assert_eq!(read(sheet.as_bytes(), &reading).unwrap().materials[0].price_per_kg, Some(price));
    }
    // One cell settles it for all; a range does as well.
    let settled = read(sheet.replace("B;40;1,500;7", "B;40;2,5;7").as_bytes(), &Reading::default()).unwrap();
    assert_eq!(settled.materials[0].price_per_kg, Some(1.234));
    let settled = read(sheet.replace("1,500;7", "1,500;7,125").as_bytes(), &Reading::default()).unwrap();
    assert_eq!(settled.materials[1].price_per_kg, Some(1.5));
    // Both signs in one sheet.
    refused(
        "material;strength;price;rosy\nA;40;1.5;7\nB;40;2,5;7\n",
        &["row 3, column `price`: 2,5 has a decimal comma", "row 2 has 1.5"],
    );
}

#[test]
fn currencies_agree() {
    let sheet = |rows: &str| format!("material;strength;price;rosy\n{rows}");
    let pounds = read(sheet("A;1;£ 5;1\nB;1;7;1\n").as_bytes(), &Reading::default()).unwrap();
    assert_eq!(pounds.currency, "GBP");
    refused(&sheet("A;1;£ 5;1\nB;1;7 €;1\n"), &["row 3, column `price`: 7 €", "the currency is GBP"]);
    refused(&format!("#currency;USD\n{}", sheet("A;1;5 €;1\n")), &["row 3", "the currency is USD"]);
    refused(&sheet("A;1;$5;1\n"), &["may be several currencies", "--currency"]);
    let dollars = Reading { currency: Some("CAD".into()), ..Reading::default() };
    assert_eq!(read(sheet("A;1;$5;1\n").as_bytes(), &dollars).unwrap().currency, "CAD");
    refused("material;strength;price (USD/kg);rosy\nA;1;1;1\n", &["USD/kg is not the unit of price"]);
}

#[test]
fn faults_show_row_column_and_cell() {
    refused("material,price,rosy\nA,1,2\n", &["there is no column `strength`"]);
    refused("strength,price,rosy\n1,1,2\n", &["the headings cannot be read", "material"]);
    refused("material,strenght,rosy\nA,1,2\n", &["no heading is called strenght", "did you mean strength?"]);
    refused(
        "material,strength,rosy\nA,1,2\nA,1,x\n,1,1\nC,,1\n",
        &[
            "there are two materials named \"A\"",
            "in row 2",
            "row 3, column `rosy`: x is no score",
            "row 4, column `material`: a material has no name",
            "row 5, column `strength`: \"C\" has no strength",
            "4 faults",
        ],
    );
    refused("material,strength,rosy\nA,1,11\n", &["11 is no score", "from 0 to 10"]);
    refused("material,strength,rosy\nA,1,2,3\n", &["3 stands under no heading"]);
    refused("material,strength,rosy\nA,1,\"2\nB,1,2\n", &["a quote is opened here and never closed"]);
    refused("material,strength,cas,rosy\nA,1,1960-12-08,2\n", &["1960-12-08 is not a CAS number", "made a date"]);
    refused("material,strength,cas,rosy\nA,1,60-12-9,2\n", &["call for 8"]);
    refused("material,strength,price,rosy\nA,1,05.12.2024,2\n", &["05.12.2024 is a date"]);
    refused("#skale,10\nmaterial,strength,rosy\nA,1,2\n", &["nothing is called #skale", "did you mean #scale?"]);
    refused("material,strength,price,rosy\nA,1,x,2\n", &["row 2, column `price`: x is not a number"]);
    refused("#scale;1,000\nmaterial;strength;rosy\nA;1;2\n", &["row 1", "1,000 may be 1000 or 1.000"]);
    refused("material,strength,rosy\nA,0,2\n", &["a carrier has no scores"]);
    refused("material,strength,min,max,rosy\nA,1,5,2,2\n", &["min lies above max"]);
    refused("material,strength,rosy\n", &["there are no materials"]);
    refused("", &["the headings cannot be read"]);
    refused("material,strength,lasting (days),rosy\nA,1,3,1\n", &["days is not the unit of lasting"]);
    refused("material,strength,natural,rosy\nA,1,maybe,1\n", &["maybe is neither yes nor no"]);
    refused("material,strength,constituents,rosy\nA,1,Eugenol 3,1\n", &["97-53-0 = 0.9 %; or none"]);
    // The row is the one that the spreadsheet shows: two lines in a cell, an empty row.
    refused(
        "material,strength,handling,rosy\nA,1,\"warm\nslowly\",2\n\nB,1,,x\n",
        &["row 4, column `rosy`: x", "shelf.csv:5:"],
    );
}

#[test]
fn old_encodings_are_told() {
    let faults = read(b"material;strength;rosy\nC\xe9dre;1;2\n", &Reading::default()).unwrap_err();
    assert!(faults.contains("0xE9") && faults.contains("Windows-1252") && faults.contains("CSV UTF-8"), "{faults}");
}

#[test]
fn many_rows() {
    let sheet = |rows: usize, score: &str| {
        let rows: String = (0..rows).map(|at| format!("M{at},1,{score}\n")).collect();
        format!("material,strength,rosy\n{rows}")
    };
    assert_eq!(read(sheet(10_000, "2").as_bytes(), &Reading::default()).unwrap().materials.len(), 10_000);
    refused(&sheet(10_001, "2"), &["row 10002", "too many materials", "at most 10000"]);
    refused(&sheet(10_000, "x"), &["x is no score, and the same in 9999 more rows", "row 3"]);
}

fn formula(text: &str, reading: &Reading) -> Result<(Formula, Option<String>), String> {
    let folder = Folder::of(&[("f.csv", text)]);
    let palette = load_palette(Path::new("profiles/rose-otto/palette.toml")).unwrap();
    let read = import_formula(Path::new(&folder.path("f.csv")), &palette, reading);
    read.map(|read| (read.formula, read.note)).map_err(|faults| faults.render_to_width(false, 2000))
}

#[test]
fn formulas_come_back() {
    let palette = load_palette(Path::new("profiles/rose-otto/palette.toml")).unwrap();
    let mut doses = vec![Ppt::ZERO; palette.materials.len()];
    (doses[0], doses[3], doses[5]) = (Ppt::from_ppt(412.345), Ppt::from_ppt(0.6), Ppt::from_units(1));
    for basis in [Basis::Neat, Basis::Bottle] {
        let wanted = Formula { title: Some("=mod, 3".into()), ..Formula::from_doses(basis, &doses) };
        for (delimiter, decimal) in WRITINGS {
            let sheet = formula_sheet(&wanted, &palette, &Writing { delimiter, decimal });
            let (back, note) = formula(&String::from_utf8(sheet).unwrap(), &Reading::default()).unwrap();
            assert_eq!((back, note), (wanted.clone(), None));
        }
    }
}

#[test]
fn drops_become_parts_by_their_dilution() {
    let palette = load_palette(Path::new("profiles/rose-otto/palette.toml")).unwrap();
    let diluted = palette.materials.iter().find(|it| it.usual_fraction() == 0.1).expect("a bottle of 10 %");
    let text = format!("material;drops\nPhenylethyl alcohol;9\n{};10\n", diluted.name);
    let reading = Reading { drop_grams: Some(0.02), ..Reading::default() };
    let (read, note) = formula(&text, &reading).unwrap();
    // 9 drops neat beside 10 drops of which a tenth is neat: 9 to 1.
    let index = palette.materials.iter().position(|it| it.name == diluted.name).unwrap();
    assert_eq!((read.dose(0), read.dose(index)), (Ppt::from_ppt(900.0), Ppt::from_ppt(100.0)));
    assert_eq!(note.unwrap(), "19 drops of 0.02 g: 0.38 g poured, 0.2 g of it neat material");
    // A bottle that is said goes before the usual one, and several add up.
    let text = format!("material;drops;bottle\nPhenylethyl alcohol;9;\n{0};1;100 %\n{0};20;50\n", diluted.name);
    let (read, _) = formula(&text, &reading).unwrap();
    assert_eq!((read.dose(0), read.dose(index)), (Ppt::from_ppt(450.0), Ppt::from_ppt(550.0)));
    for (text, drop, wanted) in [
        ("material;drops\nLinalool;9\n", None, "--drop-mass 0.02"),
        ("material;grams\nLinalool;9\n", Some(0.02), "these are no drops"),
        ("material;parts\nLinalol;9\n", None, "did you mean `Linalool`?"),
        ("material;parts\nLinalool;9\nTotal;9\n", None, "leave out the row with the sum"),
        ("material;parts\nLinalool;9\nLinalool;9\n", None, "stands twice"),
        ("material;parts\nLinalool;1,234\n", None, "may be 1234 or 1.234"),
        ("material;amount\nLinalool;1\n", None, "no column for the amounts"),
        ("material;parts\nLinalool;0\n", None, "the formula has no parts"),
    ] {
        let faults = formula(text, &Reading { drop_grams: drop, ..Reading::default() }).unwrap_err();
        assert!(faults.contains(wanted), "{wanted}\n{faults}");
    }
}
