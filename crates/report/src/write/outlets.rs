//! The main job: layers, rasters, `run.json`.

use fallwright_geodata::{FeatureSource, OutputFolder, Streamed};
use fallwright_study::{Progress, Standings, Study};
use serde::Serialize;
use serde_json::json;

use crate::counts::OutletsCounts;
use crate::error::WriteError;
use crate::layer::{Record, feature};
use crate::layers::parcels::ParcelLayer;
use crate::layers::paths::PipedPaths;
use crate::layers::terrain_changes::terrain_change;
use crate::layers::{buffers, paths, water};
use crate::rasters::{SPREAD, write_area, write_spread, write_terrain};
use crate::run_record::{RunRecord, input_digests, settings_of};
use crate::words::defaults_words;

const GEOPACKAGE: &str = "fallwright.gpkg";

/// Outputs that are written only when asked for.
#[derive(Clone, Copy, Debug, Default)]
pub struct OutletsExtras {
    /// `fallwright.gpkg`: the layers in the case's reference system.
    pub geopackage: bool,
    /// `area_draining_spread.tif`: a picture of wetness.
    pub spread: bool,
}

/// Writes every parcel's standing, with the paths, crossings and the network behind it.
///
/// # Errors
/// Places without longitude and latitude; inputs that can no longer be read; a folder that cannot be written to.
pub fn write_outlets(
    mut folder: OutputFolder,
    study: &Study,
    standings: &Standings,
    extras: OutletsExtras,
    progress: Progress,
) -> Result<OutletsCounts, WriteError> {
    let crs = &study.inputs.crs;
    progress("describing every parcel");
    let piped = PipedPaths::find(study);
    let parcels = ParcelLayer::find(study, &standings.findings, &piped)?;
    let reaches = water::reaches(study);
    let watersheds = water::watersheds(study)?;
    let links = water::links(study);
    progress("writing the layers");
    let buffers = buffers::buffers(study);
    let described = || parcels.records(study, &standings.findings, standings.capacity.as_ref());
    let changes = || standings.changes.iter().map(|change| terrain_change(study, change));
    let layers: [(&str, Streamed); 8] = [
        ("parcels", Streamed::new(|| described().map(|record| feature(&record)))),
        ("paths", Streamed::new(|| paths::paths(study, &piped).map(|path| feature(&path)))),
        ("crossings", Streamed::new(|| paths::crossings(study, &piped).map(|crossing| feature(&crossing)))),
        ("reaches", streamed(&reaches)),
        ("watersheds", streamed(&watersheds)),
        ("links", streamed(&links)),
        ("buffers", streamed(&buffers)),
        ("terrain_changes", Streamed::new(|| changes().map(|change| feature(&change)))),
    ];
    for (name, features) in &layers {
        let file = format!("{name}.geojson");
        match *name {
            "paths" => folder.write_lines(&file, paths::lines(study, &piped), crs)?,
            "crossings" => {
                let places = paths::crossing_places(study, &piped);
                folder.write_points(&file, &places, paths::crossings_at(study, &piped), crs)?;
            }
            _ => folder.write_geojson(&file, features, crs)?,
        }
    }
    progress("writing the rasters");
    let conditioned = &study.setting.conditioned;
    write_terrain(&mut folder, conditioned, crs)?;
    write_area(&mut folder, &study.setting.area, crs)?;
    if extras.spread {
        write_spread(&mut folder, &conditioned.surface, &conditioned.flow, crs)?;
    } else {
        folder.leave_out(SPREAD);
    }
    if extras.geopackage {
        let projected: Vec<(&str, &dyn FeatureSource)> =
            layers.iter().map(|(name, features)| (*name, features as _)).collect();
        folder.write_geopackage(GEOPACKAGE, &projected, crs)?;
    } else {
        folder.leave_out(GEOPACKAGE);
    }
    let counts = OutletsCounts::of(study, standings);
    let mut settings = settings_of(study);
    let defaults_used =
        standings.capacity.as_ref().map(|check| defaults_words(&check.defaults_used)).unwrap_or_default();
    settings["capacity_defaults_used"] = json!(defaults_used);
    let record = RunRecord { command: "outlets", settings, counts: &counts, notes: &study.notes };
    record.write(&mut folder, input_digests(&study.inputs.case)?)?;
    folder.commit()?;
    Ok(counts)
}

/// The features of some records, one at a time.
fn streamed<P: Serialize>(records: &[Record<P>]) -> Streamed<'_> {
    Streamed::new(|| records.iter().map(feature))
}
