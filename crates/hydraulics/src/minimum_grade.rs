//! The least grade at which a full pipe keeps its silt moving.

use fallwright_units::{Metres, MetresPerSecond, Slope};

use crate::wrap::metres;
use crate::{OutOfRange, Roughness};

/// The grade at which a pipe that runs full has a velocity: S = (V n / R^(2/3))², R = D/4.
///
/// # Errors
/// A diameter that is not above 0.
pub fn minimum_grade(diameter: Metres, roughness: Roughness, velocity: MetresPerSecond) -> Result<Slope, OutOfRange> {
    let diameter = OutOfRange::unless_positive("a diameter in metres", diameter.metres())?;
    let radius = metres(diameter / 4.0).metres();
    let root = velocity.metres_per_second() * roughness.n() / radius.powf(2.0 / 3.0);
    Ok(Slope::from_metres_per_metre(root * root).expect("a quotient by a number above 0 is finite"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The table of minimum grades of university extension guidance (drainage slides of the University of Wisconsin-Madison):
    /// inches, then per cent without silt (0.5 ft/s) in smooth (n 0.013) and corrugated (0.015) pipe, then with fine sand
    /// or silt (1.4 ft/s) in both. 14 values to half their last digit; 0.60 and 0.30, which stand for 0.605 and 0.306,
    /// were cut off rather than rounded and are met to one unit of it.
    #[test]
    fn the_table_of_minimum_grades() {
        let table = [
            (3.0, [0.08, 0.10, 0.60, 0.81]),
            (4.0, [0.05, 0.07, 0.41, 0.55]),
            (5.0, [0.04, 0.05, 0.30, 0.41]),
            (6.0, [0.03, 0.04, 0.24, 0.32]),
        ];
        for (inches, printed) in table {
            for (column, printed) in printed.into_iter().enumerate() {
                let n = Roughness::new([0.013, 0.015][column % 2]).unwrap();
                let velocity = MetresPerSecond::from_feet_per_second([0.5, 1.4][column / 2]).unwrap();
                let grade = minimum_grade(Metres::from_feet(inches / 12.0).unwrap(), n, velocity).unwrap();
                let unit = if [0.60, 0.30].contains(&printed) { 0.01 } else { 0.005 };
                assert!((grade.percent() - printed).abs() <= unit + 1e-4, "{inches} in: {} {printed}", grade.percent());
            }
        }
    }
}
