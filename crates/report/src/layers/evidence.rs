//! Items of evidence, with the codes of rules and measures.

use fallwright_law::{Evidence, Land, Observation, Rule};
use fallwright_units::{Hectares, Metres};
use serde_json::Value;

use crate::records::parcel::EvidenceItem;
use crate::rounded::{hectares, metres};
use crate::words::rule_source;

pub(crate) fn evidence_item(Evidence { rule, feature, observation }: &Evidence) -> EvidenceItem {
    let (measure, value, unit) = observed(observation);
    EvidenceItem {
        rule: rule_code(rule).to_owned(),
        source: rule_source(rule).into_owned(),
        feature_id: feature.clone(),
        measure,
        value,
        unit,
    }
}

/// The id of the class, or the name of the test.
fn rule_code(rule: &Rule) -> &str {
    match rule {
        Rule::Class { id, .. } => id,
        Rule::AreaAccuracy { .. } => "area_accuracy",
        Rule::MissingElevation { .. } => "missing_elevation_ha",
        Rule::CellsAcross { .. } => "cells_across",
        Rule::FilledArea { .. } => "filled_ha",
        Rule::FilledGround { .. } => "filled_m",
        Rule::UnmappedChannel { .. } => "unmapped_channel",
        Rule::ElevationAccuracy => "elevation_accuracy",
    }
}

/// Measure, value and the unit of a number.
fn observed(observation: &Observation) -> (&'static str, Value, Option<&'static str>) {
    let in_m = |length: Metres| (metres(length.metres()).into(), Some("m"));
    let in_ha = |area: Hectares| (hectares(area.hectares()).into(), Some("ha"));
    let flag = |yes: bool| (yes.into(), None);
    let id = |id: &str| (id.into(), None);
    let (measure, (value, unit)) = match observation {
        Observation::ApprovalNamesParcel(yes) => ("approval_names_parcel", flag(*yes)),
        Observation::AreaAccuracy(area) => ("area_accuracy", in_ha(*area)),
        Observation::AssessedForBenefitOnly(yes) => ("assessed_for_benefit_only", flag(*yes)),
        Observation::AssessedHectares(area) => ("assessed_hectares", in_ha(*area)),
        Observation::CellSize(side) => ("cell_size", in_m(*side)),
        Observation::ChannelDepth(depth) => ("channel_depth", in_m(*depth)),
        Observation::ConfersARight(yes) => ("confers_a_right", flag(*yes)),
        Observation::ContributingArea(area) => ("contributing_area", in_ha(*area)),
        Observation::CutOffBy(Land::Parcel(parcel)) => ("cut_off_by_parcel", id(parcel.as_str())),
        Observation::CutOffBy(Land::Road(road)) => ("cut_off_by_road", id(road.as_str())),
        Observation::CutOffBy(Land::Unowned) => ("cut_off_by_unowned_land", flag(true)),
        Observation::DeepestFill(depth) => ("deepest_fill", in_m(*depth)),
        Observation::DistanceToParcel(length) => ("distance_to_parcel", in_m(*length)),
        Observation::DivideHeight(height) => ("divide_height", in_m(*height)),
        Observation::DrainingHectares(area) => ("draining_hectares", in_ha(*area)),
        Observation::ExcessHectares(area) => ("excess_hectares", in_ha(*area)),
        Observation::Fall(fall) => ("fall", in_m(*fall)),
        Observation::FilledArea(area) => ("filled_area", in_ha(*area)),
        Observation::FilledDepth(depth) => ("filled_depth", in_m(*depth)),
        Observation::FrontageLength(length) => ("frontage_length", in_m(*length)),
        Observation::FrontageLengthWithoutFlow(length) => ("frontage_length_without_flow", in_m(*length)),
        Observation::ListedInSchedule(yes) => ("listed_in_schedule", flag(*yes)),
        Observation::MissingElevation(area) => ("missing_elevation", in_ha(*area)),
        Observation::NamedInAward(yes) => ("named_in_award", flag(*yes)),
        Observation::NamedParty(yes) => ("named_party", flag(*yes)),
        Observation::NoPermissionFrom(parcel) => ("no_permission_from", id(parcel.as_str())),
        Observation::OwnerSinceAgreement(yes) => ("owner_since_agreement", flag(*yes)),
        Observation::ReachedByNaturalFlow(yes) => ("reached_by_natural_flow", flag(*yes)),
        Observation::RegisteredOnTitle(yes) => ("registered_on_title", flag(*yes)),
        Observation::SameChannelAs(feature) => ("same_channel_as", id(feature)),
        Observation::WidthBetween(width) => ("width_between", in_m(*width)),
        Observation::WrittenPermission(yes) => ("written_permission", flag(*yes)),
    };
    (measure, value, unit)
}
