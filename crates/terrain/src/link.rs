//! Structures that carry water from one cell to another: culverts, pipes and tile mains.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use fallwright_units::Cell;
use thiserror::Error;

/// A structure with two ends. All water that reaches `inlet` goes to `outlet`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Link {
    pub inlet: Cell,
    pub outlet: Cell,
}

/// Links by either end. Each inlet cell has one link; an outlet cell may receive several.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Links {
    outlet_of: BTreeMap<Cell, Cell>,
    inlets_of: BTreeMap<Cell, Vec<Cell>>,
}

#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum LinksError {
    #[error("two structures take their water in at the same cell {0:?}")]
    SharedInlet(Cell),
    #[error("a structure begins and ends in the same cell {0:?}")]
    NoLength(Cell),
}

impl Links {
    /// # Errors
    /// Two links with one inlet, or a link whose ends are the same cell.
    pub fn new(links: &[Link]) -> Result<Self, LinksError> {
        let mut all = Self::default();
        for &Link { inlet, outlet } in links {
            if inlet == outlet {
                return Err(LinksError::NoLength(inlet));
            }
            if all.outlet_of.insert(inlet, outlet).is_some() {
                return Err(LinksError::SharedInlet(inlet));
            }
            all.inlets_of.entry(outlet).or_default().push(inlet);
        }
        for inlets in all.inlets_of.values_mut() {
            inlets.sort_unstable();
        }
        Ok(all)
    }

    pub fn outlet_of(&self, inlet: Cell) -> Option<Cell> {
        self.outlet_of.get(&inlet).copied()
    }

    pub fn is_inlet(&self, cell: Cell) -> bool {
        self.outlet_of.contains_key(&cell)
    }

    /// Inlets of the links that end in this cell, in the order of their index.
    pub fn inlets_of(&self, outlet: Cell) -> &[Cell] {
        self.inlets_of.get(&outlet).map_or(&[], Vec::as_slice)
    }

    /// All links in the order of their inlets.
    pub fn iter(&self) -> impl Iterator<Item = Link> + '_ {
        self.outlet_of.iter().map(|(&inlet, &outlet)| Link { inlet, outlet })
    }

    /// Links whose inlets lie in a run of cells, in the order of their inlets.
    ///
    /// *Complexity*: O(log l + f) for l links, of which f are found.
    pub(crate) fn in_run(&self, run: RangeInclusive<Cell>) -> impl Iterator<Item = Link> + '_ {
        self.outlet_of.range(run).map(|(&inlet, &outlet)| Link { inlet, outlet })
    }

    /// The links that remain without those at the given inlets.
    #[must_use]
    pub fn without(&self, inlets: &[Cell]) -> Self {
        let kept: Vec<Link> = self.iter().filter(|link| !inlets.contains(&link.inlet)).collect();
        Self::new(&kept).expect("a subset of sound links is sound")
    }
}
