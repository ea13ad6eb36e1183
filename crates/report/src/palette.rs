//! The colours, second codes, marks and labels of every picture, from one file.

/// `palette.json` as it is given to the page and read by the checks.
pub(crate) const PALETTE_JSON: &str = include_str!("palette.json");

/// Which fill a parcel has, as the palette names it.
///
/// An undecided parcel that the data do not cover was not judged; any other was judged, and no outlet was found for it or
/// the finding was left open.
pub fn standing_style(standing: &str, has_outlet: bool, reasons: &[&str]) -> &'static str {
    let outside = ["outside_elevation_data", "elevation_missing", "smaller_than_a_cell"];
    match standing {
        "right" => "right",
        "right_in_part" => "right_in_part",
        "acquire" if has_outlet => "acquire",
        "undecided" if reasons.iter().any(|reason| outside.contains(reason)) => "not_judged",
        _ => "not_found",
    }
}

/// Which line a mapped waterway has, as the palette names it.
pub fn waterway_style(class: &str, lawful_outlet: bool) -> &'static str {
    match (class, lawful_outlet) {
        ("natural_watercourse" | "lake", _) => "natural",
        (_, true) => "drain",
        (_, false) => "ditch",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parcel_without_outlet_is_not_said_to_have_one_to_acquire() {
        let check = |standing, outlet, reasons: &[&str], expected| {
            assert_eq!(standing_style(standing, outlet, reasons), expected, "{standing} {outlet} {reasons:?}");
        };
        check("acquire", true, &[], "acquire");
        check("acquire", false, &["ends_in_kept_depression"], "not_found");
        check("undecided", true, &["unmapped_channel"], "not_found");
        check("undecided", false, &["outside_elevation_data"], "not_judged");
    }
}
