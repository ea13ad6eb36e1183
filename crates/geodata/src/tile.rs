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
}

impl Tile {
    /// Reads the header only.
    ///
    /// # Errors
    /// Every fault of the header: not readable, several bands, no or rotated position, unknown or contradicting units.
    pub(crate) fn open(path: &Path) -> Result<Self, Vec<Problem>> {
        let dataset = open_raster(path).map_err(|problem| vec![problem])?;
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
                Ok(Self { path, cols, rows, west, north, cell_width, cell_height, crs, vertical_unit, block_bytes })
            }
            _ => Err(problems),
        }
    }

    /// Hands the heights to `row` in metres, from north to south, NaN where there is none.
    pub(crate) fn read(&self, unit: VerticalUnit, mut row: impl FnMut(usize, &[f32])) -> Result<(), Problem> {
        const CELLS_AT_ONCE: usize = 1 << 20;
        let dataset = open_raster(&self.path)?;
        let band = elevation_band(&self.path, &dataset)?;
        let cells = Cells::of(&band, unit);
        let at_once = (CELLS_AT_ONCE / self.cols).clamp(1, self.rows);
        let mut raw = vec![0.0_f64; self.cols * at_once];
        let mut mask = vec![u8::MAX; raw.len()];
        let mut heights = vec![f32::NAN; self.cols];
        for first in (0..self.rows).step_by(at_once) {
            let count = at_once.min(self.rows - first);
            let (window, size) = ((0, first as isize), (self.cols, count));
            let length = self.cols * count;
            attempt(|| {
                band.read_into_slice(window, size, size, &mut raw[..length], None)?;
                if cells.masked {
                    band.open_mask_band()?.read_into_slice(window, size, size, &mut mask[..length], None)?;
                }
                Ok::<_, gdal::errors::GdalError>(())
            })
            .map_err(|reason| self.unreadable(first, &reason))?;
            for (position, (raw, mask)) in raw[..length].chunks(self.cols).zip(mask.chunks(self.cols)).enumerate() {
                for ((height, raw), mask) in heights.iter_mut().zip(raw).zip(mask) {
                    *height = if *mask == 0 { f32::NAN } else { cells.height(*raw) };
                }
                row(first + position, &heights);
            }
        }
        Ok(())
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
