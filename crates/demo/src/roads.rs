//! Road allowances as polygons: concession roads run through, sideroads stop at them.

use geo::{MultiPolygon, Polygon};

use crate::geometry::{outline, rectangle};
use crate::plan::{ALLOWANCE_HALF, Line, ROADS, SIZE};

/// The road that the county looks after; the township has the others.
const COUNTY_ROAD: &str = "R-2";

#[derive(Clone, Debug, PartialEq)]
pub struct Road {
    pub id: &'static str,
    pub name: &'static str,
    /// Invented, as the township.
    pub authority: &'static str,
    pub allowance: MultiPolygon,
}

pub(crate) fn roads() -> Vec<Road> {
    let road = |&(id, name, line): &(&'static str, &'static str, Line)| {
        let authority = if id == COUNTY_ROAD { "County of Thrumbleby" } else { "Township of Oxpindle" };
        Road { id, name, authority, allowance: allowance(line) }
    };
    ROADS.iter().map(road).collect()
}

fn allowance(line: Line) -> MultiPolygon {
    match line {
        Line::Row(v) => outline(&rectangle((0.0, SIZE.0), (v - ALLOWANCE_HALF, v + ALLOWANCE_HALF))).into(),
        Line::Column(u) => between_rows()
            .into_iter()
            .map(|(south, north)| outline(&rectangle((u - ALLOWANCE_HALF, u + ALLOWANCE_HALF), (south, north))))
            .collect::<Vec<Polygon>>()
            .into(),
    }
}

/// The stretches of the frame's height that no concession road takes.
fn between_rows() -> Vec<(f64, f64)> {
    let mut stretches = Vec::new();
    let mut south = 0.0;
    for (_, _, line) in ROADS {
        if let Line::Row(v) = line {
            stretches.push((south, v - ALLOWANCE_HALF));
            south = v + ALLOWANCE_HALF;
        }
    }
    stretches.push((south, SIZE.1));
    stretches
}

#[cfg(test)]
mod tests {
    use geo::Area;

    use super::*;

    #[test]
    fn allowances_do_not_overlap() {
        let area: f64 = roads().iter().map(|road| road.allowance.unsigned_area()).sum();
        let strips = 2.0 * 20.0 * 4_000.0 + 2.0 * 20.0 * (3_000.0 - 40.0);
        assert!((area - strips).abs() < 1e-3);
    }
}
