//! What was weighed and smelled: trials, one after the other.

use std::fmt;
use std::sync::Arc;
use std::time::Duration;

use crate::batch::Batch;
use crate::brief::{Basis, Match};
use crate::composition::{Component, Composition};
use crate::formula::Formula;
use crate::palette::Palette;
use crate::place::Place;
use crate::units::Ppt;

/// The trials of one file, resolved against its palette: materials and
/// descriptors are indices into it, and every number is in range.
#[derive(Clone, Debug)]
pub struct Trials {
    /// The file it was read from.
    pub file: Arc<str>,
    /// How the judged scores are compared with those of the blend.
    pub matching: Match,
    /// What [`fingerprint`] said of the palette when the file was stamped.
    pub palette_fingerprint: Option<String>,
    /// The trials in the order of the file; never empty, no two with one code.
    pub trials: Vec<Trial>,
    /// Free text.
    pub remarks: Option<String>,
}

/// One smelling of one formula.
#[derive(Clone, Debug)]
pub struct Trial {
    /// Its code.
    pub code: String,
    /// Where it is described.
    pub place: Place,
    /// Who smelled it, where that was said; a palette of that name has their numbers.
    pub nose: Option<Arc<str>>,
    /// The day on which it was smelled.
    pub date: Option<Date>,
    /// The trial that it changes: an index into the trials.
    pub from: Option<usize>,
    /// Minutes since the blotter was dipped.
    pub minutes: Option<f64>,
    /// Days since it was mixed.
    pub age_days: Option<f64>,
    /// On what it was smelled.
    pub medium: Option<Medium>,
    /// Concentration that was smelled, in percent.
    pub percent: Option<f64>,
    /// What was smelled. Its parts need not add up to 1000. Of a natural whose
    /// composition is known, those of its parts that are on the shelf.
    pub formula: Formula,
    /// Where a natural was smelled, what is known of it.
    pub analysed: Option<Analysed>,
    /// The batch that it was smelled of, if one was named.
    pub batch: Option<Arc<Batch>>,
    /// What was smelled of which descriptor, in points, in the order of the
    /// palette. A descriptor that is not among them was not judged.
    pub scores: Vec<(usize, f64)>,
    /// Strength of the undiluted formula on the palette's scale.
    pub strength: Option<f64>,
    /// One standard deviation of these scores, in points.
    pub give_or_take: Option<f64>,
    /// Free text.
    pub remarks: Option<String>,
}

/// What is known of a natural that was smelled.
#[derive(Clone, Debug, PartialEq)]
pub struct Analysed {
    /// What was found in it.
    pub composition: Arc<Composition>,
    /// Percent by mass that nobody identified, from 0, below 100.
    pub unknown_percent: f64,
}

impl Analysed {
    /// What a percent of the composition's parts is of the natural, in percent: they
    /// and what is unknown make the whole.
    pub fn per_percent(&self) -> f64 {
        (100.0 - self.unknown_percent) / self.composition.known_percent()
    }

    /// The parts that the shelf lacks and that may smell: not those of which the
    /// composition says that they do not.
    pub fn open_parts(&self) -> impl Iterator<Item = &Component> {
        self.composition.lacking().filter(|part| part.strength != Some(0.0))
    }

    /// Percent by mass of the natural of which it is not known what it smells of.
    pub fn open_percent(&self) -> f64 {
        let lacking: f64 = self.open_parts().map(|part| part.percent).sum();
        self.unknown_percent + lacking * self.per_percent()
    }

    /// The parts that are on the shelf, as a neat formula that adds up to 1000.
    pub fn formula(&self, palette: &Palette) -> Formula {
        let percent = self.composition.percent_by_material(palette);
        let sum: f64 = percent.iter().sum();
        let ppt = |percent: f64| Ppt::from_ppt(if sum > 0.0 { 1000.0 * percent / sum } else { 0.0 });
        let doses: Vec<Ppt> = percent.into_iter().map(ppt).collect();
        Formula::from_doses(Basis::Neat, &doses).rescaled()
    }
}

/// On what a trial was smelled.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Medium {
    /// A blotter.
    Blotter,
    /// Skin.
    Skin,
    /// The finished product.
    Product,
}

impl Medium {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Medium::Blotter => "blotter",
            Medium::Skin => "skin",
            Medium::Product => "product",
        }
    }
}

/// A day of the Gregorian calendar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Date {
    /// Year.
    pub year: i32,
    /// Month, 1 to 12.
    pub month: u32,
    /// Day of the month, counted from 1.
    pub day: u32,
}

impl Date {
    /// Reads `2026-11-02`; `None` where that is no day.
    pub fn parse(text: &str) -> Option<Date> {
        let mut parts = text.split('-').filter(|part| part.bytes().all(|byte| byte.is_ascii_digit()));
        let mut number = || parts.next()?.parse::<u32>().ok();
        let date = Date { year: number()? as i32, month: number()?, day: number()? };
        // What is no day of the calendar comes back as another, and a text of
        // another form as another text.
        (Date::of_days(date.days()) == date && date.to_string() == text).then_some(date)
    }

    /// Days since 1970-01-01. Months are counted from March, so that a leap
    /// day ends a year; 146097 days are 400 years.
    pub fn days(self) -> i64 {
        let (month, day) = (i64::from(self.month), i64::from(self.day));
        let year = i64::from(self.year) - i64::from(month <= 2);
        let of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
        365 * year + year.div_euclid(4) - year.div_euclid(100) + year.div_euclid(400) + of_year - 719_468
    }

    /// The day so many days after 1970-01-01.
    pub fn of_days(days: i64) -> Date {
        let shifted = days + 719_468;
        let (era, within) = (shifted.div_euclid(146_097), shifted.rem_euclid(146_097));
        let year = (within - within / 1460 + within / 36_524 - within / 146_096) / 365;
        let of_year = within - (365 * year + year / 4 - year / 100);
        let from_march = (5 * of_year + 2) / 153;
        let month = if from_march < 10 { from_march + 3 } else { from_march - 9 };
        let year = year + 400 * era + i64::from(month <= 2);
        Date { year: year as i32, month: month as u32, day: (of_year - (153 * from_march + 2) / 5 + 1) as u32 }
    }

    /// The day (UTC) at a time since 1970-01-01.
    pub fn at(since_1970: Duration) -> Date {
        Date::of_days((since_1970.as_secs() / 86_400) as i64)
    }

    /// The day so many days later.
    pub fn after(self, days: i64) -> Date {
        Date::of_days(self.days() + days)
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

/// A digest of what learning starts from: the names of a palette's materials
/// and descriptors, the strengths, the scores, the scale and what is said of
/// their errors. 16 hexadecimal digits (FNV-1a over 64 bits: it notices a
/// change, it keeps no secret).
pub fn fingerprint(palette: &Palette) -> String {
    let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
    let mut take = |bytes: &[u8]| {
        for byte in bytes {
            hash = (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
        }
        // A mark that no UTF-8 has, between one text and the next.
        hash = (hash ^ 0xff).wrapping_mul(0x0100_0000_01b3);
    };
    let bits = |number: Option<f64>| number.map_or([0xff; 8], |number| (number + 0.0).to_bits().to_be_bytes());
    take(&bits(Some(palette.scale)));
    for descriptor in &palette.descriptors {
        take(descriptor.name.as_bytes());
    }
    for material in &palette.materials {
        take(material.name.as_bytes());
        for number in [Some(material.strength), material.strength_factor, material.score_error] {
            take(&bits(number));
        }
        for score in &material.scores {
            take(&bits(Some(*score)));
        }
    }
    format!("{hash:016x}")
}

#[cfg(test)]
mod tests {
    use super::Date;

    #[test]
    fn days_and_back() {
        for (text, days) in [("1970-01-01", 0), ("2000-02-29", 11_016), ("2026-11-02", 20_759), ("1969-12-31", -1)] {
            let date = Date::parse(text).unwrap();
            assert_eq!((date.days(), date.to_string().as_str()), (days, text));
        }
        for wrong in ["2026-02-29", "2026-13-01", "2026-00-10", "26-11-02", "2026-11-2", "2026/11/02", "2026-1102", ""]
        {
            assert_eq!(Date::parse(wrong), None, "{wrong}");
        }
        assert_eq!(Date::parse("2026-12-31").unwrap().after(1).to_string(), "2027-01-01");
        for days in (-800_000..800_000).step_by(97) {
            assert_eq!(Date::of_days(days).days(), days);
        }
    }
}
