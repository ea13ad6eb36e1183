//! A case judged, with the records of every layer: what the main job writes and what pictures are drawn from.

use std::collections::BTreeMap;
use std::sync::Arc;

use fallwright_law::Finding;
use fallwright_report::{
    CrossingProperties, LinkProperties, ParcelProperties, PathProperties, ReachProperties, Record,
    TerrainChangeProperties, WatershedProperties,
};

use super::{changes, dependence, judged, parcel_layer, path_layers, water_layers};
use crate::Progress;
use crate::failure::Failure;
use crate::inputs::Inputs;
use crate::study::{Study, work_out};

pub(crate) struct Results {
    pub(crate) study: Study,
    pub(crate) findings: Vec<Finding>,
    pub(crate) parcels: Vec<Record<ParcelProperties>>,
    pub(crate) paths: Vec<Record<PathProperties>>,
    pub(crate) crossings: Vec<Record<CrossingProperties>>,
    pub(crate) reaches: Vec<Record<ReachProperties>>,
    pub(crate) watersheds: Vec<Record<WatershedProperties>>,
    pub(crate) links: Vec<Record<LinkProperties>>,
    pub(crate) changes: Vec<Record<TerrainChangeProperties>>,
    /// Defaults that the check of capacity rests on, with their values and sources.
    pub(crate) defaults_used: BTreeMap<String, String>,
}

impl Results {
    pub(crate) fn work_out(inputs: Inputs, progress: Progress) -> Result<Self, Failure> {
        let study = work_out(Arc::new(inputs), progress)?;
        progress("judging every parcel");
        let findings = judged(&study);
        let mut changes = changes::changes(&study)?;
        dependence::work_out_dependence(&study, &findings, &mut changes, progress);
        let check = crate::capacity::sufficiency(&study);
        Ok(Self {
            parcels: parcel_layer::records(&study, &findings, check.as_ref())?,
            paths: path_layers::paths(&study),
            crossings: path_layers::crossings(&study),
            reaches: water_layers::reaches(&study),
            watersheds: water_layers::watersheds(&study)?,
            links: water_layers::links(&study),
            changes: changes.into_iter().map(|change| change.record).collect(),
            defaults_used: check.map(|check| check.defaults_used).unwrap_or_default(),
            findings,
            study,
        })
    }
}
