//! The layers of a case, read and checked.
//!
//! Every fault of every layer is collected before anything is refused. What can be put right without guessing is put
//! right and noted.

mod areas;
mod classes;
mod constraints;
mod csv_rows;
mod defaults;
mod dimensions;
mod drawn_area;
mod ground;
mod land_heights;
mod levels;
mod mending;
mod note;
mod parcels;
mod pipe_loops;
mod profile;
mod rainfall;
mod reading;
mod roads;
mod schedules;
mod sections;
mod shapes;
mod signatures;
mod soils;
mod structures;
mod tangles;
mod water_surfaces;
mod waterways;

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use fallwright_geodata::{Crs, Elevation, Problem, limit_cache};
use fallwright_hydraulics::Defaults;
use fallwright_law::Profile;
use fallwright_units::{ConstraintIx, MappedStructureIx, ParcelIx, Raster, RoadIx, VerticalUnit, WaterwayIx};
use geo::MultiPolygon;
use typed_index_collections::TiVec;

pub use areas::{Field, TiledArea};
pub use constraints::Constraint;
pub use land_heights::no_land;
pub(crate) use levels::COLUMNS as LEVEL_COLUMNS;
pub use levels::{Level, LevelKind, LevelPlace, StructureEnd};
pub use note::Note;
pub use parcels::{Parcel, Sliver};
pub(crate) use rainfall::COLUMNS as RAIN_COLUMNS;
pub use rainfall::Rain;
pub use roads::Road;
pub use schedules::{AssessedFor, AssessedLand, Schedule, ScheduleRow};
pub(crate) use sections::COLUMNS as SECTION_COLUMNS;
pub use sections::{CrossSection, SectionKind};
pub use signatures::{Signature, Signer};
pub use soils::SoilArea;
pub use structures::MappedStructure;
pub use waterways::MappedWaterway;

use self::ground::Ground;
use self::reading::Reading;
use crate::budget::Budget;
use crate::file::{BOUNDARY_ACCURACY_M, CaseFile, Draft};
use crate::progress::Progress;

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
    /// In the order of their layers.
    pub constraints: TiVec<ConstraintIx, Constraint>,
    pub levels: Vec<Level>,
    pub sections: Vec<CrossSection>,
    pub rainfall: Vec<Rain>,
    pub soils: Vec<SoilArea>,
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
        let profile = profile::read(&mut draft);
        let defaults = defaults::read(&mut draft);
        progress("reading the elevation");
        limit_cache(budget.cache_bytes());
        let Some(Ground { description, elevation, to_lonlat }) = ground::read(&mut draft, *budget) else {
            return Err(sorted(draft.problems));
        };
        progress("reading the layers");
        let reading = Reading {
            crs: &description.crs,
            stated_crs: draft.case.crs.as_ref().map(|_| &description.crs),
            to_lonlat: &to_lonlat,
            sliver_m: draft.case.parcels.as_ref().map_or(BOUNDARY_ACCURACY_M, |parcels| parcels.accuracy_m),
            repair: false,
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
            notes: ground::taken_as_stated(&description).into_iter().collect(),
        };
        let layers = read_layers(reading, &draft.case);
        let inputs = assemble(draft.case, (profile, defaults, elevation), layers)?;
        ground::enough_memory(&inputs.case, &description, inputs.parcels.len(), *budget)?;
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
    constraints: TiVec<ConstraintIx, Constraint>,
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
    let kept_depressions = kept.map(|table| areas::kept_depressions(&mut reading, table)).unwrap_or_default();
    let constraints = constraints::read(&mut reading, &case.constraints);
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
        constraints,
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
        constraints: layers.constraints,
        defaults,
        levels: layers.levels,
        sections: layers.sections,
        rainfall: layers.rainfall,
        soils: layers.soils,
        notes,
        case,
    })
}

fn sorted(mut problems: Vec<Problem>) -> Vec<Problem> {
    problems.sort();
    problems.dedup();
    problems
}
