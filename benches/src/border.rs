//! What tiles send to the rest of the raster and receive from it, in bytes.

use std::path::Path;

use anyhow::Result;
use fallwright_terrain::tiled::{self, Counting, Directions, Filling, FlowConstraints, Labelling, TILE_SIDE, Tiling};
use fallwright_terrain::{Links, direction};
use fallwright_units::{Raster, SharedRaster, TileSource};
use serde::Serialize;
use serde_json::{Value, json};

use crate::measure::outlets;
use crate::raster_file;

/// Bytes by step. Of the flats those are counted that a tile sends once; the steps at the edges of the few that reach into
/// other tiles, sent again while they fall, are not.
pub(crate) fn border(raster: &Path) -> Result<Value> {
    let surface = SharedRaster::new(raster_file::read(raster)?);
    let frame = surface.frame();
    let tiling = Tiling { frame, side: TILE_SIDE };
    let links = Links::default();
    let filling = Filling::new(&tiling, &links, &[]);
    let Ok(tiles) = tiling.each_tile(|tile| filling.solve(tile, &surface));
    let levels = filling.join(&tiles).expect("no structure can be blocked where there is none");
    let filled = bytes(&tiles)? + bytes(&levels)?;
    let Ok(_) = tiling.each_tile(|tile| filling.finish(tile, &surface, &surface, &levels[tile]));
    let code = SharedRaster::new(Raster::filled(frame, direction::NODATA));
    let constraints = FlowConstraints { links: &links, sinks: &[], channels: &[] };
    let Ok(steps) = Directions::new(&tiling, &surface, constraints);
    let Ok(tiles) = tiling.each_tile(|tile| steps.solve(tile, &surface, &code));
    let flats = bytes(&tiles)?;
    let Ok(()) = tiled::directions(&tiling, &surface, &code, constraints);
    let counting = Counting::<u32>::new(&tiling, &links);
    let Ok(tiles) = tiling.each_tile(|tile| counting.solve(tile, &code));
    let accumulation = bytes(&tiles)? + bytes(&counting.join(tiles))?;
    let code = code.into_raster();
    let labels = SharedRaster::new(outlets(&code));
    let labelling = Labelling::new(&tiling, &links);
    let Ok(tiles) = tiling.each_tile(|tile| labelling.solve(tile, &code, &labels));
    let labels = bytes(&tiles)? + bytes(&labelling.join(tiles))?;
    let found = json!({ "filling": filled, "flats": flats, "accumulation": accumulation, "labels": labels });
    Ok(json!({ "cells": frame.len(), "tile_side": TILE_SIDE, "bytes": found }))
}

fn bytes(tiles: &[impl Serialize]) -> Result<usize> {
    tiles.iter().try_fold(0, |sum, tile| Ok(sum + postcard::to_stdvec(tile)?.len()))
}
