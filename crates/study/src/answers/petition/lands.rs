//! What lies in the area: parcels and roads, each with its part inside.

use std::collections::BTreeMap;

use fallwright_case::{Inputs, Problem};
use fallwright_land::{cells_inside, mean_width};
use fallwright_law::petition::{LandKind, OwnerIx, Roll, RollLand};
use fallwright_network::Party;
use geo::{Area, BooleanOps, BoundingRect, Intersects, MultiPolygon, Rect};
use rayon::prelude::*;

use super::PetitionQuestion;
use super::needs::NeedsDrainage;
use crate::error::StudyError;
use crate::study::Study;

/// Strips narrower than this on average are the noise of coordinates in two files, metres (our choice: files of longitude and
/// latitude with 7 decimals are good to 0.01 m).
pub(super) const NOISE_M: f64 = 0.05;

/// Less than this is the rounding of numbers, square metres (our choice).
const NOTHING_M2: f64 = 0.01;

/// A land of the area.
pub struct PetitionLand {
    pub party: Party,
    /// The part inside.
    pub shape: MultiPolygon<f64>,
    /// Square metres of the whole land.
    pub whole_m2: f64,
    /// Cells inside that have elevation.
    pub cells: u64,
    /// Of these, cells that drain to the outlet.
    pub draining_cells: u64,
    /// Hectares without a right of drainage or under standing water: no more than the finding has without a right, beside those under
    /// water.
    pub in_need_ha: f64,
}

pub(super) struct Inside {
    pub(super) area_m2: f64,
    pub(super) roll: Roll,
    /// In the order of `roll.lands`.
    pub(super) lands: Vec<PetitionLand>,
    pub(super) only_touching: Vec<String>,
}

/// A land's part inside the area.
struct Part {
    shape: MultiPolygon<f64>,
    is_partly_outside: bool,
}

/// Parcels first, then roads, each in the order of their ids.
///
/// # Errors
/// An area that holds no part of a parcel or road.
pub(super) fn inside(inputs: &Inputs, question: &PetitionQuestion) -> Result<Inside, StudyError> {
    let area = &question.area;
    let Some(bounds) = area.bounding_rect() else { return Err(nothing_inside(question)) };
    let part = |shape: &MultiPolygon<f64>| part(shape, area, bounds);
    let parcels: Vec<Option<Part>> = inputs.parcels.raw.par_iter().map(|parcel| part(&parcel.shape)).collect();
    let roads: Vec<Option<Part>> = inputs.roads.raw.par_iter().map(|road| part(&road.shape)).collect();
    let mut inside =
        Inside { area_m2: area.unsigned_area(), roll: Roll::default(), lands: Vec::new(), only_touching: Vec::new() };
    for ((position, parcel), part) in inputs.parcels.iter_enumerated().zip(parcels) {
        let owners = parcel.owners();
        inside.push(Party::Parcel(position), parcel.id.as_str(), &owners, (&parcel.shape, part));
    }
    for ((position, road), part) in inputs.roads.iter_enumerated().zip(roads) {
        inside.push(Party::Road(position), road.id.as_str(), &[road.owner()], (&road.shape, part));
    }
    if inside.lands.is_empty() { Err(nothing_inside(question)) } else { Ok(inside) }
}

/// `None` where nothing of the land lies inside.
fn part(shape: &MultiPolygon<f64>, area: &MultiPolygon<f64>, bounds: Rect<f64>) -> Option<Part> {
    shape.bounding_rect().filter(|own| own.intersects(&bounds))?;
    let inside = shape.intersection(area);
    if inside.unsigned_area() < NOTHING_M2 {
        return None;
    }
    let is_partly_outside = mean_width(&shape.difference(area)) >= NOISE_M;
    Some(Part { shape: inside, is_partly_outside })
}

impl Inside {
    fn push(&mut self, party: Party, id: &str, owners: &[&str], (whole, part): (&MultiPolygon<f64>, Option<Part>)) {
        let Some(Part { shape, is_partly_outside }) = part else { return };
        if mean_width(&shape) < NOISE_M {
            self.only_touching.push(id.to_owned());
            return;
        }
        let mut owners: Vec<OwnerIx> = owners.iter().map(|name| self.roll.owner(name)).collect();
        owners.sort_unstable();
        owners.dedup();
        let kind = if matches!(party, Party::Road(_)) { LandKind::Road } else { LandKind::Parcel };
        let square_metres = shape.unsigned_area().round() as u64;
        self.roll.lands.push(RollLand { kind, id: id.to_owned(), owners, square_metres, is_partly_outside });
        let whole_m2 = whole.unsigned_area();
        self.lands.push(PetitionLand { party, shape, whole_m2, cells: 0, draining_cells: 0, in_need_ha: 0.0 });
    }
}

/// Counts the cells of each land inside, and those that need drainage.
pub(super) fn count_cells(study: &Study, area: &MultiPolygon<f64>, needs: &NeedsDrainage, lands: &mut [PetitionLand]) {
    let setting = &study.setting;
    let mut by_party: BTreeMap<Party, [u64; 3]> = BTreeMap::new();
    for cell in cells_inside(&setting.frame(), area).into_iter().filter(|&cell| setting.flow().has_data(cell)) {
        let [cells, in_need, under_water] = by_party.entry(setting.parties.of(cell)).or_default();
        *cells += 1;
        *in_need += u64::from(needs.is_needed(cell));
        *under_water += u64::from(needs.is_under_water(cell));
    }
    for land in lands {
        let [cells, in_need, under_water] = by_party.get(&land.party).copied().unwrap_or_default();
        land.cells = cells;
        if let Party::Parcel(parcel) = land.party {
            let most = needs.hectares_without_right(parcel) + study.hectares(under_water);
            land.in_need_ha = study.hectares(in_need).min(most);
        }
    }
}

fn nothing_inside(question: &PetitionQuestion) -> StudyError {
    let found = "an area that holds no part of a parcel or road";
    let (expected, hint) = ("an area over parcels of the case", "check the area's reference system and where it lies");
    StudyError::Refused(vec![Problem::in_file(&question.area_file, found, expected, hint)])
}
