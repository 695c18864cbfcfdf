//! Answers that fit a screen: how many lines the rose takes at 80 columns by
//! default, and that nothing exceeded or unchecked is lost for it.

mod support;

use support::program::{Folder, permil, reads_well};

const BRIEF: &str = "profiles/rose-otto/brief.toml";
const MOD: &str = "profiles/rose-otto/mod-1.toml";
const PALETTE: &str = "profiles/rose-otto/palette.toml";
const TRIALS: &str = "profiles/rose-otto/trials.toml";
const MATCHES: &str = "profiles/rose-otto/matches.toml";
const WISHLIST: &str = "profiles/rose-otto/wishlist.toml";
const LIMITS: [&str; 6] = [
    "--limits",
    "profiles/limits/ifra.toml",
    "--limits",
    "profiles/limits/eu.toml",
    "--limits",
    "profiles/limits/eu-allergens.toml",
];

/// A command on the rose, and the most lines that it takes.
const QUICK: [(&[&str], usize); 10] = [
    (&["shelf", PALETTE], 40),
    (&["shelf", PALETTE, "--find", "rosy,green"], 40),
    (&["journal", TRIALS, "--brief", BRIEF, "--today", "2026-10-20"], 40),
    (&["learn", TRIALS], 55),
    (&["strengths", PALETTE, MATCHES], 40),
    (&["weigh", MOD, "--batch", "10", "--balance", "0.001", "--brief", BRIEF], 40),
    (&["replace", BRIEF, MOD, "--out", "Linalool"], 40),
    (&["strip", MOD, "--brief", BRIEF], 40),
    (&["compare", BRIEF, MOD], 40),
    // Side by side, every dose stays in sight.
    (&["compare", BRIEF, MOD, MOD], 42),
];

/// The same of those that look for formulas first.
const SEARCHING: [(&[&str], usize); 11] = [
    // Time enough for every question on a slow machine too.
    (&["propose", BRIEF, "--time-limit", "300"], 40),
    (&["check", BRIEF, "--time-limit", "300"], 40),
    (&["adjust", BRIEF, MOD, "--more", "rosy", "--less", "metallic", "--time-limit", "300"], 40),
    (&["doubt", BRIEF, "--draws", "2000"], 40),
    (&["doubt", BRIEF, MOD, MOD, "--draws", "2000"], 40),
    (&["push", BRIEF, "beta-Damascenone"], 40),
    (&["next", BRIEF, TRIALS], 40),
    (&["starts", BRIEF], 40),
    (&["buy", BRIEF, "--from", WISHLIST], 40),
    (&["leeway", BRIEF], 55),
    (&["tradeoff", BRIEF], 55),
];

fn fits(arguments: &[&str], most: usize) {
    let ran = permil(arguments).ended(0);
    reads_well(&ran.stdout);
    let lines = ran.stdout.lines().count();
    assert!(lines <= most, "{arguments:?}: {lines} lines\n{}", ran.stdout);
    // What is folded away is there for whoever asks, and the answer says so.
    assert!(ran.stdout.contains("--full"), "{arguments:?}\n{}", ran.stdout);
}

#[test]
fn answers_of_files_alone_fit_a_screen() {
    for (arguments, most) in QUICK {
        fits(arguments, most);
    }
    let product = ["product", MOD, "--category", "4,leave-on,fine-fragrance", "--dosage", "18", "--batch", "50"];
    fits(&[&product[..], &LIMITS].concat(), 40);
}

#[test]
fn answers_that_search_fit_a_screen() {
    for (arguments, most) in SEARCHING {
        fits(arguments, most);
    }
}

#[test]
fn full_is_longer_and_leaves_figures_as_they_are() {
    for arguments in [QUICK[0].0, QUICK[2].0, QUICK[5].0] {
        let [short, full] = [&[][..], &["--full"]].map(|more| permil(&[arguments, more].concat()).ended(0).stdout);
        assert!(full.lines().count() > short.lines().count(), "{arguments:?}\n{full}");
        assert!(!full.contains("--full adds"), "{full}");
        for format in ["json", "csv"] {
            let format = ["--format", format];
            let [one, other] = [&format[..], &["--format", format[1], "--full"]]
                .map(|more| permil(&[arguments, more].concat()).stdout);
            assert_eq!(one, other, "{arguments:?}");
        }
    }
}

const SHELF: &str = r#"
[descriptors]
floral = ""
[[material]]
name = "Linalool"
cas = "78-70-6"
strength = 10
price = 20
scores = { floral = 5 }
[[material]]
name = "Methyl eugenol"
cas = "93-15-2"
strength = 5
price = 5
scores = { floral = 1 }
[[material]]
name = "Nameless absolute"
strength = 20
price = 90
scores = { floral = 6 }
"#;
const FIGURES: &str = r#"
[[restriction]]
substance = "Methyl eugenol"
cas = ["93-15-2"]
source = "IFRA Standard 'Methyl eugenol', 49th Amendment (2020)"
verified = true
limits = { "4" = 0.016 }
"#;

/// What is exceeded, what has no figure and what has no CAS number: never
/// folded away.
#[test]
fn an_exceeded_limit_and_what_was_not_checked_are_named() {
    let folder = Folder::of(&[
        ("palette.toml", SHELF),
        ("limits.toml", FIGURES),
        (
            "formula.toml",
            "palette = \"palette.toml\"\n[parts]\nLinalool = 500\n\"Methyl eugenol\" = 300\n\"Nameless absolute\" = 200\n",
        ),
        (
            "brief.toml",
            "palette = \"palette.toml\"\nlimits = \"limits.toml\"\n[target]\nfloral = 5\n[[use]]\ncategory = [\"4\"]\n\
             dosage = 20\n",
        ),
    ]);
    let [formula, limits, brief] = ["formula.toml", "limits.toml", "brief.toml"].map(|name| folder.path(name));
    let product = permil(&["product", &formula, "--limits", &limits, "--category", "4", "--dosage", "20"]).ended(1);
    let weigh = permil(&["weigh", &formula, "--batch", "10", "--balance", "0.001", "--brief", &brief]).ended(0);
    for ran in [product, weigh] {
        reads_well(&ran.stdout);
        // 300 of 1000 at 20 % are 6 % of the product.
        let told = ran.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
        for said in [
            "EXCEEDED: Methyl eugenol 6.00 %, limit 0.016 %",
            "Linalool",
            "No CAS number, so that limits pass it by: Nameless absolute.",
        ] {
            assert!(told.contains(said), "{said}\n{}", ran.stdout);
        }
        assert!(told.contains("a figure on file: Linalool"), "{}", ran.stdout);
    }
}

/// The same of answers that show a formula beside a brief: `compare` judges one
/// that exceeds a limit, `propose` must use what no limit knows.
#[test]
fn short_answers_on_a_formula_name_what_is_exceeded_or_was_not_checked() {
    let brief = "palette = \"palette.toml\"\nlimits = \"limits.toml\"\n[target]\nfloral = 5\n[[use]]\ncategory = \
                 [\"4\"]\ndosage = 20\n[doses]\n\"Nameless absolute\" = { fixed = 200 }\n";
    let formula = "palette = \"palette.toml\"\n[parts]\nLinalool = 500\n\"Methyl eugenol\" = 300\n\"Nameless \
                   absolute\" = 200\n";
    let files = [("palette.toml", SHELF), ("limits.toml", FIGURES), ("formula.toml", formula), ("brief.toml", brief)];
    let folder = Folder::of(&files);
    let [formula, brief] = ["formula.toml", "brief.toml"].map(|name| folder.path(name));
    let told = |arguments: &[&str]| {
        let ran = permil(arguments).ended(0);
        reads_well(&ran.stdout);
        ran.stdout.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let compared = told(&["compare", &brief, &formula]);
    let proposed = told(&["propose", &brief]);
    let exceeded = "EXCEEDED: Methyl eugenol 6.00 %, limit 0.016 %";
    assert!(compared.contains(exceeded), "{compared}");
    assert!(!proposed.contains("EXCEEDED"), "{proposed}");
    for text in [&compared, &proposed] {
        for said in ["No CAS number, so limits pass it by: Nameless absolute.", "Not fully checked: Linalool in"] {
            assert!(text.contains(said), "{said}\n{text}");
        }
    }
    // Asked for, every limit is told in its place.
    let limits = told(&["compare", &brief, &formula, "--limits"]);
    assert!(limits.contains("Percent of each limit used"), "{limits}");
    assert!(!limits.contains("Where the limits come from"), "{limits}");
    let sources = told(&["compare", &brief, &formula, "--sources"]);
    assert!(sources.contains(exceeded) && sources.contains("Where the limits come from"), "{sources}");
}
