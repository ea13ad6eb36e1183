//! Following water from a cell: whose land it crosses, what carries it, where it first meets a lawful outlet.

use fallwright_units::{Cell, ParcelIx};

use rustc_hash::FxHashSet;

use crate::courses::Shared;
use crate::steps::Steps;
use crate::{End, Feature, Party, Setting};

/// What carries the water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Carrier {
    Overland,
    Mapped(Feature),
}

/// A place on a path, in order downstream.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Station {
    pub x: f64,
    pub y: f64,
    pub cell: Cell,
    /// What carries the water on from here.
    pub carrier: Carrier,
    /// Metres from the start of the path.
    pub distance_m: f64,
    /// Ground as surveyed, metres; along a structure, between the ground at its ends. `NaN` where there is none.
    pub level_m: f64,
}

/// A lot line that the path crosses before it meets a lawful outlet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    pub from: Party,
    pub to: Party,
    /// Where the path enters the other's land.
    pub x: f64,
    pub y: f64,
    /// Metres from the start of the path.
    pub distance_m: f64,
    /// Metres of the path on the other's land.
    pub metres_on_land: f64,
    /// What carries the water on the other's land, for most of the way.
    pub carrier: Carrier,
    /// Ground as surveyed at the crossing, metres; `NaN` where there is none.
    pub ground_m: f32,
    /// Fall along the path on the other's land, metres; negative where the ground rises, `NaN` where there is none.
    pub fall_m: f64,
}

/// The reported route from one cell to the first lawful outlet, or to where it ends, without the places on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    pub crossings: Vec<Crossing>,
    /// The lawful outlet that the path meets, at its last station.
    pub outlet: Option<Feature>,
    /// Where the path ends if it meets no lawful outlet.
    pub end: Option<End>,
    /// Other mapped features that carry the water before, in order.
    pub carriers: Vec<Feature>,
    /// Greatest depth of fill on the path, metres.
    pub deepest_fill_m: f64,
    pub first: Station,
    pub last: Station,
    /// The cell of the last station before the outlet, or where the path ends.
    pub before_outlet: Cell,
}

/// A path with the places on it: as long as the path, so it is followed anew where it is asked for and not kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Path {
    /// Never empty.
    pub stations: Vec<Station>,
    pub trace: Trace,
}

impl Trace {
    pub fn length_m(&self) -> f64 {
        self.last.distance_m
    }

    /// Drop from the first to the last station on the ground as surveyed, metres.
    pub fn fall_m(&self) -> f64 {
        self.first.level_m - self.last.level_m
    }

    /// Parcels crossed, in order, each once.
    pub fn parcels_crossed(&self) -> Vec<ParcelIx> {
        let mut known = FxHashSet::default();
        let parcel = |crossing: &Crossing| if let Party::Parcel(parcel) = crossing.to { Some(parcel) } else { None };
        self.crossings.iter().filter_map(parcel).filter(|&parcel| known.insert(parcel)).collect()
    }
}

/// Follows the water from a cell to the first lawful outlet. Through a structure the path is straight.
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
    let mut places = Vec::with_capacity(cells.len());
    for (position, &cell) in cells.iter().enumerate() {
        places.extend(on_to(setting, cell, cells.get(position + 1).copied()));
    }
    let mut to_end = vec![Steps::default(); places.len()];
    for position in (1..places.len()).rev() {
        let (upper, lower) = (&places[position - 1], &places[position]);
        to_end[position - 1] = to_end[position] + upper.step_to(setting, lower);
    }
    let whole = to_end[0];
    let station = |(place, &rest): (PathPlace, &Steps)| place.station((whole - rest).metres(&setting.frame()));
    let stations = places.into_iter().zip(&to_end).map(station).collect();
    Path { stations, trace: report_route(setting, &cells) }
}

fn cells_on_path(setting: &Setting, from: Cell) -> Vec<Cell> {
    std::iter::successors(Some(from), |&cell| next_on_path(setting, cell)).collect()
}

/// Where a path goes on; `None` in the first lawful outlet and where the water ends.
pub fn next_on_path(setting: &Setting, cell: Cell) -> Option<Cell> {
    if setting.lawful_at(cell).is_some() { None } else { setting.flow().receiver(cell) }
}

/// The places on a path from a cell on, before the next cell: the cell itself and those along the structure that takes in its
/// water, each with the cell that it lies in.
pub fn places_from(setting: &Setting, cell: Cell, next: Option<Cell>) -> impl Iterator<Item = (Cell, (f64, f64))> {
    on_to(setting, cell, next).map(|place| (place.cell, (place.x, place.y)))
}

fn on_to(setting: &Setting, cell: Cell, next: Option<Cell>) -> impl Iterator<Item = PathPlace> + use<> {
    let own = place_at(setting, cell);
    let carried_to = next.filter(|_| setting.structure_at(cell).is_some());
    let over = carried_to.map_or_else(Vec::new, |next| between(setting, (cell, next), own.carrier));
    std::iter::once(own).chain(over)
}

/// The reported route over some cells.
fn report_route(setting: &Setting, cells: &[Cell]) -> Trace {
    let mut shared = Shared::default();
    let reach = |beyond, &cell: &Cell| Some(shared.reach(setting, &|_| false, cell, beyond));
    let ahead = cells.iter().rev().fold(None, reach).expect("a path has a cell");
    ahead.trace(setting, &shared)
}

/// A place on a path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct PathPlace {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) cell: Cell,
    pub(crate) carrier: Carrier,
    pub(crate) level_m: f64,
}

impl PathPlace {
    pub(crate) fn station(self, distance_m: f64) -> Station {
        let Self { x, y, cell, carrier, level_m } = self;
        Station { x, y, cell, carrier, distance_m, level_m }
    }

    /// The step to the next place on a path: along a structure where one carries the water.
    pub(crate) fn step_to(&self, setting: &Setting, next: &Self) -> Steps {
        match self.carrier {
            Carrier::Mapped(Feature::Structure(_)) => Steps::along((self.x - next.x).hypot(self.y - next.y)),
            Carrier::Mapped(Feature::Waterway(_)) | Carrier::Overland => {
                Steps::between(&setting.frame(), self.cell, next.cell)
            }
        }
    }
}

pub(crate) fn place_at(setting: &Setting, cell: Cell) -> PathPlace {
    let (x, y) = setting.frame().centre(cell);
    PathPlace { x, y, cell, carrier: carrier_at(setting, cell), level_m: f64::from(setting.ground[cell]) }
}

pub(crate) fn carrier_at(setting: &Setting, cell: Cell) -> Carrier {
    let structure = setting.structure_at(cell).map(Feature::Structure);
    let waterway = || setting.waterway_of(cell).map(Feature::Waterway);
    structure.or_else(waterway).map_or(Carrier::Overland, Carrier::Mapped)
}

/// Places along a structure between its ends, about a cell apart, so that the land above it is listed.
pub(crate) fn between(setting: &Setting, (from, to): (Cell, Cell), carrier: Carrier) -> Vec<PathPlace> {
    let (upper_m, lower_m) = (f64::from(setting.ground[from]), f64::from(setting.ground[to]));
    let place = |(along, (x, y)): (f64, (f64, f64))| {
        let cell = setting.frame().cell_at((x, y))?;
        Some(PathPlace { x, y, cell, carrier, level_m: upper_m + along * (lower_m - upper_m) })
    };
    points_along(setting, from, to).filter_map(place).collect()
}

/// Points of a structure between its ends, about a cell apart, each with how far along it is (0 to 1).
pub(crate) fn points_along(setting: &Setting, from: Cell, to: Cell) -> impl Iterator<Item = (f64, (f64, f64))> + use<> {
    let frame = setting.frame();
    let ((x0, y0), (x1, y1)) = (frame.centre(from), frame.centre(to));
    let pieces = ((x1 - x0).hypot(y1 - y0) / frame.cell_width().min(frame.cell_height())).ceil() as usize;
    (1..pieces).map(move |piece| {
        let along = piece as f64 / pieces as f64;
        (along, (x0 + along * (x1 - x0), y0 + along * (y1 - y0)))
    })
}
