//! Square rasters of little-endian 32-bit floats, row by row, that both the engine and the Python baseline read.

use std::fs::File;
use std::io::{BufReader, BufWriter, Read, Write};
use std::path::Path;

use anyhow::{Context, Result, ensure};
use fallwright_units::{Frame, Raster};

const CELL_M: f64 = 0.5;

pub(crate) fn write(path: &Path, raster: &Raster<f32>) -> Result<()> {
    let mut file = BufWriter::new(File::create(path).with_context(|| format!("writing {}", path.display()))?);
    for z in &raster.values {
        file.write_all(&z.to_le_bytes())?;
    }
    Ok(file.flush()?)
}

pub(crate) fn read(path: &Path) -> Result<Raster<f32>> {
    let file = File::open(path).with_context(|| format!("reading {}", path.display()))?;
    let cells = file.metadata()?.len() as usize / 4;
    let side = cells.isqrt();
    ensure!(side * side == cells && cells > 0, "{} is no square raster", path.display());
    let mut file = BufReader::with_capacity(1 << 20, file);
    let mut values = vec![0.0; cells];
    let mut row = vec![0_u8; side * 4];
    for heights in values.chunks_mut(side) {
        file.read_exact(&mut row)?;
        for (z, bytes) in heights.iter_mut().zip(row.chunks_exact(4)) {
            *z = f32::from_le_bytes([bytes[0], bytes[1], bytes[2], bytes[3]]);
        }
    }
    Ok(Raster { frame: Frame::new(side, side, (0.0, 0.0), (CELL_M, CELL_M))?, values })
}
