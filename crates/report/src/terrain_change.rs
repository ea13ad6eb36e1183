//! `terrain_changes.geojson`: where the conditioned surface departs from the ground.

use fallwright_units::ParcelId;
use serde::{Serialize, Serializer};

#[derive(Clone, Debug, Serialize)]
pub struct TerrainChangeProperties {
    pub change_id: String,
    /// `fill`, `cut` or `kept`.
    pub kind: &'static str,
    pub depth_m: f64,
    pub volume_m3: f64,
    pub area_ha: f64,
    /// Of a cut, along its channel.
    pub length_m: Option<f64>,
    /// Of a fill: the level at which it spills.
    pub level_m: Option<f64>,
    /// Of a cut along a mapped channel: the waterway whose bed was enforced.
    pub waterway_id: Option<String>,
    /// Hectares that drain through it.
    pub draining_ha: f64,
    /// Of a cut through a barrier: Σ max(0, z − pit) over its path, metres.
    pub search_cost_m: Option<f64>,
    /// Whether a culvert may be missing from the data here.
    pub suspected_culvert: bool,
    /// Among the suspected culverts, 1 for the one through which most land drains.
    pub rank: Option<usize>,
    /// Parcels with a share whose path to its outlet crosses it.
    #[serde(serialize_with = "as_texts")]
    pub parcels: Vec<ParcelId>,
    /// Parcels whose finding changes without it; `None` where that was not worked out.
    pub finding_depends: Option<Vec<String>>,
}

fn as_texts<S: Serializer>(ids: &[ParcelId], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(ids.iter().map(ParcelId::as_str))
}
