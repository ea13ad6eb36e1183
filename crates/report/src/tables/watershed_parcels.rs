//! `watershed_parcels.csv`: the land of every part of a watershed.

use schemars::JsonSchema;
use serde::Serialize;

use fallwright_study::{Cells, Study, Watershed, WatershedPart};

use super::cells::{Decimal, Text};
use super::rows::rows_csv;
use crate::layers::lands::land_item;
use crate::records::land::LandItem;

/// A row for each land and part of the watershed.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct WatershedParcelRow {
    /// Kind of land: parcel, road, or unowned for land of neither
    #[schemars(extend("enum" = ["parcel", "road", "unowned"]))]
    pub kind: &'static str,
    /// Id of the parcel or road; empty for unowned land
    pub id: Option<Text>,
    /// Name of the road, where one is given
    pub name: Option<Text>,
    /// Authority of the road, where one is given
    pub authority: Option<Text>,
    /// Owner as given
    pub owner: Option<Text>,
    /// Part of the watershed
    pub part: &'static str,
    /// Id of the reach, for the land of one
    pub reach_id: Option<Text>,
    /// Hectares that drain over the surface
    pub surface_ha: Decimal,
    /// Hectares that drain by pipe
    pub piped_ha: Decimal,
    /// Whether the watershed meets the edge of the elevation on it
    pub meets_edge: bool,
}

pub(crate) fn parcels_csv(study: &Study, Watershed { parts, tally, .. }: &Watershed) -> String {
    rows_csv(tally.keys().into_iter().map(|(party, label)| {
        let part = parts.part(label);
        let reach = if let WatershedPart::Reach(reach) = part { Some(&study.reaches.list[reach].id) } else { None };
        let LandItem { kind, id, name, authority } = land_item(study, party);
        let of = |cells: &Cells| study.hectares(cells.get(&(party, label)).copied().unwrap_or(0));
        WatershedParcelRow {
            kind,
            id: id.map(Into::into),
            name: name.map(Into::into),
            authority: authority.map(Into::into),
            owner: study.party_owner(party).map(Into::into),
            part: part.name(),
            reach_id: reach.map(|reach| reach.to_string().into()),
            surface_ha: Decimal(of(&tally.surface)),
            piped_ha: Decimal(of(&tally.piped)),
            meets_edge: tally.meets_edge.contains(&(party, label)),
        }
    }))
}
