//! Writes the township as a case file with its layers.

use std::path::Path;

use fallwright_geodata::{Crs, GeodataError, OutputError, OutputFolder, RasterMeta, RasterValues};
use geojson::FeatureCollection;
use thiserror::Error;

use crate::channel::WaterwayClass;
use crate::plan::CRS;
use crate::township::{Township, township};
use crate::{layers, tables};

const CASE: &str = include_str!("case.toml");

#[derive(Debug, Error)]
pub enum DemoError {
    #[error("the demonstration case's reference system is not known to this installation: {0}")]
    Crs(#[from] GeodataError),
    #[error(transparent)]
    Output(#[from] OutputError),
}

/// Writes `case.toml` and its data into a folder: all of it or nothing.
///
/// # Errors
/// The folder exists, is not empty and `overwrite` is false; a file cannot be written.
pub fn write_case(dir: &Path, overwrite: bool) -> Result<(), DemoError> {
    let crs = Crs::from_text(CRS)?;
    let town = township();
    let mut folder = OutputFolder::create(dir, overwrite)?;
    let meta = RasterMeta { description: "bare ground, invented", unit: Some("m"), ..RasterMeta::default() };
    let elevation = &town.elevation;
    folder.write_raster("elevation.tif", &elevation.frame, &crs, RasterValues::F32(&elevation.values), &meta)?;
    folder.write_geopackage("parcels.gpkg", &[("parcels", &layers::parcels(&town.parcels))], &crs)?;
    for (name, layer) in geojson_layers(&town) {
        folder.write_geojson(name, &layer, &crs)?;
    }
    folder.write_bytes("quernstone_drain_schedule.csv", tables::schedule(&town.schedule).as_bytes())?;
    folder.write_bytes("surveyed_levels.csv", tables::levels(&town.levels).as_bytes())?;
    folder.write_bytes("tile_outlet_levels.csv", tables::levels(&town.low_water).as_bytes())?;
    folder.write_bytes("cross_sections.csv", tables::sections(&town.sections).as_bytes())?;
    folder.write_bytes("rainfall.csv", tables::rainfall().as_bytes())?;
    folder.write_bytes("case.toml", CASE.as_bytes())?;
    folder.commit()?;
    Ok(())
}

fn geojson_layers(town: &Township) -> [(&'static str, FeatureCollection); 12] {
    use WaterwayClass::{MunicipalDrain, MutualAgreementDrain, NaturalWatercourse, PrivateDitch, RoadDitch};
    let waterways = |classes: &[WaterwayClass]| layers::waterways(&town.waterways, classes);
    [
        ("fields.geojson", layers::fields(&town.fields)),
        ("creek.geojson", waterways(&[NaturalWatercourse])),
        ("municipal_drains.geojson", waterways(&[MunicipalDrain])),
        ("ditches.geojson", waterways(&[MutualAgreementDrain, PrivateDitch, RoadDitch])),
        ("culverts.geojson", layers::culverts(&town.culverts)),
        ("tile_mains.geojson", layers::pipes(&town.pipes)),
        ("tiled_areas.geojson", layers::tiled_areas(&town.tiled_areas)),
        ("potholes.geojson", layers::potholes(&town.potholes)),
        ("roads.geojson", layers::roads(&town.roads)),
        ("wetlands.geojson", layers::constraint_areas(&town.wetlands)),
        ("regulated_areas.geojson", layers::constraint_areas(&town.regulated_areas)),
        ("utilities.geojson", layers::utilities(&town.utilities)),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_layer_of_the_case_file_is_written() {
        let town = crate::township::shared();
        let mut written = vec!["elevation.tif", "parcels.gpkg", "quernstone_drain_schedule.csv", "surveyed_levels.csv"];
        written.extend(["tile_outlet_levels.csv", "cross_sections.csv", "rainfall.csv"]);
        written.extend(geojson_layers(town).map(|(name, _)| name));
        let mut named: Vec<&str> = CASE
            .lines()
            .filter(|line| line.starts_with("source") || line.starts_with("elevation") || line.starts_with("keep"))
            .filter_map(|line| line.split('"').nth(1))
            .collect();
        written.sort_unstable();
        named.sort_unstable();
        assert_eq!(named, written);
    }

    #[test]
    fn a_written_case_is_the_same_byte_for_byte() {
        let [first, second] = [0, 1].map(|_| tempfile::tempdir().unwrap());
        for folder in [&first, &second] {
            write_case(folder.path(), false).unwrap();
        }
        let mut names: Vec<_> =
            std::fs::read_dir(first.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        names.sort();
        assert_eq!(names.len(), 20);
        for name in names {
            let bytes = [&first, &second].map(|folder| std::fs::read(folder.path().join(&name)).unwrap());
            assert!(bytes[0] == bytes[1], "{}", name.display());
        }
    }
}
