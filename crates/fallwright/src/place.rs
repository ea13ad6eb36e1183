//! Places that a user names.

use fallwright_geodata::Projector;
use fallwright_units::Cell;

use crate::failure::Failure;
use crate::study::Study;

/// A point on the map.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MapPoint {
    pub x: f64,
    pub y: f64,
    /// Whether `x` and `y` are longitude and latitude, degrees on WGS 84, and not metres of the case's reference system.
    pub lonlat: bool,
}

/// The cell at a point.
///
/// # Errors
/// A point outside the elevation or where it has a hole.
pub(crate) fn cell_at(study: &Study, MapPoint { x, y, lonlat }: MapPoint) -> Result<Cell, Failure> {
    let projected = if lonlat { Projector::from_lonlat(&study.inputs.crs)?.point((x, y)).ok() } else { Some((x, y)) };
    let frame = study.setting.frame();
    projected
        .and_then(|point| frame.cell_at(point))
        .filter(|&cell| study.setting.conditioned.flow.has_data(cell))
        .ok_or_else(|| {
            let hint =
                if lonlat { "longitude comes first" } else { "add --lonlat if the point is in longitude and latitude" };
            Failure::Usage(format!(
                "no elevation at {x}, {y}: the elevation covers {:.1} to {:.1} by {:.1} to {:.1} in {}; {hint}",
                frame.west(),
                frame.east(),
                frame.south(),
                frame.north(),
                study.inputs.crs.label()
            ))
        })
}

/// The parcel with an id.
///
/// # Errors
/// No parcel has it; parcels with a similar id are named. A case without parcels.
pub(crate) fn parcel(study: &Study, id: &str) -> Result<usize, Failure> {
    if study.inputs.case.parcels.is_none() {
        return Err(Failure::Usage(format!(
            "no parcel {id:?}: the case has no [parcels] table; a point can be given by --at"
        )));
    }
    study.parcel_position(id).ok_or_else(|| {
        let ids = study.inputs.parcels.iter().map(|parcel| parcel.id.as_str());
        no_such("parcel", id, ids)
    })
}

/// Nothing of a kind has an id.
pub(crate) fn no_such<'a>(kind: &str, id: &str, known: impl Iterator<Item = &'a str>) -> Failure {
    let near = crate::nearest::meant(id, known).map_or_else(String::new, |near| format!("; did you mean {near}?"));
    Failure::Usage(format!("no {kind} has the id {id:?}{near}"))
}
