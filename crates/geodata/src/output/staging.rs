//! Staging folders: where files are written before they get their final names.

use std::ffi::OsStr;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// First part of a staging folder's name; the number of the process follows.
pub(super) const PARTIAL: &str = ".fallwright-partial-";

/// A staging folder and the folders that were made to hold it.
#[derive(Debug)]
pub(super) struct Staging {
    pub partial: PathBuf,
    /// From the innermost to the outermost.
    pub created: Vec<PathBuf>,
}

impl Staging {
    pub(super) fn remove(self) {
        // Another thread may still be writing here, in which case one pass can leave a file behind.
        const PASSES: usize = 3;
        for _ in 0..PASSES {
            if fs::remove_dir_all(&self.partial).is_ok() || !self.partial.exists() {
                break;
            }
        }
        self.remove_created();
    }

    /// Folders that are not empty stay.
    pub(super) fn remove_created(&self) {
        for folder in &self.created {
            if fs::remove_dir(folder).is_err() {
                break;
            }
        }
    }
}

static LIVE: Mutex<Vec<Staging>> = Mutex::new(Vec::new());

pub(super) fn live() -> MutexGuard<'static, Vec<Staging>> {
    LIVE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The folders of a path that do not exist, from the innermost to the outermost.
pub(super) fn missing_folders(folder: &Path) -> Vec<PathBuf> {
    folder
        .ancestors()
        .take_while(|folder| !folder.as_os_str().is_empty() && !folder.exists())
        .map(Path::to_owned)
        .collect()
}

fn is_partial(name: &OsStr) -> bool {
    name.to_str().is_some_and(|name| name.starts_with(PARTIAL))
}

pub(super) fn is_empty(folder: &Path) -> io::Result<bool> {
    for entry in fs::read_dir(folder)? {
        if !is_partial(&entry?.file_name()) {
            return Ok(false);
        }
    }
    Ok(true)
}

/// Removes staging folders that a killed process left behind.
pub(super) fn remove_stale(folder: &Path, live: &[Staging]) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name();
        let number = name.to_str().and_then(|name| name.strip_prefix(PARTIAL)).and_then(|end| end.parse::<u32>().ok());
        let Some(number) = number else { continue };
        let is_live = live.iter().any(|staging| staging.partial == entry.path());
        if !is_live && (number == std::process::id() || !is_running(number)) {
            fs::remove_dir_all(entry.path())?;
        }
    }
    Ok(())
}

/// Whether a process runs; yes where that cannot be found out.
fn is_running(process: u32) -> bool {
    let processes = Path::new("/proc");
    !processes.join("self").exists() || processes.join(process.to_string()).exists()
}

/// Removes every staging folder of this process; for the interrupt handler. Waits for a commit under way.
pub fn remove_partial_output() {
    for staging in live().drain(..) {
        staging.remove();
    }
}
