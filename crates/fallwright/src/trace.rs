//! Whose land the water crosses, in order, and whose water arrives.

mod arriving;
mod leaving;

use std::path::Path;
use std::sync::Arc;

use fallwright_network::Party;
use fallwright_report::Traced;
use serde_json::{Value, json};

use crate::Progress;
use crate::failure::{Failure, Settings};
use crate::inputs::read_inputs;
use crate::place::MapPoint;
use crate::study::{Study, work_out};

/// Where the trace begins.
#[derive(Clone, Debug, PartialEq)]
pub enum TraceFrom {
    /// A parcel's id: one path for each of its shares.
    Parcel(String),
    Point(MapPoint),
}

/// The answer as tables, and as `GeoJSON`.
pub struct TraceReport {
    features: Vec<Value>,
    lines: Vec<String>,
}

impl TraceReport {
    pub fn lines(&self) -> Vec<String> {
        let mut lines = self.lines.clone();
        lines.push(fallwright_report::CAUTION.to_owned());
        lines
    }

    pub fn json(&self) -> Value {
        json!({
            "type": "FeatureCollection",
            "name": "trace",
            "caution": fallwright_report::CAUTION,
            "features": self.features,
        })
    }
}

/// Follows the water of a parcel or a point down to its outlet, or tells whose water arrives there. Writes no file.
///
/// # Errors
/// Faults of the input; an unknown parcel or a point without elevation.
pub fn trace(
    case: &Path,
    from: &TraceFrom,
    upstream: bool,
    settings: &Settings,
    progress: Progress,
) -> Result<TraceReport, Failure> {
    let inputs = Arc::new(read_inputs(case, settings, progress)?);
    let study = work_out(inputs, progress)?;
    if upstream { arriving::arriving(&study, from) } else { leaving::leaving(&study, from) }
}

fn feature(lonlat: Option<&geo::Geometry<f64>>, properties: &Traced) -> Value {
    let geometry = lonlat.map(geojson::Geometry::from);
    json!({ "type": "Feature", "geometry": geometry, "properties": properties })
}

fn named(study: &Study, party: Party) -> String {
    match party {
        Party::Parcel(_) => format!("{} ({})", study.party_name(party), owner(study, party)),
        Party::Road => "a road".to_owned(),
        Party::Unowned => "nobody in the parcel layer".to_owned(),
    }
}

fn owner(study: &Study, party: Party) -> &str {
    study.party_owner(party).unwrap_or("owner not given")
}
