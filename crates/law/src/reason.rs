//! Why a finding is what it is, and how much each reason leaves of its confidence.

/// How sure a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Confidence {
    Low,
    Medium,
    High,
}

impl Confidence {
    pub const fn code(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::Medium => "medium",
            Self::High => "high",
        }
    }
}

/// What to look at or measure in the field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FieldCheck {
    /// A channel that no layer maps.
    Channel,
    /// The lot line and the top of bank where they are nearest.
    LotLine,
    /// The strip between the parcel and the bank, and its owner.
    StripBetween,
    /// Levels where the water leaves and at the outlet.
    LevelsOfPath,
    /// Levels along the divide and beside it.
    LevelsOfDivide,
    /// Ground where the water would stand.
    LowGround,
    /// A suspected culvert.
    Culvert,
    /// The outlet of a pipe, and the land that it drains.
    PipeOutlet,
}

impl FieldCheck {
    pub const ALL: [Self; 8] = [
        Self::Channel,
        Self::LotLine,
        Self::StripBetween,
        Self::LevelsOfPath,
        Self::LevelsOfDivide,
        Self::LowGround,
        Self::Culvert,
        Self::PipeOutlet,
    ];
}

macro_rules! reasons {
    ($($(#[$doc:meta])* $name:ident, $code:literal, $confidence:ident;)*) => {
        /// A reason, with its code and the confidence it leaves.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Reason {
            $($(#[$doc])* $name,)*
        }

        impl Reason {
            pub const ALL: &'static [Self] = &[$(Self::$name),*];

            pub const fn code(self) -> &'static str {
                match self { $(Self::$name => $code,)* }
            }

            /// Whether an undecided share is undecided for this reason.
            pub const fn leaves_undecided(self) -> bool {
                matches!(
                    self,
                    Self::OutsideElevationData
                        | Self::ElevationMissing
                        | Self::SmallerThanACell
                        | Self::PathLeavesData
                        | Self::HoleInElevation
                        | Self::UnmappedChannel
                        | Self::ScheduleNotSupplied
                        | Self::AssessedForBenefitOnly
                )
            }

            /// What to look at or measure in the field, where that would settle a doubt.
            pub const fn field_check(self) -> Option<FieldCheck> {
                Some(match self {
                    Self::UnmappedChannel | Self::CellsMayHideChannel => FieldCheck::Channel,
                    Self::FrontageWithinBoundaryAccuracy
                    | Self::FrontageJustBeyondTolerance
                    | Self::FrontageAtAPoint => FieldCheck::LotLine,
                    Self::CutOffFromFeature => FieldCheck::StripBetween,
                    Self::FallWithinElevationAccuracy => FieldCheck::LevelsOfPath,
                    Self::DivideWithinElevationAccuracy | Self::CellsLargeAtLotLine => FieldCheck::LevelsOfDivide,
                    Self::PathCrossesFilledGround | Self::PathEndsHigher => FieldCheck::LowGround,
                    Self::PathOverSuspectedCulvert => FieldCheck::Culvert,
                    Self::PipedOutOfWatershed | Self::PipedWaterWithoutRight => FieldCheck::PipeOutlet,
                    _ => return None,
                })
            }

            /// The most confidence a finding with this reason can have.
            pub const fn confidence(self) -> Confidence {
                match self { $(Self::$name => Confidence::$confidence,)* }
            }
        }
    };
}

reasons! {
    /// The parcel lies outside the elevation data.
    OutsideElevationData, "outside_elevation_data", Low;
    /// More of the parcel has no elevation than the profile allows.
    ElevationMissing, "elevation_missing", Low;
    /// The parcel holds no cell.
    SmallerThanACell, "smaller_than_a_cell", Low;
    /// The path leaves the elevation data before any lawful outlet.
    PathLeavesData, "path_leaves_data", Low;
    /// The path runs into a hole of the elevation data before any lawful outlet.
    HoleInElevation, "hole_in_elevation", Low;
    /// The terrain marks a channel at the parcel that no layer maps, and the finding would turn on its class.
    UnmappedChannel, "unmapped_channel", Low;
    /// More land than the profile's minimum drains by where the share leaves, and the cells are too large to show a channel there.
    CellsMayHideChannel, "cells_may_hide_channel", Medium;
    /// The path ends in a depression that is kept.
    EndsInKeptDepression, "ends_in_kept_depression", High;
    /// The path ends in a mapped lake that has no outlet.
    EndsInClosedLake, "ends_in_closed_lake", High;
    /// The parcel has no frontage on the watercourse that the path meets.
    NoFrontage, "no_frontage", High;
    /// The parcel has frontage on a watercourse that none of its paths meets.
    FrontageWithoutFlow, "frontage_without_flow", High;
    /// Contact with the feature is in doubt by the accuracy of the lot lines.
    FrontageWithinBoundaryAccuracy, "frontage_within_boundary_accuracy", Medium;
    /// The feature is farther than the abut tolerance, by no more than the accuracy of the lot lines.
    FrontageJustBeyondTolerance, "frontage_just_beyond_tolerance", Medium;
    /// The parcel touches the watercourse at a point.
    FrontageAtAPoint, "frontage_at_a_point", Medium;
    /// Land of others lies between the parcel and the feature.
    CutOffFromFeature, "cut_off_from_feature", High;
    /// Two mapped features share one channel.
    SameChannel, "same_channel", High;
    /// The path crosses a neighbour before the outlet to which there is a right.
    WaterLeavesOverNeighbour, "water_leaves_over_neighbour", High;
    /// The schedule of the drain is not supplied.
    ScheduleNotSupplied, "schedule_not_supplied", Medium;
    /// The schedule of the drain does not list the parcel.
    NotInSchedule, "not_in_schedule", High;
    /// The schedule of the drain assesses the parcel for benefit, not for outlet.
    AssessedForBenefitOnly, "assessed_for_benefit_only", Medium;
    /// More hectares drain to the drain than its schedule assesses.
    ExceedsAssessedHectares, "exceeds_assessed_hectares", High;
    /// More hectares drain to the drain than its schedule assesses, by no more than the accuracy of watershed areas.
    ExceedsWithinAccuracy, "exceeds_within_accuracy", Medium;
    /// The parcel would have a right to an outlet farther down; the drain that its water enters first does not admit it.
    RightBeyondDrain, "right_beyond_drain", High;
    /// Past a natural watercourse the water meets a drain whose schedule does not list the parcel.
    DrainFartherDown, "drain_farther_down", High;
    /// The watercourse to which there is a right is also a drain whose schedule does not list the parcel.
    SharesChannelWithDrain, "shares_channel_with_drain", Medium;
    /// The drain to which there is a right leads into one whose schedule does not list the parcel, before any natural
    /// watercourse.
    LedOnIntoDrain, "led_on_into_drain", Medium;
    /// The drain assesses the parcel and does not touch it.
    AssessedButNotTouching, "assessed_but_not_touching", High;
    /// The drain assesses the parcel, and no path of the parcel meets it.
    AssessedButDrainingElsewhere, "assessed_but_draining_elsewhere", High;
    /// A pipe takes water of the parcel to another outlet than its surface water meets.
    PipedOutOfWatershed, "piped_out_of_watershed", High;
    /// Piped water of the parcel has no right to an outlet shown.
    PipedWaterWithoutRight, "piped_water_without_right", High;
    /// A pipe carries the water under a neighbour's land, which needs his agreement.
    PipedUnderNeighbour, "piped_under_neighbour", High;
    /// A pipe ends before the outlet, so that collected water runs open on another's land.
    CollectedWaterOnNeighbour, "collected_water_on_neighbour", High;
    /// Piped water is led; the rule of natural flow does not cover it.
    PipedWaterIsLed, "piped_water_is_led", High;
    /// The path meets a drain that does not touch the parcel.
    DrainNotTouching, "drain_not_touching", High;
    /// The agreement or award of the drain does not name the parcel.
    NotNamedParty, "not_named_party", High;
    /// The parties of the drain are not supplied.
    PartiesNotSupplied, "parties_not_supplied", Low;
    /// The agreement is not registered, and the parcel was acquired after it was made.
    LaterOwnerNotBound, "later_owner_not_bound", Medium;
    /// The agreement is not shown to be registered on title.
    AgreementNotRegistered, "agreement_not_registered", Medium;
    /// The drain leads to no outlet that does not itself rest on an agreement or award.
    AgreementDrainWithoutOutlet, "agreement_drain_without_outlet", Medium;
    /// The approvals that are supplied do not name the parcel.
    ApprovalNotHeld, "approval_not_held", High;
    /// No approvals are supplied for an outlet that needs one.
    ApprovalNotSupplied, "approval_not_supplied", Medium;
    /// Some parcels on the way to an outlet have not given the permission that it needs.
    PermissionsMissing, "permissions_missing", High;
    /// The path crosses neighbours, where the rule of natural flow holds.
    NaturalFlowOverNeighbour, "natural_flow_over_neighbour", High;
    /// The path runs in a road ditch without the road authority's permission.
    RoadDitchIsNoOutlet, "road_ditch_is_no_outlet", High;
    /// The path runs in a road ditch with the road authority's permission.
    RoadPermissionIsRevocable, "road_permission_is_revocable", High;
    /// The path runs in a road ditch without permission before it meets the outlet to which there is a right.
    RoadDitchOnTheWay, "road_ditch_on_the_way", Medium;
    /// The path runs in a mapped feature of a class that confers nothing.
    ConfersNoRight, "confers_no_right", High;
    /// The water gets there over the ground by itself, which is nobody's fault; water that is led is not covered by that.
    NaturalSurfaceFlow, "natural_surface_flow", High;
    /// The fall along the path is within the accuracy of the elevation data.
    FallWithinElevationAccuracy, "fall_within_elevation_accuracy", Medium;
    /// The height of the divide is within the accuracy of the elevation data.
    DivideWithinElevationAccuracy, "divide_within_elevation_accuracy", Medium;
    /// The path crosses ground that was filled deeper, or over more hectares, than the profile's minimums.
    PathCrossesFilledGround, "path_crosses_filled_ground", Medium;
    /// The path ends higher than it began, over ground that was filled.
    PathEndsHigher, "path_ends_higher", Low;
    /// The path passes a suspected culvert.
    PathOverSuspectedCulvert, "path_over_suspected_culvert", Medium;
    /// The finding rests on a rule whose source is not confirmed.
    RuleNotConfirmed, "rule_not_confirmed", Medium;
    /// The parcel is few cells across, and the standing rests on what lies within one cell of its lot line.
    CellsLargeAtLotLine, "cells_large_at_lot_line", Medium;
    /// The parcel has no share but the remainder.
    FindingRestsOnRemainder, "finding_rests_on_remainder", Medium;
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn codes_are_snake_case_and_differ() {
        let codes: BTreeSet<_> = Reason::ALL.iter().map(|reason| reason.code()).collect();
        assert_eq!(codes.len(), Reason::ALL.len());
        assert!(codes.iter().all(|code| code.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'_')));
    }
}
