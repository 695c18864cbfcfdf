//! The numeric keys of the input files: one table of their ranges. The readers
//! take every range from here, and the tables of `profiles/FILES.md` are
//! written from it.

/// A key, or a kind of entry, whose value is a number.
#[derive(Debug)]
pub struct NumberKey {
    /// The file it belongs to.
    pub file: &'static str,
    /// The table it stands in.
    pub table: &'static str,
    /// The key as it is written, or what the entries of the table are.
    pub key: &'static str,
    /// What the number counts.
    pub unit: &'static str,
    /// Its lower end.
    pub lower: Lower,
    /// Its upper end.
    pub upper: Upper,
    /// How fine it may be.
    pub grain: Grain,
    /// What holds where it is absent.
    pub default: &'static str,
    /// What it means, in one line.
    pub meaning: &'static str,
}

/// The lower end of a range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Lower {
    /// This or more.
    From(f64),
    /// More than this.
    Above(f64),
    /// Nothing, or this and more.
    ZeroOr(f64),
}

/// The upper end of a range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Upper {
    /// This or less.
    To(f64),
    /// The palette's scale or less.
    Scale,
}

/// How fine a number may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grain {
    /// Any number.
    Any,
    /// A whole number.
    Whole,
    /// At most this many decimal places.
    Places(u32),
}

impl NumberKey {
    /// Whether a finite number is in range; `scale` is the palette's.
    pub fn holds(&self, value: f64, scale: f64) -> bool {
        let above = match self.lower {
            Lower::From(least) => value >= least,
            Lower::Above(least) => value > least,
            Lower::ZeroOr(least) => value == 0.0 || value >= least,
        };
        let below = match self.upper {
            Upper::To(most) => value <= most,
            Upper::Scale => value <= scale,
        };
        above && below
    }

    /// What is expected, in words; the scale is named where it is known.
    pub fn expected(&self, scale: Option<f64>) -> String {
        let number = match self.grain {
            Grain::Any => "a number".into(),
            Grain::Whole => "a whole number".into(),
            Grain::Places(places) => format!("a number with at most {places} decimal places"),
        };
        format!("expected {number}, {} ({})", self.words(scale), self.unit)
    }

    /// The range and the grain in words, for the documentation.
    pub fn range(&self) -> String {
        let range = self.words(None);
        match self.grain {
            Grain::Any => range,
            Grain::Whole => format!("{range}, whole"),
            Grain::Places(places) => format!("{range}, at most {places} decimal places"),
        }
    }

    fn words(&self, scale: Option<f64>) -> String {
        let upper = match (self.upper, scale) {
            (Upper::To(most), _) | (Upper::Scale, Some(most)) => most.to_string(),
            (Upper::Scale, None) => "the palette's scale".into(),
        };
        match self.lower {
            Lower::From(least) => format!("from {least} to {upper}"),
            Lower::Above(least) => format!("above {least}, up to {upper}"),
            Lower::ZeroOr(least) => format!("0, or from {least} to {upper}"),
        }
    }
}

const fn from(least: f64) -> Lower {
    Lower::From(least)
}

const fn above(least: f64) -> Lower {
    Lower::Above(least)
}

const fn to(most: f64) -> Upper {
    Upper::To(most)
}

/// Names the files in the order of the documentation.
pub const FILES: [&str; 8] = [
    "palette.toml",
    "brief.toml",
    "limits.toml",
    "formula.toml",
    "matches.toml",
    "trials.toml",
    "batch.toml",
    "composition.toml",
];
const PALETTE: &str = FILES[0];
const BRIEF: &str = FILES[1];
const LIMITS: &str = FILES[2];
const FORMULA: &str = FILES[3];
const MATCHES: &str = FILES[4];
const TRIALS: &str = FILES[5];
const BATCH: &str = FILES[6];
const COMPOSITION: &str = FILES[7];

/// Least end of the scale of scores. What counts as proven, and as tied, is
/// told in points: on a scale of millionths everything would be.
pub const SMALLEST_SCALE: f64 = 0.1;
/// Greatest end of the scale of scores.
pub const LARGEST_SCALE: f64 = 1000.0;
/// The largest sum of the parts of a formula, in ppt: it keeps every sum of
/// doses far inside what a dose can hold.
pub const LARGEST_SUM_PPT: i64 = 1_000_000_000;

/// Materials of a palette at the most: far more than any shelf holds, and few
/// enough that a score for every descriptor of each fits in memory.
pub const MOST_MATERIALS: usize = 10_000;
/// Pairs in a file of matches at the most: each asks for a row and a column of
/// one dense matrix.
pub const MOST_MATCHES: usize = 1_000;
/// Packs of a material at the most.
pub const MOST_PACKS: usize = 50;
/// Trials of a file at the most: more than a working life weighs.
pub const MOST_TRIALS: usize = 1_000;
/// Stages of a brief at the most: as many as stand side by side.
pub const MOST_STAGES: usize = 6;
/// Descriptors of a palette at the most.
pub const MOST_DESCRIPTORS: usize = 1_000;

const PPT: f64 = 1000.0;
const PERCENT: f64 = 100.0;
const MONEY: f64 = 1e9;
const FACTOR: f64 = 1e6;
/// Decimal places of a step.
const STEP: Grain = Grain::Places(6);

/// Defines the keys, and the table of all of them.
macro_rules! keys {
    ($($name:ident = $file:ident $table:literal $key:literal, $unit:literal, $lower:expr, $upper:expr, $grain:expr,
       $default:literal, $meaning:literal;)*) => {
        $(#[doc = $meaning]
        pub static $name: NumberKey = NumberKey {
            file: $file, table: $table, key: $key, unit: $unit, lower: $lower, upper: $upper, grain: $grain,
            default: $default, meaning: $meaning,
        };)*
        /// Every numeric key, file by file.
        pub static ALL: &[&NumberKey] = &[$(&$name),*];
    };
}

use Grain::{Any, Whole};

keys! {
    SCALE = PALETTE "top" "scale", "points", from(SMALLEST_SCALE), to(LARGEST_SCALE), Any, "10", "scores run from 0 to this";
    MATERIAL_STRENGTH = PALETTE "[[material]]" "strength", "per part, by dilution", Lower::ZeroOr(1e-6), to(1e6), Any, "required", "strength of the neat material; 0 for a carrier";
    STRENGTH_FACTOR = PALETTE "[[material]]" "strength_factor", "factor", from(1.0), to(FACTOR), Any, "not said", "the strength is known to within times or divided by this";
    TIMES = PALETTE "[[material]]" "times", "times, by dilution", above(0.0), to(1e6), Any, "required with `strength_of`", "how many times as strong as `strength_of`; or \"thresholds\"";
    SCORE_WORD = PALETTE "[score_words]" "*", "points", from(0.0), Upper::Scale, Any, "none", "what a word that scores may be given in stands for";
    SCORE = PALETTE "[[material]]" "scores.*", "points", from(0.0), Upper::Scale, Any, "0", "how much it smells of a descriptor";
    SCORE_ERROR = PALETTE "[[material]]" "score_error", "points", from(0.0), Upper::Scale, Any, "not said", "one standard deviation of a score";
    PRICE = PALETTE "[[material]]" "price", "per kg, neat", from(0.0), to(MONEY), Any, "not known", "price";
    MATERIAL_MIN = PALETTE "[[material]]" "min", "‰", from(0.0), to(PPT), Any, "none", "least dose, if used at all";
    MATERIAL_MAX = PALETTE "[[material]]" "max", "‰ of the accord, neat", from(0.0), to(PPT), Any, "none", "greatest dose";
    MAX_IN_CONCENTRATE = PALETTE "[[material]]" "max_in_concentrate", "percent of the concentrate", from(0.0), to(PERCENT), Any, "none", "greatest share of the concentrate";
    MAX_IN_PRODUCT = PALETTE "[[material]]" "max_in_product", "percent of the finished product", from(0.0), to(PERCENT), Any, "none", "greatest share of the finished product";
    MATERIAL_STEP = PALETTE "[[material]]" "step", "‰", above(0.0), to(PPT), STEP, "none", "doses are whole multiples of this";
    USUAL = PALETTE "[[material]]" "usual", "‰ of the accord, neat", from(0.0), to(PPT), Any, "not said", "the least and the greatest dose at which it is mostly used";
    USUAL_IN_CONCENTRATE = PALETTE "[[material]]" "usual_in_concentrate", "percent of the concentrate", from(0.0), to(PERCENT), Any, "not said", "the same as suppliers print it: 1 percent is 10 ‰";
    LASTING = PALETTE "[[material]]" "lasting", "hours", from(0.0), to(1e6), Any, "not said", "until it is gone from a blotter";
    LASTING_FACTOR = PALETTE "[[material]]" "lasting_factor", "factor", from(1.0), to(FACTOR), Any, "2", "`lasting` is known to within times or divided by this";
    LASTING_PERCENT = PALETTE "top" "lasting_percent", "percent by mass", above(0.0), to(PERCENT), Any, "100", "of the material in what the blotter was dipped in when `lasting` was noted";
    MOLAR_MASS = PALETTE "[[material]]" "molar_mass", "g/mol", from(1.0), to(1e5), Any, "160", "molar mass, for how it leaves a blotter";
    VAPOUR_PRESSURE = PALETTE "[[material]]" "vapour_pressure", "Pa at 25 °C", above(0.0), to(1e6), Any, "not known", "vapour pressure, where `lasting` was not noted";
    CONSTITUENT = PALETTE "[[material]]" "constituents.*", "percent by mass", from(0.0), to(PERCENT), Any, "not known", "how much of a substance is within it";
    STOCK = PALETTE "[[material]]" "stock", "grams", from(0.0), to(1e9), Any, "not said", "on hand in the usual bottle";
    PACK_GRAMS = PALETTE "packs" "grams", "grams, neat", above(0.0), to(1e9), Any, "required", "neat material in a pack";
    PACK_PRICE = PALETTE "packs" "price", "per pack", above(0.0), to(MONEY), Any, "required", "price of the whole pack";
    BOTTLE_PERCENT = PALETTE "bottle" "percent", "percent by mass", above(0.0), to(PERCENT), Any, "required", "neat material in the bottle";

    TARGET_SCORE = BRIEF "[target]" "*, *.score", "points", from(0.0), Upper::Scale, Any, "target_from's, else 0", "wanted score";
    TARGET_WEIGHT = BRIEF "[target]" "*.weight", "factor", from(0.0), to(FACTOR), Any, "1", "weight of a gap; 0: the descriptor is not looked at";
    TARGET_EXCESS = BRIEF "[target]" "*.excess", "factor", from(0.0), to(FACTOR), Any, "1", "multiplies the weight where the blend has too much";
    TARGET_MIN = BRIEF "[target]" "*.min", "points", from(0.0), Upper::Scale, Any, "none", "the blend's score must not be below this";
    TARGET_MAX = BRIEF "[target]" "*.max", "points", from(0.0), Upper::Scale, Any, "none", "the blend's score must not be above this";
    FORMULA_STEP = BRIEF "[formula]" "step", "‰", above(0.0), to(PPT), STEP, "continuous", "doses are whole multiples of this";
    MIN_DOSE = BRIEF "[formula]" "min_dose", "‰", from(0.0), to(PPT), Any, "none", "least dose of a material, if used at all";
    MAX_MATERIALS = BRIEF "[formula]" "max_materials", "materials", from(1.0), to(1e6), Whole, "none", "greatest number of materials, carriers included";
    MAX_IDLE = BRIEF "[formula]" "max_idle", "‰, neat", from(0.0), to(PPT), Any, "none", "greatest sum of what is idle";
    MAX_UNUSUAL = BRIEF "[formula]" "max_unusual", "materials", from(0.0), to(1e6), Whole, "none", "greatest number of materials whose dose is outside their usual one";
    OFF_NOTE_WEIGHT = BRIEF "[formula]" "off_note_weight", "factor", from(0.0), to(FACTOR), Any, "1", "weight of a descriptor that the target does not name";
    STRENGTH_MIN = BRIEF "[formula]" "strength.min", "per part, by dilution", from(0.0), to(1e6), Any, "none", "least strength of the formula";
    STRENGTH_MAX = BRIEF "[formula]" "strength.max", "per part, by dilution", from(0.0), to(1e6), Any, "none", "greatest strength of the formula";
    MAX_PRICE = BRIEF "[budget]" "max_price", "per kg of accord", from(0.0), to(MONEY), Any, "none", "greatest price";
    MAX_PRICE_OF_EFFECT = BRIEF "[budget]" "max_price_of_effect", "per kg, divided by the strength", from(0.0), to(MONEY), Any, "none", "greatest price of the effect";
    DOSAGE = BRIEF "[use]" "dosage", "percent of the finished product", above(0.0), to(PERCENT), Any, "not said", "concentrate in the finished product";
    ACCORD_SHARE = BRIEF "[use]" "accord_share", "percent of the concentrate", above(0.0), to(PERCENT), Any, "100", "this accord in the concentrate";
    RESERVE = BRIEF "[use]" "reserve.*", "percent of the finished product", from(0.0), to(PERCENT), Any, "0", "what the rest of the concentrate already brings of a substance";
    DOSE_MIN = BRIEF "[doses]" "*.min", "‰", from(0.0), to(PPT), Any, "the material's, else min_dose", "least dose, if used at all";
    DOSE_MAX = BRIEF "[doses]" "*.max", "‰", from(0.0), to(PPT), Any, "none", "greatest dose";
    DOSE_STEP = BRIEF "[doses]" "*.step", "‰", above(0.0), to(PPT), STEP, "the material's, else [formula]'s", "doses are whole multiples of this";
    DOSE_FIXED = BRIEF "[doses]" "*.fixed", "‰", above(0.0), to(PPT), Any, "none", "exactly this dose";
    GROUP_MIN = BRIEF "[[group]]" "min", "‰, neat", from(0.0), to(PPT), Any, "none", "least sum of the members' doses";
    GROUP_MAX = BRIEF "[[group]]" "max", "‰, neat", from(0.0), to(PPT), Any, "none", "greatest sum of the members' doses";
    RATIO_MIN = BRIEF "[[ratio]]" "min", "times the dose of `to`", from(0.0), to(1e9), Any, "none", "least dose of `of`";
    RATIO_MAX = BRIEF "[[ratio]]" "max", "times the dose of `to`", from(0.0), to(1e9), Any, "none", "greatest dose of `of`";
    NEAR_WITHIN = BRIEF "[near]" "within", "percent of `by`", from(0.0), to(PERCENT), Any, "none", "how much may move: half the sum of the differences of all shares";
    NEAR_GIVE = BRIEF "[near]" "give", "percentage points of the match", from(0.0), to(PERCENT), Any, "none", "match that may be given away to come nearer";

    DIP_PERCENT = BRIEF "[blotter]" "percent", "percent by mass", above(0.0), to(PERCENT), Any, "the palette's lasting_percent", "of the accord in what the blotter is dipped in";
    FILM_WEIGHT = BRIEF "[blotter]" "film_weight", "g/m2", above(0.0), to(1e4), Any, "what the shelf's `lasting` comes to", "of the film, where tenacities come from vapour pressures";
    STAGE_MINUTES = BRIEF "[[stage]]" "minutes", "minutes", from(0.0), to(1e6), Any, "required", "after dipping";
    STAGE_WEIGHT = BRIEF "[[stage]]" "weight", "factor", above(0.0), to(FACTOR), Any, "1", "how much what is lost at it counts, beside the other stages";
    STAGE_STRENGTH_MIN = BRIEF "[[stage]]" "strength.min", "per part, by dilution", from(0.0), to(1e6), Any, "none", "least strength of what is left";
    STAGE_STRENGTH_MAX = BRIEF "[[stage]]" "strength.max", "per part, by dilution", from(0.0), to(1e6), Any, "none", "greatest strength of what is left";
    STAGE_KEPT_MIN = BRIEF "[[stage]]" "kept.min", "percent", from(0.0), to(PERCENT), Any, "none", "least strength of what is left, in percent of the first stage's";
    STAGE_SCORE = BRIEF "[stage.target]" "*, *.score", "points", from(0.0), Upper::Scale, Any, "[target]'s", "wanted score at this stage";
    STAGE_TARGET_WEIGHT = BRIEF "[stage.target]" "*.weight", "factor", from(0.0), to(FACTOR), Any, "[target]'s", "weight of a gap at this stage";
    STAGE_TARGET_EXCESS = BRIEF "[stage.target]" "*.excess", "factor", from(0.0), to(FACTOR), Any, "[target]'s", "multiplies the weight where the blend has too much at this stage";
    STAGE_SHARE_MIN = BRIEF "[[stage.share]]" "min", "percent of the odour", from(0.0), to(PERCENT), Any, "none", "least share of what is left";
    STAGE_SHARE_MAX = BRIEF "[[stage.share]]" "max", "percent of the odour", from(0.0), to(PERCENT), Any, "none", "greatest share of what is left";

    LIMIT = LIMITS "[[restriction]]" "limits.*", "percent of the finished product", from(0.0), to(PERCENT), Any, "unrestricted", "the most that a product of the category may hold; or \"none\"";
    LABEL_ABOVE = LIMITS "[[allergen]]" "label_above.*", "percent of the finished product", from(0.0), to(PERCENT), Any, "required", "a product that holds more than this must name it on its label";

    PART = FORMULA "[parts]" "*", "parts", from(0.0), to(1e6), Any, "required", "dose; parts of 0 are left out";

    EXPONENT = MATCHES "top" "exponent", "power", from(0.05), to(2.0), Any, "1", "intensity goes with (strength times percent) to this power";
    MATCHES_GIVE_OR_TAKE = MATCHES "top" "give_or_take_factor", "factor", from(1.001), to(FACTOR), Any, "1.5, of intensity", "a pair is known to within times or divided by this, in dilution";
    MATCH_PERCENT = MATCHES "[[equal]], [[stronger]]" "a.percent, b.percent", "percent by mass", above(0.0), to(PERCENT), Any, "required", "neat material in what was smelled";
    PAIR_GIVE_OR_TAKE = MATCHES "[[equal]], [[stronger]]" "give_or_take_factor", "factor", from(1.001), to(FACTOR), Any, "the file's", "this pair is known to within times or divided by this, in dilution";
    TRIAL_MINUTES = TRIALS "[[trial]]" "minutes", "minutes", from(0.0), to(1e6), Any, "not said", "since the blotter was dipped";
    TRIAL_AGE = TRIALS "[[trial]]" "age_days", "days", from(0.0), to(1e5), Any, "not said", "since it was mixed";
    TRIAL_PERCENT = TRIALS "[[trial]]" "percent", "percent", above(0.0), to(PERCENT), Any, "not said", "concentration that was smelled";
    TRIAL_SCORE = TRIALS "[[trial]]" "scores.*", "points", from(0.0), Upper::Scale, Any, "not judged", "how much it smelled of a descriptor";
    TRIAL_STRENGTH = TRIALS "[[trial]]" "strength", "per part, by dilution", above(0.0), to(1e6), Any, "not judged", "strength of the undiluted formula";
    TRIAL_UNKNOWN = TRIALS "[[trial]]" "unknown_percent", "percent by mass", from(0.0), to(99.0), Any, "the composition's own", "what nobody identified of a natural";
    GIVE_OR_TAKE = TRIALS "[[trial]]" "give_or_take", "points", above(0.0), Upper::Scale, Any, "1", "one standard deviation of these scores";

    BATCH_GRAMS = BATCH "[[line]]" "grams", "grams", above(0.0), to(1e6), Any, "required", "what was poured from the bottle";
    BATCH_PERCENT = BATCH "[[line]]" "bottle.percent", "percent by mass", above(0.0), to(PERCENT), Any, "100, neat", "neat material in the bottle";
    TOP_UP_GRAMS = BATCH "[top_up]" "grams", "grams", above(0.0), to(1e6), Any, "required", "carrier that filled the vessel up";
    BATCH_CONCENTRATION = BATCH "top" "concentration", "percent by mass", above(0.0), to(PERCENT), Any, "what the lines make", "neat material in the vessel";
    BATCH_CARRIER = BATCH "[carriers]" "*", "grams", from(0.0), to(1e7), Any, "what the lines bring", "carrier that bottles and [top_up] bring";

    UNKNOWN_PERCENT = COMPOSITION "top" "unknown_percent", "percent by mass", from(0.0), to(99.0), Any, "what percentages leave of 100; else 0", "what nobody identified";
    COMPONENT_PERCENT = COMPOSITION "[parts]" "*.percent", "percent by mass", from(0.0), to(PERCENT), Any, "this or `parts`", "how much of it there is in the whole";
    COMPONENT_PARTS = COMPOSITION "[parts]" "*, *.parts", "parts", from(0.0), to(1e6), Any, "this or `percent`", "how much of it there is";
    COMPONENT_STRENGTH = COMPOSITION "[parts]" "*.strength", "per part, by dilution", Lower::ZeroOr(1e-6), to(1e6), Any, "not said", "strength of a part that the shelf lacks";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_of_ranges() {
        assert!(BOTTLE_PERCENT.holds(100.0, 10.0) && !BOTTLE_PERCENT.holds(0.0, 10.0));
        assert!(MATERIAL_STRENGTH.holds(0.0, 10.0) && !MATERIAL_STRENGTH.holds(1e-7, 10.0));
        assert!(SCORE.holds(10.0, 10.0) && !SCORE.holds(10.5, 10.0));
        assert!(!PRICE.holds(-0.1, 10.0));
    }

    #[test]
    fn no_key_is_listed_twice() {
        let mut names: Vec<_> = ALL.iter().map(|key| (key.file, key.table, key.key)).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), ALL.len());
    }
}
