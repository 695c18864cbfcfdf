//! What limits files say of a category, and what their silence means.

use std::sync::Arc;

use permil::limits::{Allergen, Applies, Counts, Limit, Limits, Restriction, Review, Scope, Searched, Verified};
use permil::palette::{Cas, Material};
use permil::place::Place;
use permil::substances::MatchedBy;

fn place() -> Place {
    Place { file: Arc::from("limits.toml"), line: 1, column: 1 }
}

fn cas(number: &str) -> Cas {
    Cas::parse(number).expect("a number")
}

fn restriction(limits: &[(&str, Limit)]) -> Restriction {
    Restriction {
        substance: "Isoeugenol".to_owned(),
        place: place(),
        cas: vec![cas("97-54-1")],
        names: vec!["iso-Eugenol".to_owned()],
        source: "made up".to_owned(),
        verified: Verified::No,
        applies: Applies::All,
        limits: limits.iter().map(|(label, limit)| ((*label).to_owned(), *limit)).collect(),
        joint: None,
        specification: None,
    }
}

fn allergen(label_above: &[(&str, f64)]) -> Allergen {
    Allergen {
        name: "ISOEUGENOL".to_owned(),
        place: place(),
        cas: vec![cas("97-54-1")],
        names: vec!["iso-Eugenol".to_owned()],
        source: "made up".to_owned(),
        verified: Verified::No,
        label_above: label_above.iter().map(|(label, percent)| ((*label).to_owned(), *percent)).collect(),
    }
}

fn file(name: &str, restrictions: Vec<Restriction>, searched: Vec<(Option<&str>, Searched)>) -> Limits {
    let searched = searched.into_iter().map(|(label, what)| (label.map(str::to_owned), what)).collect();
    Limits { file: Arc::from(name), restrictions, allergens: Vec::new(), review: Review { searched, source: None } }
}

fn categories(labels: &[&str]) -> Vec<String> {
    labels.iter().map(|&label| label.to_owned()).collect()
}

/// A limit of a category by name and one for all of them hold together; "none" is no limit
/// beside another.
#[test]
fn the_smaller_limit_of_a_category_holds() {
    use Limit::{Percent, Unrestricted};
    let star_first = restriction(&[("*", Unrestricted), ("4", Percent(2.0)), ("9", Percent(0.5))]);
    assert_eq!(star_first.in_category("4"), Some(Percent(2.0)));
    assert_eq!(star_first.in_category("9"), Some(Percent(0.5)));
    assert_eq!(star_first.in_category("7"), Some(Unrestricted));
    let star_last = restriction(&[("4", Unrestricted), ("9", Percent(3.0)), ("*", Percent(0.7))]);
    assert_eq!((star_last.in_category("4"), star_last.in_category("9")), (Some(Percent(0.7)), Some(Percent(0.7))));
    assert_eq!(restriction(&[("4", Percent(1.0))]).in_category("9"), None);
    // Among several categories the smallest, the first of equal ones, and none of "none".
    assert_eq!(star_first.holding(&categories(&["4", "9"])), Some(("9", 0.5)));
    assert_eq!(star_first.holding(&categories(&["7"])), None);
    assert_eq!(star_last.holding(&categories(&["9"])), Some(("*", 0.7)));
    let equal = restriction(&[("4", Percent(1.0)), ("9", Percent(1.0))]);
    assert_eq!(equal.holding(&categories(&["9", "4"])), Some(("4", 1.0)));
}

/// A material without a number is known by its name, in the spelling of the file.
#[test]
fn names_count_where_there_is_no_number() {
    let material = |name: &str, number: Option<&str>| Material { cas: number.map(cas), ..named(name) };
    for counts in [&restriction(&[]) as &dyn Counts, &allergen(&[])] {
        assert_eq!(counts.matched(&material("Iso Eugenol", None)), Some(MatchedBy::Name));
        assert_eq!(counts.matched(&material("Eugenol", None)), None);
        assert_eq!(counts.matched(&material("Iso Eugenol", Some("97-53-0"))), None);
        assert_eq!(counts.matched(&material("Anything", Some("97-54-1"))), Some(MatchedBy::Number));
        assert_eq!(counts.names(), ["iso-Eugenol"]);
    }
}

/// A material that smells of nothing but its name.
fn named(name: &str) -> Material {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("palette.toml");
    let text = format!("[descriptors]\nrosy = \"rose\"\n[[material]]\nname = \"{name}\"\nstrength = 1\n");
    std::fs::write(&path, text).expect("written");
    let palette = permil::files::load_palette(&path).unwrap_or_else(|faults| panic!("{}", faults.render(false)));
    palette.materials.into_iter().next().expect("a material")
}

/// A label list speaks of a product where it was searched whole for one of its categories,
/// and only if there is a list.
#[test]
fn a_complete_label_list_says_for_which_categories() {
    let of = |searched: Vec<(Option<&str>, Searched)>, allergens: Vec<Allergen>| {
        let limits = Limits { allergens, ..file("labels.toml", Vec::new(), searched) };
        move |labels: &[&str]| limits.is_complete_label_list(&categories(labels))
    };
    let list = || vec![allergen(&[("leave-on", 0.001)])];
    let leave_on = of(vec![(Some("leave-on"), Searched::All)], list());
    assert!(leave_on(&["leave-on"]) && leave_on(&["4", "leave-on"]) && !leave_on(&["rinse-off"]) && !leave_on(&[]));
    let star = of(vec![(Some("*"), Searched::All)], list());
    assert!(star(&["rinse-off"]) && star(&[]));
    assert!(of(vec![(None, Searched::All)], list())(&["rinse-off"]));
    // Some numbers are not all; an empty list names nothing; silence is no search.
    let some = Searched::Numbers(vec![cas("97-54-1")]);
    assert!(!of(vec![(Some("leave-on"), some.clone())], list())(&["leave-on"]));
    assert!(of(vec![(None, some), (Some("leave-on"), Searched::All)], list())(&["leave-on"]));
    assert!(!of(vec![(None, Searched::All)], Vec::new())(&["leave-on"]));
    assert!(!of(Vec::new(), list())(&["leave-on"]));
}

/// A number that was searched for and found in no restriction is free; of one that nobody
/// searched for nothing is known.
#[test]
fn a_file_answers_for_what_its_sources_were_searched_for() {
    use Limit::Percent;
    let some = |numbers: &[&str]| Searched::Numbers(numbers.iter().map(|&number| cas(number)).collect());
    let files = [
        file(
            "first.toml",
            vec![restriction(&[("4", Percent(1.0)), ("*", Percent(9.0)), ("9", Percent(1.0))])],
            vec![(Some("4"), some(&["97-53-0", "106-22-9"]))],
        ),
        file(
            "second.toml",
            vec![restriction(&[("4", Percent(1.0))]), restriction(&[("5", Percent(2.0)), ("4", Percent(2.0))])],
            vec![(Some("5"), Searched::All), (None, some(&["97-53-0"]))],
        ),
        file("empty.toml", Vec::new(), vec![(Some("*"), Searched::All)]),
        file("third.toml", vec![restriction(&[("7", Percent(1.0))])], vec![(Some("*"), Searched::All)]),
    ];
    let scopes = Scope::of(&files);
    let told: Vec<_> = scopes.iter().map(|it| (&*it.file, it.restrictions.clone(), it.labels.join(" "))).collect();
    assert_eq!(
        told,
        [
            ("first.toml", 0..1, "4 9".to_owned()),
            ("second.toml", 1..3, "4 5".to_owned()),
            ("empty.toml", 3..3, String::new()),
            ("third.toml", 3..4, "7".to_owned()),
        ]
    );
    let uses = |label: &str| scopes.iter().map(|scope| scope.uses(label)).collect::<Vec<_>>();
    assert_eq!(uses("4"), [true, true, false, false]);
    assert_eq!(uses("*"), [true, true, false, true]);
    assert_eq!(uses("11"), [false; 4]);
    let searched = |number: &str, label: &str| {
        scopes.iter().map(|scope| scope.searched_for(&cas(number), label)).collect::<Vec<_>>()
    };
    assert_eq!(searched("97-53-0", "4"), [true, true, false, false]);
    // Another label than the one it was searched under, another number than those.
    assert_eq!(searched("97-53-0", "9"), [false; 4]);
    assert_eq!(searched("78-70-6", "4"), [false; 4]);
    // Every number under one label, every label of the file.
    assert_eq!(searched("78-70-6", "5"), [false, true, false, false]);
    assert_eq!(searched("78-70-6", "7"), [false, false, false, true]);
}
