//! One elevation file: what its header says, and its heights.

use std::path::{Path, PathBuf};

use fallwright_units::VerticalUnit;
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
    block_rows: usize,
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
                    block_rows: block.1,
                })
            }
            _ => Err(problems),
        }
    }

    /// Hands the heights to `rows` in metres, some whole rows after the number of the first, from north to south, NaN where
    /// there is none. While some are handed over, the next are decoded.
    pub(crate) fn read(&self, unit: VerticalUnit, mut rows: impl FnMut(usize, &[f32]) + Send) -> Result<(), Problem> {
        let mut reader = Reader::open(self, unit)?;
        let mut handed = 0;
        let mut hand_over = |heights: &[f32]| {
            if !heights.is_empty() {
                rows(handed, heights);
                handed += heights.len() / self.cols;
            }
        };
        let (mut ready, mut next) = (Vec::new(), Vec::new());
        for first in (0..self.rows).step_by(self.rows_at_once()) {
            let (read, ()) = rayon::join(|| reader.read(first, &mut next), || hand_over(&ready));
            read?;
            std::mem::swap(&mut ready, &mut next);
        }
        hand_over(&ready);
        Ok(())
    }

    /// Rows that are decoded together: a million cells, or whole blocks of up to two, so that each is decoded once.
    fn rows_at_once(&self) -> usize {
        const CELLS: usize = 1 << 20;
        const MOST_CELLS: usize = 1 << 21;
        let rows = (CELLS / self.cols).max(1);
        let whole = rows.max(self.block_rows) / self.block_rows * self.block_rows;
        if whole.saturating_mul(self.cols) <= MOST_CELLS { whole } else { rows }
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

    /// Decodes the heights of as many rows as are read at once.
    fn read(&mut self, first: usize, heights: &mut Vec<f32>) -> Result<(), Problem> {
        if self.decode(first).is_err() {
            // On threads of GDAL's own the reason is lost; without them it is told.
            self.dataset = open_raster(&self.tile.path, 1)?;
            self.decode(first).map_err(|reason| self.tile.unreadable(first, &reason))?;
        }
        heights.clear();
        let cells = self.raw.iter().zip(&self.mask);
        heights.extend(cells.map(|(raw, mask)| if *mask == 0 { f32::NAN } else { self.cells.height(*raw) }));
        Ok(())
    }

    fn decode(&mut self, first: usize) -> Result<(), String> {
        let size = (self.tile.cols, self.tile.rows_at_once().min(self.tile.rows - first));
        let window = (0, first as isize);
        self.raw.resize(size.0 * size.1, 0.0);
        self.mask.resize(self.raw.len(), u8::MAX);
        attempt(|| {
            let band = self.dataset.rasterband(1)?;
            band.read_into_slice(window, size, size, &mut self.raw, None)?;
            if self.cells.masked {
                band.open_mask_band()?.read_into_slice(window, size, size, &mut self.mask, None)?;
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

    /// Metres; NaN for the nodata value, NaN and the infinities.
    fn height(&self, raw: f64) -> f32 {
        let is_nodata =
            self.nodata.is_some_and(|nodata| raw == nodata || (self.single_precision && raw as f32 == nodata as f32));
        let height = ((raw * self.scale + self.offset) * self.metres) as f32;
        if is_nodata || !height.is_finite() { f32::NAN } else { height }
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
        assert!(cells(None, false).height(f64::INFINITY).is_nan());
        assert!(cells(None, false).height(f64::NAN).is_nan());
        assert!(cells(None, false).height(1e300).is_nan());
    }
}
