//! The colours, second codes, marks and labels of every picture, from one file.

use std::sync::LazyLock;

use fallwright_law::{Class, ClassKind};
use serde::Deserialize;

/// `palette.json` as it is given to the page and read by the checks.
pub(crate) const PALETTE_JSON: &str = include_str!("palette.json");

pub(crate) static PALETTE: LazyLock<Palette> =
    LazyLock::new(|| serde_json::from_str(PALETTE_JSON).expect("the shipped palette has these members"));

#[derive(Debug, Deserialize)]
pub(crate) struct Palette {
    pub(crate) standings: Vec<StandingStyle>,
    pub(crate) lines: Vec<LineStyle>,
    pub(crate) outline: String,
    pub(crate) ground: GroundStyle,
    pub(crate) grade: String,
}

/// How a parcel of a standing is filled.
#[derive(Debug, Deserialize)]
pub(crate) struct StandingStyle {
    pub(crate) id: String,
    pub(crate) fill: String,
    /// Of text on the fill.
    pub(crate) text: String,
    /// `plain`, `hatch` or `dots`.
    pub(crate) pattern: String,
    /// Colour of the hatch or the dots.
    pub(crate) over: Option<String>,
    pub(crate) mark: String,
    pub(crate) label: String,
}

#[derive(Debug, Deserialize)]
pub(crate) struct LineStyle {
    pub(crate) id: String,
    pub(crate) colour: String,
    pub(crate) width_mm: f64,
    pub(crate) dash_mm: Vec<f64>,
    pub(crate) arrow: bool,
    pub(crate) casing: bool,
    pub(crate) label: String,
}

#[derive(Debug, Deserialize)]
pub(crate) struct GroundStyle {
    pub(crate) line: String,
    pub(crate) under: String,
}

impl Palette {
    pub(crate) fn standing(&self, id: &str) -> &StandingStyle {
        self.standings.iter().find(|style| style.id == id).unwrap_or_else(|| panic!("the palette has no standing {id}"))
    }

    pub(crate) fn line(&self, id: &str) -> &LineStyle {
        self.lines.iter().find(|style| style.id == id).unwrap_or_else(|| panic!("the palette has no line {id}"))
    }
}

/// Which fill a parcel has, as the palette names it.
///
/// An undecided parcel that the data do not cover was not judged; any other was judged, and no outlet was found for it or
/// the finding was left open.
pub(crate) fn standing_style(standing: &str, has_outlet: bool, reasons: &[&str]) -> &'static str {
    let outside = ["outside_elevation_data", "elevation_missing", "smaller_than_a_cell"];
    match standing {
        "right" => "right",
        "right_in_part" => "right_in_part",
        "acquire" if has_outlet => "acquire",
        "undecided" if reasons.iter().any(|reason| outside.contains(reason)) => "not_judged",
        _ => "not_found",
    }
}

/// Which line a mapped waterway has, as the palette names it; `class` is its class in the rule profile.
pub(crate) fn waterway_style(class: Option<&Class>) -> &'static str {
    match class {
        Some(Class { kind: ClassKind::Channel | ClassKind::Lake, .. }) => "natural",
        Some(class) if class.lawful_outlet => "drain",
        Some(_) | None => "ditch",
    }
}

#[cfg(test)]
mod tests {
    use fallwright_law::Profile;

    use super::*;

    #[test]
    fn the_palette_has_every_style_that_is_asked_for() {
        for reasons in [&[][..], &["outside_elevation_data"][..]] {
            for standing in ["right", "right_in_part", "acquire", "undecided"] {
                PALETTE.standing(standing_style(standing, true, reasons));
                PALETTE.standing(standing_style(standing, false, reasons));
            }
        }
        for class in Profile::shipped("ontario").unwrap().classes() {
            PALETTE.line(waterway_style(Some(class)));
        }
    }

    #[test]
    fn a_waterway_has_the_line_of_its_class() {
        let profile = Profile::shipped("ontario").unwrap();
        let check = |class, expected| assert_eq!(waterway_style(profile.class(class)), expected, "{class}");
        check("natural_watercourse", "natural");
        check("lake", "natural");
        check("municipal_drain", "drain");
        check("award_drain", "drain");
        check("road_ditch", "ditch");
        check("private_tile", "ditch");
        check("canal", "ditch");
    }

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
