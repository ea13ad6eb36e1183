//! Which parcels' paths cross which changes of the terrain.

use fallwright_network::path;
use fallwright_units::{Cell, CellMap, Raster};
use rayon::prelude::*;

use crate::study::Study;

/// The parcels whose paths cross each of some areas: first the `areas`, which share no cell, then the `courses`, which may.
///
/// `in_area` holds for each cell its area, 1 for the first. Every share's path is followed once.
///
/// *Complexity*: O(length of all paths).
pub(super) fn parcels_crossing(
    study: &Study,
    in_area: &Raster<u32>,
    areas: usize,
    courses: &[Vec<Cell>],
) -> Vec<Vec<usize>> {
    let mut on_course: CellMap<Vec<usize>> = CellMap::new(study.setting.frame().len());
    for (number, &cell) in courses.iter().enumerate().flat_map(|(number, cells)| cells.iter().map(move |c| (number, c)))
    {
        match on_course.get_mut(cell) {
            Some(numbers) => numbers.push(number),
            None => on_course.insert(cell, vec![number]),
        }
    }
    let crossed_by = |shares: &Vec<fallwright_network::Share>| {
        let mut crossed: Vec<usize> = Vec::new();
        for share in shares {
            for station in path(&study.setting, share.leaving).stations {
                crossed.extend((in_area[station.cell] as usize).checked_sub(1));
                crossed.extend(on_course.get(station.cell).into_iter().flatten().map(|number| areas + number));
            }
            crossed.sort_unstable();
            crossed.dedup();
        }
        crossed
    };
    let crossed: Vec<Vec<usize>> = study.shares.par_iter().map(crossed_by).collect();
    let mut parcels = vec![Vec::new(); areas + courses.len()];
    for (parcel, changes) in crossed.into_iter().enumerate() {
        for change in changes {
            parcels[change].push(parcel);
        }
    }
    parcels
}
