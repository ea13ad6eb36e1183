//! A case judged, with the records of every layer: what the main job writes and what pictures are drawn from.

use std::collections::BTreeMap;
use std::sync::Arc;

use fallwright_law::Finding;
use fallwright_report::{
    LinkProperties, ParcelProperties, ReachProperties, Record, TerrainChangeProperties, WatershedProperties,
};

use super::changes::{self, Filled};
use super::{ParcelLayer, dependence, judged, water_layers};
use crate::Progress;
use crate::failure::Failure;
use crate::inputs::Inputs;
use crate::study::{Study, work_out};

pub(crate) struct Results {
    pub(crate) study: Study,
    pub(crate) findings: Vec<Finding>,
    layer: ParcelLayer,
    /// Empty before [`Self::describe_parcels`].
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
        let (defaults_used, sufficiency) = check.map(|check| (check.defaults_used, check.parcels)).unzip();
        Ok(Self {
            layer: ParcelLayer::find(&study, &findings, sufficiency)?,
            parcels: Vec::new(),
            reaches: water_layers::reaches(&study),
            watersheds: water_layers::watersheds(&study)?,
            links: water_layers::links(&study),
            filled,
            changes: changes.into_iter().map(|change| change.record).collect(),
            defaults_used: defaults_used.unwrap_or_default(),
            findings,
            study,
        })
    }

    /// The records of parcels, one at a time: together they may take more memory than the rasters.
    pub(crate) fn each_parcel(&self) -> impl Iterator<Item = Record<ParcelProperties>> {
        self.layer.records(&self.study, &self.findings)
    }

    /// Keeps the records of parcels, for those who look at them in any order.
    pub(crate) fn describe_parcels(&mut self) {
        self.parcels = self.each_parcel().collect();
    }
}
