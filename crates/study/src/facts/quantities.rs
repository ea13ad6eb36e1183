//! Hectares and metres of what was measured.

use fallwright_units::{Hectares, Metres};

pub(super) fn hectares(value: f64) -> Hectares {
    Hectares::from_hectares(value).expect("areas of finite geometry are finite")
}

pub(super) fn metres(value: f64) -> Metres {
    Metres::from_metres(value).expect("lengths of finite geometry are finite")
}
