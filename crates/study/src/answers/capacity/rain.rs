//! Rain of a duration and return period, from the case's table.

use fallwright_units::{Hours, Millimetres, MillimetresPerHour};

use super::to_measure::ToMeasure;
use fallwright_case::Rain;

/// Depth of rain of a duration; the table must hold it.
///
/// # Errors
/// What to add to the table.
pub(super) fn depth(table: &[Rain], years: f64, minutes: f64) -> Result<Millimetres, ToMeasure> {
    let rain = of_period(table, years);
    rain.iter()
        .find(|rain| (rain.duration_min - minutes).abs() < 1e-6)
        .and_then(|rain| Millimetres::from_millimetres(rain.depth_mm).ok())
        .ok_or(ToMeasure::Rain { minutes, years })
}

/// Intensity of rain that lasts so long: between the table's durations the logarithms of duration and intensity lie on
/// straight lines; for shorter rain that of the shortest duration holds.
///
/// # Errors
/// What to add to the table.
pub(super) fn intensity(table: &[Rain], years: f64, duration: Hours) -> Result<MillimetresPerHour, ToMeasure> {
    let rain = of_period(table, years);
    let minutes = duration.hours() * 60.0;
    let above = rain.partition_point(|rain| rain.duration_min < minutes);
    let of = |rain: &Rain| rain.depth_mm / rain.duration_min * 60.0;
    let high = rain.get(above).ok_or(ToMeasure::LongRain { minutes, years })?;
    let value = match above.checked_sub(1).map(|below| rain[below]) {
        None => of(high),
        Some(low) => {
            let part = (minutes / low.duration_min).ln() / (high.duration_min / low.duration_min).ln();
            of(low) * (of(high) / of(low)).powf(part)
        }
    };
    Ok(MillimetresPerHour::from_millimetres_per_hour(value)?)
}

/// The rows of one return period by duration.
fn of_period(table: &[Rain], years: f64) -> Vec<&Rain> {
    let mut rain: Vec<&Rain> = table.iter().filter(|rain| (rain.return_period_years - years).abs() < 1e-6).collect();
    rain.sort_by(|a, b| a.duration_min.total_cmp(&b.duration_min));
    rain
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table() -> Vec<Rain> {
        let row = |(duration_min, return_period_years, depth_mm): (f64, f64, f64)| Rain {
            duration_min,
            return_period_years,
            depth_mm,
            source: "invented".to_owned(),
        };
        // 60 mm/h for 10 minutes, 15 mm/h for 160.
        [(160.0, 5.0, 40.0), (10.0, 5.0, 10.0), (1440.0, 2.0, 55.0)].map(row).to_vec()
    }

    fn check(minutes: f64, expected: Option<f64>) {
        let found = intensity(&table(), 5.0, Hours::from_hours(minutes / 60.0).unwrap());
        match (found, expected) {
            (Ok(found), Some(expected)) => assert!((found.millimetres_per_hour() - expected).abs() < 1e-9),
            (Err(ToMeasure::LongRain { years: 5.0, .. }), None) => {}
            (found, _) => panic!("{minutes}: {found:?}"),
        }
    }

    /// Half-way between 10 and 160 minutes by their logarithms lie 40 minutes, and between 60 and 15 mm/h, 30.
    #[test]
    fn intensity_between_durations() {
        check(10.0, Some(60.0));
        check(40.0, Some(30.0));
        check(160.0, Some(15.0));
        check(3.0, Some(60.0));
        check(161.0, None);
    }

    #[test]
    fn depth_of_a_duration_in_the_table() {
        assert_eq!(depth(&table(), 2.0, 1440.0).map(Millimetres::millimetres), Ok(55.0));
        assert!(depth(&table(), 5.0, 1440.0).is_err());
    }
}
