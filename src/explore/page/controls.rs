//! Sliders and boxes of one value, tied together by the script.

use crate::portable::Portable;
use maud::{Markup, html};

/// A value of the brief.
pub struct Value<'a> {
    /// Its path in the state, such as `["rules", "max_price"]`.
    pub path: &'a [&'a str],
    /// What the file says.
    pub file: Option<f64>,
    /// What it is, for those who do not see where it stands.
    pub label: &'a str,
}

/// The ends of a slider.
#[derive(Clone, Copy)]
pub struct Ends {
    /// Left end.
    pub min: f64,
    /// Right end.
    pub max: f64,
    /// From one place to the next.
    pub step: f64,
}

fn number(value: f64) -> String {
    crate::number::plain(crate::number::tidy(value))
}

fn json(value: Option<f64>) -> String {
    value.map_or("null".to_owned(), number)
}

impl Value<'_> {
    fn path(&self) -> String {
        serde_json::to_string(self.path).unwrap_or_default()
    }

    /// A slider.
    pub fn slider(&self, ends: Ends) -> Markup {
        let at = self.file.unwrap_or(ends.max).clamp(ends.min, ends.max);
        html! {
            input type="range" min=(number(ends.min)) max=(number(ends.max)) step=(number(ends.step)) value=(number(at))
                data-path=(self.path()) data-file=(json(self.file)) aria-label=(self.label);
        }
    }

    /// A box; empty is no rule.
    pub fn entry(&self, ends: Ends, may_be_empty: bool) -> Markup {
        let label = if may_be_empty { format!("{}; empty: none", self.label) } else { self.label.to_owned() };
        html! {
            input.number type="text" inputmode="decimal" autocomplete="off" spellcheck="false" data-min=(number(ends.min))
                placeholder=[may_be_empty.then_some("none")] value=[self.file.map(number)] required[!may_be_empty]
                data-path=(self.path()) data-file=(json(self.file)) aria-label=(label);
        }
    }
}

/// The next round number from a number up: 1, 2 or 5 with zeros.
pub fn round_up(value: f64) -> f64 {
    let unit = 10_f64.power(value.max(1e-6).decimal_logarithm().floor());
    let times = [1.0, 2.0, 5.0, 10.0].into_iter().find(|times| times * unit >= value * (1.0 - 1e-9)).unwrap_or(10.0);
    crate::number::tidy(times * unit)
}
