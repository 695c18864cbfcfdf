//! Bounds of the palette that only the basis of a brief makes comparable.

use crate::brief::{Basis, Brief, Permission};
use crate::files::fault::{Fault, Tally};
use crate::files::palette::Shelf;
use crate::files::snippet::short;
use crate::files::wishlist::Origins;

/// In basis neat the `min` of a diluted material counts neat, as its `max`
/// does. The complaint stands at the material, unless the brief gives it a
/// least dose of its own or leaves it out.
pub(super) fn check_min_and_max(brief: &Brief, shelf: &Shelf, origins: &Origins, others: &mut Tally) {
    if brief.basis != Basis::Neat {
        return;
    }
    let mut faults = Vec::new();
    for (index, (material, span)) in shelf.palette.materials.iter().zip(&shelf.spans).enumerate() {
        let (Some(min), Some(max)) = (&material.min, &material.max) else { continue };
        let entry = brief.doses.iter().find(|entry| entry.material == index);
        let set_aside = entry.is_some_and(|entry| {
            entry.min.is_some() || entry.fixed.is_some() || entry.permission.value == Permission::Never
        });
        if min.value > max.value && !set_aside {
            let name = short(&material.name);
            let message = format!("`min` of \"{name}\" is above its `max`: {} > {}", min.value, max.value);
            let help = format!(
                "`min` is on line {}, `max` on line {}; with basis = \"neat\" in the brief both count neat parts",
                min.place.line, max.place.line
            );
            faults.push(Fault::at(origins.of(index), span.clone(), message).help(help));
        }
    }
    others.add((faults, 0));
}
