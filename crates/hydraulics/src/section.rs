//! Cross-sections: what is wet at a depth.

use fallwright_units::{Metres, SquareMetres};

use crate::OutOfRange;
use crate::wrap::{metres, square_metres};

/// A cross-section of a pipe or an open channel.
#[derive(Clone, Debug, PartialEq)]
pub struct Section(Shape);

#[derive(Clone, Debug, PartialEq)]
enum Shape {
    Circle {
        diameter: f64,
    },
    /// Rectangle where the sides stand upright, V where there is no bottom.
    Trapezoid {
        bottom: f64,
        side_slope: f64,
    },
    /// Station and height above the lowest point, by station.
    Irregular {
        points: Vec<(f64, f64)>,
        top: f64,
    },
}

/// The wet part of a section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wetted {
    pub area: SquareMetres,
    pub perimeter: Metres,
    /// Width of the water's surface; 0 in a full pipe.
    pub top_width: Metres,
}

impl Wetted {
    /// Area by perimeter; 0 where nothing is wet.
    pub fn hydraulic_radius(&self) -> Metres {
        let perimeter = self.perimeter.metres();
        metres(if perimeter > 0.0 { self.area.square_metres() / perimeter } else { 0.0 })
    }
}

impl Section {
    /// A pipe.
    ///
    /// # Errors
    /// A diameter that is not above 0.
    pub fn circle(diameter: Metres) -> Result<Self, OutOfRange> {
        let diameter = OutOfRange::unless_positive("a diameter in metres", diameter.metres())?;
        Ok(Self(Shape::Circle { diameter }))
    }

    /// A level bottom and sides that run `side_slope` metres out for each metre up.
    ///
    /// # Errors
    /// A bottom or side slope below 0, or both 0.
    pub fn trapezoid(bottom: Metres, side_slope: f64) -> Result<Self, OutOfRange> {
        let expected = "0 or more, and not both 0";
        let bottom = OutOfRange::unless_within("a bottom width in metres", bottom.metres(), 0.0..=1e6, expected)?;
        let side_slope = OutOfRange::unless_within("a side slope", side_slope, 0.0..=1e3, expected)?;
        OutOfRange::unless_positive("bottom width and side slope", bottom + side_slope)?;
        Ok(Self(Shape::Trapezoid { bottom, side_slope }))
    }

    /// # Errors
    /// A side slope that is not above 0.
    pub fn v(side_slope: f64) -> Result<Self, OutOfRange> {
        Self::trapezoid(Metres::ZERO, side_slope)
    }

    /// # Errors
    /// A width that is not above 0.
    pub fn rectangle(width: Metres) -> Result<Self, OutOfRange> {
        Self::trapezoid(width, 0.0)
    }

    /// Points across the channel as (station, level), from one bank to the other, straight lines between them.
    ///
    /// *Assumptions*: water stands level across the whole section, so low places beside each other fill together.
    ///
    /// # Errors
    /// Fewer than three points, stations that run back, or no point below both ends.
    pub fn irregular(points: &[(Metres, Metres)]) -> Result<Self, OutOfRange> {
        let of = |found: usize| OutOfRange {
            quantity: "the number of points of a section",
            found: found as f64,
            expected: "3 or more, by rising station, with a point below both banks",
        };
        let plain: Vec<(f64, f64)> = points.iter().map(|(station, level)| (station.metres(), level.metres())).collect();
        let ([first, .., last], true) = (&plain[..], plain.windows(2).all(|pair| pair[0].0 <= pair[1].0)) else {
            return Err(of(plain.len()));
        };
        let bottom = plain.iter().map(|point| point.1).fold(f64::INFINITY, f64::min);
        let top = first.1.min(last.1) - bottom;
        if plain.len() < 3 || top <= 0.0 {
            return Err(of(plain.len()));
        }
        let points = plain.into_iter().map(|(station, level)| (station, level - bottom)).collect();
        Ok(Self(Shape::Irregular { points, top }))
    }

    /// The greatest depth that the section holds: a pipe's diameter, the lower bank of an irregular section. Trapezoids
    /// have no top of their own.
    pub fn top(&self) -> Option<Metres> {
        match &self.0 {
            Shape::Circle { diameter } => Some(metres(*diameter)),
            Shape::Irregular { top, .. } => Some(metres(*top)),
            Shape::Trapezoid { .. } => None,
        }
    }

    /// The wet part at a depth above the lowest point. A depth below 0 wets nothing, one above [`Section::top`] no more
    /// than the top does.
    pub fn wetted(&self, depth: Metres) -> Wetted {
        let (area, perimeter, top_width) = self.wet(depth.metres());
        Wetted { area: square_metres(area), perimeter: metres(perimeter), top_width: metres(top_width) }
    }

    /// Area (m²), perimeter (m) and top width (m) at a depth (m).
    pub(crate) fn wet(&self, depth: f64) -> (f64, f64, f64) {
        match &self.0 {
            Shape::Circle { diameter } => wet_circle(*diameter, depth),
            Shape::Trapezoid { bottom, side_slope } => {
                let depth = depth.max(0.0);
                let top = bottom + 2.0 * side_slope * depth;
                ((bottom + side_slope * depth) * depth, bottom + 2.0 * depth * side_slope.hypot(1.0), top)
            }
            Shape::Irregular { points, top } => wet_irregular(points, depth.clamp(0.0, *top)),
        }
    }

    /// Depths between which area and perimeter are smooth, rising; the last is the top, or for an open section the first
    /// of a series without end.
    pub(crate) fn bounds(&self) -> Box<dyn Iterator<Item = f64> + '_> {
        match &self.0 {
            Shape::Circle { diameter } => Box::new(std::iter::once(diameter * FULLEST_DEPTH_TO_DIAMETER)),
            Shape::Trapezoid { .. } => Box::new((0..60).map(|power| 0.001 * 2.0_f64.powi(power))),
            Shape::Irregular { points, top } => {
                let mut levels: Vec<f64> = points.iter().map(|point| point.1).filter(|level| level < top).collect();
                levels.push(*top);
                levels.sort_by(f64::total_cmp);
                Box::new(levels.into_iter().filter(|&level| level > 0.0))
            }
        }
    }

    pub(crate) const fn is_closed(&self) -> bool {
        matches!(self.0, Shape::Circle { .. })
    }
}

/// Depth by diameter at which a pipe carries most: the root of 3θ − 5θ cos θ + 2 sin θ for the wet angle θ, from
/// d(A⁵/P²)/dθ = 0. Chow, Open-Channel Hydraulics (1959), section 6-4, gives 0.938 (from memory).
pub(crate) const FULLEST_DEPTH_TO_DIAMETER: f64 = 0.938_181_342_134_276_6;

fn wet_circle(diameter: f64, depth: f64) -> (f64, f64, f64) {
    let filled = (depth / diameter).clamp(0.0, 1.0);
    let angle = 2.0 * (1.0 - 2.0 * filled).acos();
    let area = diameter * diameter / 8.0 * (angle - angle.sin());
    (area, diameter * angle / 2.0, 2.0 * diameter * (filled * (1.0 - filled)).sqrt())
}

fn wet_irregular(points: &[(f64, f64)], depth: f64) -> (f64, f64, f64) {
    let mut wet = (0.0, 0.0, 0.0);
    for pair in points.windows(2) {
        let ((a, mut low), (b, mut high)) = (pair[0], pair[1]);
        if low > high {
            (low, high) = (high, low);
        }
        if low >= depth {
            continue;
        }
        // The part of the side that is under water.
        let share = if high > depth { (depth - low) / (high - low) } else { 1.0 };
        let (width, rise) = ((b - a) * share, (high - low) * share);
        wet.0 += width * (depth - low - rise / 2.0);
        wet.1 += width.hypot(rise);
        wet.2 += width;
    }
    wet
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn check(section: &Section, depth: f64, expected: (f64, f64, f64)) {
        let found = section.wet(depth);
        for (found, expected) in [(found.0, expected.0), (found.1, expected.1), (found.2, expected.2)] {
            assert!((found - expected).abs() < 1e-12 * expected.abs().max(1.0), "{section:?}: {found} {expected}");
        }
    }

    /// Plain geometry: a full circle, half of one, a trapezoid by hand, the same as an irregular section.
    #[test]
    fn areas_and_perimeters() {
        let pi = std::f64::consts::PI;
        let circle = Section::circle(metres(2.0)).unwrap();
        check(&circle, 2.0, (pi, 2.0 * pi, 0.0));
        check(&circle, 1.0, (pi / 2.0, pi, 2.0));
        check(&circle, 5.0, (pi, 2.0 * pi, 0.0));
        let trapezoid = Section::trapezoid(metres(3.0), 0.75).unwrap();
        check(&trapezoid, 2.0, (9.0, 8.0, 6.0));
        check(&trapezoid, -1.0, (0.0, 3.0, 3.0));
        let points = [(0.0, 12.0), (1.5, 10.0), (4.5, 10.0), (6.0, 12.0)].map(|(x, z)| (metres(x), metres(z)));
        check(&Section::irregular(&points).unwrap(), 2.0, (9.0, 8.0, 6.0));
        check(&Section::irregular(&points).unwrap(), 3.0, (9.0, 8.0, 6.0));
        check(&Section::v(4.0 / 3.0).unwrap(), 3.0, (12.0, 10.0, 8.0));
        check(&Section::rectangle(metres(2.0)).unwrap(), 1.0, (2.0, 4.0, 2.0));
    }

    #[test]
    fn sections_without_room_for_water_are_refused() {
        assert!(Section::circle(metres(0.0)).is_err());
        assert!(Section::circle(metres(-1.0)).is_err());
        assert!(Section::trapezoid(metres(-1.0), 2.0).is_err());
        assert!(Section::trapezoid(metres(0.0), 0.0).is_err());
        let irregular = |points: &[(f64, f64)]| {
            Section::irregular(&points.iter().map(|&(x, z)| (metres(x), metres(z))).collect::<Vec<_>>())
        };
        assert!(irregular(&[(0.0, 1.0), (1.0, 0.0)]).is_err());
        assert!(irregular(&[(0.0, 1.0), (2.0, 0.0), (1.0, 1.0)]).is_err());
        assert!(irregular(&[(0.0, 1.0), (1.0, 1.0), (2.0, 1.0)]).is_err());
        assert!(irregular(&[(0.0, 0.0), (1.0, 0.0), (2.0, 1.0)]).is_err());
    }

    proptest! {
        /// The area of a small rise of the water is its width times the rise.
        #[test]
        fn area_grows_by_the_width_of_the_surface(depth in 0.05_f64..0.9, kind in 0_usize..3) {
            let points = [(0.0, 1.0), (0.4, 0.3), (0.9, 0.0), (1.5, 0.2), (2.0, 1.2)].map(|(x, z)| (metres(x), metres(z)));
            let section = [
                Section::circle(metres(1.0)).unwrap(),
                Section::trapezoid(metres(0.5), 1.5).unwrap(),
                Section::irregular(&points).unwrap(),
            ][kind].clone();
            let step = 1e-6;
            let ((below, _, width_below), (above, _, width_above)) = (section.wet(depth), section.wet(depth + step));
            let rise = (above - below) / step;
            prop_assert!(rise >= width_below.min(width_above) - 1e-6 && rise <= width_below.max(width_above) + 1e-6);
        }
    }
}
