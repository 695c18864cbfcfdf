//! Prices that a budget needs.

use crate::brief::{Basis, Brief, Permission, TargetFrom};
use crate::escape::escaped;
use crate::files::fault::{Fault, Tally};
use crate::files::palette::Shelf;
use crate::files::snippet::short;
use crate::files::wishlist::Origins;
use crate::palette::Palette;
use crate::units::Ppt;

/// A budget can be held only where every material that the brief can use has a
/// price; where it is asked what to buy, so has every one that could be bought.
/// The complaint stands at the material.
pub(super) fn check_prices(brief: &Brief, shelf: &Shelf, origins: &Origins, buying: bool, others: &mut Tally) {
    let Some(budget) = brief.max_price.as_ref().or(brief.max_price_of_effect.as_ref()) else { return };
    let palette = &shelf.palette;
    let mut needed: Vec<bool> =
        (0..palette.materials.len()).map(|index| can_use(brief, palette, index, buying)).collect();
    if brief.basis == Basis::Bottle {
        // What is poured is paid for, and the bottles' carriers with it.
        for index in 0..needed.len() {
            let carrier = palette.materials[index].bottles.first().and_then(|bottle| bottle.carrier.as_deref());
            let carrier = carrier.and_then(|name| palette.materials.iter().position(|m| m.name == name));
            if let (true, Some(carrier)) = (needed[index], carrier) {
                needed[carrier] = true;
            }
        }
    }
    let place = escaped(&budget.place.to_string());
    let mut faults = Vec::new();
    for (index, (material, span)) in palette.materials.iter().zip(&shelf.spans).enumerate() {
        if needed[index] && material.price_per_kg.is_none() {
            let message = format!("\"{}\" has no price, but the brief has a budget", short(&material.name));
            let help = format!(
                "expected `price` here, per kg of neat material: {place} sets the budget; \
                 or keep the material out with `use = \"never\"` in [doses]"
            );
            faults.push(Fault::at(origins.of(index), span.clone(), message).help(help));
        }
    }
    others.add((faults, 0));
}

/// Whether nothing in the brief keeps a material out.
fn can_use(brief: &Brief, palette: &Palette, index: usize, buying: bool) -> bool {
    let material = &palette.materials[index];
    let entry = brief.doses.iter().find(|entry| entry.material == index);
    let zero = |max: &Option<crate::place::Placed<Ppt>>| max.as_ref().is_some_and(|max| max.value.is_zero());
    let target = matches!(&brief.target_from, Some(TargetFrom::Material(from)) if from.value == index);
    let kept_out = match entry {
        None => material.is_carrier() || target,
        Some(entry) => entry.permission.value == Permission::Never || zero(&entry.max),
    };
    let excluded = brief.only.as_ref().is_some_and(|only| !only.value.contains(&index));
    let absent = brief.own_only.is_some() && !material.have && !buying;
    !(kept_out || excluded || absent || zero(&material.max))
}
