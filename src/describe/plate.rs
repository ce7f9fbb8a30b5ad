//! Plates.

use schemars::JsonSchema;
use serde::Deserialize;

use super::opening::{OpeningText, openings, within};
use super::outline::{OutlineText, outline};
use super::part::{KindText, PartText, SheetAtHand};
use super::tabs::{TabsText, insert, profile_edges, tabs};
use super::yaml::{At, Read, Reader};
use crate::part::{Kind, Plate};

/// A part that is cut and left flat.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlateText {
    /// The outer outline of the plate, the part's own edge without any kerf.
    pub profile: OutlineText,
    /// The openings in it.
    pub openings: Option<Vec<OpeningText>>,
    /// Tabs on its straight edges.
    pub tabs: Option<Vec<TabsText>>,
}

impl KindText for PlateText {
    fn resolve(
        &self,
        reader: &mut Reader,
        at: &At,
        _: &PartText,
        sheet: &SheetAtHand,
    ) -> Read<Kind> {
        plate(reader, self, at, sheet).map(Kind::Plate)
    }
}

fn plate(reader: &mut Reader, text: &PlateText, at: &At, sheet: &SheetAtHand) -> Read<Plate> {
    let profile = outline(reader, &text.profile, &at.key("profile"));
    let openings = openings(reader, text.openings.as_deref(), &at.key("openings"), sheet);
    let mut profile = profile?;
    let tabs_at = at.key("tabs");
    let tabs = tabs(reader, text.tabs.as_deref(), &tabs_at, &profile_edges(&profile), sheet);
    let (openings, tabs) = (openings?, tabs?);
    insert(reader, &mut profile, &tabs, &tabs_at)?;
    within(reader, &profile, &openings, "the plate")?;
    Ok(Plate { profile, openings, tabs })
}
