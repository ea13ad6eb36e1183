//! Ways through a tile: where water comes in, and where it goes out again.

use fallwright_units::Cell;
use serde::{Deserialize, Serialize};

use super::deltas;
use super::patch::Patch;
use super::tiling::{Ring, TilePlace, Tiling};
use crate::direction;
use crate::link::Links;

/// The code that a patch of directions holds in its margin.
pub(crate) const BEYOND: u8 = 253;

/// Offsets to the receiver by direction code; 0 where water ends, is carried by a structure, or there is no data.
pub(crate) fn receiver_offsets(code: &Patch<u8>) -> [isize; 256] {
    let mut offsets = [0; 256];
    for (position, offset) in code.offsets().into_iter().enumerate() {
        offsets[usize::from(direction::of_neighbour(position))] = offset;
    }
    offsets
}

/// Cells of a tile where water can come in or go out: those along the edge, by their position there, then both ends of
/// structures.
#[derive(Debug)]
pub(crate) struct Ports {
    ring: Ring,
    /// Positions in the tile's patch, ascending.
    ends: Vec<usize>,
}

impl Ports {
    /// The ports of every tile.
    pub(crate) fn all(tiling: &Tiling, links: &Links) -> Vec<Self> {
        let with_ring = |(tile, ends)| Self { ring: tiling.ring(tile), ends };
        tiling.ends(links).into_iter().enumerate().map(with_ring).collect()
    }

    fn len(&self) -> usize {
        self.ring.len() + self.ends.len()
    }

    /// Positions in the tile's patch of all ports, in their order.
    pub(crate) fn cells(&self) -> impl Iterator<Item = usize> + '_ {
        self.ring.patch_cells().chain(self.ends.iter().copied())
    }

    fn end(&self, index: usize) -> usize {
        self.ring.len() + self.ends.binary_search(&index).expect("the ends of all links are ports")
    }

    fn edge(&self, index: usize) -> usize {
        self.ring.of_patch(index).expect("water leaves a tile along its edge")
    }
}

/// Where the water of each port goes.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TileRoutes {
    /// The port by which water that is at a port leaves the tile; [`STAYS`] where it does not.
    #[serde(with = "deltas")]
    pub exit: Vec<u32>,
    /// The direction code of each port.
    pub code: Vec<u8>,
}

/// Water ends in the tile.
pub const STAYS: u32 = u32::MAX;

/// Buffers for following ways.
#[derive(Debug, Default)]
pub(crate) struct RouteBuffers {
    last: Patch<u32>,
    walked: Vec<usize>,
}

/// No port.
pub(crate) const NOWHERE: u32 = u32::MAX;

/// Follows the water of every port through a tile, to where it leaves the tile or ends or `stops`. Returns that cell of
/// each port as a position in the patch.
///
/// *Complexity*: O(n) for n cells; each is walked over at most once.
pub(crate) fn follow(
    code: &Patch<u8>,
    ports: &Ports,
    buffers: &mut RouteBuffers,
    stops: impl Fn(usize) -> bool,
) -> Vec<usize> {
    let RouteBuffers { last, walked } = buffers;
    last.reset(code.cols, code.rows, u32::MAX);
    let offsets = receiver_offsets(code);
    for start in ports.cells() {
        let mut cell = start;
        let found = loop {
            if last.values[cell] != u32::MAX {
                break last.values[cell];
            }
            walked.push(cell);
            let next = cell.wrapping_add_signed(offsets[usize::from(code.values[cell])]);
            if next == cell || code.values[next] == BEYOND || stops(cell) {
                break cell as u32;
            }
            cell = next;
        };
        for cell in walked.drain(..) {
            last.values[cell] = found;
        }
    }
    ports.cells().map(|cell| last.values[cell] as usize).collect()
}

/// The port by which water leaves a tile from a cell; [`STAYS`] where it ends there.
pub(crate) fn exit(code: &Patch<u8>, ports: &Ports, cell: usize) -> u32 {
    let to = code.values[cell];
    let leaves = |(dc, dr): (i32, i32)| {
        let next = cell.wrapping_add_signed(dr as isize * code.stride as isize + dc as isize);
        code.values[next] == BEYOND
    };
    if to == direction::CARRIED {
        ports.end(cell) as u32
    } else if direction::step(to).is_some_and(leaves) {
        ports.edge(cell) as u32
    } else {
        STAYS
    }
}

/// The ports of all tiles, numbered through.
pub(crate) struct Numbered<'a> {
    tiling: &'a Tiling,
    links: &'a Links,
    ports: &'a [Ports],
    /// Where each tile's ports begin.
    first: Vec<usize>,
}

impl<'a> Numbered<'a> {
    pub(crate) fn new(tiling: &'a Tiling, links: &'a Links, ports: &'a [Ports]) -> Self {
        let mut first = vec![0];
        for ports in ports {
            first.push(first[first.len() - 1] + ports.len());
        }
        Self { tiling, links, ports, first }
    }

    /// By tile those of some values, one for each port, that are not the default, with the ports that they belong to.
    pub(crate) fn by_tile<T: Copy + Default + PartialEq>(&self, values: &[T]) -> Vec<Vec<(u32, T)>> {
        let of_tile = |bounds: &[usize]| {
            let ports = (0..).zip(values[bounds[0]..bounds[1]].iter().copied());
            let mut found: Vec<(u32, T)> = ports.filter(|&(_, value)| value != T::default()).collect();
            found.shrink_to_fit();
            found
        };
        self.first.windows(2).map(of_tile).collect()
    }

    pub(crate) fn len(&self) -> usize {
        self.first[self.first.len() - 1]
    }

    /// For each port the port where water that leaves there comes in; [`NOWHERE`] where none leaves.
    ///
    /// *Panics*: with more ports than 32 bits count, which is beyond a trillion cells.
    pub(crate) fn entries<'c>(&self, codes: impl Iterator<Item = &'c [u8]>) -> Vec<u32> {
        let number = |port: usize| u32::try_from(port).expect("32 bits count the ports");
        let mut entries = vec![NOWHERE; self.len()];
        for (tile, codes) in codes.enumerate() {
            let cells = self.tiling.ring(tile).cells();
            for (position, (col, row)) in cells.enumerate() {
                let step = direction::step(codes[position]);
                let there = step.and_then(|step| self.tiling.step(TilePlace { tile, col, row }, step));
                if let Some(there) = there.filter(|there| there.tile != tile) {
                    let entry = self.first[there.tile] + self.tiling.ring_position(there);
                    entries[self.first[tile] + position] = number(entry);
                }
            }
        }
        for link in self.links.iter() {
            let [inlet, outlet] = [link.inlet, link.outlet].map(|end| self.end(end));
            entries[inlet] = number(outlet);
        }
        entries
    }

    /// The ports by which the water of a tile's ports leaves it, in their order; [`NOWHERE`] where it stays.
    pub(crate) fn exits<'r>(&self, tile: usize, routes: &'r TileRoutes) -> impl Iterator<Item = u32> + 'r {
        let first = self.first[tile] as u32;
        routes.exit.iter().map(move |&exit| if exit == STAYS { NOWHERE } else { first + exit })
    }

    fn end(&self, cell: Cell) -> usize {
        let (tile, index) = self.tiling.index(cell);
        self.first[tile] + self.ports[tile].end(index)
    }
}
