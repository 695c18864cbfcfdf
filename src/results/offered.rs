//! A formula in a report whose own `materials` are names.

use std::ops::Deref;

use serde::ser::{Serialize, SerializeStruct, Serializer};

use super::FormulaReport;

/// A formula report whose parts are called `part_lines`: where it is offered
/// with one material or two, `materials` names these.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Offered(pub FormulaReport);

impl Deref for Offered {
    type Target = FormulaReport;

    fn deref(&self) -> &FormulaReport {
        &self.0
    }
}

impl Serialize for Offered {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        // Every field by name: one that is added cannot be forgotten here.
        let FormulaReport {
            formula,
            fidelity,
            range,
            loss,
            bound,
            price,
            strength,
            loose_strengths,
            price_of_effect,
            idle,
            views,
            second_opinion,
            profile,
            shares,
            materials,
            unusual,
            poured,
            limits,
            joints,
            advice,
            near,
            blotter,
            stages,
        } = &self.0;
        let more = [
            range.is_some(),
            views.is_some(),
            !loose_strengths.is_empty(),
            unusual.is_some(),
            near.is_some(),
            blotter.is_some(),
            !stages.is_empty(),
        ];
        let more = more.into_iter().filter(|is_there| *is_there).count();
        let mut fields = serializer.serialize_struct("Offered", 16 + more)?;
        fields.serialize_field("formula", formula)?;
        fields.serialize_field("fidelity", fidelity)?;
        if let Some(range) = range {
            fields.serialize_field("range", range)?;
        }
        fields.serialize_field("loss", loss)?;
        fields.serialize_field("bound", bound)?;
        fields.serialize_field("price", price)?;
        fields.serialize_field("strength", strength)?;
        if !loose_strengths.is_empty() {
            fields.serialize_field("loose_strengths", loose_strengths)?;
        }
        fields.serialize_field("price_of_effect", price_of_effect)?;
        fields.serialize_field("idle", idle)?;
        if let Some(views) = views {
            fields.serialize_field("views", views)?;
        }
        fields.serialize_field("second_opinion", second_opinion)?;
        fields.serialize_field("profile", profile)?;
        fields.serialize_field("shares", shares)?;
        fields.serialize_field("part_lines", materials)?;
        if let Some(unusual) = unusual {
            fields.serialize_field("unusual", unusual)?;
        }
        fields.serialize_field("poured", poured)?;
        fields.serialize_field("limits", limits)?;
        fields.serialize_field("joints", joints)?;
        fields.serialize_field("advice", advice)?;
        if let Some(near) = near {
            fields.serialize_field("near", near)?;
        }
        if let Some(blotter) = blotter {
            fields.serialize_field("blotter", blotter)?;
        }
        if !stages.is_empty() {
            fields.serialize_field("stages", stages)?;
        }
        fields.end()
    }
}
