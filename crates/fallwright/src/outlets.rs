//! The main job: every parcel's standing, with its paths, crossings and the network behind it.

mod buffers;
mod changes;
mod dependence;
mod on_paths;
mod parcel_layer;
mod path_layers;
mod petition_area;
mod rerouted;
mod results;
mod same_barrier;
mod water_layers;
mod way_items;

pub(crate) use changes::{Filled, count_listed};
pub(crate) use dependence::most_changes;
pub(crate) use parcel_layer::ParcelLayer;
pub(crate) use path_layers::land_crossed;
pub(crate) use results::Results;
pub(crate) use water_layers::reach_line;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use fallwright_geodata::{FeatureSource, Problem, Streamed};
use fallwright_law::{Finding, Standing, judge};
use fallwright_report::{Record, TerrainChangeProperties, feature, metres};
use serde::Serialize;
use serde_json::{Value, json};

use crate::Progress;
use crate::facts::each_facts;
use crate::failure::{Failure, Settings};
use crate::inputs::{Inputs, read_inputs};
use crate::output::{SPREAD, output_folder, write_area, write_spread, write_terrain};
use crate::run_record::{RunRecord, input_digests, input_files};
use crate::study::Study;
use crate::summary::{counted, hectares};

const GEOPACKAGE: &str = "fallwright.gpkg";

/// What the main job found.
pub struct OutletsReport {
    summary: Value,
    lines: Vec<String>,
    /// Parcels that the data could not decide.
    pub undecided: usize,
}

impl OutletsReport {
    pub fn lines(&self) -> Vec<String> {
        self.lines.clone()
    }

    pub fn json(&self) -> Value {
        self.summary.clone()
    }
}

/// Outputs that are written only when asked for.
#[derive(Clone, Copy, Debug, Default)]
pub struct OutletsExtras {
    /// `fallwright.gpkg`: the layers in the case's reference system.
    pub geopackage: bool,
    /// `area_draining_spread.tif`: a picture of wetness.
    pub spread: bool,
}

/// Judges every parcel of a case and writes the results to a folder.
///
/// # Errors
/// Faults of the input; a case without parcels; an output folder that cannot be written.
pub fn outlets(
    case: &Path,
    out: &Path,
    extras: OutletsExtras,
    settings: &Settings,
    progress: Progress,
) -> Result<OutletsReport, Failure> {
    let inputs = read_inputs(case, settings, progress)?;
    require_parcels(&inputs)?;
    let mut folder = output_folder(out, &input_files(&inputs.case), settings)?;
    let results = Results::work_out(inputs, progress)?;
    let Results { study, findings, changes, filled, .. } = &results;
    progress("writing the layers");
    let buffers = buffers::buffers(study);
    let layers: [(&str, Streamed); 8] = [
        ("parcels", Streamed::new(|| results.each_parcel().map(|record| feature(&record)))),
        ("paths", Streamed::new(|| path_layers::paths(study).map(|path| feature(&path)))),
        ("crossings", Streamed::new(|| path_layers::crossings(study).map(|crossing| feature(&crossing)))),
        ("reaches", streamed(&results.reaches)),
        ("watersheds", streamed(&results.watersheds)),
        ("links", streamed(&results.links)),
        ("buffers", streamed(&buffers)),
        ("terrain_changes", streamed(changes)),
    ];
    for (name, features) in &layers {
        let (file, crs) = (format!("{name}.geojson"), &study.inputs.crs);
        match *name {
            "paths" => folder.write_lines(&file, path_layers::lines(study), crs)?,
            "crossings" => {
                folder.write_points(&file, &study.courses.places(), path_layers::crossings_at(study), crs)?;
            }
            _ => folder.write_geojson(&file, features, crs)?,
        }
    }
    progress("writing the rasters");
    write_terrain(&mut folder, &study.setting.conditioned, &study.inputs.crs)?;
    write_area(&mut folder, &study.setting.area, &study.inputs.crs)?;
    if extras.spread {
        let conditioned = &study.setting.conditioned;
        write_spread(&mut folder, &conditioned.surface, &conditioned.flow, &study.inputs.crs)?;
    } else {
        folder.leave_out(SPREAD);
    }
    if extras.geopackage {
        let projected: Vec<(&str, &dyn FeatureSource)> =
            layers.iter().map(|(name, features)| (*name, features as _)).collect();
        folder.write_geopackage(GEOPACKAGE, &projected, &study.inputs.crs)?;
    } else {
        folder.leave_out(GEOPACKAGE);
    }
    let counts = counts(study, findings, changes, filled);
    let mut settings = settings_of(study);
    settings["capacity_defaults_used"] = json!(results.defaults_used);
    let record = RunRecord { command: "outlets", settings, counts: counts.clone(), notes: &study.notes };
    record.write(&mut folder, input_digests(&study.inputs.case)?)?;
    folder.commit()?;
    Ok(report(study, findings, &counts, out))
}

/// The features of some records, one at a time.
fn streamed<P: Serialize>(records: &[Record<P>]) -> Streamed<'_> {
    Streamed::new(|| records.iter().map(feature))
}

/// # Errors
/// A case without parcels.
pub(crate) fn require_parcels(inputs: &Inputs) -> Result<(), Failure> {
    if inputs.case.parcels.is_some() {
        return Ok(());
    }
    Err(Failure::Refused(vec![Problem {
        file: inputs.case.file.clone(),
        layer: None,
        feature: Some("parcels".to_owned()),
        found: "no such table".to_owned(),
        expected: "a [parcels] table".to_owned(),
        hint: "name the parcel layer there".to_owned(),
    }]))
}

/// The finding on every parcel.
pub(crate) fn judged(study: &Study) -> Vec<Finding> {
    each_facts(study, |_, facts| judge(facts, &study.inputs.profile))
}

pub(crate) fn settings_of(study: &Study) -> Value {
    let case = &study.inputs.case;
    json!({
        "case": case.name,
        "crs": study.inputs.crs.label(),
        "profile": study.inputs.profile.id,
        "abut_tolerance_m": case.rules.abut_tolerance_m,
        "boundary_accuracy_m": case.parcels.as_ref().map(|table| table.accuracy_m),
        "rmse_z_m": case.terrain.rmse_z_m,
        "vertical_unit": study.inputs.vertical_unit.name(),
        "warp": case.terrain.warp.as_ref().map(|warp| json!([warp.crs, warp.cell_m, warp.method.name()])),
        "longest_cut_m": case.terrain.longest_cut_m,
        "deepest_cut_m": case.terrain.deepest_cut_m,
        "keep_larger": case.terrain.keep_larger.map(|size| json!([size.depth_m, size.area_ha, size.volume_m3])),
        "cell_m": [study.setting.frame().cell_width(), study.setting.frame().cell_height()],
    })
}

pub(crate) fn counts(
    study: &Study,
    findings: &[Finding],
    changes: &[Record<TerrainChangeProperties>],
    filled: &Filled,
) -> Value {
    let of = |standing: Standing| findings.iter().filter(|finding| finding.standing == standing).count();
    let valid = study.setting.ground.values.iter().filter(|z| !z.is_nan()).count() as u64;
    let conditioned = &study.setting.conditioned;
    let cuts = &conditioned.cuts;
    let out: u64 = study.setting.ends.keys().map(|&cell| study.setting.area(cell)).sum();
    json!({
        "parcels": findings.len(),
        "right": of(Standing::Right),
        "right_in_part": of(Standing::RightInPart),
        "acquire": of(Standing::Acquire),
        "undecided": of(Standing::Undecided),
        "right_ha": total(findings, |finding| finding.right.hectares()),
        "acquire_ha": total(findings, |finding| finding.acquire.hectares()),
        "undecided_ha": total(findings, |finding| finding.undecided.hectares()),
        "cells_with_elevation": valid,
        "cells_to_ends": out,
        "reaches": study.reaches.list.len(),
        "structures": study.setting.structures.len(),
        "slivers": study.inputs.slivers.len(),
        "terrain_changes": changes.len(),
        "fill_m3": metres(filled.volume_m3),
        "depressions_filled": filled.depressions,
        "barriers_cut": cuts.len(),
        "cut_m3": metres(cuts.iter().map(|cut| cut.lowering_m).sum::<f64>() * study.setting.frame().cell_square_metres()),
        "depressions_kept": study.kept.len(),
        "suspected_culverts": changes.iter().filter(|change| change.properties.suspected_culvert).count(),
    })
}

fn total(findings: &[Finding], of: impl Fn(&Finding) -> f64) -> f64 {
    fallwright_report::hectares(findings.iter().map(of).sum())
}

fn report(study: &Study, findings: &[Finding], counts: &Value, out: &Path) -> OutletsReport {
    let number = |key: &str| counts[key].as_u64().unwrap_or_default() as usize;
    let area = |key: &str| hectares(counts[key].as_f64().unwrap_or_default());
    let mut lines = vec![
        format!(
            "{}: {} judged under the profile {}",
            study.inputs.case.name.as_deref().unwrap_or("case"),
            counted(number("parcels"), "parcel", "parcels"),
            study.inputs.profile.id
        ),
        format!("  {:<28} {:>8} {:>14}", "", "parcels", "of their land"),
        format!("  {:<28} {:>8} {:>14}", "right of drainage indicated", number("right"), area("right_ha")),
        format!("  {:<28} {:>8}", "right for a part only", number("right_in_part")),
        format!("  {:<28} {:>8} {:>14}", "outlet to be acquired", number("acquire"), area("acquire_ha")),
        format!("  {:<28} {:>8} {:>14}", "not decided by the data", number("undecided"), area("undecided_ha")),
        "  (hectares are counted by share, so each sums parts of parcels of every standing)".to_owned(),
    ];
    let reasons = undecided_reasons(findings);
    if !reasons.is_empty() {
        lines.push("  not decided, in whole or in part, because".to_owned());
    }
    for (reason, count) in reasons {
        lines.push(format!("    {reason}: {}", counted(count, "parcel", "parcels")));
    }
    if number("suspected_culverts") > 0 {
        lines.push(format!(
            "  places to check in the field: {} where a road or bank holds water back (terrain_changes.geojson)",
            number("suspected_culverts")
        ));
    }
    if !study.notes.is_empty() {
        lines.push(format!(
            "  {} in run.json: what was put right or should be known",
            counted(study.notes.len(), "note", "notes")
        ));
    }
    lines.push(format!("Look first at {}", out.join("parcels.geojson").display()));
    lines.push(fallwright_report::CAUTION.to_owned());
    let undecided = number("undecided");
    OutletsReport { summary: json!({ "out": out.display().to_string(), "counts": counts }), lines, undecided }
}

/// Why parcels are undecided, in whole or in part, in plain words, with the number of parcels.
fn undecided_reasons(findings: &[Finding]) -> BTreeMap<&'static str, usize> {
    let mut reasons = BTreeMap::new();
    for finding in findings {
        let own: BTreeSet<&str> =
            finding.reasons.iter().filter(|reason| reason.leaves_undecided()).map(|reason| reason.text()).collect();
        for reason in own {
            *reasons.entry(reason).or_default() += 1;
        }
    }
    reasons
}
