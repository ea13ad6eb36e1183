//! `capacity.geojson`: every link of the cascade, with what it must carry and what it carries.

use serde::Serialize;

#[derive(Clone, Debug, Serialize)]
pub struct CapacityProperties {
    pub link_id: String,
    /// `reach`, `culvert` or `pipe`.
    pub kind: &'static str,
    pub class: Option<String>,
    pub next_link: Option<String>,
    pub surface_ha: f64,
    pub piped_ha: f64,
    pub added_ha: f64,
    pub tile_flow_m3_per_s: f64,
    /// `tile` or `storm`: which flow is checked.
    pub regime: &'static str,
    pub method: &'static str,
    pub return_period_years: Option<f64>,
    pub flow_m3_per_s: Option<f64>,
    pub capacity_m3_per_s: Option<f64>,
    pub design_capacity_m3_per_s: Option<f64>,
    pub ratio: Option<f64>,
    pub velocity_m_per_s: Option<f64>,
    pub water_depth_m: Option<f64>,
    pub control: Option<&'static str>,
    pub grade_percent: Option<f64>,
    pub grade_source: Option<&'static str>,
    pub cover_m: Option<f64>,
    pub freeboard_m: Option<f64>,
    pub outlet: Option<&'static str>,
    pub fall_available_m: Option<f64>,
    pub fall_needed_m: Option<f64>,
    pub fall_doubt_m: Option<f64>,
    pub fall: Option<&'static str>,
    pub sufficiency: &'static str,
    pub cause: Option<&'static str>,
    pub remedy: Option<&'static str>,
    pub next_diameter_mm: Option<f64>,
    pub next_bottom_m: Option<f64>,
    pub to_measure: Vec<String>,
    pub assumed: Vec<String>,
    pub remarks: Vec<String>,
    pub next_step: String,
    pub caution: &'static str,
}
