//! The headings of a shelf.

use super::text;

/// What a column of a shelf holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Known {
    Material,
    Cas,
    Strength,
    StrengthOf,
    Times,
    StrengthFactor,
    ScoreError,
    Price,
    Min,
    Max,
    MaxInConcentrate,
    MaxInProduct,
    Step,
    Usual,
    UsualInConcentrate,
    Tags,
    Note,
    Lasting,
    LastingFactor,
    MolarMass,
    VapourPressure,
    Natural,
    Constituents,
    Bottle,
    Carrier,
    Packs,
    Stock,
    Have,
    Handling,
    Formula,
    Remarks,
}

use Known::*;

/// Every known column in the order in which they are written, with the key of
/// palette.toml that it stands for and the units that may follow in brackets.
pub(super) const KNOWN: [(Known, &str, &[&str]); 31] = [
    (Material, "material", &[]),
    (Cas, "cas", &["number"]),
    (Strength, "strength", &["by dilution"]),
    (StrengthOf, "strength_of", &[]),
    (Times, "times", &[]),
    (StrengthFactor, "strength_factor", &[]),
    (ScoreError, "score_error", &["points"]),
    (Price, "price", &["per kg", "/kg"]),
    (Min, "min", &["ppt", "\u{2030}"]),
    (Max, "max", &["ppt", "\u{2030}"]),
    (MaxInConcentrate, "max_in_concentrate", &["%", "percent"]),
    (MaxInProduct, "max_in_product", &["%", "percent"]),
    (Step, "step", &["ppt", "\u{2030}"]),
    (Usual, "usual", &["ppt", "\u{2030}"]),
    (UsualInConcentrate, "usual_in_concentrate", &["%", "percent"]),
    (Tags, "tags", &[]),
    (Note, "note", &[]),
    (Lasting, "lasting", &["h", "hours"]),
    (LastingFactor, "lasting_factor", &[]),
    (MolarMass, "molar_mass", &["g/mol"]),
    (VapourPressure, "vapour_pressure", &["Pa"]),
    (Natural, "natural", &[]),
    (Constituents, "constituents", &["%", "percent"]),
    (Bottle, "bottle", &["%", "percent"]),
    (Carrier, "carrier", &[]),
    (Packs, "packs", &[]),
    (Stock, "stock", &["g", "grams"]),
    (Have, "have", &[]),
    (Handling, "handling", &[]),
    (Formula, "formula", &[]),
    (Remarks, "remarks", &[]),
];

/// What a heading says in front of a descriptor that could be taken for
/// something else.
const PREFIX: &str = "descriptor:";

/// What a heading says.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Heading {
    /// A known column.
    Known(Known),
    /// A descriptor.
    Descriptor(String),
    /// A known column with a unit that it does not have.
    Unit(&'static str, String),
    /// Nothing that is known, but near something: perhaps a slip.
    Near(String, &'static str),
    /// What people keep in such a sheet besides smells.
    Bookkeeping(String),
}

/// Words that head a column of bookkeeping, wherever they stand in a heading.
const KEPT_WORDS: [&str; 24] = [
    "cost",
    "costs",
    "price",
    "prices",
    "left",
    "remaining",
    "supplier",
    "suppliers",
    "vendor",
    "date",
    "limit",
    "limits",
    "bought",
    "ordered",
    "opened",
    "expiry",
    "expires",
    "batch",
    "lot",
    "quantity",
    "qty",
    "weight",
    "volume",
    "stock",
];

/// Whole headings of columns of bookkeeping.
const KEPT_HEADINGS: [&str; 40] = [
    "amount",
    "grams",
    "gram",
    "g",
    "kg",
    "mg",
    "ml",
    "drops",
    "url",
    "link",
    "website",
    "location",
    "place",
    "id",
    "no",
    "nr",
    "number",
    "code",
    "sku",
    "order",
    "invoice",
    "status",
    "checked",
    "comment",
    "comments",
    "notes",
    "description",
    "odour",
    "odor",
    "smell",
    "family",
    "category",
    "type",
    "synonym",
    "synonyms",
    "density",
    "flash point",
    "boiling point",
    "vapour pressure",
    "molar mass",
];

/// Units in the brackets of a heading: no smell is counted in them.
const UNITS: [&str; 20] = [
    "g", "kg", "mg", "ml", "l", "%", "percent", "ppm", "h", "hours", "days", "years", "pa", "g/mol", "g/ml", "/kg",
    "per kg", "\u{b0}c", "ppt", "\u{2030}",
];

/// Smells that lie one edit from a key.
const SMELLS: [&str; 1] = ["rice"];

fn is_bookkeeping(folded_heading: &str, unit: Option<&str>, currency: &str) -> bool {
    let in_units = unit.is_some_and(|unit| {
        let unit = unit.to_lowercase();
        UNITS.contains(&unit.as_str()) || unit == currency.to_lowercase() || ["eur", "usd", "gbp"].contains(&&*unit)
    });
    in_units
        || KEPT_HEADINGS.contains(&folded_heading)
        || folded_heading.split(' ').any(|word| KEPT_WORDS.contains(&word))
}

fn folded(heading: &str) -> String {
    let words: Vec<String> =
        heading.split([' ', '_', '-', '\u{a0}']).filter(|word| !word.is_empty()).map(str::to_lowercase).collect();
    words.join(" ")
}

fn exact(folded_heading: &str) -> Option<(Known, &'static str, &'static [&'static str])> {
    if folded_heading == "name" {
        return Some(KNOWN[0]);
    }
    KNOWN.into_iter().find(|(_, key, _)| folded(key) == folded_heading)
}

/// Whether a heading says itself that it is a descriptor.
pub(super) fn is_prefixed(cell: &str) -> bool {
    cell.get(..PREFIX.len()).is_some_and(|start| start.eq_ignore_ascii_case(PREFIX))
}

/// Reads a heading; `currency` may stand in the brackets behind a price.
pub(super) fn heading(cell: &str, currency: &str) -> Heading {
    if is_prefixed(cell) {
        return Heading::Descriptor(text::decode(&cell[PREFIX.len()..]));
    }
    let whole = folded(cell);
    if let Some((known, ..)) = exact(&whole) {
        return Heading::Known(known);
    }
    if let Some((base, unit)) = cell.strip_suffix([')', ']']).and_then(|rest| rest.split_once(['(', '[']))
        && let Some((known, key, units)) = exact(&folded(base))
    {
        let unit = unit.trim();
        let money = [currency.to_owned(), format!("{currency}/kg"), format!("{currency} per kg")];
        let is_known = units.iter().any(|known| known.eq_ignore_ascii_case(unit))
            || (known == Price && money.iter().any(|known| known.eq_ignore_ascii_case(unit)));
        return if is_known { Heading::Known(known) } else { Heading::Unit(key, unit.to_owned()) };
    }
    let name = text::decode(cell);
    let unit = cell.strip_suffix([')', ']']).and_then(|rest| rest.split_once(['(', '['])).map(|(_, unit)| unit.trim());
    if is_bookkeeping(&whole, unit, currency) {
        return Heading::Bookkeeping(name);
    }
    match misspelt(&whole) {
        Some(key) => Heading::Near(name, key),
        None => Heading::Descriptor(name),
    }
}

/// The key that a heading misses by one edit. More than one would take smells
/// for slips: spice for price, pine for price, jasmine for lasting.
fn misspelt(folded_heading: &str) -> Option<&'static str> {
    if SMELLS.contains(&folded_heading) {
        return None;
    }
    // Short words are near too many others.
    let mut long = KNOWN.into_iter().map(|(_, key, _)| key).filter(|key| key.len() >= 5);
    long.find(|key| strsim::damerau_levenshtein(folded_heading, &folded(key)) == 1)
}

/// What a heading stands for where the user says so: a known heading, or
/// `descriptor`.
pub(super) fn assigned(cell: &str, to: &str) -> Option<Heading> {
    if to.eq_ignore_ascii_case("descriptor") {
        return Some(Heading::Descriptor(text::decode(cell)));
    }
    exact(&folded(to)).map(|(known, ..)| Heading::Known(known))
}

/// Whether a heading says that its numbers are percent.
pub(super) fn in_percent(cell: &str) -> bool {
    cell.contains('%') || folded(cell).contains("percent")
}

/// The heading of a descriptor.
pub(super) fn of_descriptor(name: &str) -> String {
    let plain = text::encode(name);
    let is_read_back = !plain.starts_with('\'') && heading(&plain, "") == Heading::Descriptor(name.to_owned());
    if is_read_back { plain } else { format!("{PREFIX} {plain}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings() {
        let of = |cell| heading(cell, "EUR");
        assert_eq!(of("Name"), Heading::Known(Material));
        assert_eq!(of("Max in product (%)"), Heading::Known(MaxInProduct));
        assert_eq!(of("STRENGTH_FACTOR"), Heading::Known(StrengthFactor));
        assert_eq!(of("Price [eur/kg]"), Heading::Known(Price));
        assert_eq!(of("price (USD/kg)"), Heading::Unit("price", "USD/kg".into()));
        assert_eq!(of("lasting (days)"), Heading::Unit("lasting", "days".into()));
        assert_eq!(of("strenght"), Heading::Near("strenght".into(), "strength"));
        for word in ["prices", "Lastin", "bottl", "materiel"] {
            assert!(matches!(of(word), Heading::Near(..) | Heading::Bookkeeping(_)), "{word}: {:?}", of(word));
        }
        for kept in ["Cost", "g left", "Supplier", "date", "IFRA limit", "left (g)", "Best before date", "volume (ml)"]
        {
            assert_eq!(of(kept), Heading::Bookkeeping(kept.into()));
        }
        for smell in ["jasmine", "apricot", "spice", "pine", "rice", "stone fruit", "lactone", "caramel", "sting"] {
            assert_eq!(of(smell), Heading::Descriptor(smell.into()));
        }
        for word in ["rosy", "minty", "waxy", "spicy", "stemmy", "rosy (fresh)"] {
            assert_eq!(of(word), Heading::Descriptor(word.into()));
        }
        for awkward in
            ["price", "Tags", "descriptor: x", "=1", "2024", "#scale", "note", " x", "Strenght", "price (day)"]
        {
            let written = of_descriptor(awkward);
            assert_eq!(heading(&written, "EUR"), Heading::Descriptor(awkward.into()), "{written}");
        }
        assert_eq!(of_descriptor("rosy"), "rosy");
    }
}
