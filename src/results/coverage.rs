//! What the limits files know of what is in a formula.

use serde::Serialize;

use super::limits::VerifiedWord;
use super::states::FigureKnown;
use crate::analysis::coverage::{Answer, Asked, Coverage};
use crate::problem::Problem;

/// What the limits files know of what is in a formula.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct CoverageReport {
    /// Whether they know every material in every category asked for.
    pub complete: bool,
    /// Materials that were asked about: all but carriers without a number.
    pub materials: usize,
    /// Those with a figure, or looked up and free, in every category.
    pub with_figure: usize,
    /// The same category by category.
    pub by_category: Vec<CategoryCount>,
    /// What the files say of each substance in each category.
    pub answers: Vec<AnswerLine>,
    /// What they have no figure for.
    pub without_figure: Vec<WithoutFigure>,
    /// What each file's sources were, as far as it says what it was searched for.
    pub reviewed_in: Vec<String>,
}

/// How much is known in one category.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CategoryCount {
    /// Name of the finished product, if it has one.
    #[serde(rename = "use")]
    pub product: Option<String>,
    /// The category.
    pub category: String,
    /// Materials with a figure, or looked up and free, in it.
    pub with_figure: usize,
}

/// What the files say of one substance in one category.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AnswerLine {
    /// The material.
    pub material: String,
    /// What of it: its own name, or that of a constituent; null where nobody
    /// names the constituent.
    pub substance: Option<String>,
    /// Its CAS number.
    pub cas: Option<String>,
    /// Name of the finished product, if it has one.
    #[serde(rename = "use")]
    pub product: Option<String>,
    /// The category.
    pub category: String,
    /// `limit`, `free`, or one of the reasons of [`WithoutFigure`].
    pub answer: FigureKnown,
    /// The smallest limit in percent of the finished product.
    pub limit_percent: Option<f64>,
    /// Whether that figure was checked in its source.
    pub verified: Option<VerifiedWord>,
    /// Its document, edition and year.
    pub source: Option<String>,
}

/// Something that the files have no figure for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WithoutFigure {
    /// The material.
    pub material: String,
    /// What of it: its own name, or that of a constituent; null where nobody
    /// names the constituent.
    pub substance: Option<String>,
    /// Its CAS number.
    pub cas: Option<String>,
    /// Name of the finished product, if it has one.
    #[serde(rename = "use")]
    pub product: Option<String>,
    /// The category.
    pub category: String,
    /// `no figure for this category`, `in no file`, `constituents unknown` or
    /// `no CAS number`.
    pub reason: FigureKnown,
    /// Whether the material says that it contains the substance, rather than
    /// being it.
    #[serde(skip)]
    pub within: bool,
}

impl CoverageReport {
    /// What the files know of the materials of which there is something;
    /// `None` where no limits file was given or no product has a dosage.
    pub fn new(problem: &Problem, neat_ppt: &[f64]) -> Option<CoverageReport> {
        CoverageReport::of(problem, |material| neat_ppt[material] > 0.0)
    }

    /// The same of materials that may be used.
    pub fn of(problem: &Problem, is_in: impl Fn(usize) -> bool) -> Option<CoverageReport> {
        let has_files = problem.scopes.iter().any(|scope| !scope.restrictions.is_empty());
        let has_product = problem.products.iter().any(|product| product.dosage_percent.is_some());
        (has_files && has_product).then(|| CoverageReport::told(problem, &Coverage::of(problem, is_in)))
    }

    fn told(problem: &Problem, coverage: &Coverage) -> CoverageReport {
        let name = |product: usize| problem.products[product].name.clone();
        let mut categories: Vec<(usize, &str)> = Vec::new();
        for asked in &coverage.asked {
            if !categories.contains(&(asked.product, &asked.category)) {
                categories.push((asked.product, &asked.category));
            }
        }
        categories.sort_by_key(|(product, _)| *product);
        let count = |&(product, category): &(usize, &str)| CategoryCount {
            product: name(product),
            category: category.to_owned(),
            with_figure: coverage.in_category(product, category).known().len(),
        };
        let material = |asked: &Asked| problem.material(asked.material).name.clone();
        let line = |asked: &Asked| {
            let limit = match asked.answer {
                Answer::Limited { restriction, percent } => Some((&problem.restrictions[restriction], percent)),
                _ => None,
            };
            AnswerLine {
                material: material(asked),
                substance: asked.substance.clone(),
                cas: asked.cas.as_ref().map(ToString::to_string),
                product: name(asked.product),
                category: asked.category.clone(),
                answer: asked.answer.into(),
                limit_percent: limit.map(|(_, percent)| percent),
                verified: limit.map(|(restriction, _)| VerifiedWord(restriction.verified.clone())),
                source: limit.map(|(restriction, _)| restriction.source.clone()),
            }
        };
        let lacking = |asked: &Asked| WithoutFigure {
            material: material(asked),
            substance: asked.substance.clone(),
            cas: asked.cas.as_ref().map(ToString::to_string),
            product: name(asked.product),
            category: asked.category.clone(),
            reason: asked.answer.into(),
            within: asked.within,
        };
        let silent = coverage.asked.iter().filter(|asked| !asked.answer.is_known());
        let has_free = coverage.asked.iter().any(|asked| asked.answer == Answer::Free);
        CoverageReport {
            complete: coverage.is_complete(),
            materials: coverage.materials().len(),
            with_figure: coverage.known().len(),
            by_category: categories.iter().map(count).collect(),
            answers: coverage.asked.iter().map(line).collect(),
            without_figure: silent.map(lacking).collect(),
            reviewed_in: if has_free { searched(problem) } else { Vec::new() },
        }
    }

    /// Whether there is a figure, or a word that there is none, for anything.
    pub fn knows_anything(&self) -> bool {
        self.answers.iter().any(|line| matches!(line.answer, FigureKnown::Limit | FigureKnown::Free))
    }
}

/// What the files with a review were searched in.
fn searched(problem: &Problem) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    // A list of names for the label frees nothing.
    let scopes = problem.scopes.iter().filter(|scope| !scope.restrictions.is_empty());
    for source in scopes.filter_map(|scope| scope.review.source.as_ref()) {
        if !all.contains(source) {
            all.push(source.clone());
        }
    }
    all
}
