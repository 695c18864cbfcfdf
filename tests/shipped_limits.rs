//! The shipped limits, label list and table of substances agree with each
//! other, and with the shipped shelves.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use permil::files::{check_substances, load_limits, load_palette, substances};
use permil::limits::{Counts, Limits};
use permil::palette::{Cas, Material};
use permil::substances::{Substance, same_name};

fn profiles() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles")
}

fn read(name: &str) -> Limits {
    load_limits(&profiles().join(name)).unwrap_or_else(|faults| panic!("{}", faults.render(false)))
}

/// Every limits file that is shipped. Reading them checks every check digit.
fn shipped() -> Vec<Limits> {
    ["limits/eu-allergens.toml", "limits/eu.toml", "limits/ifra.toml", "rose-otto/limits.toml"].map(read).into()
}

/// (file and name, row) of everything that counts substances.
fn rows(files: &[Limits]) -> Vec<(String, &dyn Counts)> {
    let mut rows: Vec<(String, &dyn Counts)> = Vec::new();
    for file in files {
        rows.extend(file.restrictions.iter().map(|it| (format!("{}: {}", file.file, it.substance), it as &dyn Counts)));
        rows.extend(file.allergens.iter().map(|it| (format!("{}: {}", file.file, it.name), it as &dyn Counts)));
    }
    rows
}

fn row(cas: &Cas) -> &'static Substance {
    substances().by_number(cas).unwrap_or_else(|| panic!("{cas} is not in the table"))
}

fn number(text: &str) -> Cas {
    Cas::parse(text).expect("a CAS number")
}

#[test]
fn the_table_reads_without_a_fault_and_no_name_means_two_sums() {
    let table = check_substances().unwrap_or_else(|faults| panic!("{}", faults.render(false)));
    assert_eq!(&table, substances());
    assert!(table.rows.len() > 200, "{} rows", table.rows.len());
    for (at, one) in table.rows.iter().enumerate() {
        for other in &table.rows[at + 1..] {
            for name in &one.names {
                assert!(!other.names.iter().any(|it| same_name(it, name)), "{name}: {} and {}", one.cas, other.cas);
            }
        }
    }
}

#[test]
fn no_limit_and_no_label_counts_a_part_of_a_sum() {
    let files = shipped();
    for (name, counted) in rows(&files) {
        for cas in counted.cas() {
            let sum = &row(cas).sum;
            let missing: Vec<&str> = substances()
                .of_sum(sum)
                .filter(|other| !counted.cas().contains(&other.cas))
                .map(|other| other.cas.as_str())
                .collect();
            assert!(missing.is_empty(), "{name} counts {cas} and not {} of {sum}", missing.join(", "));
        }
    }
}

#[test]
fn names_in_the_limits_and_the_label_list_are_those_of_the_table() {
    // The rose shelf has numbers throughout; its own limits file needs no names.
    let files = ["limits/eu-allergens.toml", "limits/eu.toml", "limits/ifra.toml"].map(read);
    for (name, counted) in rows(&files) {
        let own: BTreeSet<&String> = counted.names().iter().collect();
        let table: BTreeSet<&String> = counted.cas().iter().flat_map(|cas| &row(cas).names).collect();
        assert_eq!(own, table, "{name}");
    }
}

#[test]
fn limits_and_labels_sum_the_same_isomers() {
    let files = shipped();
    // (a number, how many numbers its sum has)
    for (cas, count) in [("97-54-1", 3), ("23696-85-7", 16), ("106-22-9", 4), ("5392-40-5", 3), ("5989-27-5", 4)] {
        let whole: BTreeSet<&Cas> = substances().of_sum(&row(&number(cas)).sum).map(|it| &it.cas).collect();
        assert_eq!(whole.len(), count, "{cas}");
        let counting: Vec<_> = rows(&files).into_iter().filter(|(_, it)| it.cas().contains(&number(cas))).collect();
        assert!(counting.len() >= 2, "{cas} is in {} rows", counting.len());
        for (name, counted) in counting {
            let listed: BTreeSet<&Cas> = counted.cas().iter().collect();
            assert!(whole.is_subset(&listed), "{name} does not count all of {cas}");
        }
    }
}

#[test]
fn what_the_reference_names_is_there() {
    let files = shipped();
    let rows = rows(&files);
    let counted =
        |file: &str, cas: &str| rows.iter().any(|(name, it)| name.contains(file) && it.cas().contains(&number(cas)));
    for (file, cas) in [
        ("eu.toml", "5932-68-3"),
        ("eu.toml", "5912-86-7"),
        ("ifra.toml", "5932-68-3"),
        ("ifra.toml", "89957-91-5"),
        ("ifra.toml", "72968-50-4"),
        ("eu.toml", "23726-91-2"),
        ("ifra.toml", "23726-91-2"),
        ("rose-otto/limits.toml", "23726-91-2"),
        ("eu-allergens.toml", "23726-93-4"),
        ("ifra.toml", "106-26-3"),
    ] {
        assert!(counted(file, cas), "{cas} in {file}");
    }
}

/// Everything on the shipped shelves, what bases are mixed from included.
fn shelves() -> Vec<Material> {
    let shelves =
        ["rose-otto/palette.toml", "rose-otto/wishlist.toml", "rose-base/palette.toml", "six-materials/palette.toml"];
    let read = |name: &str| {
        load_palette(&profiles().join(name)).unwrap_or_else(|faults| panic!("{}", faults.render(false))).materials
    };
    shelves.into_iter().flat_map(read).collect()
}

#[test]
fn no_material_of_the_shipped_shelves_escapes_by_its_number() {
    let mut known = 0;
    for material in shelves() {
        let Some(by_name) = substances().by_name(&material.name) else { continue };
        let cas = material.cas.as_ref().unwrap_or_else(|| panic!("{} has no number", material.name));
        assert_eq!(row(cas).sum, by_name.sum, "{} is {cas}", material.name);
        known += 1;
    }
    assert!(known >= 20, "{known} materials are known by name");
}

#[test]
fn the_number_of_the_guides_example_belongs_to_what_it_is_called() {
    let text = std::fs::read_to_string(profiles().join("FILES.md")).expect("the guide");
    let example = text.lines().find(|line| line.starts_with("beta-Damascenone,")).expect("the example");
    let cas = example.split(',').nth(1).and_then(|cell| cell.strip_prefix("CAS ")).expect("a number");
    assert_eq!(row(&number(cas)).sum, "Rose ketones");
}

#[test]
fn phototoxic_oils_of_the_trade_share_one_sum_and_are_marked() {
    let trade = read("limits/ifra.toml");
    let joint: Vec<_> = trade.restrictions.iter().filter(|it| it.joint.as_deref() == Some("phototoxic")).collect();
    assert_eq!(joint.len(), 3);
    for restriction in joint {
        assert!(restriction.cas.iter().all(|cas| row(cas).phototoxic), "{}", restriction.substance);
    }
}

/// One row may not stand for two sums by a name: a material without a number
/// would count under both.
#[test]
fn a_name_means_the_same_in_every_file() {
    let files = shipped();
    let mut meant: BTreeMap<String, BTreeSet<&str>> = BTreeMap::new();
    for (_, counted) in rows(&files) {
        for name in counted.names() {
            let known = substances().by_name(name).unwrap_or_else(|| panic!("{name} is not in the table"));
            assert!(counted.cas().contains(&known.cas), "{name}");
            meant.entry(name.to_lowercase()).or_default().insert(&known.sum);
        }
    }
    assert!(meant.values().all(|sums| sums.len() == 1));
}
