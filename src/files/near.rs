//! The nearest known name to one that nothing defines.

/// The name most like `wanted`, if one is near enough to be meant: at most a
/// third of its characters differ, rounded up.
/// Upper and lower case do not count.
pub fn nearest<'n>(wanted: &str, known: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    // Beyond this the comparison, quadratic in length, costs more than it tells.
    const LONGEST: usize = 200;
    let wanted = wanted.to_lowercase();
    let length = wanted.chars().count();
    if length == 0 || length > LONGEST {
        return None;
    }
    let mut best: Option<(usize, &str)> = None;
    for name in known {
        let lower = name.to_lowercase();
        let other = lower.chars().count();
        let allowed = length.max(other).div_ceil(3);
        if length.abs_diff(other) > allowed || other > LONGEST {
            continue;
        }
        let distance = strsim::damerau_levenshtein(&wanted, &lower);
        if distance <= allowed && distance < length && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, name));
        }
    }
    best.map(|(_, name)| name)
}

/// "did you mean ..." where a name is near, else the names themselves, of
/// many the first.
pub(super) fn hint<'n>(wanted: &str, known: impl IntoIterator<Item = &'n str> + Clone) -> String {
    const FEW: usize = 12;
    const FIRST: usize = 3;
    let seen = super::form::folded(wanted);
    if let Some(alike) = known.clone().into_iter().find(|name| *name != wanted && super::form::folded(name) == seen) {
        return difference(wanted, alike);
    }
    if let Some(near) = nearest(wanted, known.clone()) {
        return format!("did you mean `{}`?", super::snippet::short(near));
    }
    let names: Vec<String> = known.clone().into_iter().take(FEW + 1).map(super::snippet::short).collect();
    match names.len() {
        0 => "none is defined".into(),
        1..=FEW => format!("known: {}", names.join(", ")),
        _ => format!(
            "expected one of the {} that are known: {}, ...",
            known.into_iter().count(),
            names[..FIRST].join(", ")
        ),
    }
}

/// In what two names differ that look the same, or nearly so.
pub(super) fn difference(wanted: &str, alike: &str) -> String {
    let shown = super::snippet::short(alike);
    let blanks = |name: &str| name.split_whitespace().collect::<Vec<_>>().join(" ");
    if wanted.to_lowercase() == alike.to_lowercase() {
        format!("did you mean `{shown}`? Capital letters count")
    } else if blanks(wanted) == blanks(alike) {
        format!("`{shown}` has other blanks: copy the name from where it is defined")
    } else {
        format!("`{shown}` looks the same but has other characters: copy the name from where it is defined")
    }
}

#[cfg(test)]
mod tests {
    use super::{hint, nearest};

    #[test]
    fn a_hint_never_offers_what_looks_the_same_without_a_word() {
        let known = ["Rose otto", "Geraniol"];
        let of = |wanted| hint(wanted, known);
        assert!(of("Rose  otto").contains("`Rose otto` has other blanks"), "{}", of("Rose  otto"));
        assert!(of("geraniol").contains("`Geraniol`? Capital letters count"), "{}", of("geraniol"));
        assert!(of("Rose\u{a0}otto").contains("has other blanks"), "{}", of("Rose\u{a0}otto"));
        assert!(of("Rose\u{200b} otto").contains("looks the same"), "{}", of("Rose\u{200b} otto"));
        assert_eq!(of("Geranol"), "did you mean `Geraniol`?");
    }

    #[test]
    fn only_what_is_near() {
        let known = ["Citronellol", "Geraniol", "Nerol"];
        assert_eq!(nearest("geraniol", known), Some("Geraniol"));
        assert_eq!(nearest("Citronelol", known), Some("Citronellol"));
        assert_eq!(nearest("Nerlo", known), Some("Nerol"));
        assert_eq!(nearest("Rose oxide", known), None);
        assert_eq!(nearest("", known), None);
        assert_eq!(nearest("rosie", ["rosy", "fresh"]), Some("rosy"));
        assert_eq!(nearest("x", ["a"]), None);
    }
}
