//! Records as `GeoJSON` features.

use geo::Geometry;
use geojson::{Feature, FeatureCollection};
use serde::Serialize;
use serde_json::Value;

/// One feature of an output layer.
#[derive(Clone, Debug)]
pub struct Record<P> {
    /// Projected coordinates, metres; `None` where there is nothing to draw.
    pub geometry: Option<Geometry<f64>>,
    pub properties: P,
}

/// A layer of records, in their order.
pub fn layer<P: Serialize>(records: &[Record<P>]) -> FeatureCollection {
    FeatureCollection { bbox: None, features: records.iter().map(feature).collect(), foreign_members: None }
}

/// A record as a feature of its layer.
pub fn feature<P: Serialize>(record: &Record<P>) -> Feature {
    let properties = match serde_json::to_value(&record.properties) {
        Ok(Value::Object(properties)) => Some(properties),
        _ => unreachable!("properties are structs of plain values"),
    };
    Feature {
        bbox: None,
        geometry: record.geometry.as_ref().map(Into::into),
        id: None,
        properties,
        foreign_members: None,
    }
}

/// Hectares with six decimals at most: to the hundredth of a square metre.
pub fn hectares(value: f64) -> f64 {
    rounded(value, 1e6)
}

/// Metres or cubic metres with three decimals at most.
pub fn metres(value: f64) -> f64 {
    rounded(value, 1e3)
}

/// Cubic metres a second with six decimals at most: to the millilitre.
pub fn cubic_metres_per_second(value: f64) -> f64 {
    rounded(value, 1e6)
}

/// Per cent with four decimals at most: to the millimetre in a kilometre.
pub fn percent(value: f64) -> f64 {
    rounded(value, 1e4)
}

fn rounded(value: f64, places: f64) -> f64 {
    // No negative zero.
    (value * places).round() / places + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_rounded_without_negative_zero() {
        let check = |found: f64, expected: &str| assert_eq!(found.to_string(), expected);
        check(hectares(0.1 + 0.2), "0.3");
        check(hectares(-1e-9), "0");
        check(hectares(12.345_678_949), "12.345679");
        check(metres(2.900_009), "2.9");
    }
}
