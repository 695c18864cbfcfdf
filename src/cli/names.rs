//! Names on the command line: they ignore case, blanks and the forms of accents.

use crate::escape::escaped;
use crate::files::form::folded;
use crate::files::nearest;
use crate::palette::Palette;

/// The index of a name among some known ones, which are `what`. One that is
/// written exactly so goes before others that differ in case alone.
///
/// # Errors
/// What is wrong with the name, with the nearest known one.
pub fn find(name: &str, known: &[&str], what: &str) -> Result<usize, String> {
    if let Some(index) = known.iter().position(|other| *other == name) {
        return Ok(index);
    }
    let seen = folded(name);
    let alike: Vec<usize> = (0..known.len()).filter(|&index| folded(known[index]) == seen).collect();
    match alike[..] {
        [index] => Ok(index),
        [] => {
            let near = nearest(name, known.iter().copied());
            let hint = near.map(|near| format!("; did you mean \"{}\"?", escaped(near))).unwrap_or_default();
            Err(format!("no {what} is named \"{}\"{hint}", escaped(name)))
        }
        _ => Err(format!(
            "\"{}\" could be any of {} names; write it just as it is in the file",
            escaped(name),
            alike.len()
        )),
    }
}

/// The index of a material of the shelf by its name.
///
/// # Errors
/// As [`find`].
pub fn material(name: &str, palette: &Palette) -> Result<usize, String> {
    let known: Vec<&str> = palette.materials.iter().map(|material| material.name.as_str()).collect();
    find(name, &known, "material")
}

#[cfg(test)]
mod tests {
    use super::find;

    #[test]
    fn case_does_not_matter_unless_it_must() {
        let known = ["Nerol", "Geraniol", "geraniol"];
        assert_eq!(find("nerol", &known, "material"), Ok(0));
        assert_eq!(find("geraniol", &known, "material"), Ok(2));
        assert_eq!(find(" nerol ", &known, "material"), Ok(0));
        assert_eq!(find("Ne\u{301}rol", &["N\u{e9}rol"], "material"), Ok(0));
        assert!(find("GERANIOL", &known, "material").unwrap_err().contains("any of 2"));
        let error = find("nerool", &known, "material").unwrap_err();
        assert_eq!(error, "no material is named \"nerool\"; did you mean \"Nerol\"?");
    }
}
