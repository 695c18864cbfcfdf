//! A brief that is small enough to be listed, and what becomes of certificates
//! beside it.

use permil::certificate::{self, Certificate, Fault, check, column_names};
use permil::model::Blend;
use permil::problem::Problem;

use super::load;

/// Four materials of three descriptors.
pub const FOUR_MATERIALS: &str = r#"
[descriptors]
rosy = ""
green = ""
spicy = ""
[[material]]
name = "Alpha"
strength = 30
scores = { rosy = 8, green = 2 }
price = 40
[[material]]
name = "Beta"
strength = 50
scores = { green = 7, spicy = 1 }
price = 90
[[material]]
name = "Gamma"
strength = 90
scores = { spicy = 6, rosy = 2 }
price = 150
[[material]]
name = "Delta"
strength = 20
scores = { rosy = 4, green = 4, spicy = 3 }
price = 20
"#;

/// A brief of the four with steps, a count and a budget.
pub const SMALL_BRIEF: &str = r#"
palette = "palette.toml"
match = "level"
[target]
rosy = 5
green = 3
spicy = 2
[formula]
step = 50
min_dose = 100
max_materials = 3
[budget]
max_price = 80
"#;

/// The brief above.
pub fn small() -> Problem {
    load(FOUR_MATERIALS, SMALL_BRIEF)
}

/// The names that a problem's certificate has to give its columns.
pub fn names_of(problem: &Problem) -> Vec<String> {
    column_names(&Blend::new(problem), &problem.palette)
}

/// How many parts of a certificate are closed, or what is wrong with it.
pub fn verdict(problem: &Problem, certificate: &Certificate) -> Result<usize, Fault> {
    check(certificate, &Blend::new(problem), &names_of(problem))
}

/// Whether a certificate, as the text of a file, can be read and passes.
pub fn passes(problem: &Problem, text: &str) -> bool {
    certificate::read(text).is_ok_and(|certificate| verdict(problem, &certificate).is_ok())
}

/// The text of a certificate of so many of the columns, of what stands above its
/// tree and of the tree.
pub fn forged(names: &[String], claim: &str, above: &str, tree: &str) -> String {
    let columns: String = names.iter().enumerate().map(|(k, name)| format!("column {k} {name:?}\n")).collect();
    format!("permil certificate 1\nclaim {claim}\n{columns}{above}tree\n{tree}")
}
