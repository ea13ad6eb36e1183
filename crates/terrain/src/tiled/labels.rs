//! Watershed labels tile by tile.

use fallwright_units::{TileSink, TileSource};
use serde::{Deserialize, Serialize};

use super::deltas;
use super::order::FlowOrder;
use super::patch::{Patch, Pool};
use super::routes::{
    BEYOND, NOWHERE, Numbered, Ports, RouteBuffers, STAYS, TileRoutes, exit, follow, receiver_offsets,
};
use super::tiling::Tiling;
use crate::link::Links;

/// What the rest of the raster must know of one tile's labels.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TileLabels {
    pub routes: TileRoutes,
    /// The first label on the way of each port's water through the tile; 0 where there is none.
    #[serde(with = "deltas")]
    pub labels: Vec<u32>,
}

#[derive(Debug, Default)]
struct Buffers {
    code: Patch<u8>,
    label: Patch<u32>,
    routes: RouteBuffers,
    order: FlowOrder,
}

/// Gives every cell the label of the first labelled cell on its way downstream, itself included; the same as
/// [`crate::textbook::label_upstream`]. `labels` holds 0 where there is no label.
///
/// *Complexity*: O(n) for n cells, tiles in parallel.
///
/// # Errors
/// Failures of reading and writing.
pub fn label<E: Send>(
    tiling: &Tiling,
    code: &impl TileSource<u8, Error = E>,
    labels: &impl TileSink<u32, Error = E>,
    links: &Links,
) -> Result<(), E> {
    let labelling = Labelling::new(tiling, links);
    let beyond = labelling.join(tiling.each_tile(|tile| labelling.solve(tile, code, labels))?);
    tiling.each_tile(|tile| labelling.finish(tile, code, labels, &beyond[tile]))?;
    Ok(())
}

/// The steps of [`label`], for one tile at a time: [`Self::solve`] each tile, [`Self::join`] what they report,
/// [`Self::finish`] each tile with its part of the reply.
#[derive(Debug)]
pub struct Labelling<'a> {
    tiling: &'a Tiling,
    links: &'a Links,
    ports: Vec<Ports>,
    pool: Pool<Buffers>,
}

impl<'a> Labelling<'a> {
    pub fn new(tiling: &'a Tiling, links: &'a Links) -> Self {
        Self { tiling, links, ports: Ports::all(tiling, links), pool: Pool::default() }
    }

    /// First step: the first label on the way of each port's water through a tile.
    ///
    /// # Errors
    /// Failures of reading.
    pub fn solve<E>(
        &self,
        tile: usize,
        code: &impl TileSource<u8, Error = E>,
        labels: &impl TileSource<u32, Error = E>,
    ) -> Result<TileLabels, E> {
        self.pool.with(|buffers| {
            self.load(tile, code, labels, buffers)?;
            Ok(first_labels(buffers, &self.ports[tile]))
        })
    }

    /// Second step: by tile the ports where water leaves it for a labelled cell, each with that label.
    ///
    /// *Complexity*: O(p) for p ports.
    pub fn join(&self, tiles: Vec<TileLabels>) -> Vec<Vec<(u32, u32)>> {
        let numbered = Numbered::new(self.tiling, self.links, &self.ports);
        numbered.by_tile(&join(&numbered, tiles))
    }

    /// Third step: labels every cell of a tile, given the labels beyond it.
    ///
    /// # Errors
    /// Failures of reading and writing.
    pub fn finish<E>(
        &self,
        tile: usize,
        code: &impl TileSource<u8, Error = E>,
        labels: &impl TileSink<u32, Error = E>,
        beyond: &[(u32, u32)],
    ) -> Result<(), E> {
        let cells: Vec<usize> = self.ports[tile].cells().collect();
        self.pool.with(|buffers| {
            self.load(tile, code, labels, buffers)?;
            label_tile(buffers, beyond.iter().map(|&(port, label)| (cells[port as usize], label)));
            buffers.label.store(labels, self.tiling.window(tile))
        })
    }

    fn load<E>(
        &self,
        tile: usize,
        code: &impl TileSource<u8, Error = E>,
        labels: &impl TileSource<u32, Error = E>,
        buffers: &mut Buffers,
    ) -> Result<(), E> {
        buffers.code.load(code, self.tiling.window(tile), BEYOND)?;
        buffers.label.load(labels, self.tiling.window(tile), NO_LABEL)
    }
}

const NO_LABEL: u32 = 0;

fn first_labels(buffers: &mut Buffers, ports: &Ports) -> TileLabels {
    let Buffers { code, label, routes, .. } = buffers;
    let last = follow(code, ports, routes, |cell| label.values[cell] != NO_LABEL);
    let labels: Vec<u32> = last.iter().map(|&cell| label.values[cell]).collect();
    let exits = last.into_iter().zip(&labels);
    let exits = exits.map(|(cell, &label)| if label == NO_LABEL { exit(code, ports, cell) } else { STAYS });
    let exit = exits.collect();
    let code = ports.cells().map(|cell| code.values[cell]).collect();
    TileLabels { routes: TileRoutes { exit, code }, labels }
}

/// For each port the first label on the way of water that leaves the tile there.
///
/// *Complexity*: O(p) for p ports.
fn join(numbered: &Numbered, tiles: Vec<TileLabels>) -> Vec<u32> {
    let entries = numbered.entries(tiles.iter().map(|tile| tile.routes.code.as_slice()));
    let mut exits = Vec::with_capacity(numbered.len());
    let mut labels = Vec::with_capacity(numbered.len());
    for (tile, found) in tiles.into_iter().enumerate() {
        exits.extend(numbered.exits(tile, &found.routes));
        labels.extend(found.labels);
    }
    let mut beyond = vec![None; numbered.len()];
    let mut walked = Vec::new();
    for start in (0..numbered.len()).filter(|&port| entries[port] != NOWHERE) {
        let mut port = start;
        let label = loop {
            if let Some(known) = beyond[port] {
                break known;
            }
            walked.push(port);
            let entry = entries[port] as usize;
            match exits[entry] {
                NOWHERE => break labels[entry],
                next => port = next as usize,
            }
        };
        for port in walked.drain(..) {
            beyond[port] = Some(label);
        }
    }
    beyond.into_iter().map(|label| label.unwrap_or(NO_LABEL)).collect()
}

/// Labels every cell, given the labels beyond the ports that water leaves by.
fn label_tile(buffers: &mut Buffers, leaving: impl Iterator<Item = (usize, u32)>) {
    let Buffers { code, label, order, .. } = buffers;
    let offsets = receiver_offsets(code);
    // A leaving cell without a label of its own has the one beyond.
    for (cell, beyond) in leaving {
        if label.values[cell] == NO_LABEL {
            label.values[cell] = beyond;
        }
    }
    order.find(code, |_, _| {});
    let (codes, labels) = (&code.values[..], &mut label.values[..]);
    for &cell in order.cells().iter().rev() {
        let cell = cell as usize;
        let below = labels[cell.wrapping_add_signed(offsets[usize::from(codes[cell])])];
        labels[cell] = if labels[cell] == NO_LABEL { below } else { labels[cell] };
    }
}
