//! The Quernstone Drain's by-law schedule: who is assessed for outlet, and for how many hectares.

use crate::parcels::{Part, roll};
use crate::township::ScheduleRow;

/// Concession, lot, part and hectares. The by-law is older than some of today's lot lines.
const ASSESSED: [(usize, usize, Part, f64); 9] = [
    (3, 2, Part::N, 20.6),
    (3, 2, Part::S, 9.5),
    (3, 3, Part::N, 8.0),
    (3, 3, Part::SW, 6.0),
    (3, 4, Part::N, 20.7),
    (3, 4, Part::S, 20.7),
    (3, 5, Part::NW, 10.4),
    (3, 5, Part::S, 20.9),
    (2, 4, Part::Whole, 12.0),
];

pub(crate) fn schedule() -> Vec<ScheduleRow> {
    ASSESSED
        .iter()
        .map(|&(concession, lot, part, hectares)| ScheduleRow {
            drain: "D-07",
            roll: roll(concession, lot, part),
            hectares,
        })
        .collect()
}
