//! Leaving points: how a parcel's water leaves in shares.

use std::collections::BTreeMap;

use fallwright_terrain::label_upstream;
use fallwright_units::{Cell, ParcelIx, Raster, ShareIx};
use petgraph::unionfind::UnionFind;
use rayon::prelude::*;
use typed_index_collections::{TiVec, ti_vec};

use crate::{Destination, Destinations, Feature, Party, Setting};

/// The part of a parcel whose water leaves over one stretch of its boundary, or into one outlet on the parcel itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Share {
    /// Own cells.
    pub cells: u64,
    /// Where most of the share's cells leave. For a remainder, where its largest group leaves.
    pub leaving: Cell,
    /// Every cell where the share leaves.
    pub exits: Vec<Cell>,
    pub destination: Destination,
    /// Whether this gathers the groups that are too small to stand alone.
    pub is_remainder: bool,
}

/// Below both limits a group of exits is part of the remainder.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShareLimits {
    /// Of the parcel's own cells.
    pub fraction: f64,
    pub cells: f64,
}

/// The shares of every parcel, largest first, the remainder last.
///
/// Water leaves where its path first leaves the parcel or first reaches a lawful outlet on it. A leaving point groups the
/// adjacent cells where it does so with the same receiver (whose land, or which outlet) and the same destination.
///
/// *Complexity*: O(n) for n cells, then O(E log E) for the E exit cells of each parcel, parcels in parallel.
pub fn shares(setting: &Setting, limits: ShareLimits) -> TiVec<ParcelIx, TiVec<ShareIx, Share>> {
    let stops = Stops::find(setting);
    let mut by_parcel: TiVec<ParcelIx, Vec<usize>> = ti_vec![Vec::new(); setting.parcel_count];
    for (stop, &cell) in stops.at.iter().enumerate() {
        if let Party::Parcel(parcel) = setting.parties.of(cell)
            && stops.cells[stop] > 0
        {
            by_parcel[parcel].push(stop);
        }
    }
    let shares = by_parcel.raw.into_par_iter().map(|own| gather(grouped(setting, &stops, &own), limits));
    shares.collect::<Vec<_>>().into()
}

/// The cells where water first leaves a party's land or first reaches a lawful outlet.
struct Stops {
    at: Vec<Cell>,
    /// Cells of the same party whose water stops here.
    cells: Vec<u64>,
    destination: Vec<Destination>,
}

impl Stops {
    fn find(setting: &Setting) -> Self {
        let flow = setting.flow();
        let leaves = |cell: Cell| {
            let differs = |next: Cell| setting.parties.of(next) != setting.parties.of(cell);
            flow.receiver(cell).is_none_or(differs)
        };
        let at: Vec<Cell> = setting
            .parties
            .cells()
            .filter(|&cell| flow.has_data(cell) && (setting.lawful_at(cell).is_some() || leaves(cell)))
            .collect();
        let mut labels = Raster::filled(setting.frame(), 0_u32);
        for (label, &cell) in (1_u32..).zip(&at) {
            labels[cell] = label;
        }
        let mut cells = vec![0; at.len()];
        for label in label_upstream(flow, labels).values.into_iter().filter(|&label| label != 0) {
            cells[label as usize - 1] += 1;
        }
        let destinations = Destinations::find(setting);
        let destination = |&cell: &Cell| destinations.of(cell).expect("a cell with data has a destination");
        Self { destination: at.iter().map(destination).collect(), at, cells }
    }
}

/// Who takes the water where it leaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Receiver {
    Outlet(Feature),
    Land(Party),
    Nobody,
}

struct Group {
    cells: u64,
    leaving: Cell,
    exits: Vec<Cell>,
    destination: Destination,
}

fn grouped(setting: &Setting, stops: &Stops, own: &[usize]) -> Vec<Group> {
    let receiver = |cell: Cell| match (setting.lawful_at(cell), setting.flow().receiver(cell)) {
        (Some(outlet), _) => Receiver::Outlet(outlet),
        (None, Some(next)) => Receiver::Land(setting.parties.of(next)),
        (None, None) => Receiver::Nobody,
    };
    let key: Vec<_> = own.iter().map(|&stop| (receiver(stops.at[stop]), stops.destination[stop])).collect();
    let position: BTreeMap<Cell, usize> =
        own.iter().enumerate().map(|(position, &stop)| (stops.at[stop], position)).collect();
    let mut together = UnionFind::new(own.len());
    for (&cell, &here) in &position {
        for (_, beside) in setting.frame().neighbours(cell) {
            if let Some(&there) = position.get(&beside)
                && key[here] == key[there]
            {
                together.union(here, there);
            }
        }
    }
    let mut groups: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (here, &stop) in own.iter().enumerate() {
        groups.entry(together.find(here)).or_default().push(stop);
    }
    groups.into_values().map(|members| group(stops, &members)).collect()
}

fn group(stops: &Stops, members: &[usize]) -> Group {
    let heaviest = members.iter().copied().fold(members[0], |a, b| if stops.cells[b] > stops.cells[a] { b } else { a });
    Group {
        cells: members.iter().map(|&stop| stops.cells[stop]).sum(),
        leaving: stops.at[heaviest],
        exits: members.iter().map(|&stop| stops.at[stop]).collect(),
        destination: stops.destination[heaviest],
    }
}

fn gather(mut groups: Vec<Group>, limits: ShareLimits) -> TiVec<ShareIx, Share> {
    groups.sort_by_key(|group| (std::cmp::Reverse(group.cells), group.leaving));
    let own: u64 = groups.iter().map(|group| group.cells).sum();
    let is_small = |cells: u64| (cells as f64) < limits.fraction * own as f64 && (cells as f64) < limits.cells;
    let mut shares: TiVec<ShareIx, Share> = TiVec::new();
    for group in groups {
        let is_remainder = is_small(group.cells);
        match shares.last_mut() {
            Some(remainder) if remainder.is_remainder => {
                remainder.cells += group.cells;
                remainder.exits.extend(group.exits);
            }
            _ => shares.push(Share {
                cells: group.cells,
                leaving: group.leaving,
                exits: group.exits,
                destination: group.destination,
                is_remainder,
            }),
        }
    }
    shares
}
