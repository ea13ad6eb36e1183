//! Places on a path, and where it goes on from each.

use fallwright_units::Cell;

use crate::steps::Steps;
use crate::{Carrier, Feature, Setting, Station};

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

/// Where a path goes on; `None` in the first lawful outlet and where the water ends.
pub fn next_on_path(setting: &Setting, cell: Cell) -> Option<Cell> {
    if setting.lawful_at(cell).is_some() { None } else { setting.flow().receiver(cell) }
}

/// The places on a path from a cell on, before the next cell: the cell itself and those along the structure that takes in its
/// water, each with the cell that it lies in.
pub fn places_from(setting: &Setting, cell: Cell, next: Option<Cell>) -> impl Iterator<Item = (Cell, (f64, f64))> {
    on_to(setting, cell, next).map(|place| (place.cell, (place.x, place.y)))
}

pub(crate) fn on_to(setting: &Setting, cell: Cell, next: Option<Cell>) -> impl Iterator<Item = PathPlace> + use<> {
    let own = place_at(setting, cell);
    let carried_to = next.filter(|_| setting.structure_at(cell).is_some());
    let over = carried_to.map_or_else(Vec::new, |next| between(setting, (cell, next), own.carrier));
    std::iter::once(own).chain(over)
}
