//! `buffers.geojson`: the strip along open drains that the rule profile keeps out of crop, by parcel and drain.

use serde::Serialize;

#[derive(Clone, Debug, Serialize)]
pub struct BufferProperties {
    pub parcel_id: String,
    pub owner: Option<String>,
    pub waterway_id: String,
    pub class: String,
    pub width_m: f64,
    /// `top_of_bank`, or `centre_line` where the waterway's width is not known.
    pub measured_from: &'static str,
    pub buffer_ha: f64,
    /// Of it, in fields; `None` where no fields are supplied.
    pub cropped_ha: Option<f64>,
    pub source: String,
    pub confirmed: bool,
}
