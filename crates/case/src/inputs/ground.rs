//! The elevation of a case: where it lies, its heights, and whether a run on so many cells is allowed.

use fallwright_geodata::{
    Crs, Elevation, ElevationDescription, ElevationRequest, GeodataError, Problem, Projector, describe_elevation,
    read_elevation,
};
use fallwright_units::{Frame, VerticalUnit};

use crate::budget::{Budget, MOST_CELLS, memory_needed};
use crate::file::{CaseFile, Draft};

use super::note::Note;

/// Where the elevation lies, and its heights unless there is a fault in them.
pub(super) struct Ground {
    pub(super) description: ElevationDescription,
    pub(super) elevation: Option<Elevation>,
    /// For places near the elevation's middle.
    pub(super) to_lonlat: Projector,
}

/// Reads the elevation; `None` where it is not known where it lies.
pub(super) fn read(draft: &mut Draft, budget: Budget) -> Option<Ground> {
    match describe_elevation(&request(&draft.case)) {
        Ok(description) => {
            let to_lonlat = to_lonlat(&draft.case, &description);
            let to_lonlat = draft.noted(to_lonlat)?;
            let enough = enough_memory(&draft.case, &description, 0, budget);
            let elevation = enough.and_then(|()| read_elevation(&request(&draft.case)));
            Some(Ground { description, elevation: draft.noted(elevation), to_lonlat })
        }
        Err(faults) => {
            let in_any_unit = describe_in_any_unit(&request(&draft.case));
            if in_any_unit.is_none() || !draft.doubts(&["terrain.vertical_unit"]) {
                draft.problems.extend(faults);
            }
            let description = in_any_unit?;
            let to_lonlat = to_lonlat(&draft.case, &description);
            let to_lonlat = draft.noted(to_lonlat)?;
            Some(Ground { description, elevation: None, to_lonlat })
        }
    }
}

/// Results are written in longitude and latitude, so the middle and the corners of the elevation must have them.
fn to_lonlat(case: &CaseFile, description: &ElevationDescription) -> Result<Projector, Vec<Problem>> {
    let ElevationDescription { frame, crs, .. } = description;
    let middle = (f64::midpoint(frame.west(), frame.east()), f64::midpoint(frame.south(), frame.north()));
    let corners = [frame.west(), frame.east()].map(|x| [frame.south(), frame.north()].map(|y| (x, y)));
    let projector = Projector::to_lonlat(crs).and_then(|projector| {
        std::iter::once(middle)
            .chain(corners.into_iter().flatten())
            .try_for_each(|at| projector.point(at).map(drop))?;
        Ok(projector)
    });
    projector.map_err(|error| vec![no_lonlat(case, crs, &error)])
}

fn no_lonlat(case: &CaseFile, crs: &Crs, error: &GeodataError) -> Problem {
    let file = case.terrain.elevation_given.join(", ");
    let expected = "a reference system that can be taken to longitude and latitude, in which results are written";
    if crs.names_no_place() {
        let found = format!("the reference system {:?}, whose datum is not known", crs.name());
        return Problem::in_file(file, found, expected, "say in the case file which one it is, as crs = \"EPSG:...\"");
    }
    let hint = match error {
        GeodataError::PointOutside { .. } => "check the raster's coordinates and its reference system",
        _ => "install the datum grids that it needs, or name a system on another datum in a `warp` under [terrain]",
    };
    Problem::in_file(file, error.to_string(), expected, hint)
}

/// Says that the elevation is taken to be in the reference system of the case file.
pub(super) fn taken_as_stated(description: &ElevationDescription) -> Option<Note> {
    let file = description.taken_as_stated.as_ref()?;
    let found = "a reference system without a name, whose datum is not known";
    Some(Note::new(file.display().to_string(), found, as_stated(&description.crs)))
}

/// What was done about a system that names no place.
pub(super) fn as_stated(crs: &Crs) -> String {
    format!("taken to be {}, as the case file says", crs.label())
}

/// Where the elevation lies: that is known, and the layers can be checked, even where the unit of its heights is not.
fn describe_in_any_unit(request: &ElevationRequest) -> Option<ElevationDescription> {
    let units = [None, Some(VerticalUnit::Metre)];
    units
        .into_iter()
        .find_map(|vertical_unit| describe_elevation(&ElevationRequest { vertical_unit, ..request.clone() }).ok())
}

fn request(case: &CaseFile) -> ElevationRequest<'_> {
    ElevationRequest {
        files: &case.terrain.elevation,
        vertical_unit: case.terrain.vertical_unit,
        crs: case.crs.as_deref(),
        warp: case.terrain.warp.as_ref(),
        max_bytes: u64::MAX,
    }
}

/// # Errors
/// A case whose run with so many parcels needs more memory than is allowed, or with too many cells, before anything of its size
/// is allocated.
pub(super) fn enough_memory(
    case: &CaseFile,
    description: &ElevationDescription,
    parcels: usize,
    budget: Budget,
) -> Result<(), Vec<Problem>> {
    let needed = memory_needed(description.frame.len(), parcels).max(description.bytes);
    let problem = too_large(case.terrain.elevation_given.join(", "), &description.frame, needed, budget.memory_bytes);
    problem.map_or(Ok(()), |problem| Err(vec![problem]))
}

/// The problem with an elevation that has too many cells, or needs more bytes of memory than are allowed.
fn too_large(file: String, frame: &Frame, needed: u64, allowed: u64) -> Option<Problem> {
    let (found, expected, hint) = if frame.len() > MOST_CELLS {
        (String::new(), format!("at most {MOST_CELLS} cells"), "cut the elevation to the area of interest")
    } else if needed > allowed {
        let found = format!(", and {} MiB of memory allowed", allowed.div_ceil(1 << 20));
        let hint = "allow more memory with `--max-memory`, or cut the elevation to the area of interest; `fallwright \
                    terrain` takes rasters larger than memory";
        (found, format!("at least {} MiB", needed.div_ceil(1 << 20)), hint)
    } else {
        return None;
    };
    Some(Problem::in_file(file, format!("{} x {} cells{found}", frame.cols(), frame.rows()), expected, hint))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By definition: 32 bits count to 2^32 - 1 = 65,535 x 65,537 cells.
    #[test]
    fn a_case_with_more_cells_than_are_counted_is_refused_whatever_the_memory() {
        let check = |cols: usize, rows: usize, expected: Option<&str>| {
            let frame = Frame::new(cols, rows, (0.0, 0.0), (1.0, 1.0)).unwrap();
            let found = too_large("dem.tif".to_owned(), &frame, memory_needed(frame.len(), 0), u64::MAX);
            assert_eq!(found.map(|problem| problem.expected).as_deref(), expected, "{cols} x {rows}");
        };
        check(65_535, 65_537, None);
        check(65_536, 65_536, Some("at most 4294967295 cells"));
        check(400_000, 400_000, Some("at most 4294967295 cells"));
    }
}
