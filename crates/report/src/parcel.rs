//! `parcels.geojson`: every parcel's standing.

use serde::Serialize;

#[derive(Clone, Debug, Serialize)]
pub struct ParcelProperties {
    pub parcel_id: String,
    pub owner: Option<String>,
    pub legal: Option<String>,
    pub area_ha: f64,
    pub own_ha: f64,
    pub run_on_ha: f64,
    pub contributing_ha: f64,
    pub piped_ha: f64,
    pub standing: &'static str,
    pub right_ha: f64,
    pub acquire_ha: f64,
    pub undecided_ha: f64,
    pub shares: Vec<ShareItem>,
    pub basis: Option<String>,
    pub bases: Vec<String>,
    pub outlet_id: Option<String>,
    pub outlet_class: Option<String>,
    pub path_m: Option<f64>,
    pub fall_m: Option<f64>,
    pub parcels_crossed: Vec<String>,
    pub receives_from: Vec<Received>,
    pub confidence: &'static str,
    pub reasons: Vec<&'static str>,
    pub field_checks: Vec<&'static str>,
    pub evidence: Vec<EvidenceItem>,
    pub schedule: Vec<ScheduleItem>,
    pub piped: Vec<PipedItem>,
    pub ways_to_acquire: Vec<WayItem>,
    pub next_step: String,
    pub sufficiency: &'static str,
    pub limiting_reach: Option<String>,
    pub caution: &'static str,
}

#[derive(Clone, Debug, Serialize)]
pub struct ShareItem {
    pub share: u32,
    pub hectares: f64,
    pub standing: &'static str,
    pub basis: Option<String>,
    pub outlet_id: Option<String>,
    /// Longitude and latitude, degrees on WGS 84; `None` for the remainder.
    pub leaving_point: Option<[f64; 2]>,
    pub confidence: &'static str,
    pub reasons: Vec<&'static str>,
    /// Hectares of the share by field, where fields are given.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub fields: Vec<FieldHectares>,
}

#[derive(Clone, Debug, Serialize)]
pub struct FieldHectares {
    pub field_id: String,
    pub hectares: f64,
}

#[derive(Clone, Debug, Serialize)]
pub struct Received {
    /// A parcel's id, `road` or `unowned`.
    pub parcel_id: String,
    pub hectares: f64,
}

#[derive(Clone, Debug, Serialize)]
pub struct EvidenceItem {
    pub rule: String,
    pub source: String,
    pub feature_id: Option<String>,
    pub measure: &'static str,
    pub value: serde_json::Value,
    pub unit: Option<&'static str>,
}

#[derive(Clone, Debug, Serialize)]
pub struct WayItem {
    pub way: &'static str,
    pub label: String,
    pub source: String,
    pub shares: Vec<u32>,
    pub through: Vec<String>,
    pub consents: Vec<ConsentItem>,
    /// For a petition.
    pub area: Option<AreaItem>,
    pub documents: Vec<String>,
    pub steps: Vec<String>,
    pub if_refused: String,
}

/// Somebody who must agree.
#[derive(Clone, Debug, Serialize)]
pub struct ConsentItem {
    /// A parcel's id, or `road`.
    pub parcel_id: String,
    pub owner: Option<String>,
    pub metres: Option<f64>,
}

/// An area requiring drainage.
#[derive(Clone, Debug, Serialize)]
pub struct AreaItem {
    pub hectares: f64,
    pub basin_ha: f64,
    pub parcels: Vec<Received>,
}

/// What a drain's schedule says beside what is measured.
#[derive(Clone, Debug, Serialize)]
pub struct ScheduleItem {
    pub drain_id: String,
    pub case: &'static str,
    pub assessed_ha: Option<f64>,
    pub draining_ha: f64,
    pub piped_in_ha: f64,
    pub difference_ha: Option<f64>,
    pub within_accuracy: Option<bool>,
    pub through: Vec<String>,
}

/// Where the water of piped land goes.
#[derive(Clone, Debug, Serialize)]
pub struct PipedItem {
    pub pipe_id: String,
    pub hectares: f64,
    pub leaving_watershed_ha: f64,
    pub outlet_id: Option<String>,
    pub basis: Option<String>,
}
