//! `run.json`: what was run on what. No times, threads or absolute paths, so that the same input gives the same bytes.

use std::path::Path;

use fallwright_case::{CaseFile, Note};
use fallwright_geodata::{OutputFolder, sha256};
use fallwright_study::Study;
use serde::Serialize;
use serde_json::{Map, Value, json};

use crate::caution::CAUTION;
use crate::error::WriteError;
use crate::records::run::{FileDigest, RunProperties, Warning};

/// The file that holds the record of a run.
pub(crate) const RECORD: &str = "run.json";

/// What a command says about its run; `settings` and `counts` serialise as objects.
pub struct RunRecord<'a, S, C> {
    pub command: &'static str,
    pub settings: S,
    pub counts: C,
    pub notes: &'a [Note],
}

impl<S: Serialize, C: Serialize> RunRecord<'_, S, C> {
    /// Writes the record; every other output must have been written.
    pub fn write(&self, folder: &mut OutputFolder, inputs: Vec<(String, String)>) -> Result<(), WriteError> {
        let digests = |files: Vec<(String, String)>| {
            files.into_iter().map(|(name, sha256)| FileDigest { name, sha256 }).collect()
        };
        let record = RunProperties {
            program: "fallwright",
            version: env!("CARGO_PKG_VERSION"),
            command: self.command,
            caution: CAUTION,
            settings: object(&self.settings),
            inputs: digests(inputs),
            outputs: digests(folder.digests()),
            counts: object(&self.counts),
            warnings: self.notes.iter().map(Warning::of).collect(),
        };
        let mut text = serde_json::to_string_pretty(&record).expect("plain values have a JSON form");
        text.push('\n');
        folder.write_bytes(RECORD, text.as_bytes())?;
        Ok(())
    }
}

fn object(value: &impl Serialize) -> Map<String, Value> {
    match serde_json::to_value(value).expect("plain values have a JSON form") {
        Value::Object(fields) => fields,
        _ => unreachable!("settings and counts have named fields"),
    }
}

/// Name, as the case gives it, and SHA-256 of every file of a case.
pub(crate) fn input_digests(case: &CaseFile) -> Result<Vec<(String, String)>, WriteError> {
    let mut files = vec![("case file".to_owned(), case.sha256.clone())];
    for source in case.sources() {
        files.push((source.given.clone(), digest(&source.path)?));
    }
    for path in &case.terrain.elevation {
        let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        files.push((name, digest(path)?));
    }
    files.sort();
    files.dedup();
    Ok(files)
}

/// SHA-256 of an input file in hexadecimal.
pub fn digest(file: &Path) -> Result<String, WriteError> {
    sha256(file).map_err(|source| WriteError::Unreadable { file: file.to_owned(), source })
}

/// The settings of a run on a case.
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
