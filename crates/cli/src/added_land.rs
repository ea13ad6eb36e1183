//! Land to be drained, as `PARCEL=12mm/d` or `PARCEL=0.5in/d`.

use fallwright::AddedLand;
use fallwright_units::MillimetresPerDay;

/// Largest drainage coefficient that anybody designs for is about 100 mm/d (4 in/d, from memory); more is a slip.
const MOST_MM_PER_DAY: f64 = 150.0;

pub(crate) fn added_land(text: &str) -> Result<AddedLand, String> {
    let (parcel, rate) = text.rsplit_once('=').filter(|(parcel, _)| !parcel.is_empty()).ok_or("write PARCEL=12mm/d")?;
    let coefficient = if let Some(number) = rate.strip_suffix("mm/d") {
        number.parse().ok().and_then(|value| MillimetresPerDay::from_millimetres_per_day(value).ok())
    } else if let Some(number) = rate.strip_suffix("in/d") {
        number.parse().ok().and_then(|value| MillimetresPerDay::from_inches_per_day(value).ok())
    } else {
        return Err(format!("{rate:?} has no unit: write 12mm/d or 0.5in/d"));
    };
    let is_design = |value: &MillimetresPerDay| (0.0..=MOST_MM_PER_DAY).contains(&value.millimetres_per_day());
    let drainage_coefficient = coefficient
        .filter(is_design)
        .filter(|value| *value > MillimetresPerDay::ZERO)
        .ok_or_else(|| format!("{rate:?} is no drainage coefficient: write a number above 0 and up to 150 mm/d"))?;
    Ok(AddedLand { parcel: parcel.to_owned(), drainage_coefficient })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parcel_and_its_rate() {
        let check = |text: &str, parcel: &str, millimetres: f64| {
            let land = added_land(text).unwrap();
            assert_eq!(land.parcel, parcel);
            assert!((land.drainage_coefficient.millimetres_per_day() - millimetres).abs() < 1e-9);
        };
        check("0527-1=12mm/d", "0527-1", 12.0);
        check("a=b=0.5in/d", "a=b", 12.7);
    }

    #[test]
    fn what_is_no_rate_is_refused() {
        for text in ["0527-1", "=12mm/d", "a=12", "a=0mm/d", "a=-1mm/d", "a=NaNmm/d", "a=500mm/d", "a=mm/d"] {
            assert!(added_land(text).is_err(), "{text}");
        }
    }
}
