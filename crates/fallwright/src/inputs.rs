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
mod schedules;
mod sections;
mod shapes;
mod soils;
mod structures;
mod waterways;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;

use fallwright_geodata::{
    Crs, Elevation, ElevationDescription, ElevationRequest, Problem, describe_elevation, limit_cache, read_elevation,
};
use fallwright_hydraulics::Defaults;
use fallwright_law::Profile;
use fallwright_units::{Frame, Raster, VerticalUnit};
use geo::MultiPolygon;

pub(crate) use areas::{Field, TiledArea};
pub(crate) use levels::{Level, LevelKind, LevelPlace, StructureEnd};
pub(crate) use parcels::{Parcel, Sliver};
pub(crate) use rainfall::Rain;
pub(crate) use schedules::Schedule;
pub(crate) use sections::{CrossSection, SectionKind};
pub(crate) use soils::SoilArea;
pub(crate) use structures::MappedStructure;
pub(crate) use waterways::MappedWaterway;

use crate::Progress;
use crate::case::{self, Case, read_case};
use crate::failure::{Failure, Settings, cache_bytes};

/// Peak memory of a run with everything in memory, bytes a cell: 30 were measured on invented cases of 64 and 400 million cells
/// (one process, two threads), besides what follows.
const BYTES_PER_CELL: u64 = 34;
/// Bytes of the program, its libraries, layers of an ordinary size and blocks of files.
const PROGRAM: u64 = 160 << 20;
/// The same for each time that a path may cross a land: 110 were measured with 4,900 and 20,000 parcels; there may be more lands on a path.
const BYTES_PER_CROSSING: f64 = 300.0;
/// Most cells of a case: the counts of cells that drain through each take 32 bits.
const MOST_CELLS: usize = u32::MAX as usize;

/// Something that was put right, or that the reader should know.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Note {
    /// Which layer and feature.
    pub(crate) about: String,
    pub(crate) found: String,
    /// What was done about it.
    pub(crate) done: String,
}

impl Note {
    pub(crate) fn new(about: impl Into<String>, found: impl Into<String>, done: impl Into<String>) -> Self {
        Self { about: about.into(), found: found.into(), done: done.into() }
    }
}

/// Everything that a case names, in the coordinate reference system of its elevation.
pub(crate) struct Inputs {
    pub(crate) case: Case,
    pub(crate) profile: Profile,
    /// What stands in where the capacity check is told nothing.
    pub(crate) defaults: Defaults,
    pub(crate) crs: Crs,
    /// Of the elevation as it was given.
    pub(crate) vertical_unit: VerticalUnit,
    pub(crate) ground: Arc<Raster<f32>>,
    /// In the order of their ids.
    pub(crate) parcels: Vec<Parcel>,
    pub(crate) slivers: Vec<Sliver>,
    pub(crate) fields: Vec<Field>,
    pub(crate) waterways: Vec<MappedWaterway>,
    pub(crate) structures: Vec<MappedStructure>,
    pub(crate) tiled: Vec<TiledArea>,
    pub(crate) schedules: Vec<Schedule>,
    pub(crate) roads: Vec<MultiPolygon<f64>>,
    pub(crate) kept_depressions: Vec<MultiPolygon<f64>>,
    pub(crate) levels: Vec<Level>,
    pub(crate) sections: Vec<CrossSection>,
    pub(crate) rainfall: Vec<Rain>,
    pub(crate) soils: Vec<SoilArea>,
    pub(crate) notes: Vec<Note>,
}

/// What reading a layer needs to know, and where it leaves its faults and notes.
pub(crate) struct Reading<'a> {
    pub(crate) crs: &'a Crs,
    pub(crate) frame: &'a Frame,
    pub(crate) profile: &'a Profile,
    pub(crate) defaults: &'a Defaults,
    pub(crate) problems: Vec<Problem>,
    pub(crate) notes: Vec<Note>,
}

/// Reads a case and all its layers.
///
/// # Errors
/// Every fault of every layer.
pub(crate) fn read_inputs(path: &Path, settings: &Settings, progress: Progress) -> Result<Inputs, Failure> {
    progress("reading the case file");
    let case = read_case(path)?;
    progress("reading the elevation");
    let profile = read_profile(&case);
    limit_cache(cache_bytes(settings));
    let request = request(&case);
    let (description, profile) = match (describe_elevation(&request), profile) {
        (Ok(description), Ok(profile)) => (description, profile),
        (Err(mut problems), Ok(profile)) => {
            if let Some(description) = describe_in_any_unit(&request) {
                problems.extend(read_layers(&case, &description, &profile).problems);
            }
            return Err(Failure::Refused(sorted(problems)));
        }
        (description, Err(problems)) => {
            return Err(Failure::Refused([description.err().unwrap_or_default(), problems].concat()));
        }
    };
    enough_memory(&case, &description, 0, settings)?;
    let elevation = read_elevation(&request);
    progress("reading the layers");
    let layers = read_layers(&case, &description, &profile);
    let inputs = assemble(case, profile, elevation, layers)?;
    enough_memory(&inputs.case, &description, inputs.parcels.len(), settings)?;
    Ok(inputs)
}

/// Where the elevation lies: that is known, and the layers can be checked, even where the unit of its heights is not.
fn describe_in_any_unit(request: &ElevationRequest) -> Option<ElevationDescription> {
    let units = [None, Some(VerticalUnit::Metre)];
    units
        .into_iter()
        .find_map(|vertical_unit| describe_elevation(&ElevationRequest { vertical_unit, ..request.clone() }).ok())
}

/// How often the paths of all shares may cross a lot line: each as many as the side of the area has parcels.
pub(crate) fn crossings(parcels: usize) -> f64 {
    parcels as f64 * (parcels as f64).sqrt()
}

/// Bytes that a run takes.
pub(crate) fn memory_needed(frame: &Frame, parcels: usize) -> u64 {
    let cells = (frame.len() as u64).saturating_mul(BYTES_PER_CELL);
    cells.saturating_add(PROGRAM).saturating_add((crossings(parcels) * BYTES_PER_CROSSING) as u64)
}

fn request(case: &Case) -> ElevationRequest<'_> {
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
    case: &Case,
    description: &ElevationDescription,
    parcels: usize,
    settings: &Settings,
) -> Result<(), Failure> {
    let needed = memory_needed(&description.frame, parcels).max(description.bytes);
    let problem =
        too_large(case.terrain.elevation_given.join(", "), &description.frame, needed, settings.max_memory_bytes);
    problem.map_or(Ok(()), |problem| Err(Failure::Refused(vec![problem])))
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
    Some(Problem {
        file,
        layer: None,
        feature: None,
        found: format!("{} x {} cells{found}", frame.cols(), frame.rows()),
        expected,
        hint: hint.to_owned(),
    })
}

fn read_profile(case: &Case) -> Result<Profile, Vec<Problem>> {
    let problem = |file: &str, found: String, expected: &str, hint: String| {
        let feature = Some("rules.profile".to_owned());
        Problem { file: file.to_owned(), layer: None, feature, found, expected: expected.to_owned(), hint }
    };
    match &case.rules.profile {
        case::Profile::Shipped(name) => Profile::shipped(name).ok_or_else(|| {
            let hint = format!("shipped profiles: {}; or give the path of a TOML file", Profile::SHIPPED.join(", "));
            vec![problem(
                &case.file,
                format!("the profile {name:?}"),
                "a shipped profile or a path to a TOML file",
                hint,
            )]
        }),
        case::Profile::File(source) => {
            let hint = "complete the profile; the shipped ones show every key".to_owned();
            let text = std::fs::read_to_string(&source.path).map_err(|error| {
                vec![problem(&source.given, error.to_string(), "a rule profile in TOML", "check the path".to_owned())]
            })?;
            Profile::from_toml(&text)
                .map_err(|error| vec![problem(&source.given, error.to_string(), "a complete rule profile", hint)])
        }
    }
}

struct Layers {
    parcels: Vec<Parcel>,
    slivers: Vec<Sliver>,
    fields: Vec<Field>,
    waterways: Vec<MappedWaterway>,
    structures: Vec<MappedStructure>,
    tiled: Vec<TiledArea>,
    schedules: Vec<Schedule>,
    roads: Vec<MultiPolygon<f64>>,
    kept_depressions: Vec<MultiPolygon<f64>>,
    defaults: Defaults,
    levels: Vec<Level>,
    sections: Vec<CrossSection>,
    rainfall: Vec<Rain>,
    soils: Vec<SoilArea>,
    problems: Vec<Problem>,
    notes: Vec<Note>,
}

fn read_layers(case: &Case, elevation: &ElevationDescription, profile: &Profile) -> Layers {
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
    let schedules = schedules::read(&mut reading, &case.schedules, &drains, &ids);
    let roads = case.roads.as_ref().map(|table| areas::roads(&mut reading, table)).unwrap_or_default();
    let kept = case.terrain.keep_depressions.as_ref();
    let kept_depressions = kept.map(|source| areas::kept_depressions(&mut reading, source)).unwrap_or_default();
    let levels = levels::read(&mut reading, &case.levels, &waterways, &structures);
    let soils = case.soils.as_ref().map(|table| soils::read(&mut reading, table)).unwrap_or_default();
    let Reading { mut problems, notes, .. } = reading;
    problems.extend(pipe_loops::loops(&structures));
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

fn assemble(
    case: Case,
    profile: Profile,
    elevation: Result<Elevation, Vec<Problem>>,
    layers: Layers,
) -> Result<Inputs, Failure> {
    let mut problems = layers.problems;
    let elevation = match elevation {
        Ok(elevation) => elevation,
        Err(faults) => {
            problems.extend(faults);
            return Err(Failure::Refused(sorted(problems)));
        }
    };
    problems.extend(no_land(&elevation.ground.values, &case.terrain.elevation_given.join(", ")));
    problems.extend(levels::far_from_ground(&layers.levels, &elevation.ground));
    if !problems.is_empty() {
        return Err(Failure::Refused(sorted(problems)));
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
pub(crate) fn no_land(heights: &[f32], file: &str) -> Option<Problem> {
    let height = heights.iter().find(|&&height| !LAND_M.contains(&height) && !height.is_nan())?;
    Some(Problem {
        file: file.to_owned(),
        layer: None,
        feature: None,
        found: format!("a height of {height} m"),
        expected: "heights of land, -500 m to 9000 m".to_owned(),
        hint: "set the file's nodata value if this stands for missing data, or correct the vertical unit".to_owned(),
    })
}

/// The position of each id in a list, of several the first.
fn positions<'a>(ids: impl Iterator<Item = &'a str>) -> BTreeMap<&'a str, usize> {
    let mut positions = BTreeMap::new();
    for (position, id) in ids.enumerate() {
        positions.entry(id).or_insert(position);
    }
    positions
}

fn sorted(mut problems: Vec<Problem>) -> Vec<Problem> {
    problems.sort();
    problems.dedup();
    problems
}

/// Tables of the case that this version reads and does not use yet.
fn unused_sections(case: &Case) -> Vec<Note> {
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
            let found = too_large("dem.tif".to_owned(), &frame, memory_needed(&frame, 0), u64::MAX);
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
