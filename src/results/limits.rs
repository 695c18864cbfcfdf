//! Uses of restricted substances beside their limits.

use serde::Serialize;
use serde::ser::Serializer;

use super::Ordered;
use super::states::AdvisedIn;
use crate::limits::{Restriction, Verified};
use crate::problem::{Problem, RuleKind, Subject};

/// The use of one restricted substance in one finished product.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LimitLine {
    /// What is restricted.
    pub substance: String,
    /// Name of the finished product, if it has one.
    #[serde(rename = "use")]
    pub product: Option<String>,
    /// The category whose limit holds.
    pub category: String,
    /// Use in percent of the finished product, the reserve included.
    pub use_percent: f64,
    /// Limit in percent of the finished product.
    pub limit_percent: f64,
    /// What is left of it; negative where it is passed.
    pub room_percent: f64,
    /// Whether the figure was checked in its source.
    pub verified: VerifiedWord,
    /// What brings it, in percent of the finished product, the most first.
    pub from: Ordered<f64>,
    /// What the rest of the concentrate already brings, as the brief says.
    pub reserve_percent: f64,
    /// Document, edition and year.
    pub source: String,
    /// Restrictions with one joint name share one limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub joint: Option<String>,
}

/// Several restrictions that share one limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JointLine {
    /// The joint name.
    pub joint: String,
    /// Name of the finished product, if it has one.
    #[serde(rename = "use")]
    pub product: Option<String>,
    /// The substances.
    pub substances: Vec<String>,
    /// Sum of use / limit.
    pub sum: f64,
    /// The most it may be.
    pub at: f64,
    /// Whether the figures were checked in their sources: as the least sure of
    /// those that are in use says.
    pub verified: VerifiedWord,
    /// Documents, editions and years of the figures, each once.
    pub sources: Vec<String>,
}

/// Advice on a single material: percent of the concentrate or of the product.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AdviceLine {
    /// The material.
    pub material: String,
    /// Name of the finished product, if it has one.
    #[serde(rename = "use")]
    pub product: Option<String>,
    /// `concentrate` or `product`.
    pub of: AdvisedIn,
    /// Use in percent of the one or the other.
    pub use_percent: f64,
    /// The most that is advised.
    pub limit_percent: f64,
    /// What is left of it.
    pub room_percent: f64,
}

/// `true`, `false` or the text of the limits file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct VerifiedWord(pub Verified);

impl Serialize for VerifiedWord {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match &self.0 {
            Verified::Yes => serializer.serialize_bool(true),
            Verified::No => serializer.serialize_bool(false),
            Verified::Text(text) => serializer.serialize_str(text),
        }
    }
}

impl VerifiedWord {
    /// How sure several figures are together: as the least sure of them.
    pub fn of<'a>(restrictions: impl IntoIterator<Item = &'a Restriction>) -> Option<VerifiedWord> {
        let rank = |verified: &Verified| match verified {
            Verified::No => 0,
            Verified::Text(_) => 1,
            Verified::Yes => 2,
        };
        let words = restrictions.into_iter().map(|restriction| &restriction.verified);
        words.min_by_key(|verified| rank(verified)).cloned().map(VerifiedWord)
    }
}

/// Everything that limits say of a formula.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Limits {
    /// Every restriction that holds, product by product, the tightest first.
    pub limits: Vec<LimitLine>,
    /// Shared limits.
    pub joints: Vec<JointLine>,
    /// Advice on the materials that are used, the tightest first.
    pub advice: Vec<AdviceLine>,
}

impl LimitLine {
    /// Use as a share of the limit, in percent; infinite where nothing is
    /// allowed and something is there.
    pub fn share_percent(&self) -> f64 {
        share_percent(self.use_percent, self.limit_percent)
    }
}

impl JointLine {
    /// How much of the shared limit is used, in percent.
    pub fn share_percent(&self) -> f64 {
        share_percent(self.sum, self.at)
    }
}

impl AdviceLine {
    /// Use as a share of what is advised, in percent.
    pub fn share_percent(&self) -> f64 {
        share_percent(self.use_percent, self.limit_percent)
    }
}

fn share_percent(used: f64, limit: f64) -> f64 {
    if used <= 0.0 { 0.0 } else { 100.0 * used / limit }
}

impl Limits {
    /// The uses of a formula, from the neat parts per thousand of every
    /// palette material.
    pub fn new(problem: &Problem, neat_ppt: &[f64]) -> Limits {
        let name = |product: usize| problem.products[product].name.clone();
        let uses = problem.substance_uses(neat_ppt);
        let mut limits = Vec::new();
        for product in 0..problem.products.len() {
            let mut lines: Vec<LimitLine> = Vec::new();
            for used in uses.iter().filter(|used| used.product == product) {
                let restriction = &problem.restrictions[used.restriction];
                let mut from = used.from.clone();
                from.sort_by(|a, b| b.1.total_cmp(&a.1));
                lines.push(LimitLine {
                    substance: restriction.substance.clone(),
                    product: name(product),
                    category: used.category.clone(),
                    use_percent: used.use_percent,
                    limit_percent: used.limit_percent,
                    room_percent: used.limit_percent - used.use_percent,
                    verified: VerifiedWord(restriction.verified.clone()),
                    from: from.into_iter().map(|(m, percent)| (problem.material(m).name.clone(), percent)).collect(),
                    reserve_percent: used.reserve_percent,
                    source: restriction.source.clone(),
                    joint: restriction.joint.clone(),
                });
            }
            // A stable sort: equals stay in the order of the file.
            lines.sort_by(|a, b| b.share_percent().total_cmp(&a.share_percent()));
            limits.extend(lines);
        }
        let mut advice = advice(problem, neat_ppt);
        advice.sort_by(|a, b| b.share_percent().total_cmp(&a.share_percent()));
        Limits { limits, joints: joints(problem, &uses), advice }
    }
}

fn joints(problem: &Problem, uses: &[crate::problem::uses::SubstanceUse]) -> Vec<JointLine> {
    let mut lines = Vec::new();
    for rule in &problem.rules {
        let RuleKind::Joint { members, product } = &rule.kind else { continue };
        let share = |&(restriction, limit): &(usize, f64)| {
            let of = uses.iter().find(|used| used.restriction == restriction && used.product == *product);
            of.map_or(0.0, |used| used.use_percent / limit)
        };
        let in_use = |restriction: usize| {
            uses.iter().any(|it| it.restriction == restriction && it.product == *product && it.use_percent > 0.0)
        };
        let of = |restriction: &usize| &problem.restrictions[*restriction];
        let used: Vec<usize> = members.iter().map(|(member, _)| *member).filter(|&member| in_use(member)).collect();
        let all: Vec<usize> = members.iter().map(|(member, _)| *member).collect();
        let counted = if used.is_empty() { &all } else { &used };
        let mut sources: Vec<String> = Vec::new();
        for source in counted.iter().map(|member| &of(member).source) {
            if !sources.contains(source) {
                sources.push(source.clone());
            }
        }
        let first = members.first().map(|(restriction, _)| &problem.restrictions[*restriction]);
        lines.push(JointLine {
            joint: first.and_then(|restriction| restriction.joint.clone()).unwrap_or_default(),
            product: problem.products[*product].name.clone(),
            substances: members.iter().map(|(member, _)| problem.restrictions[*member].substance.clone()).collect(),
            sum: members.iter().map(share).sum(),
            at: rule.at,
            verified: VerifiedWord::of(counted.iter().map(of)).unwrap_or(VerifiedWord(Verified::No)),
            sources,
        });
    }
    lines
}

fn advice(problem: &Problem, neat_ppt: &[f64]) -> Vec<AdviceLine> {
    let mut lines = Vec::new();
    for rule in &problem.rules {
        let (material, product, of, of_product) = match rule.kind.subject() {
            Subject::InConcentrate { material, product } => (material, product, AdvisedIn::Concentrate, 1.0),
            Subject::InProduct { material, product } => {
                (material, product, AdvisedIn::Product, problem.products[product].dosage())
            }
            Subject::Dose(_) | Subject::Asked(_) | Subject::Barred(_) | Subject::Selection => continue,
            Subject::Amount(_) | Subject::Amounts | Subject::Blend | Subject::Limit { .. } => continue,
        };
        if neat_ppt[material] <= 0.0 {
            continue;
        }
        let use_percent = neat_ppt[material] / 10.0 * problem.products[product].accord_share() * of_product;
        lines.push(AdviceLine {
            material: problem.material(material).name.clone(),
            product: problem.products[product].name.clone(),
            of,
            use_percent,
            limit_percent: rule.at,
            room_percent: rule.at - use_percent,
        });
    }
    lines
}
