//! What the limits files know of a formula: for every material, everything
//! that it says it contains, and every category asked for, one answer. That a
//! file does not speak of something is never taken for a permission.

use crate::limits::{Applies, EVERY_CATEGORY, Limit, Restriction};
use crate::palette::{Cas, Material};
use crate::problem::Problem;
use crate::problem::substance::substance_fraction;

/// What the files say of one substance in one category.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Answer {
    /// There is a figure: the smallest limit in percent of the finished
    /// product, and the restriction (index into the problem's) that sets it.
    Limited {
        /// Index into the problem's restrictions.
        restriction: usize,
        /// Percent of the finished product.
        percent: f64,
    },
    /// Looked up and free: a restriction says "none", or a file was searched
    /// for it and restricts nothing of it.
    Free,
    /// Restricted, but no figure on file for this category.
    NoFigure,
    /// Not in any file.
    InNoFile,
    /// What a natural contains is unknown.
    ConstituentsUnknown,
    /// It smells and has no CAS number: limits pass it by.
    NoCas,
}

impl Answer {
    /// Whether the files know enough to say that a use is allowed or not.
    pub fn is_known(self) -> bool {
        matches!(self, Answer::Limited { .. } | Answer::Free)
    }
}

/// One question to the limits files, and their answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// Index of the material.
    pub material: usize,
    /// Name of the substance: the material's own, that of a material that a
    /// base is mixed from, or of what a file or the palette calls a
    /// constituent; `None` where nobody names it.
    pub substance: Option<String>,
    /// Its number.
    pub cas: Option<Cas>,
    /// Whether the material says that it contains it, rather than being it.
    pub within: bool,
    /// Index of the finished product.
    pub product: usize,
    /// The category.
    pub category: String,
    /// What the files say.
    pub answer: Answer,
}

/// What the limits files know of a formula.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Coverage {
    /// Every question, material by material in the order of the palette.
    pub asked: Vec<Asked>,
}

impl Coverage {
    /// What the files know of materials, in every category of every finished
    /// product that has a dosage. `is_in` tells which materials are in the
    /// formula. Odourless carriers without a number are not asked about.
    pub fn of(problem: &Problem, is_in: impl Fn(usize) -> bool) -> Coverage {
        let mut asked = Vec::new();
        for (index, material) in problem.palette.materials.iter().enumerate().filter(|(index, _)| is_in(*index)) {
            let mut subjects = Vec::new();
            gather(material, &mut subjects);
            for (product, category) in questions(problem) {
                for subject in &subjects {
                    asked.extend(ask(problem, subject, category).map(|answer| Asked {
                        material: index,
                        substance: subject.name(problem),
                        cas: subject.cas().cloned(),
                        within: matches!(subject, Subject::Constituent(_)),
                        product,
                        category: category.to_owned(),
                        answer,
                    }));
                }
            }
        }
        Coverage { asked }
    }

    /// The materials that were asked about, in the order of the palette.
    pub fn materials(&self) -> Vec<usize> {
        self.materials_where(|_| true)
    }

    /// Those of which everything is known.
    pub fn known(&self) -> Vec<usize> {
        let lacking = self.materials_where(|asked| !asked.answer.is_known());
        self.materials().into_iter().filter(|material| !lacking.contains(material)).collect()
    }

    /// Whether everything is known of every material.
    pub fn is_complete(&self) -> bool {
        self.asked.iter().all(|asked| asked.answer.is_known())
    }

    /// The same of one category of one product.
    pub fn in_category(&self, product: usize, category: &str) -> Coverage {
        let of = |asked: &&Asked| asked.product == product && asked.category == category;
        Coverage { asked: self.asked.iter().filter(of).cloned().collect() }
    }

    fn materials_where(&self, holds: impl Fn(&Asked) -> bool) -> Vec<usize> {
        let mut materials: Vec<usize> = self.asked.iter().filter(|it| holds(it)).map(|it| it.material).collect();
        materials.dedup();
        materials
    }
}

/// (product, category) of every finished product that has a dosage; the star
/// where it names no category.
fn questions(problem: &Problem) -> Vec<(usize, &str)> {
    let mut all = Vec::new();
    for (index, product) in problem.products.iter().enumerate().filter(|(_, it)| it.dosage_percent.is_some()) {
        let categories = product.categories.iter().map(String::as_str);
        all.extend(categories.map(|category| (index, category)));
        if product.categories.is_empty() {
            all.push((index, EVERY_CATEGORY));
        }
    }
    all
}

/// What a file may speak of.
enum Subject<'a> {
    /// A material as such.
    Itself(&'a Material),
    /// A number among its constituents.
    Constituent(&'a Cas),
    /// What a natural contains and does not say.
    Unknown(&'a Material),
}

/// Everything that has to be asked of a material: a base is what it is mixed
/// from in the end.
fn gather<'a>(material: &'a Material, into: &mut Vec<Subject<'a>>) {
    if let Some(base) = &material.base {
        return base.parts.iter().for_each(|(part, _)| gather(part, into));
    }
    if material.cas.is_some() || !material.is_carrier() {
        into.push(Subject::Itself(material));
    }
    let within = material.constituents.iter().flatten().filter(|(_, percent)| *percent > 0.0);
    into.extend(within.map(|(cas, _)| Subject::Constituent(cas)));
    if material.natural && material.constituents.is_none() {
        into.push(Subject::Unknown(material));
    }
}

impl Subject<'_> {
    fn cas(&self) -> Option<&Cas> {
        match self {
            Subject::Itself(material) => material.cas.as_ref(),
            Subject::Constituent(cas) => Some(cas),
            Subject::Unknown(_) => None,
        }
    }

    fn name(&self, problem: &Problem) -> Option<String> {
        match self {
            Subject::Itself(material) | Subject::Unknown(material) => Some(material.name.clone()),
            Subject::Constituent(cas) => {
                let of_palette = problem.palette.materials.iter().find(|it| it.cas.as_ref() == Some(cas));
                let of_file = || problem.restrictions.iter().find(|it| it.cas.contains(cas));
                let named = of_palette.map(|material| material.name.clone());
                named.or_else(|| of_file().map(|restriction| restriction.substance.clone()))
            }
        }
    }

    /// Whether a restriction speaks of it, in whatever way it counts.
    fn is_named_by(&self, restriction: &Restriction) -> bool {
        match self {
            Subject::Itself(material) => {
                material.cas.as_ref().is_some_and(|cas| restriction.cas.contains(cas))
                    || substance_fraction(restriction, material) >= 1.0
            }
            Subject::Constituent(cas) => restriction.cas.contains(cas),
            Subject::Unknown(_) => false,
        }
    }

    /// Whether a restriction that speaks of it counts this way to bring it in.
    fn is_counted_by(&self, restriction: &Restriction) -> bool {
        match self {
            Subject::Itself(_) => restriction.applies != Applies::Constituents,
            Subject::Constituent(_) => restriction.applies != Applies::Added,
            Subject::Unknown(_) => false,
        }
    }
}

/// The files' answer; `None` where there is nothing to ask beside what is
/// asked already.
fn ask(problem: &Problem, subject: &Subject<'_>, category: &str) -> Option<Answer> {
    if let Subject::Unknown(_) = subject {
        return Some(Answer::ConstituentsUnknown);
    }
    let mut is_named = false;
    let mut is_silent = false;
    let mut is_free = false;
    let mut least: Option<(usize, f64)> = None;
    for scope in problem.scopes.iter() {
        let of_file = scope.restrictions.clone().filter(|&at| subject.is_named_by(&problem.restrictions[at]));
        let (mut names, mut answers) = (false, false);
        for at in of_file {
            let restriction = &problem.restrictions[at];
            names = true;
            let said = restriction.in_category(category).filter(|_| subject.is_counted_by(restriction));
            answers |= said.is_some();
            match said {
                Some(Limit::Percent(percent)) if least.is_none_or(|(_, most)| percent < most) => {
                    least = Some((at, percent));
                }
                Some(Limit::Unrestricted) => is_free = true,
                _ => {}
            }
        }
        is_named |= names;
        // A file that knows the category and restricts the substance, but has
        // no figure for the one in the other, leaves the question open, even
        // where another file answers it.
        is_silent |= names && !answers && scope.uses(category);
        is_free |= !names && subject.cas().is_some_and(|cas| scope.searched_for(cas, category));
    }
    Some(match least {
        _ if is_silent => Answer::NoFigure,
        Some((restriction, percent)) => Answer::Limited { restriction, percent },
        None if is_free => Answer::Free,
        None if is_named => Answer::NoFigure,
        None if subject.cas().is_none() => Answer::NoCas,
        // Of a natural that nobody has looked into, that is said instead.
        None if matches!(subject, Subject::Itself(it) if it.natural && it.constituents.is_none()) => return None,
        None => Answer::InNoFile,
    })
}
