//! Several views of a formula in a proof.

use super::Claim;
use crate::model::Blend;

/// The model that a claim is about: no formula loses less than the claim in every view
/// where none that keeps to it in the further ones loses less in the first. So further
/// views are caps at the loss that is claimed, after the brief's own; and where there is no
/// formula at all, they have no say.
pub fn claimed(claim: Claim, blend: &Blend) -> Blend {
    match claim {
        Claim::NoneBelow(loss) => blend.capped_views(loss),
        Claim::None => blend.first_view(),
    }
}
