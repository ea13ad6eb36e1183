//! Steps that tiles share: of the cells along their edges, and of some others that are asked for.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::bits::Bits;
use super::steps::{Asked, UNREACHED};
use super::tiling::Ring;

/// Steps of a tile's cells that the other tiles must know.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SharedSteps {
    pub(crate) edge: Ring,
    /// By position along the edge.
    pub(crate) ring: Vec<u32>,
    pub(crate) watched: BTreeMap<usize, u32>,
}

impl SharedSteps {
    pub(crate) fn new(edge: Ring, watched: BTreeMap<usize, u32>) -> Self {
        Self { edge, ring: vec![UNREACHED; edge.len()], watched }
    }

    /// Records the steps of the cells that are asked for where they are fewer than known.
    pub(crate) fn asked<'a>(&'a mut self, cells: &'a Bits) -> Asked<'a, impl FnMut(usize, u32) + 'a> {
        let Self { edge, ring, watched } = self;
        let report = move |cell: usize, steps: u32| {
            for known in edge.of_patch(cell).map(|at| &mut ring[at]).into_iter().chain(watched.get_mut(&cell)) {
                *known = fewest(*known, steps);
            }
        };
        Asked { cells, report }
    }
}

/// The fewest of two steps, either of which may not be reached.
pub(crate) fn fewest(a: u32, b: u32) -> u32 {
    // One less, so that what is not reached has the most.
    a.wrapping_sub(1).min(b.wrapping_sub(1)).wrapping_add(1)
}

/// One step more, where there are any.
pub(crate) fn one_more(steps: u32) -> u32 {
    steps + u32::from(steps != UNREACHED)
}
