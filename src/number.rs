//! Numbers as a person reads them.

/// A number as the shortest decimal text that keeps it, without an exponent
/// and without a negative zero.
pub fn plain(value: f64) -> String {
    let text = value.to_string();
    if text == "-0" { "0".to_owned() } else { text }
}

/// A number to so many decimals, rounded to nearest, without a negative zero.
pub fn rounded(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let is_zero = text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.');
    if is_zero { text.trim_start_matches('-').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_negative_zero() {
        assert_eq!(plain(-0.0), "0");
        assert_eq!(rounded(-0.001, 2), "0.00");
        assert_eq!(rounded(-1.25, 1), "-1.2");
    }
}
