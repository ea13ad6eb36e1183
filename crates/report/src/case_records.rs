//! The records of every layer of the main job, for those who look at them in any order.

use fallwright_study::{Standings, Study};
use fallwright_units::ParcelIx;
use typed_index_collections::TiVec;

use crate::error::WriteError;
use crate::layer::Record;
use crate::layers::parcels::ParcelLayer;
use crate::layers::paths::PipedPaths;
use crate::layers::terrain_changes::terrain_change;
use crate::layers::water;
use crate::records::link::LinkProperties;
use crate::records::parcel::ParcelProperties;
use crate::records::reach::ReachProperties;
use crate::records::terrain_change::TerrainChangeProperties;
use crate::records::watershed::WatershedProperties;

pub struct CaseRecords<'a> {
    pub study: &'a Study,
    pub standings: &'a Standings,
    pub parcels: TiVec<ParcelIx, Record<ParcelProperties>>,
    pub reaches: Vec<Record<ReachProperties>>,
    pub watersheds: Vec<Record<WatershedProperties>>,
    pub links: Vec<Record<LinkProperties>>,
    pub changes: Vec<Record<TerrainChangeProperties>>,
}

impl<'a> CaseRecords<'a> {
    /// # Errors
    /// Places without longitude and latitude; areas whose outline cannot be traced.
    pub fn of(study: &'a Study, standings: &'a Standings) -> Result<Self, WriteError> {
        let layer = ParcelLayer::find(study, &standings.findings, &PipedPaths::find(study))?;
        Ok(Self {
            study,
            standings,
            parcels: layer.records(study, &standings.findings, standings.capacity.as_ref()).collect(),
            reaches: water::reaches(study),
            watersheds: water::watersheds(study)?,
            links: water::links(study),
            changes: standings.changes.iter().map(|change| terrain_change(study, change)).collect(),
        })
    }
}
