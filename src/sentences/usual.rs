//! Doses outside their usual range.

use crate::escape::escaped;
use crate::units::Ppt;

/// How a dose that is none of the usual ones is marked: the end that it passes,
/// in neat ppt.
pub fn mark([least, most]: [Ppt; 2], is_above: bool) -> String {
    if is_above { format!("above {most}") } else { format!("below {least}") }
}

/// Which doses of a formula are marked: (material, its mark) of each.
pub fn told(marked: &[(&str, String)]) -> Option<String> {
    let named: Vec<String> =
        marked.iter().map(|(material, mark)| format!("{} ({mark} \u{2030} neat)", escaped(material))).collect();
    match marked.len() {
        0 => None,
        1 => Some(format!("1 dose is outside its usual range: {}.", named[0])),
        many => Some(format!("{many} doses are outside their usual range: {}.", named.join(", "))),
    }
}
