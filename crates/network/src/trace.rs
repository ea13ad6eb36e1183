//! Following water from a cell: whose land it crosses, what carries it, where it first meets a lawful outlet.

use fallwright_units::Cell;

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

/// What is told of a path from one cell to the first lawful outlet, or to where it ends, without the places on it.
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
    pub fn parcels_crossed(&self) -> Vec<usize> {
        let mut parcels = Vec::new();
        for crossing in &self.crossings {
            if let Party::Parcel(parcel) = crossing.to
                && !parcels.contains(&parcel)
            {
                parcels.push(parcel);
            }
        }
        parcels
    }
}

/// Follows the water from a cell to the first lawful outlet. Through a structure the path is straight.
///
/// *Complexity*: O(length of the path in cells).
pub fn trace(setting: &Setting, from: Cell) -> Trace {
    path(setting, from).trace
}

/// The same with the places on the path.
///
/// *Complexity*: O(length of the path in cells), and as much memory.
pub fn path(setting: &Setting, from: Cell) -> Path {
    let mut stations = Vec::new();
    let mut outlet = None;
    let mut end = None;
    let mut deepest_fill_m: f64 = 0.0;
    let mut cell = from;
    loop {
        outlet = outlet.or_else(|| setting.lawful_at(cell));
        let carrier = carrier_at(setting, cell);
        push(&mut stations, setting.frame().centre(cell), cell, carrier, f64::from(setting.ground[cell]));
        if outlet.is_some() {
            break;
        }
        let depth = f64::from(setting.conditioned.surface[cell]) - f64::from(setting.conditioned.enforced[cell]);
        deepest_fill_m = deepest_fill_m.max(depth);
        let Some(next) = setting.conditioned.flow.receiver(cell) else {
            end = setting.ends.get(&cell).copied();
            break;
        };
        if setting.structure_at(cell).is_some() {
            push_between(setting, &mut stations, (cell, next), carrier);
        }
        cell = next;
    }
    let last = stations.len() - 1;
    let before_outlet = if outlet.is_some() { last.saturating_sub(1) } else { last };
    let trace = Trace {
        crossings: crossings(setting, &stations),
        carriers: carriers(&stations, outlet),
        outlet,
        end,
        deepest_fill_m,
        first: stations[0],
        last: stations[last],
        before_outlet: stations[before_outlet].cell,
    };
    Path { stations, trace }
}

pub(crate) fn carrier_at(setting: &Setting, cell: Cell) -> Carrier {
    let structure = setting.structure_at(cell).map(Feature::Structure);
    let waterway = || setting.waterway_of(cell).map(Feature::Waterway);
    structure.or_else(waterway).map_or(Carrier::Overland, Carrier::Mapped)
}

fn push(stations: &mut Vec<Station>, (x, y): (f64, f64), cell: Cell, carrier: Carrier, level_m: f64) {
    let distance_m = stations.last().map_or(0.0, |last| last.distance_m + (x - last.x).hypot(y - last.y));
    stations.push(Station { x, y, cell, carrier, distance_m, level_m });
}

/// Stations along a structure, about a cell apart, so that the land above it is told.
fn push_between(setting: &Setting, stations: &mut Vec<Station>, (from, to): (Cell, Cell), carrier: Carrier) {
    let (upper_m, lower_m) = (f64::from(setting.ground[from]), f64::from(setting.ground[to]));
    for (along, point) in points_along(setting, from, to) {
        if let Some(cell) = setting.frame().cell_at(point) {
            push(stations, point, cell, carrier, upper_m + along * (lower_m - upper_m));
        }
    }
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

/// Lot lines crossed. The last station counts only as the end: where it lies in an outlet, the land under the outlet is
/// not crossed.
fn crossings(setting: &Setting, stations: &[Station]) -> Vec<Crossing> {
    let party = |station: &Station| setting.parties.of(station.cell);
    let before_end = &stations[..stations.len().saturating_sub(1)];
    let mut first = 0;
    let mut crossings = Vec::new();
    for land in before_end.chunk_by(|a, b| party(a) == party(b)) {
        let end = first + land.len();
        if let Some(before) = first.checked_sub(1).map(|before| &stations[before]) {
            crossings.push(Crossing {
                from: party(before),
                to: party(&land[0]),
                x: land[0].x,
                y: land[0].y,
                distance_m: land[0].distance_m,
                metres_on_land: stations[end].distance_m - land[0].distance_m,
                carrier: main_carrier(&stations[first..=end]),
                ground_m: setting.ground[land[0].cell],
                fall_m: land[0].level_m - stations[end].level_m,
            });
        }
        first = end;
    }
    crossings
}

/// What carries the water for most of a stretch; on a tie what carries it first. The last station is the end only.
fn main_carrier(stretch: &[Station]) -> Carrier {
    let mut metres: Vec<(Carrier, f64)> = Vec::new();
    for pair in stretch.windows(2) {
        let step = pair[1].distance_m - pair[0].distance_m;
        match metres.iter_mut().find(|(carrier, _)| *carrier == pair[0].carrier) {
            Some((_, sum)) => *sum += step,
            None => metres.push((pair[0].carrier, step)),
        }
    }
    metres.into_iter().fold((stretch[0].carrier, 0.0), |a, b| if b.1 > a.1 { b } else { a }).0
}

fn carriers(stations: &[Station], outlet: Option<Feature>) -> Vec<Feature> {
    let mut features = Vec::new();
    for station in stations {
        if let Carrier::Mapped(feature) = station.carrier
            && Some(feature) != outlet
            && !features.contains(&feature)
        {
            features.push(feature);
        }
    }
    features
}
