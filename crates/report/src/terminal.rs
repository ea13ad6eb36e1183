//! Answers as lines on a terminal.

pub mod capacity;
pub mod check;
mod columns;
pub mod finding;
pub mod outlets;
pub mod petition;
pub mod sheets;
pub mod terrain;
pub mod trace;
pub mod watershed;
