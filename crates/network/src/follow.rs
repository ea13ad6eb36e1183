//! Following the water of one cell.

use fallwright_units::{Cell, StructureIx};

use crate::courses::{Ahead, Shared};
use crate::place::{PathPlace, inside, next_on_path, on_to, place_at};
use crate::steps::Steps;
use crate::{Feature, Party, Path, Setting, Station, Trace};

/// Follows the water from a cell to the first lawful outlet.
///
/// *Complexity*: O(length of the path in cells).
pub fn trace(setting: &Setting, from: Cell) -> Trace {
    report_route(setting, &cells_on_path(setting, from))
}

/// The same with the places on the path.
///
/// *Complexity*: O(length of the path in cells), and as much memory.
pub fn path(setting: &Setting, from: Cell) -> Path {
    let cells = cells_on_path(setting, from);
    Path { stations: stations(setting, places_on(setting, &cells)), trace: report_route(setting, &cells) }
}

/// Follows the water of a land that a structure takes by pipe, to the first lawful outlet or to where it ends: along the
/// structure from its first place on that land (its upper end where none is) and along those that it joins, then as any water
/// goes on below the lower end, by further structures too. A structure that is a lawful outlet itself ends the path where it
/// takes the water.
///
/// *Complexity*: O(length of the path in cells), and as much memory.
pub fn piped_path(setting: &Setting, giver: Party, structure: StructureIx) -> Path {
    let carrier = &setting.structures[structure];
    let mut along = vec![place_at(setting, carrier.link.inlet)];
    along.extend(inside(setting, structure));
    let on_own = along.iter().position(|place| setting.parties.of(place.cell) == giver);
    along.drain(..on_own.unwrap_or(0));
    let mut shared = Shared::default();
    let is_marked = |_| false;
    let (mut below, ahead) = if let Some(outlet) = setting.lawful_inside(structure) {
        if outlet == structure {
            along.truncate(1);
        }
        let met = along.pop().expect("the first place was not taken away");
        (vec![met], shared.end(setting, &is_marked, met, Some(Feature::Structure(outlet))))
    } else {
        let cells = cells_on_path(setting, carrier.link.outlet);
        (places_on(setting, &cells), reach_route(setting, &mut shared, &cells))
    };
    let before = |ahead, &place: &PathPlace| shared.before(setting, &is_marked, place, ahead);
    let ahead = along.iter().rev().fold(ahead, before);
    along.append(&mut below);
    Path { stations: stations(setting, along), trace: ahead.trace_from(setting, &mut shared, giver) }
}

fn places_on(setting: &Setting, cells: &[Cell]) -> Vec<PathPlace> {
    cells.iter().flat_map(|&cell| on_to(setting, cell)).collect()
}

/// The places with their distances from the first.
fn stations(setting: &Setting, places: Vec<PathPlace>) -> Vec<Station> {
    let mut to_end = vec![Steps::default(); places.len()];
    for position in (1..places.len()).rev() {
        let (upper, lower) = (&places[position - 1], &places[position]);
        to_end[position - 1] = to_end[position] + upper.step_to(setting, lower);
    }
    let whole = to_end[0];
    let station = |(place, &rest): (PathPlace, &Steps)| place.station((whole - rest).metres(&setting.frame()));
    places.into_iter().zip(&to_end).map(station).collect()
}

fn cells_on_path(setting: &Setting, from: Cell) -> Vec<Cell> {
    std::iter::successors(Some(from), |&cell| next_on_path(setting, cell)).collect()
}

/// The reported route over some cells.
fn report_route(setting: &Setting, cells: &[Cell]) -> Trace {
    let mut shared = Shared::default();
    reach_route(setting, &mut shared, cells).trace(setting, &shared)
}

/// What lies ahead of the first of some cells.
fn reach_route(setting: &Setting, shared: &mut Shared, cells: &[Cell]) -> Ahead {
    let reach = |beyond, &cell: &Cell| Some(shared.reach(setting, &|_| false, cell, beyond));
    cells.iter().rev().fold(None, reach).expect("a path has a cell")
}
