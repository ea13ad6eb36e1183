//! What `trace --json` prints: a `GeoJSON` feature for everything met on the way.

use serde::Serialize;

use super::constraint::ConstraintItem;
use super::crossing::LandCrossed;
use super::land::LandItem;
use super::parcel::PipedItem;
use super::path::WaterCode;

#[derive(Clone, Debug, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub(crate) enum Traced {
    /// A lot line crossed on the way down.
    Crossing {
        water: WaterCode,
        /// `None` where the trace begins at a point, and for piped water.
        share: Option<u32>,
        pipe_id: Option<String>,
        #[serde(flatten)]
        crossing: LandCrossed,
    },
    /// The way down as a line.
    Path {
        water: WaterCode,
        share: Option<u32>,
        pipe_id: Option<String>,
        hectares: Option<f64>,
        outlet_id: Option<String>,
        outlet_class: Option<String>,
        path_m: f64,
        fall_m: f64,
        outlet_maintained_by: Option<String>,
        outlet_notified: Option<String>,
        /// In the words of `paths.geojson`.
        constraints: Vec<ConstraintItem>,
        /// Of piped water: whether it may go there, in the words of `parcels.geojson`.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        piped: Vec<PipedItem>,
    },
    /// Somebody whose water arrives.
    Giver {
        #[serde(flatten)]
        land: FromLand,
        hectares: f64,
        /// Most water first.
        ways: Vec<TracedWay>,
    },
    /// A place where water comes in.
    Inflow {
        #[serde(flatten)]
        land: FromLand,
        hectares: f64,
        carried_by: String,
        carrier_id: Option<String>,
    },
}

/// The land from which water arrives, in the words of [`LandCrossed`].
#[expect(clippy::struct_field_names, reason = "the words of the published record")]
#[derive(Clone, Debug, Serialize)]
pub(crate) struct FromLand {
    pub from_kind: &'static str,
    pub from_id: Option<String>,
    pub from_name: Option<String>,
    pub from_authority: Option<String>,
    pub from_owner: Option<String>,
}

/// One way by which a giver's water comes.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct TracedWay {
    pub hectares: f64,
    /// In between, in order downstream, each once.
    pub through: Vec<Stretch>,
    /// Whether it comes over a road or under one.
    pub crosses_road: bool,
}

/// A land or structure on a way.
#[derive(Clone, Debug, Serialize)]
#[serde(untagged)]
pub(crate) enum Stretch {
    Land(LandItem),
    /// `kind` is `structure`.
    Structure {
        kind: &'static str,
        id: String,
    },
}
