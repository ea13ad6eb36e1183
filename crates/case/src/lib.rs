//! A case: the case file, and everything that it names, read and checked.
//!
//! [`CaseFile`] is the file: layers, their fields, the rule profile, options. [`Inputs`] holds what the layers hold, typed and in one
//! reference system. Every fault of the file or of all layers comes back together, as a list of [`Problem`]s.
//!
//! Reading order: `file` reads the case file; `inputs` reads the layers that it names; [`Budget`] and [`Estimate`] are the memory
//! and time that a run may use and takes.

mod budget;
mod file;
mod inputs;
mod nearest;
mod page;
mod progress;
mod spelling;

pub use budget::{Budget, CaseSize, Estimate};
pub use fallwright_geodata::{At, Problem};
pub use file::{Capacity, CaseFile, DEEPEST_CUT_M, KeptDepressions, KeptSize, LONGEST_CUT_M, Source, Terrain};
pub use inputs::{
    AssessedFor, AssessedLand, Constraint, CrossSection, Field, Inputs, Level, LevelKind, LevelPlace, MappedStructure,
    MappedWaterway, Note, Parcel, Rain, Road, Schedule, ScheduleRow, SectionKind, Signature, Signer, Sliver, SoilArea,
    StructureEnd, TiledArea, no_land,
};
pub use nearest::meant;
pub use page::case_file_page;
pub use progress::Progress;
