//! What is seen of a brief without a programme: the sums of its doses alone. A
//! question about many variants of one brief asks most often about these.

use super::Feasibility;
use super::verify::Verifier;
use crate::model::{Blend, Role};
use crate::units::Ppt;

/// Whether the rules can be kept, where that is plain from the least and the
/// greatest dose of each column; exact. `None` where it takes a search.
pub(super) fn feasibility(blend: &Blend, verifier: &Verifier) -> Option<Feasibility> {
    if blend.contradiction.is_some() {
        return Some(Feasibility::Impossible);
    }
    // Of a material with several columns one is used.
    if blend.columns.iter().any(|column| column.role != Role::Any) {
        return None;
    }
    let usable = |column: &&crate::model::BlendColumn| column.most >= column.least;
    let greatest: Ppt = blend.columns.iter().filter(usable).map(|column| column.most).sum();
    let least: Ppt = blend.columns.iter().filter(|column| column.must).map(|column| column.least).sum();
    if greatest < Ppt::WHOLE || least > Ppt::WHOLE {
        return Some(Feasibility::Impossible);
    }
    let doses = filled(blend)?;
    verifier.judge(&doses)?;
    Some(Feasibility::Possible(verifier.answer(&doses).ok()?.formula))
}

/// 1000 parts in few columns: what must be there at its least, the rest where
/// there is most room. `None` where that does not come out.
fn filled(blend: &Blend) -> Option<Vec<Ppt>> {
    let mut doses: Vec<Ppt> =
        blend.columns.iter().map(|column| if column.must { column.least } else { Ppt::ZERO }).collect();
    let mut rest = Ppt::WHOLE - doses.iter().copied().sum();
    let mut order: Vec<usize> = (0..doses.len()).filter(|&k| blend.columns[k].most >= blend.columns[k].least).collect();
    order.sort_by_key(|&k| std::cmp::Reverse(blend.columns[k].most - doses[k]));
    for k in order {
        let column = &blend.columns[k];
        let dose = (doses[k] + rest).min(column.most).floor_to(column.step);
        if rest > Ppt::ZERO && dose >= column.least && dose > doses[k] {
            rest = rest - (dose - doses[k]);
            doses[k] = dose;
        }
    }
    rest.is_zero().then_some(doses)
}
