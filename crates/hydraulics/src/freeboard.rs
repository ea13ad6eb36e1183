//! Freeboard: how far the banks stand above the water.

use fallwright_units::Metres;

/// Height of the lower bank above the water; below 0 where the water stands over it. Both are levels above one datum, or
/// both depths above one bed.
pub fn freeboard(bank: Metres, water: Metres) -> Metres {
    bank - water
}
