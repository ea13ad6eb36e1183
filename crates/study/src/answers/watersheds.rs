//! The land whose water meets each lawful outlet first.

use std::collections::BTreeMap;

use fallwright_geodata::outlines;
use fallwright_network::Feature;
use fallwright_terrain::label_upstream;
use fallwright_units::Raster;
use geo::MultiPolygon;

use crate::error::StudyError;
use crate::study::Study;

/// The watershed of one lawful outlet.
pub struct OutletWatershed {
    pub outlet: Feature,
    pub shape: Option<MultiPolygon<f64>>,
    pub cells: u64,
}

/// The lawful outlet that the water of each cell meets first.
pub(super) struct FirstOutlets {
    pub(super) features: Vec<Feature>,
    /// 1 for the first of `features`; 0 where the water meets none.
    pub(super) labels: Raster<u32>,
}

/// *Complexity*: O(n) for n cells.
pub(super) fn first_outlets(study: &Study) -> FirstOutlets {
    let mut features: Vec<Feature> = Vec::new();
    let mut number: BTreeMap<Feature, u32> = BTreeMap::new();
    let mut labels = Raster::filled(study.setting.frame(), 0_u32);
    for cell in study.setting.parties.cells() {
        if let Some(feature) = study.setting.lawful_at(cell) {
            labels[cell] = *number.entry(feature).or_insert_with(|| {
                features.push(feature);
                features.len() as u32
            });
        }
    }
    FirstOutlets { features, labels: label_upstream(study.setting.flow(), labels) }
}

/// In the order of the outlets' ids.
///
/// *Complexity*: O(n) for n cells.
///
/// # Errors
/// Areas whose outline cannot be traced.
pub fn watersheds(study: &Study) -> Result<Vec<OutletWatershed>, StudyError> {
    let FirstOutlets { features, labels } = first_outlets(study);
    let mut cells = vec![0_u64; features.len() + 1];
    for &label in &labels.values {
        cells[label as usize] += 1;
    }
    let mut shapes = outlines(&labels.frame, &labels.values)?;
    let watershed = |(label, outlet): (u32, Feature)| OutletWatershed {
        outlet,
        shape: shapes.remove(&label),
        cells: cells[label as usize],
    };
    let mut found: Vec<OutletWatershed> = (1_u32..).zip(features).map(watershed).collect();
    found.sort_by(|a, b| study.setting.feature_id(a.outlet).cmp(study.setting.feature_id(b.outlet)));
    Ok(found)
}
