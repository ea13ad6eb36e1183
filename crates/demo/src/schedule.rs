//! The Quernstone Drain's by-law schedule: who is assessed for outlet, and for how many hectares.

use crate::lot_part::{LotPart, roll};

/// One line of a drain's schedule: the hectares of a parcel that are assessed for outlet.
#[derive(Clone, Debug, PartialEq)]
pub struct ScheduleRow {
    /// The drain's waterway id.
    pub drain: &'static str,
    pub roll: String,
    pub hectares: f64,
}

/// Concession, lot, part and hectares. The by-law is older than some of today's lot lines.
const ASSESSED: [(usize, usize, LotPart, f64); 9] = [
    (3, 2, LotPart::N, 20.6),
    (3, 2, LotPart::S, 9.5),
    (3, 3, LotPart::N, 8.0),
    (3, 3, LotPart::SW, 6.0),
    (3, 4, LotPart::N, 20.7),
    (3, 4, LotPart::S, 20.7),
    (3, 5, LotPart::NW, 10.4),
    (3, 5, LotPart::S, 20.9),
    (2, 4, LotPart::Whole, 12.0),
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
