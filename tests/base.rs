//! Bases: materials that are mixed by a formula of their own.

mod support;

use permil::balance::own::own_problem;
use permil::balance::product::{Plan, problem_of};
use permil::balance::unfold::unfold;
use permil::brief::Basis;
use permil::evaluate::evaluate;
use permil::files::{load_formula_alone, load_limits, load_palette};
use permil::palette::{Material, Palette};
use proptest::prelude::*;
use support::assert_close;
use support::program::{Folder, permil, reads_well};

const MOD: &str = "profiles/rose-base/mod-1.toml";
const PALETTE: &str = "profiles/rose-base/palette.toml";

fn material<'a>(palette: &'a Palette, name: &str) -> &'a Material {
    palette.materials.iter().find(|material| material.name == name).unwrap()
}

/// The numbers stand in profiles/six-materials/README.md, worked by hand.
#[test]
fn a_base_takes_its_numbers_from_its_formula() {
    let palette = load_palette(PALETTE.as_ref()).unwrap();
    let base = material(&palette, "Rose base");
    assert_close(base.strength, 6.6, 1e-12, "strength");
    assert_close(base.price_per_kg.unwrap(), 18.965, 1e-12, "price");
    let wanted = [5832.0 / 825.0, 2232.0 / 825.0, 595.0 / 825.0, 288.0 / 825.0, 0.0, 0.0];
    for (got, wanted) in base.scores.iter().zip(wanted) {
        assert!((got - wanted).abs() < 1e-12, "{got} for {wanted}");
    }
    assert_eq!(base.usual_fraction(), 0.5);
}

#[test]
fn unfolded_it_is_the_same_blend() {
    let (palette, formula, _) = load_formula_alone(MOD.as_ref()).unwrap();
    let unfolded = unfold(&palette, &formula).unwrap();
    assert_eq!(unfolded.bases, ["Rose base"]);
    assert_eq!(unfolded.formula.sum(), formula.sum());
    let dose = |name: &str| {
        let at = unfolded.palette.materials.iter().position(|material| material.name == name).unwrap();
        unfolded.formula.dose(at).to_string()
    };
    // 700 ppt of a base with 486 ppt of it; 10 ppt, and 5 ppt from its own bottle.
    assert_eq!((dose("Phenylethyl alcohol"), dose("Eugenol")), ("340.2".to_owned(), "12".to_owned()));
    assert_eq!(unfolded.formula.parts.len(), 8);
    let whole = evaluate(&own_problem(palette.clone(), &formula), &formula).unwrap();
    let parts = evaluate(&own_problem(unfolded.palette.clone(), &unfolded.formula), &unfolded.formula).unwrap();
    assert_close(parts.strength, whole.strength, 1e-12, "strength");
    assert_close(parts.price_per_kg.unwrap(), whole.price_per_kg.unwrap(), 1e-12, "price");
    for (a, b) in parts.profile.iter().zip(&whole.profile) {
        assert!((a - b).abs() < 1e-12, "{a} and {b}");
    }
}

/// Two bases in each other, a natural of known and one of unknown content.
fn nested() -> Folder {
    Folder::of(&[
        (
            "oils.toml",
            r#"
            [descriptors]
            rosy = "rose"
            spicy = "clove"
            [[material]]
            name = "Clove oil"
            cas = "8000-34-8"
            strength = 20
            natural = true
            constituents = { "97-53-0" = 80 }
            scores = { spicy = 8 }
            [[material]]
            name = "Old resin"
            strength = 5
            natural = true
            scores = { spicy = 1 }
            [[material]]
            name = "Eugenol"
            cas = "97-53-0"
            strength = 25
            scores = { spicy = 9 }
            [[material]]
            name = "Spice"
            formula = "spice.toml"
            "#,
        ),
        ("spice.toml", "palette = \"oils.toml\"\n[parts]\n\"Clove oil\" = 500\nEugenol = 300\n\"Old resin\" = 200\n"),
        ("carnation.toml", "palette = \"oils.toml\"\n[parts]\nSpice = 400\nEugenol = 600\n"),
        (
            "palette.toml",
            r#"
            [descriptors]
            spicy = "clove"
            musky = "skin"
            rosy = "rose"
            [[material]]
            name = "Carnation"
            formula = "carnation.toml"
            strength_factor = 2
            [[material]]
            name = "Eugenol"
            cas = "97-53-0"
            strength = 30
            scores = { spicy = 9 }
            [[material]]
            name = "Musk"
            strength = 5
            scores = { musky = 8 }
            "#,
        ),
        ("mod.toml", "palette = \"palette.toml\"\n[parts]\nCarnation = 500\nEugenol = 100\nMusk = 400\n"),
        (
            "limits.toml",
            r#"
            [[restriction]]
            substance = "eugenol, in all"
            cas = ["97-53-0"]
            source = "made up for this test"
            limits = { "4" = 50 }
            [[restriction]]
            substance = "eugenol, added"
            cas = ["97-53-0"]
            source = "made up for this test"
            applies = "added"
            limits = { "4" = 50 }
            [[restriction]]
            substance = "eugenol, in naturals"
            cas = ["97-53-0"]
            source = "made up for this test"
            applies = "constituents"
            limits = { "4" = 50 }
            "#,
        ),
    ])
}

#[test]
fn restrictions_reach_to_any_depth() {
    let folder = nested();
    let (palette, formula, _) = load_formula_alone(folder.path("mod.toml").as_ref()).unwrap();
    let limits = [load_limits(folder.path("limits.toml").as_ref()).unwrap()];
    let plan = Plan { categories: vec!["4".into()], dosage_percent: 20.0, accord_share_percent: 50.0 };
    // Carnation: 400 ppt of a base of 500 Clove oil (80 % of it eugenol), 300
    // eugenol and 200 resin; and 600 ppt of eugenol.
    let (natural, added) = (0.4 * 0.5 * 0.8, 0.4 * 0.3 + 0.6);
    let wanted = [(0.5 * (natural + added) + 0.1) * 10.0, (0.5 * added + 0.1) * 10.0, 0.5 * natural * 10.0];
    let unfolded = unfold(&palette, &formula).unwrap();
    for (palette, formula) in [(palette, formula), (unfolded.palette, unfolded.formula)] {
        let problem = problem_of(palette, &limits, Basis::Neat, std::slice::from_ref(&plan));
        let neat = problem.neat_ppt(&formula);
        for (used, wanted) in problem.substance_uses(&neat).iter().zip(wanted) {
            assert_close(used.use_percent, wanted, 1e-12, &problem.restrictions[used.restriction].substance);
        }
        let unknown = permil::analysis::unchecked::unknown_naturals(&problem, &neat);
        assert_eq!(unknown.len(), 1, "the resin, or the base that holds it");
    }
}

#[test]
fn what_only_shares_its_name_keeps_apart() {
    let folder = nested();
    let ran = permil(&[
        "weigh",
        &folder.path("mod.toml"),
        "--batch",
        "10",
        "--balance",
        "0.001",
        "--unfold",
        "--format",
        "json",
    ]);
    let json = ran.ended(0).json();
    assert_eq!(json["unfolded"], serde_json::json!(["Carnation"]));
    let grams = |name: &str| {
        let line = json["lines"].as_array().unwrap().iter().find(|line| line["material"] == name);
        line.unwrap_or_else(|| panic!("{name} is missing in {json}"))["grams"].as_f64().unwrap()
    };
    // The Eugenol of the base's palette has another strength.
    assert_eq!((grams("Eugenol"), grams("Eugenol (in Carnation)")), (1.0, 3.6));
    assert_eq!((grams("Clove oil"), grams("Old resin"), grams("Musk")), (1.0, 0.4, 4.0));
}

#[test]
fn texts_and_tables() {
    let ran = permil(&["weigh", MOD, "--batch", "10", "--balance", "0.001", "--unfold"]).ended(0);
    reads_well(&ran.stdout);
    insta::assert_snapshot!("weigh_unfolded", ran.stdout);
    let limits = ["--limits", "profiles/limits/eu-allergens.toml", "--category", "leave-on", "--dosage", "18"];
    let sources = |more: &[&str]| {
        let arguments = [&["product", MOD][..], &limits, more, &["--format", "json"]].concat();
        let json = permil(&arguments).ended(0).json();
        let label = json["label"].as_array().unwrap().iter().find(|line| line["name"] == "EUGENOL").unwrap().clone();
        let from: Vec<String> = label["from"].as_object().unwrap().keys().cloned().collect();
        (label["percent"].as_f64().unwrap(), from)
    };
    // 18 % of 12 ppt.
    assert_eq!(sources(&[]), (0.216, vec!["Eugenol".to_owned(), "Rose base".to_owned()]));
    assert_eq!(sources(&["--unfold"]), (0.216, vec!["Eugenol".to_owned()]));
    let text = permil(&[&["product", MOD, "--unfold"][..], &limits].concat()).ended(0);
    reads_well(&text.stdout);
    assert!(text.stdout.contains("Rose base is shown here as what it is mixed from."), "{}", text.stdout);
}

#[test]
fn proposals_use_it_like_any_other_material() {
    let json = permil(&["propose", "profiles/rose-base/brief.toml", "--format", "json"]).ended(0).json();
    assert_eq!(json["status"], "optimal");
    assert!(json["formula"]["parts"]["Rose base"].as_f64().unwrap() >= 100.0);
}

#[test]
fn a_sheet_keeps_it() {
    let folder = Folder::copy_of("profiles/rose-base");
    let (sheet, back) = (folder.path("shelf.csv"), folder.path("back.toml"));
    let palette = folder.path("palette.toml");
    // Its formula lies beside the folder in the repository.
    let six = std::fs::canonicalize("profiles/six-materials/formula.toml").unwrap();
    folder.change("palette.toml", "../six-materials/formula.toml", six.to_str().unwrap());
    permil(&["export", &palette, "--save", &sheet]).ended(0);
    permil(&["import", &sheet, "--save", &back]).ended(0);
    let (own, read) = (load_palette(palette.as_ref()).unwrap(), load_palette(back.as_ref()).unwrap());
    for (own, read) in own.materials.iter().zip(&read.materials) {
        assert_eq!((&own.name, own.strength, &own.scores), (&read.name, read.strength, &read.scores));
        assert_eq!((own.price_per_kg, &own.formula, &own.bottles), (read.price_per_kg, &read.formula, &read.bottles));
    }
    let sheet = folder
        .read("shelf.csv")
        .replace(&format!("{},", six.to_str().unwrap()), &format!("{},7", six.to_str().unwrap()));
    folder.write("shelf.csv", &sheet);
    let ran = permil(&["import", &folder.path("shelf.csv"), "--save", &folder.path("no.toml")]).ended(2);
    assert!(ran.stderr.contains("this follows from the formula of a base"), "{}", ran.stderr);
}

/// What is wrong with a base stands at the line that names its formula.
#[test]
fn broken_bases() {
    let wrong = |change: &dyn Fn(&Folder), wanted: &str| {
        let folder = nested();
        change(&folder);
        let ran = permil(&["shelf", &folder.path("palette.toml")]).ended(2);
        let text = ran.stderr.split_whitespace().filter(|word| *word != "|").collect::<Vec<_>>().join(" ");
        assert!(text.contains(wanted), "{wanted} is missing in {}", ran.stderr);
        assert!(
            ["palette.toml:8:", "palette.toml:9:"].iter().any(|place| ran.stderr.contains(place))
                || wanted.starts_with('`'),
            "{}",
            ran.stderr
        );
    };
    let changed =
        |file: &'static str, from: &'static str, to: &'static str| move |folder: &Folder| folder.change(file, from, to);
    wrong(&changed("palette.toml", "carnation.toml", "nowhere.toml"), "cannot be read, or is not there");
    wrong(&changed("carnation.toml", "600", "500"), "add up to 900, not 1000");
    wrong(&changed("carnation.toml", "[parts]", "basis = \"bottle\"\n[parts]"), "counts what is poured");
    wrong(&changed("carnation.toml", "Spice", "Spicy"), "no material of the palette is named");
    wrong(
        &changed("palette.toml", "spicy = \"clove\"\n", "dry = \"clove\"\n"),
        "smells of \"spicy\", which is no descriptor",
    );
    wrong(&changed("oils.toml", "[descriptors]", "scale = 5\n[descriptors]"), "has faults");
    wrong(
        &changed("palette.toml", "[descriptors]", "scale = 20\n[descriptors]"),
        "run to 10, those of this palette to 20",
    );
    wrong(&changed("palette.toml", "[descriptors]", "currency = \"USD\"\n[descriptors]"), "priced in EUR");
    wrong(
        &changed("spice.toml", "\"Old resin\" = 200", "Spice = 200"),
        "a base cannot hold itself: spice.toml holds spice.toml",
    );
    wrong(
        &changed("palette.toml", "strength_factor = 2", "strength = 2"),
        "`strength` follows from the formula of a base",
    );
    wrong(&changed("palette.toml", "strength_factor = 2", "scores = { spicy = 3 }"), "`scores` follows");
}

#[test]
fn rounds_and_towers_of_bases_are_refused() {
    let folder = Folder::of(&[("empty.txt", "")]);
    let palette = |name: &str, formula: &str| {
        format!("[descriptors]\nrosy = \"rose\"\n[[material]]\nname = \"{name}\"\nformula = \"{formula}\"\n")
    };
    let formula = |palette: &str, name: &str| format!("palette = \"{palette}\"\n[parts]\n\"{name}\" = 1000\n");
    folder.write("a.toml", &palette("A", "fa.toml"));
    folder.write("fa.toml", &formula("b.toml", "B"));
    folder.write("b.toml", &palette("B", "fb.toml"));
    folder.write("fb.toml", &formula("a.toml", "A"));
    let ran = permil(&["shelf", &folder.path("a.toml")]).ended(2);
    assert!(ran.stderr.contains("a base cannot hold itself: fa.toml holds fb.toml holds fa.toml"), "{}", ran.stderr);

    for level in 0..40 {
        folder.write(&format!("p{level}.toml"), &palette("X", &format!("f{level}.toml")));
        folder.write(&format!("f{level}.toml"), &formula(&format!("p{}.toml", level + 1), "X"));
    }
    folder.write(
        "p40.toml",
        "[descriptors]\nrosy = \"rose\"\n[[material]]\nname = \"X\"\nstrength = 3\nscores = { rosy = 4 }\n",
    );
    let ran = permil(&["shelf", &folder.path("p0.toml")]).ended(2);
    assert!(ran.stderr.contains("more than 32 bases within each other"), "{}", ran.stderr);
    let deep = load_palette(folder.path("p10.toml").as_ref()).unwrap();
    assert_eq!((deep.materials[0].strength, deep.materials[0].scores[0]), (3.0, 4.0));
}

#[test]
fn poured_parts_do_not_unfold() {
    let folder = nested();
    folder.change("mod.toml", "[parts]", "basis = \"bottle\"\n[parts]");
    for command in [
        &["weigh", "mod.toml", "--batch", "1", "--balance", "0.001", "--unfold"][..],
        &["product", "mod.toml", "--limits", "limits.toml", "--category", "4", "--dosage", "5", "--unfold"],
    ] {
        let arguments: Vec<String> =
            command.iter().map(|it| if it.ends_with(".toml") { folder.path(it) } else { (*it).to_owned() }).collect();
        let ran = permil(&arguments.iter().map(String::as_str).collect::<Vec<_>>()).ended(2);
        assert!(ran.stderr.contains("can only be unfolded in basis neat"), "{}", ran.stderr);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, rng_seed: proptest::test_runner::RngSeed::Fixed(8), failure_persistence: None, ..ProptestConfig::default() })]

    /// Shares of a dose add up to it, and none is off by more than rounding,
    /// but for the largest, which takes up what the others leave.
    #[test]
    fn shares_add_up(dose in 0_i64..=1_000_000_000_000, parts in proptest::collection::vec(1_u32..1000, 1..12)) {
        use permil::formula::Formula;
        use permil::units::Ppt;
        let raw: Vec<Ppt> = parts.iter().map(|part| Ppt::from_units(i64::from(*part))).collect();
        let whole = Formula::from_doses(Basis::Neat, &raw).rescaled();
        let doses: Vec<Ppt> = whole.parts.iter().map(|(_, dose)| *dose).collect();
        let dose = Ppt::from_units(dose);
        let shares = dose.shared_out(doses.iter().copied());
        prop_assert_eq!(shares.iter().copied().sum::<Ppt>(), dose);
        for (share, part) in shares.iter().zip(&doses) {
            let exact = dose.as_f64() * part.as_f64() / 1000.0;
            prop_assert!((share.as_f64() - exact).abs() <= 1e-9 * doses.len() as f64, "{share} for {exact}");
        }
    }
}
