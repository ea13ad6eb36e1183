//! Results of finite arithmetic as quantities.

use fallwright_units::{CubicMetresPerSecond, Hectares, Hours, Metres, MetresPerSecond, Millimetres, SquareMetres};

const FINITE: &str = "the arithmetic of finite quantities within range is finite";

pub(crate) fn metres(value: f64) -> Metres {
    Metres::from_metres(value).expect(FINITE)
}

pub(crate) fn square_metres(value: f64) -> SquareMetres {
    SquareMetres::from_square_metres(value).expect(FINITE)
}

pub(crate) fn flow(value: f64) -> CubicMetresPerSecond {
    CubicMetresPerSecond::from_cubic_metres_per_second(value).expect(FINITE)
}

pub(crate) fn velocity(value: f64) -> MetresPerSecond {
    MetresPerSecond::from_metres_per_second(value).expect(FINITE)
}

pub(crate) fn hectares(value: f64) -> Hectares {
    Hectares::from_hectares(value).expect(FINITE)
}

pub(crate) fn millimetres(value: f64) -> Millimetres {
    Millimetres::from_millimetres(value).expect(FINITE)
}

pub(crate) fn hours(value: f64) -> Hours {
    Hours::from_hours(value).expect(FINITE)
}
