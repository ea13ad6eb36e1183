//! What is measured: arrays in, arrays out.

use std::hint::black_box;
use std::path::Path;

use anyhow::Result;
use fallwright_terrain::tiled::{self, FlowConstraints, TILE_SIDE, Tiling};
use fallwright_terrain::{Links, direction, textbook};
use fallwright_units::{Raster, SharedRaster};
use rayon::prelude::*;
use serde_json::{Value, json};

use crate::clock::{Stages, held_bytes};
use crate::digest::digest;
use crate::raster_file;

/// Arrays that are copied hold at least so many cells, 1.6 GB: smaller ones can stay in the cache of the host.
const COPIED_CELLS: usize = 400_000_000;

/// One pass: a copy of the raster, over and over where it is small, into a buffer that was touched before, on one thread.
pub(crate) fn copy(raster: &Path) -> Result<Value> {
    let raster = raster_file::read(raster)?.values;
    let source = raster.repeat(COPIED_CELLS.div_ceil(raster.len()));
    drop(raster);
    let mut target = source.clone();
    let mut stages = Stages::default();
    for name in ["first", "second", "third"] {
        stages.time(name, || {
            target.copy_from_slice(black_box(&source));
            black_box(&mut target);
        });
    }
    Ok(stages.json(source.len(), 0))
}

/// Arithmetic that needs no memory, the same amount whatever the number of threads: how much faster two threads can be.
pub(crate) fn control(threads: usize) -> Value {
    const ROUNDS: u64 = 1_000_000_000;
    let mut stages = Stages::default();
    stages.time("control", || {
        let part = |part: usize| {
            let mut x = part as u64;
            for _ in 0..ROUNDS / threads as u64 {
                x = black_box(x.wrapping_mul(0x5851_F42D_4C95_7F2D).wrapping_add(1));
            }
            x
        };
        black_box((0..threads).into_par_iter().map(part).reduce(|| 0, u64::wrapping_add))
    });
    stages.json(0, 0)
}

/// The textbook algorithms one after the other.
pub(crate) fn textbook(raster: &Path) -> Result<Value> {
    let ground = raster_file::read(raster)?;
    let before = held_bytes();
    let mut stages = Stages::default();
    let surface = stages.time("filling", || textbook::fill(&ground, &Links::default(), &[])).surface;
    let flow = stages.time("directions and flats", || textbook::flow_direction(&surface, Links::default(), &[]));
    black_box(stages.time("accumulation", || textbook::accumulation(&flow)));
    let labels = outlets(&flow.direction);
    black_box(stages.time("labels", || textbook::label_upstream(&flow, labels)));
    Ok(stages.json(ground.values.len(), before))
}

/// A label of its own for every cell where water ends.
pub(crate) fn outlets(direction: &Raster<u8>) -> Raster<u32> {
    let mut next = 0;
    let label = |&code: &u8| {
        next += u32::from(code == direction::ENDS);
        if code == direction::ENDS { next } else { 0 }
    };
    Raster { frame: direction.frame, values: direction.values.iter().map(label).collect() }
}

/// The engine: the surface in the place of the ground, every other result in its own buffer, touched before.
pub(crate) fn engine(raster: &Path) -> Result<Value> {
    let ground = raster_file::read(raster)?;
    let frame = ground.frame;
    let tiling = Tiling { frame, side: TILE_SIDE };
    let links = Links::default();
    let surface = SharedRaster::new(ground);
    let direction = SharedRaster::new(Raster::filled(frame, direction::NODATA));
    // The nodes of filling need the same room as the counts, and are done with before these begin.
    let count = SharedRaster::new(Raster::filled(frame, 1_u32));
    let before = held_bytes();
    let mut stages = Stages::default();
    let filled = stages.time("filling", || tiled::fill(&tiling, &surface, &surface, &count, &links, &[]));
    filled.expect("there are no links that could be blocked");
    let constraints = FlowConstraints { links: &links, sinks: &[], channels: &[] };
    let Ok(()) = stages.time("directions and flats", || tiled::directions(&tiling, &surface, &direction, constraints));
    let Ok(()) = stages.time("accumulation", || tiled::accumulate(&tiling, &direction, &count, &links));
    let direction = direction.into_raster();
    let labels = SharedRaster::new(outlets(&direction));
    let Ok(()) = stages.time("labels", || tiled::label(&tiling, &direction, &labels, &links));
    let mut found = stages.json(frame.len(), before);
    found["digests"] = json!({
        "ground": digest(&surface.into_raster().values),
        "direction": digest(&direction.values),
        "area_draining": digest(&count.into_raster().values),
        "labels": digest(&labels.into_raster().values),
    });
    Ok(found)
}
