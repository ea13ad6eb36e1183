//! One elevation file: what its header says, and its heights.

use std::path::{Path, PathBuf};

use fallwright_units::{VerticalUnit, Window};
use gdal::Dataset;
use gdal::raster::{ColorInterpretation, GdalDataType, RasterBand};

use crate::library::{attempt, open_raster};
use crate::{Crs, Problem};

/// What the header of one elevation file says.
#[derive(Clone, Debug)]
pub(crate) struct Tile {
    pub(crate) path: PathBuf,
    pub(crate) cols: usize,
    pub(crate) rows: usize,
    pub(crate) west: f64,
    pub(crate) north: f64,
    pub(crate) cell_width: f64,
    pub(crate) cell_height: f64,
    pub(crate) crs: Option<Crs>,
    pub(crate) vertical_unit: Option<VerticalUnit>,
    /// Bytes of the largest piece that has to be decoded at once.
    pub(crate) block_bytes: u64,
    /// Columns and rows of a block, which is decoded as a whole.
    block: (usize, usize),
}

impl Tile {
    /// Reads the header only.
    ///
    /// # Errors
    /// Every fault of the header: not readable, several bands, no or rotated position, unknown or contradicting units.
    pub(crate) fn open(path: &Path) -> Result<Self, Vec<Problem>> {
        let dataset = open_raster(path, 1).map_err(|problem| vec![problem])?;
        let mut problems = Vec::new();
        let band = keep(&mut problems, elevation_band(path, &dataset));
        let position = keep(&mut problems, position(path, &dataset));
        let crs = keep(&mut problems, reference_system(path, &dataset)).flatten();
        let unit = band.as_ref().and_then(|band| keep(&mut problems, vertical_unit(path, band, crs.as_ref())));
        match (band, position, unit) {
            (Some(band), Some([west, cell_width, north, cell_height]), Some(vertical_unit)) if problems.is_empty() => {
                let (cols, rows) = band.size();
                let block = band.block_size();
                let block_bytes = block.0 as u64 * block.1 as u64 * u64::from(band.band_type().bytes());
                let path = path.to_owned();
                Ok(Self {
                    path,
                    cols,
                    rows,
                    west,
                    north,
                    cell_width,
                    cell_height,
                    crs,
                    vertical_unit,
                    block_bytes,
                    block,
                })
            }
            _ => Err(problems),
        }
    }

    /// Hands the heights to `take` in metres, a window at a time from north to south, NaN where there is none. While one is
    /// handed over, the next is decoded.
    pub(crate) fn read(&self, unit: VerticalUnit, mut take: impl FnMut(Window, &[f32]) + Send) -> Result<(), Problem> {
        let mut reader = Reader::open(self, unit)?;
        let mut ready: Option<(Window, Vec<f32>)> = None;
        let mut hand_over = |ready: &Option<(Window, Vec<f32>)>| {
            if let Some((window, heights)) = ready {
                take(*window, heights);
            }
        };
        for window in self.pieces() {
            let mut heights = Vec::new();
            let (read, ()) = rayon::join(|| reader.read(window, &mut heights), || hand_over(&ready));
            read?;
            ready = Some((window, heights));
        }
        hand_over(&ready);
        Ok(())
    }

    /// The windows that are decoded one after the other.
    fn pieces(&self) -> impl Iterator<Item = Window> + '_ {
        let (cols, rows) = self.piece();
        (0..self.rows).step_by(rows).flat_map(move |row| {
            let window =
                move |col| Window { col, row, cols: cols.min(self.cols - col), rows: rows.min(self.rows - row) };
            (0..self.cols).step_by(cols).map(window)
        })
    }

    /// Columns and rows that are decoded together: a million cells, or up to two in whole rows of blocks, so that each block is
    /// decoded once. Where a row of blocks is larger, some whole blocks side by side.
    fn piece(&self) -> (usize, usize) {
        const CELLS: usize = 1 << 20;
        const MOST_CELLS: usize = 1 << 21;
        let (block_cols, block_rows) = self.block;
        let rows = (CELLS / self.cols).max(1);
        let whole = rows.max(block_rows) / block_rows * block_rows;
        if whole.saturating_mul(self.cols) <= MOST_CELLS {
            return (self.cols, whole);
        }
        match CELLS / block_rows / block_cols * block_cols {
            0 => (self.cols, rows),
            cols => (cols.min(self.cols), block_rows),
        }
    }

    /// `at` counts the cells of a window, row by row.
    fn infinite(&self, window: Window, at: usize) -> Problem {
        let (col, row) = (window.col + at % window.cols, window.row + at / window.cols);
        Problem::in_file(
            &self.path,
            format!("an infinite height in column {}, row {}", col + 1, row + 1),
            "heights in metres or feet, and missing data marked by the nodata value or NaN",
            "set the file's nodata value to the one that marks missing data, or replace it by NaN",
        )
    }

    fn unreadable(&self, row: usize, reason: &str) -> Problem {
        Problem::in_file(
            &self.path,
            format!("cells that cannot be read near row {} of {} ({reason})", row + 1, self.rows),
            "a complete raster",
            "the file looks truncated or damaged; fetch it again",
        )
    }
}

/// An open tile whose rows are decoded.
struct Reader<'a> {
    tile: &'a Tile,
    dataset: Dataset,
    cells: Cells,
    raw: Vec<f64>,
    mask: Vec<u8>,
}

impl<'a> Reader<'a> {
    fn open(tile: &'a Tile, unit: VerticalUnit) -> Result<Self, Problem> {
        let dataset = open_raster(&tile.path, rayon::current_num_threads())?;
        let cells = Cells::of(&elevation_band(&tile.path, &dataset)?, unit);
        Ok(Self { tile, dataset, cells, raw: Vec::new(), mask: Vec::new() })
    }

    /// Decodes the heights of a window.
    fn read(&mut self, window: Window, heights: &mut Vec<f32>) -> Result<(), Problem> {
        if self.decode(window).is_err() {
            // On threads of GDAL's own the reason is lost; without them GDAL reports it.
            self.dataset = open_raster(&self.tile.path, 1)?;
            self.decode(window).map_err(|reason| self.tile.unreadable(window.row, &reason))?;
        }
        let cells = self.raw.iter().zip(&self.mask);
        heights.extend(cells.map(|(raw, mask)| if *mask == 0 { f32::NAN } else { self.cells.height(*raw) }));
        match heights.iter().position(|height| height.is_infinite()) {
            Some(at) => Err(self.tile.infinite(window, at)),
            None => Ok(()),
        }
    }

    fn decode(&mut self, window: Window) -> Result<(), String> {
        let (first, size) = ((window.col as isize, window.row as isize), (window.cols, window.rows));
        self.raw.resize(window.len(), 0.0);
        self.mask.resize(window.len(), u8::MAX);
        attempt(|| {
            let band = self.dataset.rasterband(1)?;
            band.read_into_slice(first, size, size, &mut self.raw, None)?;
            if self.cells.masked {
                band.open_mask_band()?.read_into_slice(first, size, size, &mut self.mask, None)?;
            }
            Ok::<_, gdal::errors::GdalError>(())
        })
    }
}

/// How a band's stored values become heights.
struct Cells {
    nodata: Option<f64>,
    single_precision: bool,
    scale: f64,
    offset: f64,
    metres: f64,
    masked: bool,
}

impl Cells {
    fn of(band: &RasterBand, unit: VerticalUnit) -> Self {
        Self {
            nodata: band.no_data_value(),
            single_precision: band.band_type() == GdalDataType::Float32,
            scale: band.scale().unwrap_or(1.0),
            offset: band.offset().unwrap_or(0.0),
            metres: unit.metres(),
            masked: band.mask_flags().is_ok_and(|flags| !flags.is_all_valid() && !flags.is_nodata()),
        }
    }

    /// Metres; NaN for the nodata value and NaN.
    fn height(&self, raw: f64) -> f32 {
        let is_nodata =
            self.nodata.is_some_and(|nodata| raw == nodata || (self.single_precision && raw as f32 == nodata as f32));
        let height = ((raw * self.scale + self.offset) * self.metres) as f32;
        if is_nodata { f32::NAN } else { height }
    }
}

fn keep<T>(problems: &mut Vec<Problem>, result: Result<T, Problem>) -> Option<T> {
    result.map_err(|problem| problems.push(problem)).ok()
}

/// The first band, where any other only says which cells are valid.
fn elevation_band<'a>(path: &Path, dataset: &'a Dataset) -> Result<RasterBand<'a>, Problem> {
    let bands = dataset.raster_count();
    let says_valid = |band: usize| {
        dataset.rasterband(band).is_ok_and(|band| band.color_interpretation() == ColorInterpretation::AlphaBand)
    };
    if bands == 0 || !(2..=bands).all(says_valid) {
        return Err(Problem::in_file(
            path,
            format!("{bands} bands"),
            "one band of elevations, with at most an alpha band or a mask beside it",
            "save the elevation band to a file of its own",
        ));
    }
    let band = attempt(|| dataset.rasterband(1)).map_err(|reason| {
        Problem::in_file(path, reason, "one band of elevations", "save the elevation band to a file of its own")
    })?;
    if band.band_type() == GdalDataType::Unknown {
        return Err(Problem::in_file(
            path,
            "complex numbers or an unknown type of cell",
            "whole or decimal numbers",
            "save the elevation band as Float32",
        ));
    }
    Ok(band)
}

/// West, cell width, north, cell height.
fn position(path: &Path, dataset: &Dataset) -> Result<[f64; 4], Problem> {
    let Ok([west, width, column_turn, north, row_turn, height]) = attempt(|| dataset.geo_transform()) else {
        return Err(Problem::in_file(
            path,
            "no position on the ground",
            "a corner and a cell size in map coordinates",
            "use the georeferenced file, or keep its world file beside it",
        ));
    };
    if column_turn != 0.0 || row_turn != 0.0 {
        return Err(Problem::in_file(
            path,
            "a rotated or sheared raster",
            "rows that run from west to east and columns that run from north to south",
            "resample it to a north-up raster first",
        ));
    }
    if width <= 0.0 || height >= 0.0 || ![west, north, width, height].iter().all(|value| value.is_finite()) {
        return Err(Problem::in_file(
            path,
            format!("a cell of {width} by {}", -height),
            "positive cell sizes, the first row in the north",
            "resample it to a north-up raster first",
        ));
    }
    Ok([west, width, north, -height])
}

fn reference_system(path: &Path, dataset: &Dataset) -> Result<Option<Crs>, Problem> {
    let Ok(spatial) = attempt(|| dataset.spatial_ref()) else { return Ok(None) };
    Crs::from_spatial_ref(&spatial).map(Some).map_err(|error| {
        Problem::in_file(path, error.to_string(), "a known reference system", "write the right system to the file")
    })
}

fn vertical_unit(path: &Path, band: &RasterBand, crs: Option<&Crs>) -> Result<Option<VerticalUnit>, Problem> {
    const HINT: &str = "write the right unit to the file, or save it without a unit and set `vertical_unit`";
    let text = band.unit();
    let from_system = crs.and_then(Crs::vertical_unit);
    if text.trim().is_empty() {
        return Ok(from_system);
    }
    let Some(from_band) = named_unit(&text) else {
        return Err(Problem::in_file(path, format!("the vertical unit {text:?}"), "m, ft or us-ft", HINT));
    };
    match from_system {
        Some(unit) if unit != from_band => Err(Problem::in_file(
            path,
            format!("heights in {} by the band and in {} by the reference system", from_band.name(), unit.name()),
            "one vertical unit",
            HINT,
        )),
        _ => Ok(Some(from_band)),
    }
}

/// The unit that a band's unit text names.
fn named_unit(text: &str) -> Option<VerticalUnit> {
    let words = text.to_lowercase().replace(['.', '(', ')'], "").replace(['_', '-'], " ");
    match words.split_whitespace().collect::<Vec<_>>().join(" ").as_str() {
        "m" | "metre" | "metres" | "meter" | "meters" => Some(VerticalUnit::Metre),
        "ft" | "foot" | "feet" | "international foot" | "international feet" | "foot international" => {
            Some(VerticalUnit::InternationalFoot)
        }
        "us ft" | "ftus" | "ft us" | "us foot" | "us feet" | "foot us" | "us survey foot" | "us survey feet"
        | "survey foot" | "survey feet" | "foot us survey" => Some(VerticalUnit::UsSurveyFoot),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unit_texts() {
        let check = |text, expected| assert_eq!(named_unit(text), expected, "{text}");
        check("m", Some(VerticalUnit::Metre));
        check("Meters", Some(VerticalUnit::Metre));
        check("metre", Some(VerticalUnit::Metre));
        check("ft", Some(VerticalUnit::InternationalFoot));
        check("Feet", Some(VerticalUnit::InternationalFoot));
        check("US survey foot", Some(VerticalUnit::UsSurveyFoot));
        check("us-ft", Some(VerticalUnit::UsSurveyFoot));
        check("ftUS", Some(VerticalUnit::UsSurveyFoot));
        check("Foot_US", Some(VerticalUnit::UsSurveyFoot));
        check("U.S. Survey Feet", Some(VerticalUnit::UsSurveyFoot));
        check("cm", None);
        check("degrees", None);
    }

    #[test]
    fn blocks_are_decoded_once_where_they_fit() {
        let check = |(cols, rows), block, piece| {
            let (path, crs, vertical_unit) = (PathBuf::new(), None, None);
            let (west, north, cell_width, cell_height, block_bytes) = (0.0, 0.0, 1.0, 1.0, 0);
            let tile =
                Tile { path, cols, rows, west, north, cell_width, cell_height, crs, vertical_unit, block_bytes, block };
            assert_eq!(tile.piece(), piece, "{cols} x {rows} in blocks of {block:?}");
            let mut seen = vec![0_u8; cols * rows];
            for window in tile.pieces() {
                for row in window.row..window.row + window.rows {
                    seen[row * cols + window.col..][..window.cols].iter_mut().for_each(|seen| *seen += 1);
                }
            }
            assert!(seen.iter().all(|&seen| seen == 1));
        };
        check((10, 7), (10, 1), (10, 104_857));
        check((2_000, 900), (256, 256), (2_000, 512));
        check((9_000, 300), (256, 256), (4_096, 256));
        check((9_000, 300), (9_000, 1), (9_000, 116));
        check((9_000, 300), (9_000, 300), (9_000, 116));
        check((9_000, 300), (2_048, 2_048), (9_000, 116));
        check((1, 3), (1, 3), (1, 1_048_575));
    }

    #[test]
    fn stored_values_become_metres() {
        let cells = |nodata, single_precision| Cells {
            nodata,
            single_precision,
            scale: 0.5,
            offset: 10.0,
            metres: VerticalUnit::InternationalFoot.metres(),
            masked: false,
        };
        assert_eq!(cells(None, false).height(180.0), 30.48);
        assert!(cells(Some(-9999.0), false).height(-9999.0).is_nan());
        assert!(cells(Some(-3.402_823_466_385_29e38), true).height(f64::from(f32::MIN)).is_nan());
        assert!(cells(None, false).height(f64::NAN).is_nan());
        assert!(cells(None, false).height(f64::INFINITY).is_infinite());
        assert!(cells(None, false).height(1e300).is_infinite());
    }
}
