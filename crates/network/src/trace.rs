//! What is reported of the water of a cell: whose land it crosses, what carries it, where it first meets a lawful outlet.

use fallwright_units::{Cell, ParcelIx};

use rustc_hash::FxHashSet;

use crate::{End, Feature, Party};

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
    /// Where that is.
    pub deepest_fill_at: Cell,
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
