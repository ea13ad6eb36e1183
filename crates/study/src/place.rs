//! Places that a user names.

use fallwright_geodata::Projector;
use fallwright_units::{Cell, ParcelIx};

use crate::error::StudyError;
use crate::study::Study;

/// A place to ask about.
#[derive(Clone, Debug, PartialEq)]
pub enum Place {
    /// A parcel by its id.
    Parcel(String),
    /// A waterway, culvert or pipe by its id.
    Outlet(String),
    Point(MapPoint),
}

/// A point on the map.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MapPoint {
    pub x: f64,
    pub y: f64,
    /// Whether `x` and `y` are longitude and latitude, degrees on WGS 84, and not metres of the case's reference system.
    pub lonlat: bool,
}

impl Study {
    /// The cell at a point.
    ///
    /// # Errors
    /// A point outside the elevation or where it has a hole.
    pub fn cell_at(&self, MapPoint { x, y, lonlat }: MapPoint) -> Result<Cell, StudyError> {
        let projected =
            if lonlat { Projector::from_lonlat(&self.inputs.crs)?.point((x, y)).ok() } else { Some((x, y)) };
        let frame = self.setting.frame();
        let cell = projected.and_then(|point| frame.cell_at(point)).ok_or_else(|| StudyError::NoElevation {
            x,
            y,
            extent: format!(
                "{:.1} to {:.1} by {:.1} to {:.1} in {}",
                frame.west(),
                frame.east(),
                frame.south(),
                frame.north(),
                self.inputs.crs.label()
            ),
            hint: if lonlat {
                "longitude comes first"
            } else {
                "add --lonlat if the point is in longitude and latitude"
            },
        })?;
        if self.setting.flow().has_data(cell) { Ok(cell) } else { Err(StudyError::GapInElevation { x, y }) }
    }

    /// The parcel with an id.
    ///
    /// # Errors
    /// No parcel has it; a parcel with a similar id is named. A case without parcels.
    pub fn parcel(&self, id: &str) -> Result<ParcelIx, StudyError> {
        if self.inputs.case.parcels.is_none() {
            return Err(StudyError::NoParcels { id: id.to_owned() });
        }
        self.parcel_position(id).ok_or_else(|| {
            let ids = self.inputs.parcels.iter().map(|parcel| parcel.id.as_str());
            no_such("parcel", id, ids)
        })
    }
}

/// Nothing of a kind has an id.
pub(crate) fn no_such<'a>(kind: &'static str, id: &str, known: impl Iterator<Item = &'a str>) -> StudyError {
    let near = fallwright_case::meant(id, known).map(ToOwned::to_owned);
    StudyError::NoSuch { kind, id: id.to_owned(), near }
}
