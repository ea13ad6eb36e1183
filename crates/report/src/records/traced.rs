//! What `trace --json` prints: a `GeoJSON` feature for everything met on the way.

use serde::Serialize;

use crate::LandCrossed;

#[derive(Clone, Debug, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub(crate) enum Traced {
    /// A lot line crossed on the way down.
    Crossing {
        /// `None` where the trace begins at a point.
        share: Option<u32>,
        #[serde(flatten)]
        crossing: LandCrossed,
    },
    /// The way down as a line.
    Path {
        share: Option<u32>,
        hectares: Option<f64>,
        outlet_id: Option<String>,
        outlet_class: Option<String>,
        path_m: f64,
        fall_m: f64,
        outlet_maintained_by: Option<String>,
        outlet_notified: Option<String>,
    },
    /// Somebody whose water arrives.
    Giver {
        /// A parcel's id, `road` or `unowned`.
        parcel_id: String,
        owner: Option<String>,
        hectares: f64,
        /// Most water first.
        ways: Vec<TracedWay>,
    },
    /// A place where water comes in.
    Inflow { from: String, from_owner: Option<String>, hectares: f64, carried_by: String, carrier_id: Option<String> },
}

/// One way by which a giver's water comes.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct TracedWay {
    pub hectares: f64,
    /// Lands and structures in between, in order downstream, each once.
    pub through: Vec<String>,
    /// Whether it comes over a road or under one.
    pub crosses_road: bool,
}
