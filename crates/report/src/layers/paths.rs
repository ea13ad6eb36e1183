//! Paths and the lot lines they cross.

use std::collections::HashMap;

use crate::layer::Record;
use crate::records::crossing::{CrossingProperties, LandCrossed};
use crate::records::path::{PathEnd, PathProperties, WaterCode};
use crate::rounded::metres;
use fallwright_geodata::SharedLine;
use fallwright_network::{Crossing, Path, Share, joins, next_on_path, places_from};
use fallwright_units::{Cell, ParcelIx, ShareIx};
use geo::{LineString, Point};

use super::constraints::{path_constraints, share_constraints};
use super::lands::land_item;
use super::parcels_crossed::crossed;
use crate::words::{Works, works};
use fallwright_study::{PipedLand, Study, path_end};
use typed_index_collections::{TiVec, ti_vec};

/// The paths of all piped water.
pub(crate) struct PipedPaths(Vec<(PipedLand, Path)>);

impl PipedPaths {
    /// *Complexity*: O(n) for n cells, and O(length of the paths).
    pub(crate) fn find(study: &Study) -> Self {
        let follow = |land: PipedLand| (land, study.piped_path(land.parcel, land.pipe));
        Self(study.piped_lands().into_iter().map(follow).collect())
    }

    /// For every parcel the piped water of others that crosses it, by giver, then by pipe, each once.
    pub(crate) fn received(&self, study: &Study) -> TiVec<ParcelIx, Vec<PipedLand>> {
        let mut received = ti_vec![Vec::new(); study.inputs.parcels.len()];
        for (land, path) in &self.0 {
            for parcel in path.trace.parcels_crossed().into_iter().filter(|&parcel| parcel != land.parcel) {
                received[parcel].push(*land);
            }
        }
        received
    }
}

/// A record for each share but the remainder, then for all piped water; the path of a share is followed when its record is
/// asked for.
pub(crate) fn paths<'a>(study: &'a Study, piped: &'a PipedPaths) -> impl Iterator<Item = Record<PathProperties>> + 'a {
    let record = |(parcel, position, share)| Record {
        geometry: line(study, parcel, position).map(Into::into),
        properties: path(study, parcel, position, share),
    };
    let of_pipe = |(land, path): &(PipedLand, Path)| Record {
        geometry: Some(LineString::from(points(path))).filter(|line| line.0.len() > 1).map(Into::into),
        properties: piped_path(study, *land, path),
    };
    drawn(study).map(record).chain(piped.0.iter().map(of_pipe))
}

/// The same lines, of which each stretch of the shares' is followed once.
pub(crate) fn lines<'a>(
    study: &'a Study,
    piped: &'a PipedPaths,
) -> impl Iterator<Item = SharedLine<PathProperties>> + 'a {
    let of_pipe = |(land, path): &(PipedLand, Path)| SharedLine {
        properties: piped_path(study, *land, path),
        own: Some(points(path)).filter(|points| points.len() > 1).unwrap_or_default(),
        joints: Vec::new(),
        then: None,
    };
    share_lines(study).chain(piped.0.iter().map(of_pipe))
}

fn share_lines(study: &Study) -> impl Iterator<Item = SharedLine<PathProperties>> {
    let setting = &study.setting;
    let starts = drawn(study).map(|(_, _, share)| share.leaving);
    let joins = joins(setting.frame().len(), starts, |cell| next_on_path(setting, cell));
    let mut joints: HashMap<Cell, usize> = HashMap::new();
    drawn(study).map(move |(parcel, position, share)| {
        let properties = path(study, parcel, position, share);
        let mut line = SharedLine { properties, own: Vec::new(), joints: Vec::new(), then: None };
        let mut cell = Some(share.leaving);
        if places_from(setting, share.leaving).count() == 1 && next_on_path(setting, share.leaving).is_none() {
            match main_donor(study, share.leaving) {
                Some(donor) => line.own.push(setting.frame().centre(donor)),
                None => cell = None,
            }
        }
        while let Some(here) = cell {
            let is_join = joins.contains(here);
            line.then = joints.get(&here).copied().filter(|_| is_join);
            if line.then.is_some() {
                break;
            }
            if is_join {
                joints.insert(here, joints.len());
                line.joints.push(line.own.len());
            }
            cell = next_on_path(setting, here);
            line.own.extend(places_from(setting, here).map(|(_, point)| point));
        }
        line
    })
}

/// A record for each lot line that the path of a share or of piped water crosses.
pub(crate) fn crossings<'a>(
    study: &'a Study,
    piped: &'a PipedPaths,
) -> impl Iterator<Item = Record<CrossingProperties>> + 'a {
    let places = crossing_places(study, piped);
    crossings_at(study, piped)
        .map(move |(at, properties)| Record { geometry: Some(Point::from(places[at]).into()), properties })
}

/// Where all paths cross lot lines: the places of the shares' paths, each once, then those of piped water.
pub(crate) fn crossing_places(study: &Study, piped: &PipedPaths) -> Vec<(f64, f64)> {
    let of_pipes = piped.0.iter().flat_map(|(_, path)| &path.trace.crossings);
    let mut places = study.courses.places();
    places.extend(of_pipes.map(|crossing| (crossing.x, crossing.y)));
    places
}

/// The same records, each with the position of its place among those of [`crossing_places`].
pub(crate) fn crossings_at<'a>(
    study: &'a Study,
    piped: &'a PipedPaths,
) -> impl Iterator<Item = (usize, CrossingProperties)> + 'a {
    let of_shares = drawn(study).flat_map(move |(parcel, position, _)| {
        let crossings = (1..).zip(study.trace(parcel, position).crossings);
        let properties = move |(order, crossing): (u32, Crossing)| CrossingProperties {
            parcel_id: study.inputs.parcels[parcel].id.to_string(),
            water: WaterCode::Surface,
            share: Some(position.number()),
            pipe_id: None,
            crossing: land_crossed(study, order, &crossing),
        };
        study.courses.places_crossed(parcel, position).zip(crossings.map(properties))
    });
    let of_pipes = piped.0.iter().flat_map(move |(land, path)| {
        (1..).zip(&path.trace.crossings).map(move |(order, crossing)| CrossingProperties {
            parcel_id: study.inputs.parcels[land.parcel].id.to_string(),
            water: WaterCode::Piped,
            share: None,
            pipe_id: Some(study.setting.structures[land.pipe].id.to_string()),
            crossing: land_crossed(study, order, crossing),
        })
    });
    of_shares.chain((study.courses.places().len()..).zip(of_pipes))
}

fn drawn(study: &Study) -> impl Iterator<Item = (ParcelIx, ShareIx, &Share)> {
    study.shares.iter_enumerated().flat_map(|(parcel, shares)| {
        let own = shares.iter_enumerated().filter(|(_, share)| !share.is_remainder);
        own.map(move |(position, share)| (parcel, position, share))
    })
}

fn path(study: &Study, parcel: ParcelIx, position: ShareIx, share: &Share) -> PathProperties {
    let trace = study.trace(parcel, position);
    let end = study.network.leaving(parcel, position).and_then(|node| study.network.end_of(node));
    PathProperties {
        parcel_id: study.inputs.parcels[parcel].id.to_string(),
        water: WaterCode::Surface,
        share: Some(position.number()),
        pipe_id: None,
        main: position == ShareIx(0),
        hectares: study.hectares(share.cells),
        outlet_id: trace.outlet.map(|outlet| study.setting.feature_id(outlet).to_owned()),
        outlet_class: trace.outlet.map(|outlet| study.feature_class(outlet).to_owned()),
        path_m: metres(trace.length_m()),
        fall_m: metres(trace.fall_m()),
        parcels_crossed: crossed(study, parcel, &trace),
        reaches: study.reach_chain(parcel, position),
        ends: written_end(path_end(end)),
        constraints: share_constraints(study, parcel, position),
    }
}

fn piped_path(study: &Study, PipedLand { parcel, pipe, cells }: PipedLand, path: &Path) -> PathProperties {
    let trace = &path.trace;
    let structure = &study.setting.structures[pipe];
    PathProperties {
        parcel_id: study.inputs.parcels[parcel].id.to_string(),
        water: WaterCode::Piped,
        share: None,
        pipe_id: Some(structure.id.to_string()),
        main: false,
        hectares: study.hectares(cells),
        outlet_id: trace.outlet.map(|outlet| study.setting.feature_id(outlet).to_owned()),
        outlet_class: trace.outlet.map(|outlet| study.feature_class(outlet).to_owned()),
        path_m: metres(trace.length_m()),
        fall_m: metres(trace.fall_m()),
        parcels_crossed: crossed(study, parcel, trace),
        reaches: study.reach_chain_below(pipe),
        ends: written_end(path_end(study.piped_end(pipe))),
        constraints: path_constraints(study, path),
    }
}

/// The end of a path as records name it.
pub(super) const fn written_end(end: fallwright_law::PathEnd) -> PathEnd {
    match end {
        fallwright_law::PathEnd::Edge => PathEnd::Edge,
        fallwright_law::PathEnd::Hole => PathEnd::Hole,
        fallwright_law::PathEnd::KeptDepression => PathEnd::KeptDepression,
        fallwright_law::PathEnd::ClosedLake => PathEnd::ClosedLake,
    }
}

fn points(path: &Path) -> Vec<(f64, f64)> {
    path.stations.iter().map(|station| (station.x, station.y)).collect()
}

/// The line of a path. One that leaves and ends in the same cell is drawn from the cell above it; a single cell with
/// nothing above it has no line.
fn line(study: &Study, parcel: ParcelIx, share: ShareIx) -> Option<LineString<f64>> {
    let mut points = points(&study.path(parcel, share));
    if points.len() == 1 {
        points.insert(0, study.setting.frame().centre(main_donor(study, study.shares[parcel][share].leaving)?));
    }
    Some(LineString::from(points))
}

/// The neighbour that brings a cell most of its water.
fn main_donor(study: &Study, cell: Cell) -> Option<Cell> {
    let flow = study.setting.flow();
    let frame = study.setting.frame();
    let donors = frame.neighbours(cell).map(|(_, next)| next);
    donors.filter(|&donor| flow.receiver(donor) == Some(cell)).max_by_key(|&donor| (study.setting.area(donor), donor))
}

/// The properties of one crossing.
pub(crate) fn land_crossed(study: &Study, order: u32, crossing: &Crossing) -> LandCrossed {
    let Works { carried_by, carrier_id, maintained_by, notified, .. } = works(study, crossing.carrier, crossing.to);
    let (from, to) = (land_item(study, crossing.from), land_item(study, crossing.to));
    LandCrossed {
        order,
        from_kind: from.kind,
        from_id: from.id,
        to_kind: to.kind,
        to_id: to.id,
        to_name: to.name,
        to_authority: to.authority,
        to_owner: study.party_owner(crossing.to).map(ToOwned::to_owned),
        distance_m: metres(crossing.distance_m),
        metres_on_land: metres(crossing.metres_on_land),
        fall_m: (!crossing.fall_m.is_nan()).then(|| metres(crossing.fall_m)),
        carried_by,
        carrier_id,
        ground_m: (!crossing.ground_m.is_nan()).then(|| metres(f64::from(crossing.ground_m))),
        maintained_by,
        notified,
    }
}
