//! Giving a set of files its final names: the steps, in an order that shows an interrupted commit.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use super::staging::live;
use super::{COMPANIONS, OutputError, OutputFolder, not_written};

/// One change in the output folder.
#[derive(Debug)]
enum Step {
    /// No error where there is no such file.
    Remove(PathBuf),
    Rename {
        from: PathBuf,
        to: PathBuf,
    },
    /// Makes the steps before durable.
    Synchronise(PathBuf),
}

impl Step {
    fn take(&self) -> Result<(), OutputError> {
        match self {
            Self::Remove(path) => remove_if_there(path).map_err(|error| not_written(path, &error)),
            Self::Rename { from, to } => fs::rename(from, to).map_err(|error| not_written(to, &error)),
            Self::Synchronise(path) => {
                File::open(path).and_then(|file| file.sync_all()).map_err(|error| not_written(path, &error))
            }
        }
    }
}

impl OutputFolder {
    /// Makes every file durable, then gives each its final name in the order in which they were written.
    ///
    /// The file written last stands for the whole set: an earlier one of its name is removed before anything else changes,
    /// and the new one gets its name when all others have theirs. A folder without it holds no whole set.
    ///
    /// # Errors
    /// Folders that lie where files belong, all of them, before anything changes. A file that cannot be synchronised,
    /// removed or renamed; the files before it have their final names by then, and the one written last has none.
    pub fn commit(self) -> Result<(), OutputError> {
        for name in &self.names {
            let path = self.partial.join(name);
            let synchronised = File::open(&path).and_then(|file| file.sync_all());
            synchronised.map_err(|error| not_written(&self.folder.join(name), &error))?;
        }
        // The interrupt handler waits here: renaming is quick, and a set of files is better whole than cut in two.
        let mut live = live();
        let steps = self.steps();
        refuse_folders(&steps)?;
        steps.iter().try_for_each(Step::take)?;
        if let Some(staging) = live.iter_mut().find(|staging| staging.partial == self.partial) {
            staging.created.clear();
        }
        Ok(())
    }

    fn steps(&self) -> Vec<Step> {
        let path = |name: &String| self.folder.join(name);
        let rename = |name: &String| Step::Rename { from: self.partial.join(name), to: path(name) };
        let synchronise = || Step::Synchronise(self.folder.clone());
        let (last, others) = self.names.split_last().unzip();
        let others: &[String] = others.unwrap_or_default();
        let mut steps = Vec::new();
        if let Some(last) = last {
            steps.extend([Step::Remove(path(last)), synchronise()]);
        }
        let outdated = self.outdated.iter().flat_map(|name| [vec![path(name)], self.stale_companions(name)].concat());
        steps.extend(outdated.map(Step::Remove));
        steps.extend(self.names.iter().flat_map(|name| self.stale_companions(name)).map(Step::Remove));
        steps.extend(others.iter().map(rename));
        steps.push(synchronise());
        if let Some(last) = last {
            steps.extend([rename(last), synchronise()]);
        }
        steps
    }

    /// An older file's companions would be taken for the new one's.
    fn stale_companions(&self, name: &str) -> Vec<PathBuf> {
        let beside = COMPANIONS.iter().map(|end| format!("{name}{end}"));
        beside.filter(|file| !self.names.contains(file)).map(|file| self.folder.join(file)).collect()
    }
}

/// Nothing takes the name of a folder, and nobody's folder is removed.
fn refuse_folders(steps: &[Step]) -> Result<(), OutputError> {
    let target = |step: &Step| match step {
        Step::Remove(path) | Step::Rename { to: path, .. } => Some(path.clone()),
        Step::Synchronise(_) => None,
    };
    let is_folder = |path: &Path| path.symlink_metadata().is_ok_and(|data| data.is_dir());
    let mut folders: Vec<PathBuf> = steps.iter().filter_map(target).filter(|path| is_folder(path)).collect();
    folders.sort();
    folders.dedup();
    if folders.is_empty() { Ok(()) } else { Err(OutputError::Folders { folders }) }
}

fn remove_if_there(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILES: [&str; 4] = ["a.tif", "b.tif", "c.geojson", "run.json"];

    fn text(folder: &Path, name: &str) -> Option<String> {
        fs::read_to_string(folder.join(name)).ok()
    }

    fn older(folder: &Path) {
        for name in FILES.into_iter().chain(["left_out.tif", "a.tif.ovr"]) {
            fs::write(folder.join(name), "old").expect("a file");
        }
    }

    fn newer(folder: &Path) -> OutputFolder {
        let mut output = OutputFolder::create(folder, true).expect("an output folder");
        output.leave_out("left_out.tif");
        for name in FILES {
            output.write_bytes(name, b"new").expect("a file");
        }
        output
    }

    /// Wherever a commit is cut off, the file written last is there only beside a set that is wholly old or wholly new.
    #[test]
    fn the_last_file_is_never_beside_files_of_another_run() {
        let total = newer(tempfile::tempdir().unwrap().path()).steps().len();
        let mut seen = Vec::new();
        for taken in 0..=total {
            let folder = tempfile::tempdir().unwrap();
            older(folder.path());
            let output = newer(folder.path());
            output.steps()[..taken].iter().try_for_each(Step::take).unwrap();
            let ages: Vec<_> = FILES[..3].iter().map(|name| text(folder.path(), name)).collect();
            let last = text(folder.path(), "run.json");
            match last.as_deref() {
                Some(age) => assert!(ages.iter().all(|other| other.as_deref() == Some(age)), "{taken}: {ages:?}"),
                None => assert!(taken > 0 && taken < total, "{taken}"),
            }
            let rest = ["left_out.tif", "a.tif.ovr"].map(|name| text(folder.path(), name).is_some());
            assert!(last.as_deref() != Some("new") || rest == [false, false], "{taken}");
            seen.push(last);
        }
        assert_eq!(seen.iter().filter(|last| last.is_none()).count() + 3, seen.len(), "old, then none, then new twice");
    }

    /// Every folder in the way is named, before anything changes.
    #[test]
    fn folders_in_the_way_are_refused_before_anything_changes() {
        let folder = tempfile::tempdir().unwrap();
        older(folder.path());
        for name in ["b.tif", "left_out.tif"] {
            fs::remove_file(folder.path().join(name)).unwrap();
            fs::create_dir(folder.path().join(name)).unwrap();
        }
        let error = newer(folder.path()).commit().unwrap_err().to_string();
        assert!(error.contains("b.tif") && error.contains("left_out.tif"), "{error}");
        for name in ["a.tif", "c.geojson", "run.json", "a.tif.ovr"] {
            assert_eq!(text(folder.path(), name).as_deref(), Some("old"), "{name}");
        }
    }

    /// A link is replaced, and what it leads to stays.
    #[cfg(unix)]
    #[test]
    fn a_link_is_replaced_and_its_file_stays() {
        let (folder, elsewhere) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let target = elsewhere.path().join("precious.tif");
        fs::write(&target, "precious").unwrap();
        std::os::unix::fs::symlink(&target, folder.path().join("a.tif")).unwrap();
        newer(folder.path()).commit().unwrap();
        assert_eq!(fs::read_to_string(target).unwrap(), "precious");
        assert_eq!(text(folder.path(), "a.tif").as_deref(), Some("new"));
    }
}
