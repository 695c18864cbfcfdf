//! What a trade-off says: its finding, and what is drawn.

use super::{Against, Course, TradeoffChart, TradeoffPoint};
use crate::chart::kit::colour::{INK, NOW, SOFT, WIDE};
use crate::chart::kit::frame::{Mark, Piece, key, words};
use crate::chart::kit::words::{brief, number, percent, sentence};

impl TradeoffChart {
    /// Fidelity in percent at a limit: that of the formula which holds there;
    /// where the curve is a line, between the points. None off the curve.
    pub fn fidelity_at(&self, at: f64) -> Option<f64> {
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * a.abs().max(1.0);
        if let Some(point) = self.points.iter().find(|point| near(point.at, at)) {
            return Some(point.fidelity_percent);
        }
        match self.course {
            Course::Line => {}
            Course::StepsUp => {
                return self.points.iter().rev().find(|point| point.at <= at).map(|it| it.fidelity_percent);
            }
            Course::StepsDown => return self.points.iter().find(|point| point.at >= at).map(|it| it.fidelity_percent),
            Course::Apart => return None,
        }
        self.points.windows(2).find(|pair| pair[0].at <= at && at <= pair[1].at).map(|pair| {
            let part = (at - pair[0].at) / (pair[1].at - pair[0].at);
            pair[0].fidelity_percent + part * (pair[1].fidelity_percent - pair[0].fidelity_percent)
        })
    }

    /// The point of the best fidelity: the first of them.
    pub(super) fn best(&self) -> Option<&TradeoffPoint> {
        self.points.iter().reduce(|a, b| if b.fidelity_percent > a.fidelity_percent + 1e-9 { b } else { a })
    }

    /// What the curve comes to.
    pub(super) fn finding(&self) -> String {
        let (Some(first), Some(last), Some(best)) = (self.points.first(), self.points.last(), self.best()) else {
            return "No formula keeps the other rules".to_owned();
        };
        let of = match &self.against {
            Against::Dose(material) => format!(" of {}", brief(material)),
            _ => String::new(),
        };
        let reach = |at: f64, fidelity: f64| format!("{}{of} reach {} %", self.against.amount(at), percent(fidelity));
        let top = format!("the best is {} % at {}", percent(best.fidelity_percent), self.against.amount(best.at));
        let Some((own, here)) = self.own.and_then(|own| Some((own, self.fidelity_at(own)?))) else {
            let turn = self.knee.and_then(|knee| Some((knee, self.fidelity_at(knee)?)));
            return match turn {
                Some((knee, there)) => {
                    sentence(&format!("{}; {top}", reach(knee, there).replace(" reach", self.verb(knee))))
                }
                None if best.fidelity_percent - first.fidelity_percent < 0.05 => {
                    format!("Nothing is gained: {} % throughout", percent(best.fidelity_percent))
                }
                None => sentence(&format!(
                    "from {} to {} the match goes from {} to {} %",
                    self.against.bare(first.at),
                    self.against.amount(last.at),
                    percent(first.fidelity_percent),
                    percent(last.fidelity_percent)
                )),
            };
        };
        let mine = reach(own, here).replace(" reach", self.verb(own));
        let gain = best.fidelity_percent - here;
        let rest = match self.cost_of_a_point {
            _ if gain < 0.05 => format!("{} brings nothing", self.against.more()),
            Some(cost) if gain >= 1.0 && cost.is_finite() => {
                let about = if self.course == Course::Line { "about" } else { "at most" };
                format!("a further point costs {about} {}", self.against.amount(cost))
            }
            _ if best.at > own => format!("{} brings at most {} points", self.against.more(), number(gain, 1)),
            _ => top,
        };
        sentence(&format!("{mine}; {rest}"))
    }

    /// Money buys; one thing reaches, several reach.
    fn verb(&self, at: f64) -> &'static str {
        match self.against {
            Against::Price(_) | Against::Effect(_) => " buys",
            Against::Count if at.round() != 1.0 => " reach",
            _ => " reaches",
        }
    }

    pub(super) fn description(&self) -> String {
        let mut text = format!("{}. Best match on paper by {}: ", self.brief, self.against.axis());
        let point = |point: &TradeoffPoint| {
            format!("{} % at {}", percent(point.fidelity_percent), self.against.amount(point.at))
        };
        // Every point is too much to listen to.
        let step = self.points.len().div_ceil(8).max(1);
        let some = self.points.iter().step_by(step).chain(self.points.last().filter(|_| step > 1));
        text += &some.map(point).collect::<Vec<_>>().join(", ");
        text
    }

    pub(super) fn subtitle(&self) -> Vec<Piece> {
        let with = if self.materials.is_empty() || self.points.iter().all(|point| point.doses_ppt.is_empty()) {
            ""
        } else {
            ", and the materials that it then has"
        };
        let what = if self.against == Against::Count { "with so many materials" } else { "within each limit" };
        let best = if self.course == Course::Line { "match on paper" } else { "formula that keeps every rule" };
        let mut pieces = vec![words(&format!("{}: the best {best} {what}{with}.", self.brief))];
        let is_line = self.course == Course::Line;
        if is_line {
            pieces.push(key(Mark::Line(NOW), "match on paper", NOW));
        } else if self.points.iter().any(|point| point.proven) {
            pieces.push(key(Mark::Disc(NOW), "formula, proven best", NOW));
        }
        if self.points.iter().any(|point| !point.proven) {
            pieces.push(key(Mark::Ring, "formula, not proven best", INK));
        }
        if self.has_open_gaps() {
            pieces.push(key(Mark::Square(WIDE), "not looked at: a better one may begin here", SOFT));
        }
        if !self.upper_limit.is_empty() {
            pieces.push(key(Mark::Line(SOFT), "upper limit, any doses and any number of materials", SOFT));
        }
        pieces
    }
}
