//! The elevation of a case: where it lies, its heights, and whether a run on so many cells is allowed.

use fallwright_geodata::{
    Elevation, ElevationDescription, ElevationRequest, Problem, describe_elevation, read_elevation,
};
use fallwright_units::{Frame, VerticalUnit};

use crate::budget::{Budget, MOST_CELLS, memory_needed};
use crate::file::{CaseFile, Draft};

/// Where the elevation lies, and its heights unless there is a fault in them.
pub(super) struct Ground {
    pub(super) description: ElevationDescription,
    pub(super) elevation: Option<Elevation>,
}

/// Reads the elevation; `None` where it is not known where it lies.
pub(super) fn read(draft: &mut Draft, budget: Budget) -> Option<Ground> {
    let request = request(&draft.case);
    match describe_elevation(&request) {
        Ok(description) => {
            let enough = enough_memory(&draft.case, &description, 0, budget);
            let elevation = enough.and_then(|()| read_elevation(&request));
            Some(Ground { description, elevation: draft.noted(elevation) })
        }
        Err(faults) => {
            let in_any_unit = describe_in_any_unit(&request);
            if in_any_unit.is_none() || !draft.doubts(&["terrain.vertical_unit"]) {
                draft.problems.extend(faults);
            }
            in_any_unit.map(|description| Ground { description, elevation: None })
        }
    }
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
