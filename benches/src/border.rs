//! What tiles tell the rest of the raster and what is told to them, in bytes as they would be sent.

use std::path::Path;

use anyhow::Result;
use fallwright_terrain::tiled::{self, Known, TILE_SIDE, Tiling};
use fallwright_terrain::{Links, direction};
use fallwright_units::{Raster, SharedRaster, TileSource};
use serde::Serialize;
use serde_json::{Value, json};

use crate::measure::outlets;
use crate::raster_file;

/// Bytes by step. Of the flats those are counted that a tile tells once; the steps at the edges of the few that reach into
/// other tiles, told again while they fall, are not.
pub(crate) fn border(raster: &Path) -> Result<Value> {
    let surface = SharedRaster::new(raster_file::read(raster)?);
    let frame = surface.frame();
    let tiling = Tiling { frame, side: TILE_SIDE };
    let links = Links::default();
    let Ok(tiles) = tiled::basins(&tiling, &surface, &links, &[]);
    let levels = tiled::spill_levels(&tiling, &tiles, &links).expect("no structure can be blocked where there is none");
    let filling = bytes(&tiles)? + bytes(&levels)?;
    let Ok(_) = tiled::raise(&tiling, &surface, &surface, &links, &[], &levels);
    let code = SharedRaster::new(Raster::filled(frame, direction::NODATA));
    let known = Known { links: &links, sinks: &[], channels: &[] };
    let Ok(tiles) = tiled::tile_flats(&tiling, &surface, &code, known, &[]);
    let flats = bytes(&tiles)?;
    let Ok(undrained) = tiled::join_flats(&tiling, &surface, &code, known, tiles);
    assert!(undrained.is_empty(), "there are no channels");
    let Ok(tiles) = tiled::tile_counts(&tiling, &code, &links);
    let accumulation = bytes(&tiles)? + bytes(&tiled::inflows(&tiling, tiles, &links))?;
    let code = code.into_raster();
    let labels = SharedRaster::new(outlets(&code));
    let Ok(tiles) = tiled::tile_labels(&tiling, &code, &labels, &links);
    let labels = bytes(&tiles)? + bytes(&tiled::labels_beyond(&tiling, tiles, &links))?;
    let found = json!({ "filling": filling, "flats": flats, "accumulation": accumulation, "labels": labels });
    Ok(json!({ "cells": frame.len(), "tile_side": TILE_SIDE, "bytes": found }))
}

fn bytes(tiles: &[impl Serialize]) -> Result<usize> {
    tiles.iter().try_fold(0, |sum, tile| Ok(sum + postcard::to_stdvec(tile)?.len()))
}
