//! The colours, second codes, marks and labels of every picture, from one file.

use std::sync::LazyLock;

use fallwright_law::{Class, ClassKind, Finding, Reason, ShareStanding, Standing};
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

/// How a parcel is drawn and counted, as the palette names it: the one classification of maps, sheets, page and summary.
pub(crate) fn standing_style(finding: &Finding) -> &'static str {
    let open = finding.shares.iter().filter(|share| share.standing != ShareStanding::Right);
    let balance = open.fold(0.0, |balance, share| {
        let hectares = share.hectares.hectares();
        if share.outlet.is_some() { balance + hectares } else { balance - hectares }
    });
    style_of(finding.standing, balance > 0.0, &finding.reasons)
}

/// `has_outlet`: whether most of the water without a right meets a lawful outlet.
fn style_of(standing: Standing, has_outlet: bool, reasons: &[Reason]) -> &'static str {
    let any = |of: &[Reason]| of.iter().any(|reason| reasons.contains(reason));
    match standing {
        Standing::Right => "right",
        Standing::RightInPart => "right_in_part",
        Standing::Acquire if !has_outlet && any(&[Reason::EndsInKeptDepression, Reason::EndsInClosedLake]) => {
            "ends_in_depression"
        }
        Standing::Acquire => "acquire",
        Standing::Undecided
            if any(&[Reason::OutsideElevationData, Reason::ElevationMissing, Reason::SmallerThanACell]) =>
        {
            "not_judged"
        }
        Standing::Undecided if !has_outlet && any(&[Reason::PathLeavesData, Reason::HoleInElevation]) => "leaves_data",
        Standing::Undecided => "undecided",
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
        let reasons = [Reason::OutsideElevationData, Reason::EndsInKeptDepression, Reason::PathLeavesData];
        for standing in [Standing::Right, Standing::RightInPart, Standing::Acquire, Standing::Undecided] {
            for (reason, has_outlet) in reasons.into_iter().flat_map(|reason| [(reason, true), (reason, false)]) {
                PALETTE.standing(style_of(standing, has_outlet, &[reason]));
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

    /// What has to be acquired is never drawn as not decided.
    #[test]
    fn a_parcel_is_drawn_by_its_standing_and_by_where_its_water_ends() {
        use Standing::{Acquire, Undecided};
        let check = |standing, outlet, reasons: &[Reason], expected| {
            assert_eq!(style_of(standing, outlet, reasons), expected, "{standing:?} {outlet} {reasons:?}");
        };
        check(Acquire, true, &[], "acquire");
        check(Acquire, true, &[Reason::EndsInKeptDepression], "acquire");
        check(Acquire, false, &[Reason::EndsInKeptDepression], "ends_in_depression");
        check(Undecided, true, &[Reason::UnmappedChannel], "undecided");
        check(Undecided, false, &[Reason::PathLeavesData], "leaves_data");
        check(Undecided, false, &[Reason::OutsideElevationData], "not_judged");
    }
}
