//! Places on a path, and where it goes on from each.

use fallwright_units::{Cell, StructureIx};

use crate::steps::Steps;
use crate::structure::PlaceInside;
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

/// Places in a structure between its inlet and where its water comes to the surface, or meets a lawful outlet before.
pub(crate) fn inside(setting: &Setting, structure: StructureIx) -> Vec<PathPlace> {
    let link = setting.structures[structure].link;
    let (upper_m, lower_m) = (f64::from(setting.ground[link.inlet]), f64::from(setting.ground[link.outlet]));
    let place = |PlaceInside { at: (x, y), carrier, along }| {
        let cell = setting.frame().cell_at((x, y))?;
        let carrier = Carrier::Mapped(Feature::Structure(carrier));
        Some(PathPlace { x, y, cell, carrier, level_m: upper_m + along * (lower_m - upper_m) })
    };
    setting.places_inside(structure).into_iter().filter_map(place).collect()
}

/// The structure by which a path goes on from a cell; `None` where it runs open or ends there.
pub(crate) fn carried_on_by(setting: &Setting, cell: Cell) -> Option<StructureIx> {
    let structure = setting.structure_at(cell)?;
    match setting.lawful_at(cell) {
        Some(Feature::Structure(outlet)) if outlet != structure => Some(structure),
        Some(_) => None,
        None => Some(structure),
    }
}

/// The cell where a path goes on; `None` where it meets its first lawful outlet, be it in the structure that the cell's water
/// enters, and where the water ends.
pub fn next_on_path(setting: &Setting, cell: Cell) -> Option<Cell> {
    if setting.lawful_at(cell).is_some() { None } else { setting.flow().receiver(cell) }
}

/// The places on a path from a cell on, before the next cell: the cell itself and those in the structure that takes in its
/// water, each with the cell that it lies in.
pub fn places_from(setting: &Setting, cell: Cell) -> impl Iterator<Item = (Cell, (f64, f64))> {
    on_to(setting, cell).map(|place| (place.cell, (place.x, place.y)))
}

pub(crate) fn on_to(setting: &Setting, cell: Cell) -> impl Iterator<Item = PathPlace> + use<> {
    let over = carried_on_by(setting, cell).map_or_else(Vec::new, |structure| inside(setting, structure));
    std::iter::once(place_at(setting, cell)).chain(over)
}
