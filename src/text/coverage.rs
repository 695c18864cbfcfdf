//! What the limits files know of what is in a formula: the sentences that every
//! text, page and sheet says of it.

use crate::limits::EVERY_CATEGORY;
use crate::results::states::FigureKnown;
use crate::results::{CoverageReport, WithoutFigure};

/// The reasons that are told with names after them, in their order; of unknown
/// constituents a sentence of its own comes first.
const REASONS: [FigureKnown; 3] = [FigureKnown::NoCas, FigureKnown::InNoFile, FigureKnown::NoFigure];

impl CoverageReport {
    /// The two sentences that matter most, for the head of a report.
    pub fn summary(&self) -> Vec<String> {
        let mut all = self.sentences();
        all.truncate(if self.complete { 1 } else { self.unknown().len() + 1 });
        all
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
        if count == 0 {
            return Vec::new();
        }
        if self.complete {
            return vec![match count {
                1 => "The material has a figure on file, or was looked up and is free.".to_owned(),
                _ => format!("All {count} materials have a figure on file, or were looked up and are free."),
            }];
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

    /// Naturals of which nobody knows what they contain: a sentence, or none.
    pub fn unknown(&self) -> Vec<String> {
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
