//! What sets a starting point apart from the others.

use crate::analysis::apart::Apart;
use crate::number::{plain, rounded};
use crate::problem::Problem;

/// What sets a formula apart, in words.
pub fn sentence(problem: &Problem, apart: &Apart, is_best: bool, several: bool) -> String {
    let name = |material: usize| problem.material(material).name.clone();
    let names = |materials: &[usize]| materials.iter().map(|&it| name(it)).collect::<Vec<_>>().join(", ");
    let mut said = Vec::new();
    if is_best {
        said.push("the best match".to_owned());
    }
    if !several {
        return said.join("; ");
    }
    if !apart.alone_with.is_empty() {
        said.push(format!("alone has {}", names(&apart.alone_with)));
    }
    if !apart.alone_without.is_empty() {
        said.push(format!("alone is without {}", names(&apart.alone_without)));
    }
    if let Some((material, own, others)) = apart.share {
        let more = if own > others { "more" } else { "less" };
        let (own, others) = (rounded(own, 1), rounded(others, 1));
        said.push(format!("{more} {}: {own} % of the odour, {others} in the others on average", name(material)));
    }
    if let Some((counted, by)) = apart.descriptor {
        let word = &problem.palette.descriptors[problem.targets[counted].descriptor].name;
        let more = if by > 0.0 { "most" } else { "least" };
        said.push(format!("the {more} {word}, by {} points", plain_points(by)));
    }
    if said.is_empty() { "nothing stands out".to_owned() } else { said.join("; ") }
}

fn plain_points(by: f64) -> String {
    let text = rounded(by.abs(), 1);
    if text == "0.0" { rounded(by.abs(), 2) } else { text.parse().map_or(text, plain) }
}
