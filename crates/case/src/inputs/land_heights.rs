//! Heights that land may have.

use fallwright_geodata::Problem;

/// Metres: the lowest shore lies at about -430 m, the highest summit at about 8850 m (from memory).
pub(super) const LAND_M: std::ops::RangeInclusive<f32> = -500.0..=9000.0;

/// A problem where a height is none that land has: it stands for missing data that the file does not declare, or is in
/// another unit.
pub fn no_land(heights: &[f32], file: &str) -> Option<Problem> {
    let height = heights.iter().find(|&&height| !LAND_M.contains(&height) && !height.is_nan())?;
    let hint = "set the file's nodata value if this stands for missing data, or correct the vertical unit";
    Some(Problem::in_file(file, format!("a height of {height} m"), "heights of land, -500 m to 9000 m", hint))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_height_that_no_land_has_is_refused() {
        let check = |height: f32, is_land: bool| {
            let found = no_land(&[f32::NAN, height], "dem.tif");
            assert_eq!(found.is_none(), is_land, "{height}");
        };
        check(250.0, true);
        check(-430.0, true);
        check(-9999.0, false);
        check(-3.4e38, false);
        check(32_767.0, false);
    }
}
