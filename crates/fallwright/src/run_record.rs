//! `run.json`: what was run on what. No times, threads or absolute paths, so that the same input gives the same bytes.

use std::path::{Path, PathBuf};

use fallwright_geodata::{OutputFolder, sha256};
use serde_json::{Value, json};

use crate::case::{Case, Profile, Source};
use crate::failure::Failure;
use crate::inputs::Note;

pub(crate) struct RunRecord<'a> {
    pub(crate) command: &'static str,
    pub(crate) settings: Value,
    pub(crate) counts: Value,
    pub(crate) notes: &'a [Note],
}

impl RunRecord<'_> {
    /// Writes the record; every other output must have been written.
    pub(crate) fn write(&self, folder: &mut OutputFolder, inputs: Vec<(String, String)>) -> Result<(), Failure> {
        let digests = |files: Vec<(String, String)>| -> Vec<Value> {
            files.into_iter().map(|(name, sha256)| json!({ "name": name, "sha256": sha256 })).collect()
        };
        let warnings: Vec<Value> = self
            .notes
            .iter()
            .map(|note| json!({ "about": note.about, "found": note.found, "done": note.done }))
            .collect();
        let record = json!({
            "program": "fallwright",
            "version": env!("CARGO_PKG_VERSION"),
            "command": self.command,
            "caution": fallwright_report::CAUTION,
            "settings": self.settings,
            "inputs": digests(inputs),
            "outputs": digests(folder.digests()),
            "counts": self.counts,
            "warnings": warnings,
        });
        let mut text = serde_json::to_string_pretty(&record).expect("plain values have a JSON form");
        text.push('\n');
        folder.write_bytes("run.json", text.as_bytes())?;
        Ok(())
    }
}

/// Name, as the case gives it, and SHA-256 of every file of a case.
pub(crate) fn input_digests(case: &Case) -> Result<Vec<(String, String)>, Failure> {
    let mut files = vec![("case file".to_owned(), case.sha256.clone())];
    for source in sources(case) {
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

/// Every file that a case reads, itself included.
pub(crate) fn input_files(case: &Case) -> Vec<&Path> {
    let sources = sources(case).into_iter().map(|source| source.path.as_path());
    let elevation = case.terrain.elevation.iter().map(PathBuf::as_path);
    std::iter::once(Path::new(&case.file)).chain(sources).chain(elevation).collect()
}

fn sources(case: &Case) -> Vec<&Source> {
    let mut sources: Vec<&Source> = Vec::new();
    sources.extend(case.terrain.keep_depressions.iter());
    sources.extend(case.parcels.iter().map(|table| &table.source));
    sources.extend(case.fields.iter().map(|table| &table.source));
    sources.extend(case.waterways.iter().map(|table| &table.source));
    sources.extend(case.pipes.iter().map(|table| &table.source));
    sources.extend(case.culverts.iter().map(|table| &table.source));
    sources.extend(case.tiled_areas.iter().map(|table| &table.source));
    sources.extend(case.schedules.iter().map(|table| &table.source));
    sources.extend(case.levels.iter().map(|table| &table.source));
    sources.extend(case.sections.iter().map(|table| &table.source));
    sources.extend(case.rainfall.iter().map(|table| &table.source));
    sources.extend(case.soils.iter().map(|table| &table.source));
    sources.extend(case.capacity.defaults.iter());
    sources.extend(case.roads.iter().map(|table| &table.source));
    if let Profile::File(source) = &case.rules.profile {
        sources.push(source);
    }
    sources
}

/// SHA-256 of an input file in hexadecimal.
pub(crate) fn digest(path: &Path) -> Result<String, Failure> {
    sha256(path).map_err(|error| Failure::Failed(format!("{} cannot be read: {error}", path.display())))
}
