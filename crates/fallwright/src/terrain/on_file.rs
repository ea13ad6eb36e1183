//! Terrain larger than memory: the engine's steps over working files.

use fallwright_geodata::{
    Crs, ElevationRequest, OutputError, OutputFolder, ReadError, ScratchRaster, ScratchValue, ScratchValues,
    read_elevation_into,
};
use fallwright_terrain::Links;
use fallwright_terrain::tiled::{self, Count, Known, TILE_SIDE, Tiling};
use fallwright_units::{TileSource, Window};

use super::account::Account;
use super::{Run, memory};
use crate::Progress;
use crate::failure::Failure;
use crate::inputs::no_land;
use crate::output::{SPREAD, area_meta, direction_meta, ground_meta, output_folder};

impl Run<'_> {
    pub(super) fn on_file(&self, request: &ElevationRequest, progress: Progress) -> Result<Account, Failure> {
        let frame = self.description.frame;
        let mut folder = output_folder(self.out, &[self.dem], self.settings)?;
        folder.leave_out(SPREAD);
        folder.require_space(memory::disk(&frame))?;
        let tiling = Tiling { frame, side: TILE_SIDE };
        let ground = folder.scratch("ground", frame)?;
        read_elevation_into(request, &ground).map_err(|error| match error {
            ReadError::Input(problems) => Failure::Refused(problems),
            ReadError::Output(error) => error.into(),
        })?;
        self.check_land(&ground)?;
        let surface = folder.scratch("surface", frame)?;
        progress("filling depressions");
        fill(&tiling, &folder, &ground, &surface)?;
        let account = Account::of_filling(&frame, tiled::raised(&tiling, &ground, &surface)?);
        drop(ground);
        progress("finding flow directions");
        let direction = folder.scratch("direction", frame)?;
        let known = Known { links: &Links::default(), sinks: &[], channels: &[] };
        tiled::directions(&tiling, &surface, &direction, known)?;
        let crs = &self.description.crs;
        progress("counting the cells that drain through each cell");
        if u32::try_from(frame.len()).is_ok() {
            let area = count::<u32>(&tiling, &folder, &direction)?;
            progress("writing the results");
            write(&mut folder, crs, &surface, &direction, ScratchValues::U32(&area))?;
        } else {
            let area = count::<u64>(&tiling, &folder, &direction)?;
            progress("writing the results");
            write(&mut folder, crs, &surface, &direction, ScratchValues::U64(&area))?;
        }
        drop((surface, direction));
        self.finish(folder, account)
    }
}

impl Run<'_> {
    fn check_land(&self, ground: &ScratchRaster<f32>) -> Result<(), Failure> {
        let (cols, rows) = (ground.frame().cols(), ground.frame().rows());
        let mut heights = vec![0.0; cols];
        for row in 0..rows {
            ground.read(Window { col: 0, row, cols, rows: 1 }, &mut heights, cols)?;
            if let Some(problem) = no_land(&heights, &self.dem.display().to_string()) {
                return Err(Failure::Refused(vec![problem]));
            }
        }
        Ok(())
    }
}

fn fill(
    tiling: &Tiling,
    folder: &OutputFolder,
    ground: &ScratchRaster<f32>,
    surface: &ScratchRaster<f32>,
) -> Result<(), OutputError> {
    let node = folder.scratch("node", tiling.frame)?;
    let blocked = tiled::fill(tiling, ground, surface, &node, &Links::default(), &[])?;
    debug_assert!(blocked.is_empty(), "there are no structures");
    Ok(())
}

fn count<C: Count + ScratchValue>(
    tiling: &Tiling,
    folder: &OutputFolder,
    direction: &ScratchRaster<u8>,
) -> Result<ScratchRaster<C>, OutputError> {
    let area = folder.scratch("area", tiling.frame)?;
    tiled::accumulate(tiling, direction, &area, &Links::default())?;
    Ok(area)
}

fn write(
    folder: &mut OutputFolder,
    crs: &Crs,
    surface: &ScratchRaster<f32>,
    direction: &ScratchRaster<u8>,
    area: ScratchValues,
) -> Result<(), OutputError> {
    folder.write_scratch("ground.tif", crs, ScratchValues::F32(surface), &ground_meta())?;
    folder.write_scratch("direction.tif", crs, ScratchValues::U8(direction), &direction_meta())?;
    folder.write_scratch("area_draining.tif", crs, area, &area_meta())
}
