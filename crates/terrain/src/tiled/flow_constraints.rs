//! The few cells whose direction the surface alone does not decide: inlets of structures, sinks and channels, by tile.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, NEIGHBOURS, TileSource};

use super::patch::{Patch, value};
use super::tiling::Tiling;
use crate::direction::{self, ON_FLAT};
use crate::link::{Link, Links};

/// What decides the flow besides the surface.
#[derive(Clone, Copy, Debug)]
pub struct FlowConstraints<'a> {
    pub links: &'a Links,
    pub sinks: &'a [Cell],
    /// Mapped channels as consecutive cells drawn downstream.
    pub channels: &'a [Vec<Cell>],
}

/// The same by tile.
#[derive(Debug)]
pub(crate) struct ConstrainedCells {
    pub(crate) tiles: Vec<TileConstraints>,
    /// Links whose ends stand at one level.
    pub(crate) level_links: Vec<Link>,
}

/// The constrained cells of one tile, by position in its patch.
#[derive(Clone, Debug, Default)]
pub(crate) struct TileConstraints {
    /// From a channel's cell to the next, which may lie in the margin.
    channel_steps: Vec<(usize, usize)>,
    /// Channel cells whose water leaves at the edge of the data although the channel runs on.
    let_out: BTreeSet<usize>,
    sinks: Vec<usize>,
    inlets: Vec<usize>,
    /// Inlets under backwater, those in the margin included.
    level_inlets: Vec<(usize, Cell)>,
    level_outlets: BTreeSet<usize>,
}

/// Structures under backwater, both ends at one level, as one tile sees them; by position in its patch.
#[derive(Clone, Debug, Default)]
pub(crate) struct Backwater {
    /// Inlets in the tile or its margin.
    pub(crate) inlets: BTreeSet<usize>,
    /// Outlets in the tile.
    pub(crate) outlets: BTreeSet<usize>,
}

impl ConstrainedCells {
    pub(crate) fn new<E>(
        tiling: &Tiling,
        surface: &impl TileSource<f32, Error = E>,
        constraints: FlowConstraints,
    ) -> Result<Self, E> {
        let mut tiles = vec![TileConstraints::default(); tiling.len()];
        for &sink in constraints.sinks {
            let (tile, index) = tiling.index(sink);
            tiles[tile].sinks.push(index);
        }
        for pair in constraints.channels.iter().flat_map(|channel| channel.windows(2)) {
            let (tile, index) = tiling.index(pair[0]);
            if let Some(next) = tiling.index_seen_from(tile, pair[1]).filter(|&next| touches(tiling, tile, index, next))
            {
                tiles[tile].channel_steps.push((index, next));
            }
        }
        let mut level_links = Vec::new();
        for link in constraints.links.iter() {
            let (tile, index) = tiling.index(link.inlet);
            tiles[tile].inlets.push(index);
            if value(surface, link.inlet)? == value(surface, link.outlet)? {
                level_links.push(link);
            }
        }
        for link in &level_links {
            let (tile, index) = tiling.index(link.outlet);
            tiles[tile].level_outlets.insert(index);
            let place = tiling.place(link.inlet);
            let beside = NEIGHBOURS.iter().filter_map(|&step| tiling.step(place, step)).map(|place| place.tile);
            for tile in beside.chain([place.tile]).collect::<BTreeSet<_>>() {
                let index = tiling.index_seen_from(tile, link.inlet).expect("a neighbour's tile sees the cell");
                tiles[tile].level_inlets.push((index, link.inlet));
            }
        }
        Ok(Self { tiles, level_links })
    }

    /// Lets water out at channel cells along the edge of the data.
    pub(crate) fn let_out(&mut self, tiling: &Tiling, cells: &[Cell]) {
        for &cell in cells {
            let (tile, index) = tiling.index(cell);
            self.tiles[tile].let_out.insert(index);
        }
    }
}

fn touches(tiling: &Tiling, tile: usize, a: usize, b: usize) -> bool {
    let stride = tiling.window(tile).cols + 2;
    let apart = (a % stride).abs_diff(b % stride).max((a / stride).abs_diff(b / stride));
    apart == 1
}

impl TileConstraints {
    /// Sets the codes of the constrained cells. Returns the channel cells where water would leave the data although the channel
    /// runs on at the same level.
    pub(crate) fn apply(&self, surface: &Patch<f32>, code: &mut Patch<u8>) -> BTreeSet<usize> {
        let runs_on = |&&(cell, next): &&(usize, usize)| {
            code.values[cell] == direction::ENDS
                && surface.values[cell] == surface.values[next]
                && !self.let_out.contains(&cell)
        };
        let mut passing: BTreeSet<usize> = self.channel_steps.iter().filter(runs_on).map(|step| step.0).collect();
        for &cell in &passing {
            code.values[cell] = ON_FLAT;
        }
        for &sink in &self.sinks {
            code.values[sink] = direction::ENDS;
        }
        for &inlet in &self.inlets {
            code.values[inlet] = direction::CARRIED;
        }
        passing.retain(|&cell| code.values[cell] == ON_FLAT);
        passing
    }

    pub(crate) fn sees_any(&self, inlets: &BTreeSet<Cell>) -> bool {
        self.level_inlets.iter().any(|(_, inlet)| inlets.contains(inlet))
    }

    /// What of structures under backwater the tile sees.
    pub(crate) fn backwater(&self) -> Backwater {
        let inlets = self.level_inlets.iter().map(|&(index, _)| index).collect();
        Backwater { inlets, outlets: self.level_outlets.clone() }
    }

    /// The inlets under backwater whose steps to the low edge are known, by position in the patch.
    pub(crate) fn inlet_steps(&self, steps: &BTreeMap<Cell, u32>) -> BTreeMap<usize, u32> {
        let known = |&(index, inlet): &(usize, Cell)| Some((index, *steps.get(&inlet)?));
        self.level_inlets.iter().filter_map(known).collect()
    }
}
