//! The layers of a case, read and checked.
//!
//! Every fault of every layer is collected before anything is refused. What can be put right without guessing is put
//! right and noted.

mod areas;
mod classes;
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
mod water_surfaces;
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
pub(crate) use levels::COLUMNS as LEVEL_COLUMNS;
pub use levels::{Level, LevelKind, LevelPlace, StructureEnd};
pub use parcels::{Parcel, Sliver};
pub(crate) use rainfall::COLUMNS as RAIN_COLUMNS;
pub use rainfall::Rain;
pub use roads::Road;
pub use schedules::{AssessedFor, AssessedLand, Schedule, ScheduleRow};
pub(crate) use sections::COLUMNS as SECTION_COLUMNS;
pub use sections::{CrossSection, SectionKind};
pub use soils::SoilArea;
pub use structures::MappedStructure;
pub use waterways::MappedWaterway;

use crate::Progress;
use crate::budget::{Budget, MOST_CELLS, memory_needed};
use crate::file::{self, CaseFile, Draft};

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
    /// Metres; in lakes the water's surface, and in polygons of rivers heights where the elevation has none.
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
    /// The case file, for faults of what it says of a layer.
    pub case_file: &'a str,
    /// `None` where there is a fault in it; then classes are not checked.
    pub profile: Option<&'a Profile>,
    /// `None` where there is a fault in them; then materials are not checked.
    pub defaults: Option<&'a Defaults>,
    /// Whether the case has no waterways, pipes and culverts but those that were read; otherwise an id of a drain that is not
    /// known may be right.
    pub drains_are_known: bool,
    pub problems: Vec<Problem>,
    pub notes: Vec<Note>,
}

impl Inputs {
    /// Reads a case file and all layers that it names.
    ///
    /// # Errors
    /// Every fault of the file and of every layer that it names; of the file alone where it does not say where the ground lies.
    pub fn open(case_file: &Path, budget: &Budget, progress: Progress) -> Result<Self, Vec<Problem>> {
        progress("reading the case file");
        Self::read_draft(Draft::read(case_file)?, budget, progress)
    }

    /// Reads all layers of a case.
    ///
    /// # Errors
    /// Every fault of every layer; a case that takes more memory than the budget allows.
    pub fn read(case: CaseFile, budget: &Budget, progress: Progress) -> Result<Self, Vec<Problem>> {
        Self::read_draft(case.into(), budget, progress)
    }

    fn read_draft(mut draft: Draft, budget: &Budget, progress: Progress) -> Result<Self, Vec<Problem>> {
        if draft.doubts(&["crs", "terrain", "terrain.elevation", "terrain.warp"]) {
            return Err(draft.problems);
        }
        let profile = read_profile(&mut draft);
        let defaults = read_defaults(&mut draft);
        progress("reading the elevation");
        limit_cache(budget.cache_bytes());
        let Some(Ground { description, elevation }) = read_ground(&mut draft, *budget) else {
            return Err(sorted(draft.problems));
        };
        progress("reading the layers");
        let reading = Reading {
            crs: &description.crs,
            frame: &description.frame,
            case_file: &draft.case.file,
            profile: profile.as_ref(),
            defaults: defaults.as_ref(),
            drains_are_known: !draft.doubts(&[
                "waterways",
                "waterways.id",
                "pipes",
                "pipes.id",
                "culverts",
                "culverts.id",
            ]),
            problems: std::mem::take(&mut draft.problems),
            notes: unused_sections(&draft.case),
        };
        let layers = read_layers(reading, &draft.case);
        let inputs = assemble(draft.case, (profile, defaults, elevation), layers)?;
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

/// Where the elevation lies, and its heights unless there is a fault in them.
struct Ground {
    description: ElevationDescription,
    elevation: Option<Elevation>,
}

/// Reads the elevation; `None` where it is not known where it lies.
fn read_ground(draft: &mut Draft, budget: Budget) -> Option<Ground> {
    let request = request(&draft.case);
    match describe_elevation(&request) {
        Ok(description) => {
            let enough = enough_memory(&draft.case, &description, 0, budget);
            let elevation = enough.and_then(|()| read_elevation(&request));
            Some(Ground { description, elevation: noted(elevation, &mut draft.problems) })
        }
        Err(faults) => {
            let in_any_unit = describe_in_any_unit(&request);
            if in_any_unit.is_none() || !draft.doubts(&["terrain.vertical_unit"]) {
                draft.problems.extend(faults);
            }
            in_any_unit.map(|description| Ground { description, elevation: None })
        }
    }
}

/// What was read, or its faults added to the others.
fn noted<T>(read: Result<T, Vec<Problem>>, problems: &mut Vec<Problem>) -> Option<T> {
    read.map_err(|faults| problems.extend(faults)).ok()
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

fn read_profile(draft: &mut Draft) -> Option<Profile> {
    if draft.doubts(&["rules", "rules.profile"]) {
        return None;
    }
    noted(profile(&draft.case), &mut draft.problems)
}

/// The table of defaults, and the case's choices from it.
fn read_defaults(draft: &mut Draft) -> Option<Defaults> {
    if draft.doubts(&["capacity", "capacity.defaults"]) {
        return None;
    }
    let defaults = noted(defaults::read(&draft.case).map_err(|fault| vec![*fault]), &mut draft.problems)?;
    draft.problems.extend(defaults::settle_choices(&mut draft.case, &defaults));
    Some(defaults)
}

fn profile(case: &CaseFile) -> Result<Profile, Vec<Problem>> {
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
    levels: Vec<Level>,
    sections: Vec<CrossSection>,
    rainfall: Vec<Rain>,
    soils: Vec<SoilArea>,
    problems: Vec<Problem>,
    notes: Vec<Note>,
}

fn read_layers(mut reading: Reading, case: &CaseFile) -> Layers {
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
    let schedules = schedules::read(&mut reading, &case.schedules, &drains, &parcels, &roads);
    let kept = case.terrain.keep_depressions.as_ref();
    let kept_depressions = kept.map(|source| areas::kept_depressions(&mut reading, source)).unwrap_or_default();
    let levels = levels::read(&mut reading, &case.levels, &waterways, &structures);
    let soils = case.soils.as_ref().map(|table| soils::read(&mut reading, table)).unwrap_or_default();
    let sections = sections::read(&mut reading, &case.sections, &waterways, &levels);
    let Reading { mut problems, notes, .. } = reading;
    problems.extend(pipe_loops::loops(&structures.raw));
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
        levels,
        sections,
        rainfall,
        soils,
        problems,
        notes,
    }
}

/// What the elevation and the files beside the layers hold; `None` where there is a fault in it.
type BesideLayers = (Option<Profile>, Option<Defaults>, Option<Elevation>);

fn assemble(case: CaseFile, beside: BesideLayers, layers: Layers) -> Result<Inputs, Vec<Problem>> {
    let mut problems = layers.problems;
    if let (_, _, Some(elevation)) = &beside {
        problems.extend(no_land(&elevation.ground.values, &case.terrain.elevation_given.join(", ")));
        problems.extend(levels::far_from_ground(&layers.levels, &elevation.ground));
    }
    let ((Some(profile), Some(defaults), Some(mut elevation)), true) = (beside, problems.is_empty()) else {
        return Err(sorted(problems));
    };
    let mut notes = layers.notes;
    notes.extend(water_surfaces::set(&mut elevation.ground, &layers.waterways, &profile));
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
        defaults,
        levels: layers.levels,
        sections: layers.sections,
        rainfall: layers.rainfall,
        soils: layers.soils,
        notes,
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
