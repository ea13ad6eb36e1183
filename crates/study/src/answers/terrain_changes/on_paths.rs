//! Which parcels' paths cross which changes of the terrain.

use std::collections::HashSet;

use fallwright_network::{known_ahead, next_on_path, places_from};
use fallwright_units::{Cell, CellMap, ParcelIx, Raster};
use rayon::prelude::*;
use typed_index_collections::TiVec;

use crate::study::Study;

/// The parcels whose paths cross each of some areas: first the `areas`, which share no cell, then the `courses`, which may.
///
/// `in_area` holds for each cell its area, 1 for the first.
///
/// *Complexity*: O(cells on the paths, each once, and for each parcel the places where its paths come to a change).
pub(super) fn parcels_crossing(
    study: &Study,
    in_area: &Raster<u32>,
    areas: usize,
    courses: &[Vec<Cell>],
) -> Vec<Vec<ParcelIx>> {
    let changes = Changes { in_area, areas, on_course: on_courses(study.setting.frame().len(), courses) };
    let (met, first) = meetings(study, &changes);
    let mut starts = first.into_iter();
    let by_parcel: TiVec<ParcelIx, Vec<Option<u32>>> =
        study.shares.iter().map(|own| starts.by_ref().take(own.len()).collect()).collect();
    let crossed: Vec<Vec<u32>> = by_parcel.raw.par_iter().map(|starts| crossed(&met, starts)).collect();
    let mut parcels = vec![Vec::new(); areas + courses.len()];
    for (parcel, changes) in TiVec::from(crossed).into_iter_enumerated() {
        for change in changes {
            parcels[change as usize].push(parcel);
        }
    }
    parcels
}

/// The changes found by cell.
struct Changes<'a> {
    in_area: &'a Raster<u32>,
    areas: usize,
    on_course: CellMap<Vec<u32>>,
}

impl Changes<'_> {
    /// Adds the changes at a cell.
    fn at(&self, cell: Cell, found: &mut Vec<u32>) {
        found.extend(self.in_area[cell].checked_sub(1));
        found.extend(self.on_course.get(cell).into_iter().flatten().map(|number| self.areas as u32 + number));
    }
}

fn on_courses(cells: usize, courses: &[Vec<Cell>]) -> CellMap<Vec<u32>> {
    let mut on_course: CellMap<Vec<u32>> = CellMap::new(cells);
    for (number, &cell) in (0..).zip(courses).flat_map(|(number, cells)| cells.iter().map(move |cell| (number, cell))) {
        match on_course.get_mut(cell) {
            Some(numbers) => numbers.push(number),
            None => on_course.insert(cell, vec![number]),
        }
    }
    on_course
}

/// Changes that paths come to at one place, and the position of the place where they come to others next.
struct Meeting {
    changes: Vec<u32>,
    next: Option<u32>,
}

/// The places where paths come to changes, and for each share, one parcel's after the other's, the first of its path.
fn meetings(study: &Study, changes: &Changes) -> (Vec<Meeting>, Vec<Option<u32>>) {
    let setting = &study.setting;
    let starts: Vec<Cell> = study.shares.iter().flatten().map(|share| share.leaving).collect();
    let (mut met, mut here): (Vec<Meeting>, Vec<u32>) = (Vec::new(), Vec::new());
    let next = |cell| next_on_path(setting, cell);
    let first = known_ahead(setting.frame().len(), &starts, next, |cell, beyond| {
        let ahead: Option<u32> = beyond.and_then(|(_, ahead)| ahead);
        here.clear();
        places_from(setting, cell).for_each(|(cell, _)| changes.at(cell, &mut here));
        if here.is_empty() || ahead.is_some_and(|ahead| met[ahead as usize].changes == here) {
            return ahead;
        }
        met.push(Meeting { changes: here.clone(), next: ahead });
        Some(u32::try_from(met.len() - 1).expect("there are fewer than cells, which 32 bits count"))
    });
    (met, first)
}

/// The changes on the paths of one parcel, sorted, each once.
fn crossed(met: &[Meeting], starts: &[Option<u32>]) -> Vec<u32> {
    let (mut known, mut changes) = (HashSet::new(), Vec::new());
    for &start in starts {
        let mut place = start;
        while let Some(position) = place.filter(|&position| known.insert(position)) {
            changes.extend(&met[position as usize].changes);
            place = met[position as usize].next;
        }
    }
    changes.sort_unstable();
    changes.dedup();
    changes
}
