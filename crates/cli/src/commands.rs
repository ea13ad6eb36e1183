//! One file for each command: its arguments and its call to the library.

mod capacity;
mod check;
mod completions;
mod demo;
mod man;
mod outlets;
mod petition;
mod sheets;
mod terrain;
mod trace;
mod watershed;

pub(crate) use capacity::Capacity;
pub(crate) use check::Check;
pub(crate) use completions::Completions;
pub(crate) use demo::Demo;
pub(crate) use man::Man;
pub(crate) use outlets::Outlets;
pub(crate) use petition::Petition;
pub(crate) use sheets::Sheets;
pub(crate) use terrain::Terrain;
pub(crate) use trace::Trace;
pub(crate) use watershed::Watershed;
