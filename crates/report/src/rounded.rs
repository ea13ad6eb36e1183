//! Numbers as finely as outputs state them.

pub(crate) use fallwright_units::{
    rounded_cubic_metres_per_second as cubic_metres_per_second, rounded_hectares as hectares, rounded_metres as metres,
    rounded_percent as percent,
};
