//! The layers of a case, read and checked.
//!
//! Every fault of every layer is collected before anything is refused. What can be put right without guessing is put
//! right and noted.

mod areas;
mod csv_rows;
mod defaults;
mod dimensions;
mod levels;
mod parcels;
mod pipe_loops;
mod rainfall;
mod roads;
mod schedules;
mod sections;
mod shapes;
mod soils;
mod structures;
mod tangles;
mod waterways;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;

use fallwright_geodata::{
    Crs, Elevation, ElevationDescription, ElevationRequest, Problem, describe_elevation, limit_cache, read_elevation,
};
use fallwright_hydraulics::Defaults;
use fallwright_law::Profile;
use fallwright_units::{Frame, MappedStructureIx, ParcelIx, Raster, RoadIx, VerticalUnit, WaterwayIx};
use geo::MultiPolygon;
use typed_index_collections::{TiSlice, TiVec};

pub use areas::{Field, TiledArea};
pub use levels::{Level, LevelKind, LevelPlace, StructureEnd};
pub use parcels::{Parcel, Sliver};
pub use rainfall::Rain;
pub use roads::Road;
pub use schedules::Schedule;
pub use sections::{CrossSection, SectionKind};
pub use soils::SoilArea;
pub use structures::MappedStructure;
pub use waterways::MappedWaterway;

use crate::Progress;
use crate::budget::{Budget, MOST_CELLS, memory_needed};
use crate::file::{self, CaseFile};

/// Something that was put right, or that the reader should know.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Note {
    /// Which layer and feature.
    pub about: String,
    pub found: String,
    /// What was done about it.
    pub done: String,
}

impl Note {
    pub fn new(about: impl Into<String>, found: impl Into<String>, done: impl Into<String>) -> Self {
        Self { about: about.into(), found: found.into(), done: done.into() }
    }
}

/// Everything that a case names, in the coordinate reference system of its elevation.
pub struct Inputs {
    pub case: CaseFile,
    pub profile: Profile,
    /// Defaults of the capacity check.
    pub defaults: Defaults,
    pub crs: Crs,
    /// Of the elevation as it was given.
    pub vertical_unit: VerticalUnit,
    pub ground: Arc<Raster<f32>>,
    /// In the order of their ids.
    pub parcels: TiVec<ParcelIx, Parcel>,
    pub slivers: Vec<Sliver>,
    pub fields: Vec<Field>,
    pub waterways: TiVec<WaterwayIx, MappedWaterway>,
    pub structures: TiVec<MappedStructureIx, MappedStructure>,
    pub tiled: Vec<TiledArea>,
    pub schedules: Vec<Schedule>,
    /// In the order of their ids; of roads that overlap, the first has the ground.
    pub roads: TiVec<RoadIx, Road>,
    pub kept_depressions: Vec<MultiPolygon<f64>>,
    pub levels: Vec<Level>,
    pub sections: Vec<CrossSection>,
    pub rainfall: Vec<Rain>,
    pub soils: Vec<SoilArea>,
    pub notes: Vec<Note>,
}

/// What reading a layer needs to know, and where it leaves its faults and notes.
pub(crate) struct Reading<'a> {
    pub crs: &'a Crs,
    pub frame: &'a Frame,
    pub profile: &'a Profile,
    pub defaults: &'a Defaults,
    pub problems: Vec<Problem>,
    pub notes: Vec<Note>,
}

impl Inputs {
    /// Reads a case file and all layers that it names.
    ///
    /// # Errors
    /// Every fault of the file, or of every layer.
    pub fn open(case_file: &Path, budget: &Budget, progress: Progress) -> Result<Self, Vec<Problem>> {
        progress("reading the case file");
        Self::read(CaseFile::read(case_file)?, budget, progress)
    }

    /// Reads all layers of a case.
    ///
    /// # Errors
    /// Every fault of every layer; a case that takes more memory than the budget allows.
    pub fn read(case: CaseFile, budget: &Budget, progress: Progress) -> Result<Self, Vec<Problem>> {
        progress("reading the elevation");
        let profile = read_profile(&case);
        limit_cache(budget.cache_bytes());
        let request = request(&case);
        let (description, profile) = match (describe_elevation(&request), profile) {
            (Ok(description), Ok(profile)) => (description, profile),
            (Err(mut problems), Ok(profile)) => {
                if let Some(description) = describe_in_any_unit(&request) {
                    problems.extend(read_layers(&case, &description, &profile).problems);
                }
                return Err(sorted(problems));
            }
            (description, Err(problems)) => return Err([description.err().unwrap_or_default(), problems].concat()),
        };
        enough_memory(&case, &description, 0, *budget)?;
        let elevation = read_elevation(&request);
        progress("reading the layers");
        let layers = read_layers(&case, &description, &profile);
        let inputs = assemble(case, profile, elevation, layers)?;
        enough_memory(&inputs.case, &description, inputs.parcels.len(), *budget)?;
        Ok(inputs)
    }

    /// # Errors
    /// A case without parcels.
    pub fn require_parcels(&self) -> Result<(), Vec<Problem>> {
        if self.case.parcels.is_some() {
            return Ok(());
        }
        let (found, expected, hint) = ("no such table", "a [parcels] table", "name the parcel layer there");
        Err(vec![Problem::in_file(&self.case.file, found, expected, hint).at_key("parcels")])
    }
}

/// Where the elevation lies: that is known, and the layers can be checked, even where the unit of its heights is not.
fn describe_in_any_unit(request: &ElevationRequest) -> Option<ElevationDescription> {
    let units = [None, Some(VerticalUnit::Metre)];
    units
        .into_iter()
        .find_map(|vertical_unit| describe_elevation(&ElevationRequest { vertical_unit, ..request.clone() }).ok())
}

fn request(case: &CaseFile) -> ElevationRequest<'_> {
    ElevationRequest {
        files: &case.terrain.elevation,
        vertical_unit: case.terrain.vertical_unit,
        crs: case.crs.as_deref(),
        warp: case.terrain.warp.as_ref(),
        max_bytes: u64::MAX,
    }
}

/// # Errors
/// A case whose run with so many parcels needs more memory than is allowed, or with too many cells, before anything of its size
/// is allocated.
fn enough_memory(
    case: &CaseFile,
    description: &ElevationDescription,
    parcels: usize,
    budget: Budget,
) -> Result<(), Vec<Problem>> {
    let needed = memory_needed(description.frame.len(), parcels).max(description.bytes);
    let problem = too_large(case.terrain.elevation_given.join(", "), &description.frame, needed, budget.memory_bytes);
    problem.map_or(Ok(()), |problem| Err(vec![problem]))
}

/// The problem with an elevation that has too many cells, or needs more bytes of memory than are allowed.
fn too_large(file: String, frame: &Frame, needed: u64, allowed: u64) -> Option<Problem> {
    let (found, expected, hint) = if frame.len() > MOST_CELLS {
        (String::new(), format!("at most {MOST_CELLS} cells"), "cut the elevation to the area of interest")
    } else if needed > allowed {
        let found = format!(", and {} MiB of memory allowed", allowed.div_ceil(1 << 20));
        let hint = "allow more memory with `--max-memory`, or cut the elevation to the area of interest; `fallwright \
                    terrain` takes rasters larger than memory";
        (found, format!("at least {} MiB", needed.div_ceil(1 << 20)), hint)
    } else {
        return None;
    };
    Some(Problem::in_file(file, format!("{} x {} cells{found}", frame.cols(), frame.rows()), expected, hint))
}

fn read_profile(case: &CaseFile) -> Result<Profile, Vec<Problem>> {
    match &case.rules.profile {
        file::Profile::Shipped(name) => Profile::shipped(name).ok_or_else(|| {
            let hint = format!("shipped profiles: {}; or give the path of a TOML file", Profile::SHIPPED.join(", "));
            let expected = "a shipped profile or a path to a TOML file";
            vec![Problem::in_file(&case.file, format!("the profile {name:?}"), expected, hint).at_key("rules.profile")]
        }),
        file::Profile::File(source) => {
            let problem = |found: String, expected: &str, hint: &str| {
                vec![Problem::in_file(&source.given, found, expected, hint)]
            };
            let text = std::fs::read_to_string(&source.path)
                .map_err(|error| problem(error.to_string(), "a rule profile in TOML", "check the path"))?;
            let hint = "complete the profile; the shipped ones show every key";
            Profile::from_toml(&text).map_err(|error| problem(error.to_string(), "a complete rule profile", hint))
        }
    }
}

struct Layers {
    parcels: TiVec<ParcelIx, Parcel>,
    slivers: Vec<Sliver>,
    fields: Vec<Field>,
    waterways: TiVec<WaterwayIx, MappedWaterway>,
    structures: TiVec<MappedStructureIx, MappedStructure>,
    tiled: Vec<TiledArea>,
    schedules: Vec<Schedule>,
    roads: TiVec<RoadIx, Road>,
    kept_depressions: Vec<MultiPolygon<f64>>,
    defaults: Defaults,
    levels: Vec<Level>,
    sections: Vec<CrossSection>,
    rainfall: Vec<Rain>,
    soils: Vec<SoilArea>,
    problems: Vec<Problem>,
    notes: Vec<Note>,
}

fn read_layers(case: &CaseFile, elevation: &ElevationDescription, profile: &Profile) -> Layers {
    let (defaults, fault) = match defaults::read(case) {
        Ok(defaults) => (defaults, None),
        Err(fault) => (Defaults::shipped(), Some(*fault)),
    };
    let mut reading = Reading {
        crs: &elevation.crs,
        frame: &elevation.frame,
        profile,
        defaults: &defaults,
        problems: fault.into_iter().chain(defaults::check_choices(case, &defaults)).collect(),
        notes: unused_sections(case),
    };
    let (parcels, slivers) = case.parcels.as_ref().map(|table| parcels::read(&mut reading, table)).unwrap_or_default();
    let ids: BTreeSet<&str> = parcels.iter().map(|parcel| parcel.id.as_str()).collect();
    let waterways = waterways::read(&mut reading, &case.waterways, &ids);
    let structures = structures::read(&mut reading, case);
    let fields = case.fields.as_ref().map(|table| areas::fields(&mut reading, table, &ids)).unwrap_or_default();
    let tiled =
        case.tiled_areas.as_ref().map(|table| areas::tiled(&mut reading, table, &structures)).unwrap_or_default();
    let drains: BTreeSet<&str> = waterways
        .iter()
        .map(|waterway| waterway.id.as_str())
        .chain(structures.iter().map(|structure| structure.id.as_str()))
        .collect();
    let roads = case.roads.as_ref().map(|table| roads::read(&mut reading, table)).unwrap_or_default();
    let schedules = schedules::read(&mut reading, &case.schedules, &drains, &assessable(&ids, &roads));
    let kept = case.terrain.keep_depressions.as_ref();
    let kept_depressions = kept.map(|source| areas::kept_depressions(&mut reading, source)).unwrap_or_default();
    let levels = levels::read(&mut reading, &case.levels, &waterways, &structures);
    let soils = case.soils.as_ref().map(|table| soils::read(&mut reading, table)).unwrap_or_default();
    let Reading { mut problems, notes, .. } = reading;
    problems.extend(pipe_loops::loops(&structures.raw));
    let sections = sections::read(&case.sections, &waterways, &levels, &mut problems);
    let rainfall = case.rainfall.as_ref().map(|table| rainfall::read(table, &mut problems)).unwrap_or_default();
    Layers {
        parcels,
        slivers,
        fields,
        waterways,
        structures,
        tiled,
        schedules,
        roads,
        kept_depressions,
        defaults,
        levels,
        sections,
        rainfall,
        soils,
        problems,
        notes,
    }
}

/// Ids that a schedule's rows may have: those of parcels and roads. None where no parcel is known.
fn assessable<'a>(parcels: &BTreeSet<&'a str>, roads: &'a TiSlice<RoadIx, Road>) -> BTreeSet<&'a str> {
    if parcels.is_empty() {
        return BTreeSet::new();
    }
    parcels.iter().copied().chain(roads.iter().map(|road| road.id.as_str())).collect()
}

fn assemble(
    case: CaseFile,
    profile: Profile,
    elevation: Result<Elevation, Vec<Problem>>,
    layers: Layers,
) -> Result<Inputs, Vec<Problem>> {
    let mut problems = layers.problems;
    let elevation = match elevation {
        Ok(elevation) => elevation,
        Err(faults) => {
            problems.extend(faults);
            return Err(sorted(problems));
        }
    };
    problems.extend(no_land(&elevation.ground.values, &case.terrain.elevation_given.join(", ")));
    problems.extend(levels::far_from_ground(&layers.levels, &elevation.ground));
    if !problems.is_empty() {
        return Err(sorted(problems));
    }
    Ok(Inputs {
        profile,
        crs: elevation.crs,
        vertical_unit: elevation.vertical_unit,
        ground: Arc::new(elevation.ground),
        parcels: layers.parcels,
        slivers: layers.slivers,
        fields: layers.fields,
        waterways: layers.waterways,
        structures: layers.structures,
        tiled: layers.tiled,
        schedules: layers.schedules,
        roads: layers.roads,
        kept_depressions: layers.kept_depressions,
        defaults: layers.defaults,
        levels: layers.levels,
        sections: layers.sections,
        rainfall: layers.rainfall,
        soils: layers.soils,
        notes: layers.notes,
        case,
    })
}

/// Heights that land may have, metres: the lowest shore lies at about -430 m, the highest summit at about 8850 m (from
/// memory).
const LAND_M: std::ops::RangeInclusive<f32> = -500.0..=9000.0;

/// A problem where a height is none that land has: it stands for missing data that the file does not declare, or is in
/// another unit.
pub fn no_land(heights: &[f32], file: &str) -> Option<Problem> {
    let height = heights.iter().find(|&&height| !LAND_M.contains(&height) && !height.is_nan())?;
    let hint = "set the file's nodata value if this stands for missing data, or correct the vertical unit";
    Some(Problem::in_file(file, format!("a height of {height} m"), "heights of land, -500 m to 9000 m", hint))
}

/// The position of each structure by its id, of several with one id the first.
fn structures_by_id(structures: &TiSlice<MappedStructureIx, MappedStructure>) -> BTreeMap<&str, MappedStructureIx> {
    let mut positions = BTreeMap::new();
    for (position, structure) in structures.iter_enumerated() {
        positions.entry(structure.id.as_str()).or_insert(position);
    }
    positions
}

fn sorted(mut problems: Vec<Problem>) -> Vec<Problem> {
    problems.sort();
    problems.dedup();
    problems
}

/// Tables of the case that this version reads and does not use yet.
fn unused_sections(case: &CaseFile) -> Vec<Note> {
    let given = !case.constraints.is_empty();
    let note = || Note::new("[constraints]", "the table is given", "not used by this version");
    given.then(note).into_iter().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By definition: 32 bits count to 2^32 - 1 = 65,535 x 65,537 cells.
    #[test]
    fn a_case_with_more_cells_than_are_counted_is_refused_whatever_the_memory() {
        let check = |cols: usize, rows: usize, expected: Option<&str>| {
            let frame = Frame::new(cols, rows, (0.0, 0.0), (1.0, 1.0)).unwrap();
            let found = too_large("dem.tif".to_owned(), &frame, memory_needed(frame.len(), 0), u64::MAX);
            assert_eq!(found.map(|problem| problem.expected).as_deref(), expected, "{cols} x {rows}");
        };
        check(65_535, 65_537, None);
        check(65_536, 65_536, Some("at most 4294967295 cells"));
        check(400_000, 400_000, Some("at most 4294967295 cells"));
    }

    #[test]
    fn a_height_that_no_land_has_is_refused() {
        let check = |height: f32, is_land: bool| {
            let found = no_land(&[f32::NAN, height], "dem.tif");
            assert_eq!(found.is_none(), is_land, "{height}");
        };
        check(250.0, true);
        check(-430.0, true);
        check(-9999.0, false);
        check(-3.4e38, false);
        check(32_767.0, false);
    }
}
