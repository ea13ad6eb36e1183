//! Files that a case names.

use std::path::{Path, PathBuf};

/// A file of the case.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Source {
    /// As the case says it.
    pub given: String,
    /// Resolved against the case file's folder.
    pub path: PathBuf,
    /// Whether polygons of it are mended whose rings cross themselves.
    pub repair: bool,
}

/// Why an entry names no file.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum NoFile {
    Missing {
        looked_at: PathBuf,
    },
    /// A pipe, a device or a socket: reading it may never end.
    Special {
        looked_at: PathBuf,
    },
    NoMatch,
    Pattern {
        reason: String,
    },
    Unreadable {
        reason: String,
    },
}

/// One file, which must exist.
pub(super) fn find(folder: &Path, given: &str) -> Result<PathBuf, NoFile> {
    let path = folder.join(given);
    if path.is_file() || path.is_dir() {
        return Ok(path);
    }
    Err(if path.exists() { NoFile::Special { looked_at: path } } else { NoFile::Missing { looked_at: path } })
}

/// One file, or the files that a glob pattern matches, sorted by path.
pub(super) fn expand(folder: &Path, given: &str) -> Result<Vec<PathBuf>, NoFile> {
    let plain = find(folder, given);
    if plain.is_ok() || !given.contains(['*', '?', '[']) {
        return plain.map(|path| vec![path]);
    }
    let mut files = Vec::new();
    for entry in glob::glob(&pattern(folder, given)).map_err(|error| NoFile::Pattern { reason: error.to_string() })? {
        let path = entry.map_err(|error| NoFile::Unreadable { reason: error.to_string() })?;
        if path.is_file() {
            files.push(path);
        }
    }
    files.sort();
    if files.is_empty() { Err(NoFile::NoMatch) } else { Ok(files) }
}

/// The folder's own name is no pattern, whatever characters it holds.
fn pattern(folder: &Path, given: &str) -> String {
    if Path::new(given).is_absolute() || folder.as_os_str().is_empty() {
        return given.to_owned();
    }
    format!("{}/{given}", glob::Pattern::escape(&folder.to_string_lossy()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Expands a pattern in a folder with awkward names; expected file names are relative to it.
    fn check(given: &str, expected: Option<&[&str]>) {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("block [1]");
        std::fs::create_dir_all(folder.join("dem/old.tif")).unwrap();
        for name in ["dem/b.tif", "dem/a.tif", "dem/a.tfw", "odd[2].tif"] {
            std::fs::write(folder.join(name), "").unwrap();
        }
        let names: Option<Vec<_>> = expand(&folder, given)
            .ok()
            .map(|files| files.iter().map(|file| file.strip_prefix(&folder).unwrap().display().to_string()).collect());
        assert_eq!(names, expected.map(|names| names.iter().map(ToString::to_string).collect()));
    }

    #[test]
    fn a_pattern_yields_its_files_in_order() {
        check("dem/a.tif", Some(&["dem/a.tif"]));
        check("dem/*.tif", Some(&["dem/a.tif", "dem/b.tif"]));
        check("dem/?.t*", Some(&["dem/a.tfw", "dem/a.tif", "dem/b.tif"]));
        check("*/[b-z].tif", Some(&["dem/b.tif"]));
    }

    #[test]
    fn a_file_whose_name_looks_like_a_pattern_is_that_file() {
        check("odd[2].tif", Some(&["odd[2].tif"]));
    }

    #[test]
    fn a_device_is_no_file() {
        let device = PathBuf::from("/dev/zero");
        assert_eq!(find(Path::new(""), "/dev/zero"), Err(NoFile::Special { looked_at: device }));
    }

    #[test]
    fn what_names_no_file_is_refused() {
        check("dem/c.tif", None);
        check("dem/*.asc", None);
        check("dem/***.tif", None);
        check("dem/ol*.tif", None);
    }
}
