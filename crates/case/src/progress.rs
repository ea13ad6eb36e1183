//! How a run's progress is reported.

/// Receives the name of each step at its start, in plain words.
pub type Progress<'a> = &'a (dyn Fn(&str) + Sync);
