//! `buffers.geojson`: the strip along open drains that the rule profile keeps out of crop, by parcel and drain.

use schemars::JsonSchema;
use serde::Serialize;

/// The strip along open drains that the rule profile keeps out of crop: a polygon for each parcel and drain. Empty
/// where the profile states none.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct BufferProperties {
    /// Parcel on which the strip lies
    pub parcel_id: String,
    /// As given
    pub owner: Option<String>,
    /// Id of the drain
    pub waterway_id: String,
    /// Class of the drain
    pub class: String,
    /// Width of the strip on each side, metres, as the rule profile states it
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub width_m: f64,
    /// Where the strip begins: at the top of bank, or at the centre line where the drain's width is not known
    pub measured_from: MeasuredFrom,
    /// Hectares of the parcel in the strip, the bed between the banks left out
    #[schemars(range(min = 0))]
    pub buffer_ha: f64,
    /// Of them, hectares in fields; null where no field of the parcel is supplied
    #[schemars(range(min = 0))]
    pub cropped_ha: Option<f64>,
    /// Where the width comes from
    pub source: String,
    /// Whether the rule profile has the width confirmed
    pub confirmed: bool,
}

/// The line at which a strip begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum MeasuredFrom {
    TopOfBank,
    CentreLine,
}
