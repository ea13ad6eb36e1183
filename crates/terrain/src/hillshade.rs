//! The shape of the ground as light and shade.

use fallwright_units::{Cell, Raster};

/// Light from the north-west at half height, as maps have it (common practice, no source).
const AZIMUTH_DEGREES: f64 = 315.0;
const ALTITUDE_DEGREES: f64 = 45.0;

/// How bright each cell is, from 0 to 1; `NaN` where there is no data.
///
/// Slopes by the weighted differences of the eight neighbours; a neighbour without data counts as the cell itself.
/// `exaggeration` multiplies heights, since farmland is nearly flat.
///
/// *Units*: `surface` in metres.
///
/// *Complexity*: O(n) for n cells.
///
/// *References*: B. K. P. Horn (1981), Hill shading and the reflectance map, Proceedings of the IEEE 69, 14–47.
pub fn hillshade(surface: &Raster<f32>, exaggeration: f64) -> Raster<f32> {
    let frame = surface.frame;
    let (sin_altitude, cos_altitude) = ALTITUDE_DEGREES.to_radians().sin_cos();
    let (light_east, light_north) = AZIMUTH_DEGREES.to_radians().sin_cos();
    let shade = |cell: Cell| {
        let here = surface[cell];
        if here.is_nan() {
            return f32::NAN;
        }
        let at = |dc: i32, dr: i32| {
            let z = frame.step(cell, (dc, dr)).map_or(here, |next| surface[next]);
            f64::from(if z.is_nan() { here } else { z })
        };
        let east = at(1, -1) + 2.0 * at(1, 0) + at(1, 1) - at(-1, -1) - 2.0 * at(-1, 0) - at(-1, 1);
        let north = at(-1, -1) + 2.0 * at(0, -1) + at(1, -1) - at(-1, 1) - 2.0 * at(0, 1) - at(1, 1);
        let p = exaggeration * east / (8.0 * frame.cell_width());
        let q = exaggeration * north / (8.0 * frame.cell_height());
        let facing = sin_altitude - cos_altitude * (p * light_east + q * light_north);
        (facing / (1.0 + p * p + q * q).sqrt()).max(0.0) as f32
    };
    Raster { frame, values: (0..frame.len()).map(|index| shade(Cell(index))).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tests::grid;

    fn middle(rows: &str) -> f64 {
        let surface = grid(rows);
        let shade = hillshade(&surface, 1.0);
        f64::from(shade[surface.frame.cell(1, 1)])
    }

    /// By geometry: a plane of 45° that faces the light is square to it, one that faces away gets none, and a level one has
    /// the sine of the light's height.
    #[test]
    fn planes_are_lit_by_the_angle_to_the_light() {
        let check = |rows: &str, expected: f64| {
            let found = middle(rows);
            assert!((found - expected).abs() < 1e-3, "{found} for {rows}");
        };
        check("5 5 5\n5 5 5\n5 5 5", 0.5_f64.sqrt());
        check("0 0.7071 1.4142\n0.7071 1.4142 2.1213\n1.4142 2.1213 2.8284", 1.0);
        check("2.8284 2.1213 1.4142\n2.1213 1.4142 0.7071\n1.4142 0.7071 0", 0.0);
    }
}
