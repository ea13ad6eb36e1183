//! Traces as `GeoJSON` features in longitude and latitude.

use fallwright_geodata::Projector;
use fallwright_network::{Arrival, Feature, Inflow, Party, Path, Share, Station, Via, lands_above};
use fallwright_study::{ArrivingWater, Giver, Leaving, LeavingFrom, PipedWay, Study};
use geo::{LineString, Point};
use serde_json::{Value, json};

use super::constraints::path_constraints;
use super::lands::land_item;
use super::parcels::piped_item;
use super::paths::land_crossed;
use crate::caution::CAUTION;
use crate::error::WriteError;
use crate::records::land::LandItem;
use crate::records::path::WaterCode;
use crate::records::traced::{FromLand, Stretch, Traced, TracedWay};
use crate::rounded::{hectares, metres};
use crate::words::works;
use crate::words::works::outlet_works;

/// Crossings and paths.
///
/// # Errors
/// A point that has no longitude and latitude.
pub fn leaving_features(study: &Study, leaving: &Leaving) -> Result<Value, WriteError> {
    let to_lonlat = Projector::to_lonlat(&study.inputs.crs)?;
    let mut features = Vec::new();
    for way in &leaving.piped {
        features.extend(path_features(study, &way.path, Leaves::ByPipe(way), &to_lonlat)?);
    }
    for leaving_path in &leaving.paths {
        let leaves = match (leaving_path.share, leaving.from) {
            (Some(share), LeavingFrom::Parcel(parcel)) => Leaves::Share(share.number(), &study.shares[parcel][share]),
            _ => Leaves::APoint,
        };
        if let Some(path) = &leaving_path.path {
            features.extend(path_features(study, path, leaves, &to_lonlat)?);
        }
    }
    Ok(collection(&features))
}

/// Everyone whose water arrives, and where it comes in.
///
/// # Errors
/// A point that has no longitude and latitude.
pub fn arriving_features(study: &Study, water: &ArrivingWater) -> Result<Value, WriteError> {
    let to_lonlat = Projector::to_lonlat(&study.inputs.crs)?;
    let mut features = Vec::new();
    for giver in &water.givers {
        features.push(giver_feature(study, giver, &to_lonlat)?);
    }
    for inflow in &water.inflows {
        features.push(inflow_feature(study, inflow, &to_lonlat)?);
    }
    Ok(collection(&features))
}

fn collection(features: &[Value]) -> Value {
    json!({ "type": "FeatureCollection", "name": "trace", "caution": CAUTION, "features": features })
}

fn feature(lonlat: Option<&geo::Geometry<f64>>, properties: &Traced) -> Value {
    let geometry = lonlat.map(geojson::Geometry::from);
    json!({ "type": "Feature", "geometry": geometry, "properties": properties })
}

/// The water whose path it is.
#[derive(Clone, Copy)]
enum Leaves<'a> {
    APoint,
    Share(u32, &'a Share),
    ByPipe(&'a PipedWay),
}

impl Leaves<'_> {
    fn hectares(self, study: &Study) -> Option<f64> {
        match self {
            Self::APoint => None,
            Self::Share(_, share) => Some(study.hectares(share.cells)),
            Self::ByPipe(way) => Some(hectares(way.hectares().hectares())),
        }
    }
}

/// The crossings as points, then the path as a line.
fn path_features(study: &Study, path: &Path, leaves: Leaves, to_lonlat: &Projector) -> Result<Vec<Value>, WriteError> {
    let Path { stations, trace } = path;
    let share = if let Leaves::Share(number, _) = leaves { Some(number) } else { None };
    let (water, way) = match leaves {
        Leaves::ByPipe(way) => (WaterCode::Piped, Some(way)),
        Leaves::APoint | Leaves::Share(..) => (WaterCode::Surface, None),
    };
    let pipe_id = way.map(|way| study.setting.structures[way.pipe].id.to_string());
    let mut features = Vec::new();
    for (order, crossing) in (1..).zip(&trace.crossings) {
        let at = to_lonlat.geometry(&Point::new(crossing.x, crossing.y).into())?;
        let crossing = land_crossed(study, order, crossing);
        features.push(feature(Some(&at), &Traced::Crossing { water, share, pipe_id: pipe_id.clone(), crossing }));
    }
    let points: Vec<(f64, f64)> = stations.iter().map(|station: &Station| (station.x, station.y)).collect();
    let geometry = match &points[..] {
        [only] => Point::from(*only).into(),
        _ => LineString::from(points).into(),
    };
    let outlet = outlet_works(study, trace);
    let properties = Traced::Path {
        water,
        share,
        pipe_id,
        hectares: leaves.hectares(study),
        outlet_id: trace.outlet.map(|outlet| study.setting.feature_id(outlet).to_owned()),
        outlet_class: trace.outlet.map(|outlet| study.feature_class(outlet).to_owned()),
        path_m: metres(trace.length_m()),
        fall_m: metres(trace.fall_m()),
        outlet_maintained_by: outlet.as_ref().map(|works| works.maintained_by.clone()),
        outlet_notified: outlet.map(|works| works.notified),
        constraints: path_constraints(study, path),
        piped: way.into_iter().flat_map(|way| &way.findings).map(|found| piped_item(study, found)).collect(),
    };
    features.push(feature(Some(&to_lonlat.geometry(&geometry)?), &properties));
    Ok(features)
}

fn giver_feature(study: &Study, giver: &Giver, to_lonlat: &Projector) -> Result<Value, WriteError> {
    let shape = match giver.party {
        Party::Parcel(parcel) => Some(to_lonlat.geometry(&study.inputs.parcels[parcel].shape.clone().into())?),
        Party::Road(road) => Some(to_lonlat.geometry(&study.inputs.roads[road].shape.clone().into())?),
        Party::Unowned => None,
    };
    let properties = Traced::Giver {
        land: from_land(study, giver.party),
        hectares: study.hectares(giver.cells()),
        ways: giver.ways.iter().map(|way| traced_way(study, way)).collect(),
    };
    Ok(feature(shape.as_ref(), &properties))
}

fn traced_way(study: &Study, way: &Arrival) -> TracedWay {
    let is_road = |party: &Party| matches!(party, Party::Road(_));
    let crosses_road = |stretch: &Via| match stretch {
        Via::Land(party) => is_road(party),
        Via::Structure(structure) => lands_above(&study.setting, *structure).iter().any(is_road),
    };
    let item = |&stretch: &Via| match stretch {
        Via::Land(party) => Stretch::Land(land_item(study, party)),
        Via::Structure(structure) => {
            let id = study.setting.feature_id(Feature::Structure(structure)).to_owned();
            Stretch::Structure { kind: "structure", id }
        }
    };
    TracedWay {
        hectares: study.hectares(way.cells),
        through: way.through.iter().map(item).collect(),
        crosses_road: way.through.iter().any(crosses_road),
    }
}

fn inflow_feature(study: &Study, inflow: &Inflow, to_lonlat: &Projector) -> Result<Value, WriteError> {
    let (x, y) = study.setting.frame().centre(inflow.at);
    let works = works(study, inflow.carrier, inflow.from);
    let inflow = Traced::Inflow {
        land: from_land(study, inflow.from),
        hectares: study.hectares(inflow.cells),
        carried_by: works.carried_by,
        carrier_id: works.carrier_id,
    };
    Ok(feature(Some(&to_lonlat.geometry(&Point::new(x, y).into())?), &inflow))
}

fn from_land(study: &Study, party: Party) -> FromLand {
    let LandItem { kind, id, name, authority } = land_item(study, party);
    let from_owner = study.party_owner(party).map(ToOwned::to_owned);
    FromLand { from_kind: kind, from_id: id, from_name: name, from_authority: authority, from_owner }
}
