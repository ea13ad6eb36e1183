//! A case judged, with the records of every layer: what the main job writes and what pictures are drawn from.

use std::collections::BTreeMap;
use std::sync::Arc;

use fallwright_law::Finding;
use fallwright_report::{
    LinkProperties, ParcelProperties, ReachProperties, Record, TerrainChangeProperties, WatershedProperties,
};

use super::changes::{self, Filled};
use super::{dependence, judged, parcel_layer, water_layers};
use crate::Progress;
use crate::failure::Failure;
use crate::inputs::Inputs;
use crate::study::{Study, work_out};

pub(crate) struct Results {
    pub(crate) study: Study,
    pub(crate) findings: Vec<Finding>,
    pub(crate) parcels: Vec<Record<ParcelProperties>>,
    pub(crate) reaches: Vec<Record<ReachProperties>>,
    pub(crate) watersheds: Vec<Record<WatershedProperties>>,
    pub(crate) links: Vec<Record<LinkProperties>>,
    pub(crate) changes: Vec<Record<TerrainChangeProperties>>,
    pub(crate) filled: Filled,
    /// Defaults that the check of capacity rests on, with their values and sources.
    pub(crate) defaults_used: BTreeMap<String, String>,
}

impl Results {
    pub(crate) fn work_out(inputs: Inputs, progress: Progress) -> Result<Self, Failure> {
        let mut study = work_out(Arc::new(inputs), progress)?;
        progress("judging every parcel");
        let findings = judged(&study);
        progress("listing what conditioning changed");
        let (mut changes, filled) = changes::changes(&study)?;
        progress("telling apart changes that can decide a finding");
        dependence::work_out_dependence(&mut study, &findings, &mut changes, progress);
        progress("describing every parcel");
        let check = crate::capacity::sufficiency(&study);
        Ok(Self {
            parcels: parcel_layer::records(&study, &findings, check.as_ref())?,
            reaches: water_layers::reaches(&study),
            watersheds: water_layers::watersheds(&study)?,
            links: water_layers::links(&study),
            filled,
            changes: changes.into_iter().map(|change| change.record).collect(),
            defaults_used: check.map(|check| check.defaults_used).unwrap_or_default(),
            findings,
            study,
        })
    }
}
