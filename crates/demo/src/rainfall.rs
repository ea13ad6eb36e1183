//! Rain by duration and return period, all of it invented.

/// Minutes, and millimetres of rain for 2, 5 and 10 years.
const DEPTHS: [(u32, [f64; 3]); 8] = [
    (5, [8.0, 10.5, 12.5]),
    (15, [14.0, 18.5, 22.0]),
    (30, [18.5, 25.0, 29.5]),
    (60, [23.0, 31.0, 37.0]),
    (120, [28.0, 37.5, 44.5]),
    (360, [37.0, 48.5, 57.0]),
    (720, [43.5, 56.5, 66.0]),
    (1440, [50.0, 65.0, 76.0]),
];
const YEARS: [u32; 3] = [2, 5, 10];

/// Minutes, years and millimetres.
pub(crate) fn depths() -> impl Iterator<Item = (u32, u32, f64)> {
    DEPTHS
        .iter()
        .flat_map(|&(minutes, depths)| YEARS.into_iter().zip(depths).map(move |(years, mm)| (minutes, years, mm)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn longer_rain_is_deeper_and_less_intense_and_rarer_rain_deeper() {
        for pair in DEPTHS.windows(2) {
            for year in 0..3 {
                let intensity = |(minutes, depths): (u32, [f64; 3])| depths[year] / f64::from(minutes);
                assert!(pair[0].1[year] < pair[1].1[year] && intensity(pair[0]) > intensity(pair[1]));
            }
        }
        assert!(DEPTHS.iter().all(|(_, depths)| depths.windows(2).all(|pair| pair[0] < pair[1])));
    }
}
