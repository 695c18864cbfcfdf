//! Budget, number of materials, doses, strength, and the finished products.

use maud::{Markup, html};

use super::controls::{Ends, Value, round_up};
use crate::brief::MovedBy;
use crate::escape::escaped;
use crate::explore::bench::Bench;
use crate::units::Ppt;

/// The rules of the whole formula.
pub fn rules(bench: &Bench) -> Markup {
    let (problem, brief) = (&bench.resolved.problem, &bench.resolved.brief);
    let currency = escaped(&problem.palette.currency);
    let materials = &problem.palette.materials;
    let prices = || materials.iter().filter_map(|material| material.price_per_kg);
    let budget = brief.max_price.as_ref().map(|it| it.value);
    let dearest = round_up(budget.map_or_else(|| prices().fold(0.0, f64::max).min(1000.0), |budget| budget * 2.5));
    let strongest = materials.iter().map(|material| material.strength).fold(0.0, f64::max);
    let strength = (brief.strength_min.as_ref().map(|it| it.value), brief.strength_max.as_ref().map(|it| it.value));
    let strength_end = round_up(strength.1.or(strength.0).map_or(strongest.min(200.0), |value| value * 3.0));
    let count_end =
        (materials.len() as f64).min(30.0).max(brief.max_materials.as_ref().map_or(0.0, |it| it.value as f64));
    let counts_usual = brief.max_unusual.is_some() || problem.knows_usual_doses();
    let whole = |step: &Option<crate::place::Placed<Ppt>>| step.as_ref().map(|it| it.value.as_f64());
    let money = |path: &'static [&'static str], file, label: &str, what: &str, unit: &str, ends: Ends| {
        line(what, unit, &Value { path, file, label }, ends)
    };
    html! {
        details.card open {
            summary { h2 { "Rules" } }
            ul.rules {
                (money(&["rules", "max_price"], budget, "price at most", "Price, at most", &format!("{currency}/kg"),
                    Ends { min: 0.0, max: dearest, step: dearest / 200.0 }))
                (money(&["rules", "max_materials"], brief.max_materials.as_ref().map(|it| it.value as f64), "materials at most",
                    "Materials, at most", "", Ends { min: 1.0, max: count_end, step: 1.0 }))
                (money(&["rules", "max_idle"], brief.max_idle.as_ref().map(|it| it.value.as_f64()), "idle weight at most",
                    "Idle weight, at most", "\u{2030} that bring less than a tenth of their weight's share of the odour",
                    Ends { min: 0.0, max: 1000.0, step: 5.0 }))
                @if counts_usual {
                    (money(&["rules", "max_unusual"], brief.max_unusual.as_ref().map(|it| it.value as f64), "unusual doses at most",
                        "Unusual doses, at most", "", Ends { min: 0.0, max: count_end, step: 1.0 }))
                }
                (money(&["rules", "strength_min"], strength.0, "strength at least", "Strength, at least", "by dilution",
                    Ends { min: 0.0, max: strength_end, step: strength_end / 200.0 }))
                (money(&["rules", "strength_max"], strength.1, "strength at most", "Strength, at most", "by dilution",
                    Ends { min: 0.0, max: strength_end, step: strength_end / 200.0 }))
                (entry("Price of effect, at most", &format!("{currency}/kg per unit of strength"),
                    &Value { path: &["rules", "max_price_of_effect"], file: brief.max_price_of_effect.as_ref().map(|it| it.value), label: "cost per unit of strength at most" }))
                (entry("Doses in steps of", "‰",
                    &Value { path: &["rules", "step"], file: whole(&brief.step), label: "doses in steps of so many parts per thousand" }))
                (entry("Least dose, if used", "‰",
                    &Value { path: &["rules", "min_dose"], file: whole(&brief.min_dose), label: "least dose in parts per thousand" }))
            }
            @if let Some(near) = &brief.near {
                @let parts = if near.by == MovedBy::Odour { "% of the odour" } else { "% of the mass" };
                fieldset {
                    legend { "Near " (escaped(near.composition.title.as_deref().unwrap_or(&near.composition.file))) }
                    ul.rules {
                        (line("Elsewhere than there, at most", parts,
                            &Value { path: &["rules", "within"], file: near.within.as_ref().map(|it| it.value), label: "percent elsewhere than in the known formula at most" },
                            Ends { min: 0.0, max: 100.0, step: 0.5 }))
                        (line("Match given away to come nearer", "% points",
                            &Value { path: &["rules", "give"], file: near.give.as_ref().map(|it| it.value), label: "match given away to come nearer, in percentage points" },
                            Ends { min: 0.0, max: round_up(near.give.as_ref().map_or(5.0, |it| it.value * 2.0).max(1.0)), step: 0.1 }))
                    }
                }
            }
            @for (at, product) in brief.uses.iter().enumerate() {
                @let index = at.to_string();
                @let name = product.name.as_deref().map_or("Finished product".to_owned(), escaped);
                fieldset {
                    legend { (name) }
                    ul.rules {
                        @let end = round_up(product.dosage_percent.unwrap_or(20.0) * 1.6).min(100.0);
                        (line("Dosage", "% concentrate",
                            &Value { path: &["uses", &index, "dosage"], file: product.dosage_percent, label: &format!("{name}: percent of concentrate") },
                            Ends { min: 0.0, max: end, step: end / 200.0 }))
                        li.text {
                            label for={ "category-" (at) } { "Category" }
                            input #{ "category-" (at) } type="text" list="labels" value=(product.category_text())
                                data-path=(serde_json::to_string(&["uses", &index, "category"]).unwrap_or_default())
                                data-file=(serde_json::to_string(&product.categories).unwrap_or_default()) data-kind="list"
                                autocomplete="off" spellcheck="false";
                            span.unit { "labels of the limits files, commas between them" }
                        }
                    }
                }
            }
            datalist #labels { @for label in &bench.labels { option value=(label) {} } }
        }
    }
}

trait CategoryText {
    fn category_text(&self) -> String;
}

impl CategoryText for crate::brief::Use {
    fn category_text(&self) -> String {
        self.categories.iter().map(|label| escaped(label)).collect::<Vec<_>>().join(", ")
    }
}

fn line(what: &str, unit: &str, value: &Value<'_>, ends: Ends) -> Markup {
    html! {
        li {
            span.word { (what) @if !unit.is_empty() { " " span.unit { (unit) } } }
            (value.slider(ends))
            (value.entry(ends, true))
        }
    }
}

fn entry(what: &str, unit: &str, value: &Value<'_>) -> Markup {
    html! {
        li.short {
            span.word { (what) " " span.unit { (unit) } }
            (value.entry(Ends { min: 0.0, max: 0.0, step: 0.0 }, true))
        }
    }
}
