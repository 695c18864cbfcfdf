//! What the limits files know of what is in a formula, and the sentences that
//! every text, page and sheet says of it.

use serde::Serialize;

use super::limits::VerifiedWord;
use super::states::FigureKnown;
use crate::analysis::coverage::{Answer, Asked, Coverage};
use crate::limits::EVERY_CATEGORY;
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

/// The reasons that are told with names after them, in their order; of unknown
/// constituents a sentence of its own comes first.
const REASONS: [FigureKnown; 3] = [FigureKnown::NoCas, FigureKnown::InNoFile, FigureKnown::NoFigure];

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

    /// The two sentences that matter most, for the head of a report.
    pub fn summary(&self) -> Vec<String> {
        let mut all = self.sentences();
        all.truncate(if self.complete { 1 } else { self.unknown().len() + 1 });
        all
    }

    /// Whether there is a figure, or a word that there is none, for anything.
    pub fn knows_anything(&self) -> bool {
        self.answers.iter().any(|line| matches!(line.answer, FigureKnown::Limit | FigureKnown::Free))
    }

    /// How many of the materials have a figure: "6 of 10 materials have a
    /// figure". The others are named in the further sentences. Names as they
    /// are: whoever shows them escapes them.
    pub fn sentences(&self) -> Vec<String> {
        if self.materials == 0 || self.complete {
            let mut all = self.counts();
            all.extend(self.edition().filter(|_| self.materials > 0));
            return all;
        }
        let mut all = self.unknown();
        all.extend(self.counts());
        for reason in REASONS {
            all.extend(self.groups(reason));
        }
        all.push(
            "What is named here was not checked: that no limit stands here does not mean that there is none."
                .to_owned(),
        );
        all.extend(self.edition());
        all
    }

    /// How many of the materials have a figure, without naming any.
    pub fn counts(&self) -> Vec<String> {
        let count = self.materials;
        if self.complete {
            return match count {
                0 => Vec::new(),
                1 => vec!["The material has a figure on file, or was looked up and is free.".to_owned()],
                _ => vec![format!("All {count} materials have a figure on file, or were looked up and are free.")],
            };
        }
        if count == 0 {
            return Vec::new();
        }
        let have = match self.with_figure {
            0 => format!("None of the {count} materials has"),
            1 => format!("1 of {count} materials has"),
            some => format!("{some} of {count} materials have"),
        };
        let several = self.by_category.len() > 1;
        let what = if several { "a figure in every category" } else { "a figure on file" };
        let mut all = vec![format!("{have} {what}.")];
        if several {
            let each: Vec<String> = self
                .by_category
                .iter()
                .map(|it| {
                    format!("{}: {} of {count}", self.called(it.product.as_deref(), &it.category), it.with_figure)
                })
                .collect();
            all.push(format!("With a figure in category {}.", each.join("; ")));
        }
        all
    }

    /// Naturals of which nobody knows what they contain.
    fn unknown(&self) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for line in self.without_figure.iter().filter(|line| line.reason == FigureKnown::ConstituentsUnknown) {
            if !names.contains(&line.what()) {
                names.push(line.what());
            }
        }
        let (is, what) = match names.len() {
            0 => return Vec::new(),
            1 => ("is a natural", "it brings"),
            _ => ("are naturals", "they bring"),
        };
        let names = names.join(" and ");
        vec![format!(
            "Not fully checked: {names} {is} of unknown constituents, so what {what} is in none of the figures."
        )]
    }

    /// The edition in which something was looked up and found free.
    fn edition(&self) -> Option<String> {
        (!self.reviewed_in.is_empty()).then(|| format!("Looked up in: {}.", self.reviewed_in.join("; ")))
    }

    /// A category, with its product where there are several.
    fn called(&self, product: Option<&str>, category: &str) -> String {
        let label = if category == EVERY_CATEGORY { "every one" } else { category };
        let many = self.by_category.iter().any(|it| it.product.as_deref() != product);
        match product {
            Some(product) if many => format!("{label} ({product})"),
            _ => label.to_owned(),
        }
    }

    /// The materials and constituents with one reason, put together by the
    /// categories in which it holds.
    fn groups(&self, reason: FigureKnown) -> Vec<String> {
        let of_reason = || self.without_figure.iter().filter(|line| line.reason == reason);
        // A constituent that is in the formula as such is named once.
        let told = |line: &WithoutFigure| {
            line.within
                && of_reason().any(|it| {
                    let same = (&it.cas, &it.product, &it.category) == (&line.cas, &line.product, &line.category);
                    same && !it.within
                })
        };
        // (what, the categories in which the reason holds)
        let mut each: Vec<(String, Vec<String>)> = Vec::new();
        for line in of_reason().filter(|line| !told(line)) {
            let category = self.called(line.product.as_deref(), &line.category);
            let what = line.what();
            match each.iter_mut().find(|(other, _)| *other == what) {
                Some((_, categories)) if categories.contains(&category) => {}
                Some((_, categories)) => categories.push(category),
                None => each.push((what, vec![category])),
            }
        }
        let mut groups: Vec<(Vec<String>, Vec<String>)> = Vec::new();
        for (what, categories) in each {
            match groups.iter_mut().find(|(of, _)| *of == categories) {
                Some((_, whats)) => whats.push(what),
                None => groups.push((categories, vec![what])),
            }
        }
        let sentence = |(categories, whats): (Vec<String>, Vec<String>)| {
            let whats = whats.join(", ");
            let everywhere = categories.len() == self.by_category.len();
            let word = if categories.len() == 1 { "category" } else { "categories" };
            let named = format!("{word} {}", categories.join(" and "));
            let of = if everywhere { String::new() } else { format!(" for {named}") };
            match reason {
                FigureKnown::NoCas => format!("No CAS number, so that limits pass it by: {whats}."),
                FigureKnown::InNoFile => format!("In no limits file{of}: {whats}."),
                _ => format!("Restricted, but no figure for {named}: {whats}."),
            }
        };
        groups.into_iter().map(sentence).collect()
    }
}

impl WithoutFigure {
    /// The material, or a constituent and what it is in.
    fn what(&self) -> String {
        let number = || self.cas.clone().unwrap_or_default();
        match &self.substance {
            Some(substance) if !self.within && *substance == self.material => self.material.clone(),
            Some(substance) => format!("{substance} in {}", self.material),
            None => format!("{} in {}", number(), self.material),
        }
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
