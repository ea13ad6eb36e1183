//! An area that somebody has drawn in a file of its own, beside the case.

use std::path::Path;

use fallwright_geodata::{Problem, Projector, read_vector};
use geo::{Area, BooleanOps, MultiPolygon};

use super::Inputs;
use super::reading::Reading;
use super::shapes::FeaturePlace;

const EXPECTED: &str = "a file with the area as polygons";
const HINT: &str =
    "draw the area as one or more polygons that do not cross themselves, and save it with its reference system";

impl Inputs {
    /// Reads all polygons of a file as one area, in the reference system of the case.
    ///
    /// # Errors
    /// Every fault of the file: missing, of another kind, several layers, no polygon, rings that cross themselves.
    pub fn read_area(&self, file: &Path) -> Result<MultiPolygon<f64>, Vec<Problem>> {
        if !file.is_file() && !file.is_dir() {
            let found = if file.exists() { "not a regular file" } else { "no such file" };
            return Err(vec![Problem::in_file(file, found, EXPECTED, "check the path given with --area")]);
        }
        let stated_crs = self.case.crs.as_ref().map(|_| &self.crs);
        let layer = read_vector(file, None, &self.crs, stated_crs)?;
        let to_lonlat = Projector::to_lonlat(&self.crs)
            .map_err(|error| vec![Problem::in_file(file, error.to_string(), EXPECTED, HINT)])?;
        let mut reading = Reading {
            crs: &self.crs,
            stated_crs,
            to_lonlat: &to_lonlat,
            frame: &self.ground.frame,
            case_file: &self.case.file,
            profile: None,
            defaults: None,
            drains_are_known: true,
            sliver_m: 0.0,
            repair: false,
            problems: Vec::new(),
            notes: Vec::new(),
        };
        let places = layer.features.iter().map(|feature| FeaturePlace { layer: &layer, feature });
        let polygons: Vec<MultiPolygon<f64>> = places.filter_map(|place| reading.polygon(place, None)).collect();
        let problems = reading.problems;
        if !problems.is_empty() {
            return Err(problems.into_iter().map(|problem| Problem { hint: HINT.to_owned(), ..problem }).collect());
        }
        let area = polygons.into_iter().reduce(|all, next| all.union(&next)).unwrap_or(MultiPolygon(Vec::new()));
        if area.unsigned_area() > 0.0 {
            return Ok(area);
        }
        let found = if layer.features.is_empty() { "no features" } else { "an area of 0 m²" };
        Err(vec![Problem::in_file(&layer.file, found, EXPECTED, HINT).in_layer(&layer.layer)])
    }
}
