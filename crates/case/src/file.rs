//! The case file: which layers there are, what their fields are called, and the options of a run.
//!
//! A case is a TOML file; its paths are relative to its own folder. [`CaseFile::read`] reports every fault it can find in one
//! go: unknown keys, wrong types, missing keys, numbers out of range and files that are not there. What the files hold is
//! for others to judge.

mod capacity;
mod class_map;
mod keys;
mod layers;
mod range;
mod source;
mod table;
mod terrain;
#[cfg(test)]
mod tests;

use std::collections::BTreeSet;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use fallwright_geodata::Problem;
use sha2::{Digest, Sha256};

pub use self::capacity::Capacity;
pub(crate) use self::class_map::ClassMap;
pub(crate) use self::layers::{
    AreaUnit, BOUNDARY_ACCURACY_M, Constraints, Culverts, Fields, Levels, Parcels, Pipes, Profile, Rainfall, Roads,
    Rules, Schedule, Sections, Soils, TiledAreas, WaterwayClass, Waterways,
};
pub use self::source::Source;
pub use self::terrain::{DEEPEST_CUT_M, KeptDepressions, KeptSize, LONGEST_CUT_M, Terrain};

pub(crate) use self::keys::{Absent, Holds, Key};
use self::table::{Notes, Table};

/// A case file names its data and does not hold it, so a larger one is something else (our choice, no source).
const LARGEST_CASE_BYTES: u64 = 1 << 20;
/// A file with more is hardly meant as TOML (our choice, no source).
const MOST_SYNTAX_ERRORS: usize = 20;

/// One case, every path of it resolved and found to exist.
#[derive(Clone, Debug, PartialEq)]
pub struct CaseFile {
    /// The case file's path as given by the caller.
    pub file: String,
    /// SHA-256 of the case file's bytes, in hexadecimal.
    pub sha256: String,
    pub name: Option<String>,
    /// The reference system to work in; the elevation model's own where absent.
    pub crs: Option<String>,
    pub terrain: Terrain,
    pub parcels: Option<Parcels>,
    pub fields: Option<Fields>,
    pub waterways: Vec<Waterways>,
    pub pipes: Vec<Pipes>,
    pub culverts: Vec<Culverts>,
    pub tiled_areas: Option<TiledAreas>,
    pub schedules: Vec<Schedule>,
    pub roads: Option<Roads>,
    pub sections: Vec<Sections>,
    pub levels: Vec<Levels>,
    pub constraints: Vec<Constraints>,
    pub rainfall: Option<Rainfall>,
    pub soils: Option<Soils>,
    pub capacity: Capacity,
    pub rules: Rules,
}

/// A case file as far as it can be read. Tables in which a value is wrong or missing are left out, so that the layers of all
/// others can be checked all the same.
pub(crate) struct Draft {
    pub(crate) case: CaseFile,
    pub(crate) problems: Vec<Problem>,
    /// Dotted keys that may not hold what was meant, entries of a list by their list: those with a fault, tables left out, and
    /// those that an unknown key is near to.
    doubtful: BTreeSet<String>,
}

impl Draft {
    /// # Errors
    /// A file that cannot be read or is not TOML.
    pub(crate) fn read(path: &Path) -> Result<Self, Vec<Problem>> {
        let bytes = read_bytes(path).map_err(|fault| vec![fault.problem(&path.display().to_string())])?;
        Self::parse(&bytes, path)
    }

    fn parse(bytes: &[u8], path: &Path) -> Result<Self, Vec<Problem>> {
        let file = path.display().to_string();
        let text = std::str::from_utf8(bytes).map_err(|error| vec![not_text(&file, error.valid_up_to())])?;
        let toml = parse(&file, text)?;
        let sha256 = hexadecimal(&Sha256::digest(bytes));
        let folder = path.parent().unwrap_or(Path::new("")).to_path_buf();
        let mut notes = Notes::new(file.clone(), folder);
        let case = Table::read(&mut notes, toml, |table| case(table, file, sha256));
        let doubtful = notes.doubtful.iter().map(|key| without_positions(key)).collect();
        Ok(Self { case, problems: notes.problems, doubtful })
    }

    /// # Errors
    /// Every fault.
    fn whole(self) -> Result<CaseFile, Vec<Problem>> {
        if self.problems.is_empty() { Ok(self.case) } else { Err(self.problems) }
    }

    /// What was read, or its faults added to the others.
    pub(crate) fn noted<T>(&mut self, read: Result<T, Vec<Problem>>) -> Option<T> {
        read.map_err(|faults| self.problems.extend(faults)).ok()
    }

    /// Whether one of these keys may not hold what was meant.
    pub(crate) fn doubts(&self, keys: &[&str]) -> bool {
        keys.iter().any(|&key| self.doubtful.contains(key))
    }
}

impl From<CaseFile> for Draft {
    fn from(case: CaseFile) -> Self {
        Self { case, problems: Vec::new(), doubtful: BTreeSet::new() }
    }
}

/// `waterways.id` of `waterways[2].id`.
fn without_positions(key: &str) -> String {
    let parts = key.split('.').map(|part| part.split_once('[').map_or(part, |(name, _)| name));
    parts.collect::<Vec<_>>().join(".")
}

impl CaseFile {
    /// Reads a case file and finds the files it names, without opening them.
    ///
    /// # Errors
    /// Every fault found, each at its dotted key ([`At::Key`](crate::At::Key)). A file that is not TOML yields its first syntax errors only.
    pub fn read(path: &Path) -> Result<Self, Vec<Problem>> {
        Draft::read(path)?.whole()
    }

    /// The same of the bytes of a case file that need not exist; paths in it are relative to the folder of `path`.
    ///
    /// # Errors
    /// As [`Self::read`].
    pub fn parse(bytes: &[u8], path: &Path) -> Result<Self, Vec<Problem>> {
        Draft::parse(bytes, path)?.whole()
    }

    /// Every file that the case reads, itself included.
    pub fn files(&self) -> Vec<&Path> {
        let sources = self.sources().into_iter().map(|source| source.path.as_path());
        let elevation = self.terrain.elevation.iter().map(PathBuf::as_path);
        std::iter::once(Path::new(&self.file)).chain(sources).chain(elevation).collect()
    }

    /// Every file that the case names, but for the elevation.
    pub fn sources(&self) -> Vec<&Source> {
        let mut sources: Vec<&Source> = Vec::new();
        sources.extend(self.terrain.keep_depressions.iter().map(|kept| &kept.source));
        sources.extend(self.parcels.iter().map(|table| &table.source));
        sources.extend(self.fields.iter().map(|table| &table.source));
        sources.extend(self.waterways.iter().map(|table| &table.source));
        sources.extend(self.pipes.iter().map(|table| &table.source));
        sources.extend(self.culverts.iter().map(|table| &table.source));
        sources.extend(self.tiled_areas.iter().map(|table| &table.source));
        sources.extend(self.schedules.iter().map(|table| &table.source));
        sources.extend(self.levels.iter().map(|table| &table.source));
        sources.extend(self.sections.iter().map(|table| &table.source));
        sources.extend(self.constraints.iter().map(|table| &table.source));
        sources.extend(self.rainfall.iter().map(|table| &table.source));
        sources.extend(self.soils.iter().map(|table| &table.source));
        sources.extend(self.capacity.defaults.iter());
        sources.extend(self.roads.iter().map(|table| &table.source));
        if let Profile::File(source) = &self.rules.profile {
            sources.push(source);
        }
        sources
    }
}

fn case(table: &mut Table, file: String, sha256: String) -> CaseFile {
    CaseFile {
        file,
        sha256,
        name: table.text("name"),
        crs: table.text("crs"),
        terrain: table.table_or_empty("terrain", terrain::read),
        parcels: table.table("parcels", Parcels::read),
        fields: table.table("fields", Fields::read),
        waterways: table.tables("waterways", Waterways::read),
        pipes: table.tables("pipes", Pipes::read),
        culverts: table.tables("culverts", Culverts::read),
        tiled_areas: table.table("tiled_areas", TiledAreas::read),
        schedules: table.tables("schedules", Schedule::read),
        roads: table.table("roads", Roads::read),
        sections: table.tables("sections", Sections::read),
        levels: table.tables("levels", Levels::read),
        constraints: table.tables("constraints", Constraints::read),
        rainfall: table.table("rainfall", Rainfall::read),
        soils: table.table("soils", Soils::read),
        capacity: table.table_or_empty("capacity", Capacity::read),
        rules: table.table_or_empty("rules", Rules::read),
    }
}

/// Every key that the readers ask for while they read a case, each once, after the dotted key of its table; whether the files
/// exist does not matter.
pub(crate) fn every_key(case_file: &str) -> Vec<(String, Key)> {
    let mut notes = Notes::new(String::new(), PathBuf::new());
    let toml = case_file.parse().unwrap_or_default();
    Table::read(&mut notes, toml, |table| case(table, String::new(), String::new()));
    let mut keys: Vec<(String, Key)> = Vec::new();
    for (table, key) in notes.keys {
        let table = without_positions(&table);
        if !keys.iter().any(|(of, known)| *of == table && known.name == key.name) {
            keys.push((table, key));
        }
    }
    keys
}

/// Why there are no bytes to parse.
struct Unreadable {
    found: String,
    hint: &'static str,
}

impl Unreadable {
    fn problem(self, file: &str) -> Problem {
        Problem::in_file(file, self.found, "a case file in TOML", self.hint)
    }
}

fn read_bytes(path: &Path) -> Result<Vec<u8>, Unreadable> {
    if path.is_dir() {
        return Err(Unreadable { found: "a folder".to_owned(), hint: "name the case file inside it" });
    }
    if path.exists() && !path.is_file() {
        let found = "a pipe, a device or a socket, which may never end".to_owned();
        return Err(Unreadable { found, hint: "save the case file to disk and name that file" });
    }
    let mut bytes = Vec::new();
    File::open(path).and_then(|file| file.take(LARGEST_CASE_BYTES + 1).read_to_end(&mut bytes)).map_err(|error| {
        let hint = "check the path and whether you may read the file";
        Unreadable { found: error.to_string(), hint }
    })?;
    if bytes.len() as u64 > LARGEST_CASE_BYTES {
        let found = format!("more than {LARGEST_CASE_BYTES} bytes");
        return Err(Unreadable { found, hint: "name the case file, not one of its data files" });
    }
    Ok(bytes)
}

fn hexadecimal(bytes: &[u8]) -> String {
    let digit = |value: u8| char::from_digit(u32::from(value), 16).expect("half a byte is below 16");
    bytes.iter().flat_map(|byte| [digit(byte >> 4), digit(byte & 15)]).collect()
}

fn not_text(file: &str, offset: usize) -> Problem {
    let found = format!("a byte that is not UTF-8 text at offset {offset}");
    Unreadable { found, hint: "save the case file as UTF-8, and name the case file, not one of its data files" }
        .problem(file)
}

fn parse(file: &str, text: &str) -> Result<toml::Table, Vec<Problem>> {
    let (_, errors) = toml::de::DeTable::parse_recoverable(text);
    let mut problems: Vec<Problem> =
        errors.iter().take(MOST_SYNTAX_ERRORS).map(|error| syntax(file, text, error)).collect();
    if problems.is_empty() {
        return text.parse().map_err(|error| vec![syntax(file, text, &error)]);
    }
    problems.dedup();
    Err(problems)
}

fn syntax(file: &str, text: &str, error: &toml::de::Error) -> Problem {
    let offset = error.span().map_or(0, |span| span.start.min(text.len()));
    let line = text.get(..offset).unwrap_or(text).matches('\n').count() + 1;
    let found = error.message().lines().collect::<Vec<_>>().join("; ");
    let hint = "texts stand in quotes, lists in [ ], each key on a line of its own";
    Problem::in_file(file, found, "TOML", hint).at_line(line)
}
