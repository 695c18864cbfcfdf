//! How strong materials are beside each other, by dilutions that were smelled
//! side by side.

use super::Refusal;
use crate::analysis::strengths::strengths;
use crate::matches::Matches;
use crate::palette::Palette;
use crate::results::strengths::StrengthsReport;

/// Works the strengths out.
///
/// # Errors
/// The numbers leave no way to do it.
pub fn ask(palette: &Palette, matches: &Matches, warnings: Vec<String>) -> Result<StrengthsReport, Refusal> {
    let found = strengths(palette, matches).ok_or_else(|| {
        Refusal::Stopped("the numbers of these matches lie too far apart to be worked out together".to_owned())
    })?;
    Ok(StrengthsReport::new(palette, matches, &found, warnings))
}
