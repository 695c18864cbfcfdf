//! The report of `product`.

use serde::Serialize;

use super::limits::VerifiedWord;
use super::states::PouredFrom;
use super::{
    AdviceLine, Care, CoverageReport, FormulaParts, FormulaReport, JointLine, LimitLine, Ordered, WithoutFigure,
};
use crate::analysis::coverage::{Answer, Coverage};
use crate::analysis::unchecked::without_figure;
use crate::balance::ethanol::Mixture;
use crate::balance::product::{Highest, Named, Passed, Plan, highest_dosages, label, labels, problem_of};
use crate::balance::vessel::{Shares, Vessel};
use crate::batch::Batch as Weighed;
use crate::brief::Basis;
use crate::formula::Formula;
use crate::limits::{Allergen, EVERY_CATEGORY, Limits};
use crate::palette::Palette;
use crate::problem::Problem;
use crate::sentences;

/// What an accord comes to in a finished product.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ProductReport {
    /// Version of the JSON.
    pub schema: u32,
    /// `product`.
    pub command: &'static str,
    /// Title of the formula.
    pub title: Option<String>,
    /// The formula's file.
    pub file: String,
    /// The palette's file.
    pub palette: String,
    /// Label of the currency that prices are in.
    pub currency: String,
    /// Labels as the limits files use them.
    pub category: Vec<String>,
    /// Percent of concentrate in the finished product.
    pub dosage_percent: f64,
    /// Percent of the concentrate that is this accord.
    pub accord_share_percent: f64,
    /// Bases that were replaced by what they are mixed from.
    pub unfolded: Vec<String>,
    /// The formula.
    pub formula: FormulaParts,
    /// Every restriction that holds, the fullest first.
    pub limits: Vec<LimitLine>,
    /// Shared limits.
    pub joints: Vec<JointLine>,
    /// Advice of the palette.
    pub advice: Vec<AdviceLine>,
    /// Substances and shared limits that are passed at this dosage.
    pub passed: Vec<String>,
    /// The highest dosage in percent that keeps every limit; null unless every
    /// material has a figure or was looked up and is free.
    pub highest_dosage_percent: Option<f64>,
    /// The highest dosage in percent that keeps the limits that are on file,
    /// whatever else there may be; null where nothing in the formula has one.
    pub highest_dosage_by_figures_percent: Option<f64>,
    /// What is full at that dosage; null at 100 %.
    pub highest_dosage_by: Option<String>,
    /// Whether its figure was checked in its source; of a shared limit as the
    /// least sure of its figures.
    pub highest_dosage_verified: Option<VerifiedWord>,
    /// What the limits files have no figure for, substance by substance and
    /// category by category.
    pub without_figure: Vec<WithoutFigure>,
    /// The same for every label of the limits files by itself.
    pub categories: Vec<CategoryLine>,
    /// What must be named on the label.
    pub label: Vec<LabelLine>,
    /// What the label lists speak of and is not above their share.
    pub below_label: Vec<LabelLine>,
    /// Whether any label list was given for these categories.
    pub label_checked: bool,
    /// What the accord is poured from.
    pub vessel: VesselReport,
    /// Whether a label list for these categories says that it is complete:
    /// what it does not name need not be named by it.
    pub label_list_complete: bool,
    /// What to mix; null without a batch.
    pub batch: Option<Batch>,
    /// What was checked, and what was not.
    pub care: Care,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
    /// The formula with everything that texts show of it.
    #[serde(skip)]
    pub whole: FormulaReport,
}

/// The highest dosage in one category.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CategoryLine {
    /// The label.
    pub category: String,
    /// The highest dosage in percent that keeps every limit with this label,
    /// and those of every category; null unless every material has a figure
    /// there or was looked up and is free.
    pub highest_dosage_percent: Option<f64>,
    /// The highest dosage in percent by the figures that are on file; null
    /// where nothing in the formula has one.
    pub highest_dosage_by_figures_percent: Option<f64>,
    /// Materials that were asked about.
    pub materials: usize,
    /// Those with a figure there, or looked up and free.
    pub with_figure: usize,
    /// What is full then; null at 100 %.
    pub by: Option<String>,
    /// Whether the figure of what is full was checked in its source.
    pub verified: Option<VerifiedWord>,
    /// Restricted substances in the formula for which the files have no figure
    /// under this label: nothing was checked of them.
    pub without_figure: Vec<String>,
}

/// A substance that the label rules speak of.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LabelLine {
    /// The name that stands on the label (INCI).
    pub name: String,
    /// Percent of the finished product.
    pub percent: f64,
    /// Above this share it must be named.
    pub above_percent: f64,
    /// Whether the row was checked in its source.
    pub verified: VerifiedWord,
    /// What brings it, in percent of the finished product, the most first.
    pub from: Ordered<f64>,
    /// Document, edition and year.
    pub source: String,
}

/// What the accord is poured from.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct VesselReport {
    /// `usual bottles` where nothing was weighed: it is what the formula makes
    /// poured from these; `batch` where it was.
    pub from: PouredFrom,
    /// What stands on it.
    pub label: Option<String>,
    /// The day on which it was weighed.
    pub date: Option<String>,
    /// The formula that was weighed, as seen from the batch's file.
    pub formula_file: Option<String>,
    /// Percent by mass of accord in it, as the formula's parts count it.
    pub accord_percent: f64,
    /// Carriers beside the accord, in percent of the finished product.
    pub carriers: Ordered<f64>,
    /// All that it holds, in grams; null where nothing was weighed.
    pub holds_grams: Option<f64>,
    /// Accord in that, in grams.
    pub holds_accord_grams: Option<f64>,
    /// The highest dosage in percent that fits without any solvent.
    pub most_dosage_percent: f64,
}

/// What to mix.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Batch {
    /// Grams of finished product.
    pub product_grams: f64,
    /// Grams to pour from the vessel: accord and the carriers that it stands
    /// in.
    pub vessel_grams: f64,
    /// Grams of the accord, as the formula's parts count it.
    pub accord_grams: f64,
    /// Grams of each carrier in what is poured from the vessel: they take the
    /// place of solvent.
    pub carriers: Ordered<f64>,
    /// Grams that the vessel lacks; null where it holds enough, or nothing was
    /// weighed.
    pub missing_grams: Option<f64>,
    /// Grams of the rest of the concentrate.
    pub rest_grams: f64,
    /// Grams of ethanol and water together.
    pub solvent_grams: f64,
    /// Its strength in percent by volume.
    pub solvent_percent: f64,
    /// Strength of the ethanol at hand in percent by volume.
    pub ethanol_percent: f64,
    /// Grams of it.
    pub ethanol_grams: f64,
    /// The same in ml at 20 degrees.
    pub ethanol_ml: f64,
    /// Grams of water.
    pub water_grams: f64,
    /// The same in ml at 20 degrees.
    pub water_ml: f64,
    /// Volume of ethanol and water mixed, in ml at 20 degrees.
    pub solvent_ml: f64,
    /// Price of the accord in it; null where a price is missing.
    pub accord_price: Option<f64>,
}

/// How a batch is mixed.
#[derive(Clone, Debug, PartialEq)]
pub struct Mix {
    /// Grams of finished product.
    pub grams: f64,
    /// What goes into them.
    pub shares: Shares,
    /// Ethanol and water for it.
    pub solvent: Mixture,
    /// Their strength in percent by volume.
    pub solvent_percent: f64,
    /// Strength of the ethanol at hand in percent by volume.
    pub ethanol_percent: f64,
}

impl ProductReport {
    /// The report. The accord is poured from a vessel, that of a batch where
    /// there is one; the carriers in it count towards limits and label.
    pub fn new(
        palette: Palette,
        formula: &Formula,
        limits: &[Limits],
        plan: &Plan,
        poured: (&Vessel, Option<&Weighed>),
        mix: Option<Mix>,
        warnings: Vec<String>,
    ) -> ProductReport {
        let problem = problem_of(palette.clone(), limits, formula.basis, std::slice::from_ref(plan));
        let (vessel, weighed) = poured;
        let neat = vessel.neat_ppt(&problem, formula);
        let super::limits::Limits { limits: held, joints, advice } = super::limits::Limits::new(&problem, &neat);
        let whole = FormulaReport { limits: held, joints, advice, ..FormulaReport::new(&problem, formula, None) };
        let mut care = Care::new(&problem, &neat);
        care.not_checked.extend(sentences::care::unchecked_carriers(&problem, vessel));
        let asked: Vec<&Allergen> = limits
            .iter()
            .flat_map(|limits| &limits.allergens)
            .filter(|allergen| allergen.holding(&plan.categories).is_some())
            .collect();
        care.not_checked.splice(0..0, sentences::identity::on_the_label(&problem, &asked, &neat));
        let coverage = care.coverage.as_ref();
        let is_complete = coverage.is_some_and(|coverage| coverage.complete && coverage.materials > 0);
        let (highest, passed) = highest_dosages(&problem, &neat).swap_remove(0);
        let has_figures = highest.by.is_some() || coverage.is_some_and(CoverageReport::knows_anything);
        let line = |named: &Named| label_line(&problem, limits, named);
        let named = label(&problem, limits, plan, &neat);
        let (above, below): (Vec<&Named>, Vec<&Named>) = named.iter().partition(|named| named.is_named);
        let asks = |limits: &Limits| limits.allergens.iter().any(|it| it.holding(&plan.categories).is_some());
        ProductReport {
            schema: 1,
            command: "product",
            title: formula.title.clone(),
            file: formula.file.as_deref().unwrap_or_default().to_owned(),
            palette: problem.palette.file.to_string(),
            currency: problem.palette.currency.clone(),
            category: plan.categories.clone(),
            dosage_percent: plan.dosage_percent,
            accord_share_percent: plan.accord_share_percent,
            unfolded: Vec::new(),
            formula: FormulaParts::new(&problem, formula),
            limits: whole.limits.clone(),
            joints: whole.joints.clone(),
            advice: whole.advice.clone(),
            passed: passed.into_iter().map(|passed| passed.what).collect(),
            highest_dosage_percent: is_complete.then_some(highest.dosage_percent),
            highest_dosage_by_figures_percent: has_figures.then_some(highest.dosage_percent),
            highest_dosage_verified: VerifiedWord::of(highest.restrictions.iter().map(|&it| &problem.restrictions[it])),
            highest_dosage_by: highest.by.filter(|_| has_figures),
            without_figure: coverage.map(|coverage| coverage.without_figure.clone()).unwrap_or_default(),
            categories: categories(palette, &neat, formula.basis, limits, plan),
            label: above.into_iter().map(line).collect(),
            below_label: below.into_iter().map(line).collect(),
            label_checked: limits.iter().any(asks),
            label_list_complete: limits.iter().any(|file| asks(file) && file.is_complete_label_list(&plan.categories)),
            vessel: vessel_report(vessel, weighed, plan),
            batch: mix.map(|mix| batch(&problem, formula, vessel, mix)),
            care,
            warnings,
            whole,
        }
    }
}

/// The highest dosage for every label by itself.
fn categories(palette: Palette, neat: &[f64], basis: Basis, limits: &[Limits], plan: &Plan) -> Vec<CategoryLine> {
    let restricts = |label: &str| {
        let restrictions = limits.iter().flat_map(|limits| &limits.restrictions);
        restrictions.flat_map(|it| &it.limits).any(|(other, _)| other == label || other == EVERY_CATEGORY)
    };
    let labels: Vec<&str> = labels(limits).into_iter().filter(|label| restricts(label)).collect();
    let plans: Vec<Plan> =
        labels.iter().map(|&label| Plan { categories: vec![label.to_owned()], ..plan.clone() }).collect();
    let problem = problem_of(palette, limits, basis, &plans);
    let lacking = without_figure(&problem, neat);
    let coverage = Coverage::of(&problem, |material| neat[material] > 0.0);
    let line = |((product, label), (highest, _)): ((usize, &&str), (Highest, Vec<Passed>))| {
        let lacking = lacking.iter().find(|(of, _)| *of == product);
        let lacking = lacking.map(|(_, restrictions)| restrictions.clone()).unwrap_or_default();
        let known = coverage.in_category(product, label);
        let has_figures = known.asked.iter().any(|asked| matches!(asked.answer, Answer::Limited { .. }));
        let is_complete = known.is_complete() && !known.asked.is_empty();
        CategoryLine {
            category: (*label).to_owned(),
            without_figure: lacking.into_iter().map(|it| problem.restrictions[it].substance.clone()).collect(),
            materials: known.materials().len(),
            with_figure: known.known().len(),
            highest_dosage_percent: is_complete.then_some(highest.dosage_percent),
            highest_dosage_by_figures_percent: (has_figures || is_complete || highest.by.is_some())
                .then_some(highest.dosage_percent),
            verified: VerifiedWord::of(highest.restrictions.iter().map(|&it| &problem.restrictions[it])),
            by: highest.by,
        }
    };
    labels.iter().enumerate().zip(highest_dosages(&problem, neat)).map(line).collect()
}

fn label_line(problem: &Problem, limits: &[Limits], named: &Named) -> LabelLine {
    let allergen = &limits[named.at.0].allergens[named.at.1];
    LabelLine {
        name: allergen.name.clone(),
        percent: named.percent,
        above_percent: named.above_percent,
        verified: VerifiedWord(allergen.verified.clone()),
        from: named.from.iter().map(|&(m, percent)| (problem.material(m).name.clone(), percent)).collect(),
        source: allergen.source.clone(),
    }
}

fn vessel_report(vessel: &Vessel, weighed: Option<&Weighed>, plan: &Plan) -> VesselReport {
    let of_product = plan.dosage_percent * plan.accord_share_percent / 100.0;
    VesselReport {
        from: if weighed.is_some() { PouredFrom::Batch } else { PouredFrom::UsualBottles },
        label: weighed.and_then(|batch| batch.label.clone()),
        date: weighed.and_then(|batch| batch.date).map(|date| date.to_string()),
        formula_file: weighed.and_then(|batch| batch.formula.clone()),
        accord_percent: vessel.accord_percent,
        carriers: vessel.carriers.iter().map(|(name, grams)| (name.clone(), grams * of_product)).collect(),
        holds_grams: weighed.map(Weighed::grams),
        holds_accord_grams: vessel.holds_grams,
        most_dosage_percent: vessel.most_dosage_percent(plan.accord_share_percent),
    }
}

fn batch(problem: &Problem, formula: &Formula, vessel: &Vessel, mix: Mix) -> Batch {
    let price = |&(material, dose): &(usize, crate::units::Ppt)| {
        problem.price_per_ppt(material).map(|price| price * dose.as_f64())
    };
    let price_per_kg: Option<f64> = formula.parts.iter().map(price).sum();
    let Shares { vessel_grams, accord_grams, carriers, rest_grams, .. } = mix.shares;
    let in_vessel = vessel.holds_grams.map(|accord| accord * 100.0 / vessel.accord_percent);
    let missing = in_vessel.map(|holds| vessel_grams - holds).filter(|missing| *missing > 1e-9 * vessel_grams);
    Batch {
        product_grams: mix.grams,
        vessel_grams,
        accord_grams,
        carriers: carriers.into_iter().collect(),
        missing_grams: missing,
        rest_grams,
        solvent_grams: mix.solvent.grams,
        solvent_percent: mix.solvent_percent,
        ethanol_percent: mix.ethanol_percent,
        ethanol_grams: mix.solvent.ethanol_grams,
        ethanol_ml: mix.solvent.ethanol_ml,
        water_grams: mix.solvent.water_grams,
        water_ml: mix.solvent.water_ml,
        solvent_ml: mix.solvent.ml,
        accord_price: price_per_kg.map(|price| price * accord_grams / 1000.0),
    }
}
