//! Elevation in: one raster or several tiles on one lattice, in metres.

use std::path::{Path, PathBuf};

use fallwright_units::{Frame, Raster, TileSink, VerticalUnit, Window};

use crate::mosaic::Mosaic;
use crate::read_error::ReadError;
use crate::resampling::{Resampling, Warp};
use crate::tile::Tile;
use crate::{Crs, GeodataError, Problem, Projector, suitable_projected, warp};

/// What to read, and what the case says about it.
#[derive(Clone, Debug)]
pub struct ElevationRequest<'a> {
    /// Already expanded.
    pub files: &'a [PathBuf],
    pub vertical_unit: Option<VerticalUnit>,
    pub crs: Option<&'a str>,
    pub warp: Option<&'a Warp>,
    /// A raster that needs more is refused before anything of its size is allocated.
    pub max_bytes: u64,
}

/// An elevation model without its cells.
#[derive(Clone, Debug, PartialEq)]
pub struct ElevationDescription {
    pub frame: Frame,
    pub crs: Crs,
    /// As found in the files or the request; the values handed out are metres.
    pub vertical_unit: VerticalUnit,
    /// The file whose own system names no place, which is taken to be that of the case.
    pub taken_as_stated: Option<PathBuf>,
    /// Bytes that reading takes at its peak.
    pub bytes: u64,
}

/// An elevation model: heights in metres, NaN where there is none.
#[derive(Clone, Debug)]
pub struct Elevation {
    pub ground: Raster<f32>,
    pub crs: Crs,
    /// As found before conversion to metres.
    pub vertical_unit: VerticalUnit,
}

/// Reads headers only: where the elevation model lies, in which system and unit, and what reading it will take.
///
/// # Errors
/// Every problem of every file that the headers show.
pub fn describe_elevation(request: &ElevationRequest) -> Result<ElevationDescription, Vec<Problem>> {
    let plan = Plan::of(request)?;
    Ok(ElevationDescription {
        frame: plan.target.as_ref().map_or(plan.mosaic.frame, |target| target.frame),
        crs: plan.target.map_or(plan.crs, |target| target.crs),
        vertical_unit: plan.vertical_unit,
        taken_as_stated: plan.taken_as_stated,
        bytes: plan.bytes,
    })
}

/// Reads an elevation model.
///
/// Files are taken in the order of their paths; where they overlap the first with a value counts. Nodata is what the
/// nodata tag, the mask or alpha band or NaN says; any other infinity is refused. Scale and offset of the band are applied, then heights
/// are converted to metres.
///
/// # Errors
/// Every problem of every file.
pub fn read_elevation(request: &ElevationRequest) -> Result<Elevation, Vec<Problem>> {
    let plan = Plan::of(request)?;
    let ground = plan.mosaic.read(plan.vertical_unit)?;
    let path = &request.files[0];
    let (ground, crs) = match plan.target {
        None => (ground, plan.crs),
        Some(target) => {
            let warped = warp::warp(ground, &plan.crs, target.frame, &target.crs, target.method)
                .map_err(|error| vec![cannot_warp(path, &error)])?;
            (warped, target.crs)
        }
    };
    if ground.values.iter().all(|height| height.is_nan()) {
        return Err(vec![no_height(path)]);
    }
    Ok(Elevation { ground, crs, vertical_unit: plan.vertical_unit })
}

/// Reads an elevation model that is not warped into a raster of its frame, a few rows at a time.
///
/// # Errors
/// As [`read_elevation`]; a raster that cannot be written.
pub fn read_elevation_into<E: Send>(
    request: &ElevationRequest,
    ground: &impl TileSink<f32, Error = E>,
) -> Result<(), ReadError<E>> {
    const ROWS: usize = 64;
    let plan = Plan::of(request)?;
    if plan.mosaic.has_several_tiles() {
        let (cols, rows) = (ground.frame().cols(), ground.frame().rows());
        let empty = vec![f32::NAN; cols * ROWS];
        for row in (0..rows).step_by(ROWS) {
            let window = Window { col: 0, row, cols, rows: ROWS.min(rows - row) };
            ground.write(window, &empty, cols).map_err(ReadError::Output)?;
        }
    }
    if plan.mosaic.read_into(plan.vertical_unit, ground)? {
        return Ok(());
    }
    Err(ReadError::Input(vec![no_height(&request.files[0])]))
}

/// Everything that the headers decide.
struct Plan {
    mosaic: Mosaic,
    crs: Crs,
    vertical_unit: VerticalUnit,
    target: Option<Target>,
    taken_as_stated: Option<PathBuf>,
    bytes: u64,
}

/// Where a warp takes the elevation model.
struct Target {
    frame: Frame,
    crs: Crs,
    method: Resampling,
}

impl Plan {
    fn of(request: &ElevationRequest) -> Result<Self, Vec<Problem>> {
        let mut tiles = open_tiles(request.files)?;
        let taken_as_stated = take_as_stated(&mut tiles, request);
        let mut problems = Vec::new();
        let crs = collect(&mut problems, system_of(&tiles, request));
        let vertical_unit = collect(&mut problems, unit_of(&tiles, request.vertical_unit));
        let path = tiles[0].path.clone();
        let mosaic = collect(&mut problems, Mosaic::place(tiles));
        let target = match (&crs, &mosaic) {
            (Some(crs), Some(mosaic)) => collect(&mut problems, target(&path, crs, &mosaic.frame, request)),
            _ => None,
        };
        let (Some(crs), Some(vertical_unit), Some(mosaic), Some(target)) = (crs, vertical_unit, mosaic, target) else {
            return Err(problems);
        };
        let bytes = bytes_needed(&mosaic, target.as_ref());
        if bytes > u128::from(request.max_bytes) {
            return Err(vec![too_large(&path, &mosaic.frame, bytes, request.max_bytes)]);
        }
        Ok(Self { mosaic, crs, vertical_unit, target, taken_as_stated, bytes: bytes as u64 })
    }
}

fn collect<T>(problems: &mut Vec<Problem>, result: Result<T, Vec<Problem>>) -> Option<T> {
    result.map_err(|more| problems.extend(more)).ok()
}

fn open_tiles(files: &[PathBuf]) -> Result<Vec<Tile>, Vec<Problem>> {
    if files.is_empty() {
        return Err(vec![Problem::in_file(
            Path::new("[terrain] elevation"),
            "no file",
            "at least one elevation raster",
            "check the paths and patterns of `elevation`",
        )]);
    }
    let mut files: Vec<&PathBuf> = files.iter().collect();
    files.sort();
    files.dedup();
    let mut problems = Vec::new();
    let tiles: Vec<Tile> = files.into_iter().filter_map(|file| collect(&mut problems, Tile::open(file))).collect();
    if problems.is_empty() { Ok(tiles) } else { Err(problems) }
}

/// Leaves the systems out that name no place and may be that of the case; the first file with one, if any.
fn take_as_stated(tiles: &mut [Tile], request: &ElevationRequest) -> Option<PathBuf> {
    let stated = request.crs.filter(|_| request.warp.is_none()).and_then(|text| Crs::from_text(text).ok())?;
    let mut first = None;
    for tile in tiles {
        if tile.crs.take_if(|crs| crs.names_no_place() && crs.may_be(&stated)).is_some() {
            first.get_or_insert_with(|| tile.path.clone());
        }
    }
    first
}

/// The one reference system of the tiles and the case.
fn system_of(tiles: &[Tile], request: &ElevationRequest) -> Result<Crs, Vec<Problem>> {
    let named = request.crs.filter(|_| request.warp.is_none());
    let first = &tiles[0].path;
    let named = named.map(|text| known(first, text)).transpose().map_err(|problem| vec![problem])?;
    let expected = tiles.iter().find_map(|tile| tile.crs.as_ref()).or(named.as_ref());
    let Some(expected) = expected else {
        let hint = if request.warp.is_some() {
            "write the reference system to the file; a warp needs to know where it starts"
        } else {
            "write the reference system to the file, or set `crs` in the case file"
        };
        return Err(vec![Problem::in_file(first, "no reference system", "a projected one in metres", hint)]);
    };
    let differs = |tile: &&Tile| match &tile.crs {
        Some(crs) => !crs.same_horizontal(expected),
        None => named.is_none(),
    };
    let mut problems: Vec<Problem> = tiles
        .iter()
        .filter(differs)
        .map(|tile| {
            Problem::in_file(
                &tile.path,
                tile.crs.as_ref().map_or_else(|| "no reference system".to_owned(), Crs::label),
                format!("{}, as in the other tiles", expected.label()),
                "give tiles of one reference system",
            )
        })
        .collect();
    if let Some(named) = named.as_ref().filter(|named| !named.same_horizontal(expected)) {
        problems.push(Problem::in_file(
            first,
            format!("the reference system {}", expected.label()),
            format!("{}, as the case file says", named.label()),
            "correct `crs` in the case file, or ask for a `warp` under [terrain]",
        ));
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    expected.horizontal().map_err(|error| vec![unknown_system(first, &error)])
}

fn known(path: &Path, text: &str) -> Result<Crs, Problem> {
    Crs::from_text(text).map_err(|error| unknown_system(path, &error))
}

fn unknown_system(path: &Path, error: &GeodataError) -> Problem {
    Problem::in_file(path, error.to_string(), "a known reference system", "name one by its code, such as EPSG:26917")
}

/// The one vertical unit of the tiles and the case.
fn unit_of(tiles: &[Tile], named: Option<VerticalUnit>) -> Result<VerticalUnit, Vec<Problem>> {
    let from_files = tiles.iter().find_map(|tile| tile.vertical_unit);
    let Some(expected) = named.or(from_files) else {
        return Err(vec![Problem::in_file(
            &tiles[0].path,
            "no vertical unit",
            "heights in m, ft or us-ft",
            "set `vertical_unit` under [terrain] in the case file, or give `--vertical-unit`",
        )]);
    };
    let problems: Vec<Problem> = tiles
        .iter()
        .filter_map(|tile| Some((tile, tile.vertical_unit?)))
        .filter(|(_, unit)| *unit != expected)
        .map(|(tile, unit)| {
            let says = if named.is_some() { "the case says" } else { "the other tiles say" };
            Problem::in_file(
                &tile.path,
                format!("heights in {}", unit.name()),
                format!("heights in {}, as {says}", expected.name()),
                "correct `vertical_unit`, or the unit in the file",
            )
        })
        .collect();
    if problems.is_empty() { Ok(expected) } else { Err(problems) }
}

/// Where the request warps the elevation model to; `None` where it stays as it is.
fn target(path: &Path, crs: &Crs, frame: &Frame, request: &ElevationRequest) -> Result<Option<Target>, Vec<Problem>> {
    match request.warp {
        None => suits(path, crs, frame).map(|()| None).map_err(|problem| vec![problem]),
        Some(warp) => target_of(path, crs, frame, warp, request).map(Some),
    }
}

/// Areas and grades need a projected system in metres.
fn suits(path: &Path, crs: &Crs, frame: &Frame) -> Result<(), Problem> {
    let (unit, metres) = crs.linear_unit();
    if crs.is_projected() && metres == 1.0 {
        return Ok(());
    }
    let centre = (f64::midpoint(frame.west(), frame.east()), f64::midpoint(frame.south(), frame.north()));
    let suitable = Projector::to_lonlat(crs).and_then(|projector| projector.point(centre)).and_then(|place| {
        let code = suitable_projected(crs, place.0, place.1);
        suitable_cell(crs, frame, centre, &code).map(|cell| (code, cell))
    });
    let hint = suitable.map_or_else(
        |_| "warp it to a projected system in metres: in a case file, with `warp` under [terrain]".to_owned(),
        |(code, cell)| {
            format!(
                "warp it: in a case file, under [terrain], add warp = {{ crs = \"{code}\", cell_m = {cell:?}, method = \"bilinear\" }}"
            )
        },
    );
    Err(Problem::in_file(
        path,
        format!("the reference system {}, measured in {unit}", crs.label()),
        "a projected reference system in metres",
        hint,
    ))
}

/// The side of the square that a cell at a place covers in a projected system, in metres, to two significant digits.
fn suitable_cell(crs: &Crs, frame: &Frame, (x, y): (f64, f64), code: &str) -> Result<f64, GeodataError> {
    let projector = Projector::new(crs, &Crs::from_text(code)?)?;
    let corner = projector.point((x, y))?;
    let along = projector.point((x + frame.cell_width(), y))?;
    let down = projector.point((x, y - frame.cell_height()))?;
    let area = (along.0 - corner.0) * (down.1 - corner.1) - (along.1 - corner.1) * (down.0 - corner.0);
    let side = area.abs().sqrt();
    let digit = 10_f64.powf(side.log10().floor() - 1.0);
    let rounded = (side / digit).round() * digit;
    Ok((rounded * 1e6).round() / 1e6)
}

fn target_of(
    path: &Path,
    from: &Crs,
    source: &Frame,
    warp: &Warp,
    request: &ElevationRequest,
) -> Result<Target, Vec<Problem>> {
    let one = |problem| vec![problem];
    let max_bytes = request.max_bytes;
    let crs = known(path, &warp.crs).and_then(|crs| crs.horizontal().map_err(|error| unknown_system(path, &error)));
    let crs = crs.map_err(one)?;
    if let Some(text) = request.crs
        && !known(path, text).map_err(one)?.same_horizontal(&crs)
    {
        return Err(one(Problem::in_file(
            path,
            format!("a warp to {}", crs.label()),
            format!("{text}, as the case file says"),
            "give `crs` in the case file and `crs` of the `warp` the same system",
        )));
    }
    suits(path, &crs, source).map_err(|problem| {
        one(Problem { hint: "name a projected system in metres as `crs` of the `warp`".to_owned(), ..problem })
    })?;
    if !(warp.cell_m > 0.0 && warp.cell_m.is_finite()) {
        return Err(one(Problem::in_file(
            path,
            format!("a warp to cells of {} m", warp.cell_m),
            "a positive cell size in metres",
            "correct `cell_m` of the `warp`",
        )));
    }
    let cannot = |error: GeodataError| one(cannot_warp(path, &error));
    let projector = Projector::new(from, &crs).map_err(cannot)?;
    let [west, south, east, north] = warp::target_cells(source, &projector, warp.cell_m).map_err(cannot)?;
    let (cols, rows) = ((east - west).max(1.0), (north - south).max(1.0));
    if cols * rows * f64::from(BYTES_A_CELL) > max_bytes as f64 || cols.max(rows) > f64::from(i32::MAX) {
        return Err(one(Problem::in_file(
            path,
            format!("a warp to {cols} x {rows} cells"),
            format!("at most {max_bytes} bytes of heights"),
            "choose a larger `cell_m`, or allow more memory with `--max-memory`",
        )));
    }
    let corner = (west * warp.cell_m, north * warp.cell_m);
    let frame = Frame::new(cols as usize, rows as usize, corner, (warp.cell_m, warp.cell_m))
        .map_err(|error| one(Problem::in_file(path, error.to_string(), "a raster with cells", "correct the `warp`")))?;
    Ok(Target { frame, crs, method: warp.method })
}

fn cannot_warp(path: &Path, error: &GeodataError) -> Problem {
    Problem::in_file(
        path,
        error.to_string(),
        "a warp to a system that covers the ground",
        "choose another `crs` for the `warp`, or install the datum grids it needs",
    )
}

const BYTES_A_CELL: u32 = 4;

/// Bytes at the peak: the mosaic and the piece being decoded; for a warp also GDAL's copies.
fn bytes_needed(mosaic: &Mosaic, target: Option<&Target>) -> u128 {
    let bytes = |frame: &Frame| frame.cols() as u128 * frame.rows() as u128 * u128::from(BYTES_A_CELL);
    let source = bytes(&mosaic.frame);
    let reading = source + u128::from(mosaic.block_bytes());
    target.map_or(reading, |target| {
        let warping = source * 2 + bytes(&target.frame) * 2 + u128::from(warp::WORKING_BYTES);
        reading.max(warping)
    })
}

fn no_height(path: &Path) -> Problem {
    Problem::in_file(
        path,
        "no cell with a height",
        "an elevation model with heights",
        "check the nodata value and the mask of the file",
    )
}

fn too_large(path: &Path, frame: &Frame, bytes: u128, max_bytes: u64) -> Problem {
    Problem::in_file(
        path,
        format!("{} x {} cells, which take {bytes} bytes to read", frame.cols(), frame.rows()),
        format!("at most {max_bytes} bytes"),
        "check that the file is what it claims to be; cut it to the area of interest, or allow more memory with \
         `--max-memory`",
    )
}

#[cfg(test)]
#[path = "elevation_tests.rs"]
mod tests;
