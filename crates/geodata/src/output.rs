//! Output files: complete or absent, never half-written.
//!
//! Everything is first written to a staging folder inside the output folder. [`OutputFolder::commit`] makes the files
//! durable and then renames them, so that each file is at every moment either the old one or the complete new one, and
//! the one written last is there only beside the others of its run. Without `commit` the staging folder is removed.

mod commit;
mod staging;

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::fmt::{Display, Write as _};
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use fallwright_units::Frame;
use serde::Serialize;
use sha2::{Digest, Sha256};
use thiserror::Error;

use self::staging::{PARTIAL, Staging, is_empty, live, missing_folders, remove_stale};
use crate::library::free_bytes;
use crate::raster_values::{RasterMeta, RasterValues, TileValues};
use crate::scratch::ScratchFolder;
use crate::write_error::WriteError;
use crate::{Crs, FeatureSource, GeodataError, SharedLine, geojson_file, geopackage, geotiff, shared_places};

pub use self::staging::remove_partial_output;

/// Files that programs keep beside a file of ours and that describe it alone.
const COMPANIONS: [&str; 6] = [".aux.xml", ".ovr", ".msk", "-wal", "-shm", "-journal"];

/// Longest file name of common file systems, in bytes, less the longest companion's ending.
const LONGEST_NAME: usize = 255 - 8;

#[derive(Debug, Error)]
pub enum OutputError {
    #[error("the output folder {} exists and is not empty", folder.display())]
    NotEmpty { folder: PathBuf },
    #[error(
        "{} where this run writes a file: rename or move what lies there, or name another output folder",
        listed(folders)
    )]
    Folders { folders: Vec<PathBuf> },
    #[error("{} cannot be written: {reason}", path.display())]
    NotWritten { path: PathBuf, reason: String },
    #[error("working files in {} cannot be used: {reason}", folder.display())]
    Scratch { folder: PathBuf, reason: String },
    #[error("{} has {free} bytes free and the run needs {needed}: free some, or write to another disk", folder.display())]
    Space { folder: PathBuf, needed: u64, free: u64 },
    #[error("the output name {name:?} is not a plain file name")]
    Name { name: String },
    #[error("the output {name} is written twice")]
    Twice { name: String },
    #[error("{name}: {source}")]
    Encoding { name: String, source: GeodataError },
}

/// A folder that receives its files all at once.
#[derive(Debug)]
pub struct OutputFolder {
    folder: PathBuf,
    partial: PathBuf,
    /// In the order in which they were written.
    names: Vec<String>,
    digests: BTreeMap<String, String>,
    /// Files of an earlier run to be removed.
    outdated: Vec<String>,
}

impl OutputFolder {
    /// Makes the folder where it does not exist, and a staging folder in it.
    ///
    /// # Errors
    /// [`OutputError::NotEmpty`] where files are there and `overwrite` is false; [`OutputError::NotWritten`] where the
    /// folder cannot be made or written to.
    pub fn create(folder: &Path, overwrite: bool) -> Result<Self, OutputError> {
        if folder.exists() && !folder.is_dir() {
            let reason = "it is a file, and a folder is needed".to_owned();
            return Err(OutputError::NotWritten { path: folder.to_owned(), reason });
        }
        let mut live = live();
        let created = missing_folders(folder);
        fs::create_dir_all(folder).map_err(|error| not_written(folder, &error))?;
        let partial = folder.join(format!("{PARTIAL}{}", std::process::id()));
        let staging = Staging { partial: partial.clone(), created };
        let made = remove_stale(folder, &live)
            .and_then(|()| is_empty(folder))
            .map_err(|error| not_written(folder, &error))
            .and_then(|empty| {
                if empty || overwrite { Ok(()) } else { Err(OutputError::NotEmpty { folder: folder.to_owned() }) }
            })
            .and_then(|()| fs::create_dir(&partial).map_err(|error| not_written(folder, &error)));
        if let Err(error) = made {
            staging.remove_created();
            return Err(error);
        }
        live.push(staging);
        Ok(Self {
            folder: folder.to_owned(),
            partial,
            names: Vec::new(),
            digests: BTreeMap::new(),
            outdated: Vec::new(),
        })
    }

    /// # Errors
    /// A name that is not a plain file name or was used before; a file that cannot be written.
    pub fn write_bytes(&mut self, name: &str, bytes: &[u8]) -> Result<(), OutputError> {
        let path = self.start(name)?;
        fs::write(&path, bytes).map_err(|error| not_written(&self.folder.join(name), &error))?;
        self.finish(name)
    }

    /// Writes RFC 7946 `GeoJSON`: longitude and latitude on WGS 84 with 9 decimals, polygons by the right-hand rule,
    /// the member `name` set to the file's name without its ending. `crs` is what the features' coordinates are in.
    ///
    /// # Errors
    /// As [`Self::write_bytes`]; coordinates that have no longitude and latitude.
    pub fn write_geojson(&mut self, name: &str, features: &dyn FeatureSource, crs: &Crs) -> Result<(), OutputError> {
        let path = self.start(name)?;
        geojson_file::write(&path, layer_name(name), features, crs).map_err(|error| self.encoding(name, error))?;
        self.finish(name)
    }

    /// Writes lines as [`Self::write_geojson`] does, the same bytes, that share points.
    ///
    /// # Errors
    /// As [`Self::write_geojson`].
    pub fn write_lines<P: Serialize>(
        &mut self,
        name: &str,
        lines: impl Iterator<Item = SharedLine<P>>,
        crs: &Crs,
    ) -> Result<(), OutputError> {
        let path = self.start(name)?;
        shared_places::write_lines(&path, layer_name(name), lines, crs).map_err(|error| self.encoding(name, error))?;
        self.finish(name)
    }

    /// Writes points as [`Self::write_geojson`] does, the same bytes: features at some of the `places`, each by its position
    /// among these, with its properties.
    ///
    /// # Errors
    /// As [`Self::write_geojson`].
    pub fn write_points<P: Serialize>(
        &mut self,
        name: &str,
        places: &[(f64, f64)],
        features: impl Iterator<Item = (usize, P)>,
        crs: &Crs,
    ) -> Result<(), OutputError> {
        let path = self.start(name)?;
        shared_places::write_points(&path, layer_name(name), places, features, crs)
            .map_err(|error| self.encoding(name, error))?;
        self.finish(name)
    }

    /// Writes a `GeoTIFF`: blocks of 256 by 256 cells, DEFLATE with the predictor that suits the type, `BigTIFF` where
    /// the size asks for it, and overviews of single cells where a side has more than 512. Names of categories go to
    /// `NAME.aux.xml`.
    ///
    /// # Errors
    /// As [`Self::write_bytes`]; values that do not fit the frame.
    pub fn write_raster(
        &mut self,
        name: &str,
        frame: &Frame,
        crs: &Crs,
        values: RasterValues,
        meta: &RasterMeta,
    ) -> Result<(), OutputError> {
        let path = self.start(name)?;
        geotiff::write(&path, frame, crs, values, meta).map_err(|error| self.encoding(name, error))?;
        self.finish(name)
    }

    /// Writes a `GeoTIFF` as [`Self::write_raster`] does, the same bytes, from values in memory or in a working file.
    ///
    /// # Errors
    /// As [`Self::write_raster`]; values that cannot be read.
    pub fn write_tiles<E: Display + Send>(
        &mut self,
        name: &str,
        crs: &Crs,
        values: &TileValues<E>,
        meta: &RasterMeta,
    ) -> Result<(), OutputError> {
        let path = self.start(name)?;
        geotiff::write_tiles(&path, crs, values, meta).map_err(|error| self.encoding(name, error))?;
        self.finish(name)
    }

    /// Where working files go, in the staging folder.
    pub fn scratch(&self) -> ScratchFolder {
        ScratchFolder::new(self.partial.clone())
    }

    /// Checks that so many bytes are free where the folder lies.
    ///
    /// # Errors
    /// [`OutputError::Space`] where they are not. A system that does not say how much is free is taken to have enough.
    pub fn require_space(&self, needed: u64) -> Result<(), OutputError> {
        match free_bytes(&self.folder) {
            Some(free) if free < needed => Err(OutputError::Space { folder: self.folder.clone(), needed, free }),
            _ => Ok(()),
        }
    }

    /// Writes a `GeoPackage` of projected layers; `crs` is what the features' coordinates are in. Columns are typed by
    /// the properties' values; lists and objects are JSON text. Its date is fixed, so that bytes repeat.
    ///
    /// # Errors
    /// As [`Self::write_bytes`].
    pub fn write_geopackage(
        &mut self,
        name: &str,
        layers: &[(&str, &dyn FeatureSource)],
        crs: &Crs,
    ) -> Result<(), OutputError> {
        let path = self.start(name)?;
        geopackage::write(&path, layers, crs).map_err(|error| self.encoding(name, error))?;
        self.finish(name)
    }

    /// A file that this run does not write: where an earlier run left one, the commit removes it, since it would be taken
    /// for a result of this run.
    pub fn leave_out(&mut self, name: &str) {
        self.outdated.push(name.to_owned());
    }

    /// Name and SHA-256 (hexadecimal) of every file written so far, by name.
    pub fn digests(&self) -> Vec<(String, String)> {
        self.digests.iter().map(|(name, digest)| (name.clone(), digest.clone())).collect()
    }

    /// Checks a name and says where to write it meanwhile.
    fn start(&self, name: &str) -> Result<PathBuf, OutputError> {
        if Path::new(name).file_name() != Some(OsStr::new(name))
            || name.contains(['/', '\\', '\0'])
            || name.starts_with(PARTIAL)
            || name.len() > LONGEST_NAME
        {
            return Err(OutputError::Name { name: name.to_owned() });
        }
        if self.names.iter().any(|other| other == name) {
            return Err(OutputError::Twice { name: name.to_owned() });
        }
        Ok(self.partial.join(name))
    }

    /// Notes a written file and what GDAL put beside it.
    fn finish(&mut self, name: &str) -> Result<(), OutputError> {
        let beside = COMPANIONS.iter().map(|end| format!("{name}{end}"));
        let written = beside.filter(|file| self.partial.join(file).exists()).chain([name.to_owned()]);
        for file in written.collect::<Vec<_>>() {
            let digest =
                sha256(&self.partial.join(&file)).map_err(|error| not_written(&self.folder.join(&file), &error))?;
            self.digests.insert(file.clone(), digest);
            self.names.push(file);
        }
        Ok(())
    }

    fn encoding(&self, name: &str, error: WriteError) -> OutputError {
        match error {
            WriteError::Io(error) => not_written(&self.folder.join(name), &error),
            WriteError::Encoding(GeodataError::Gdal { reason, .. }) => {
                let staging = self.partial.to_string_lossy();
                let reason = reason.replace(&*staging, &self.folder.to_string_lossy());
                OutputError::NotWritten { path: self.folder.join(name), reason }
            }
            WriteError::Encoding(source) => OutputError::Encoding { name: name.to_owned(), source },
        }
    }
}

impl Drop for OutputFolder {
    fn drop(&mut self) {
        let mut live = live();
        if let Some(index) = live.iter().position(|staging| staging.partial == self.partial) {
            live.swap_remove(index).remove();
        }
    }
}

fn not_written(path: &Path, error: &io::Error) -> OutputError {
    OutputError::NotWritten { path: path.to_owned(), reason: error.to_string() }
}

fn listed(folders: &[PathBuf]) -> String {
    let names: Vec<String> = folders.iter().map(|folder| folder.display().to_string()).collect();
    match names.as_slice() {
        [one] => format!("{one} is a folder"),
        _ => format!("{} are folders", names.join(", ")),
    }
}

fn layer_name(name: &str) -> &str {
    name.rsplit_once('.').map_or(name, |(stem, _)| stem)
}

/// SHA-256 of a file, in hexadecimal.
///
/// # Errors
/// A file that cannot be read.
pub fn sha256(path: &Path) -> io::Result<String> {
    let mut hash = Sha256::new();
    io::copy(&mut File::open(path)?, &mut Hasher(&mut hash))?;
    let mut text = String::new();
    for byte in hash.finalize() {
        write!(text, "{byte:02x}").expect("writing to a string cannot fail");
    }
    Ok(text)
}

struct Hasher<'a>(&'a mut Sha256);

impl Write for Hasher<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.update(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
#[path = "output_tests.rs"]
mod tests;
