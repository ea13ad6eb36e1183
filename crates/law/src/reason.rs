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
    ($($(#[$doc:meta])* $name:ident, $code:literal, $confidence:ident, $text:literal;)*) => {
        /// A reason, with its code, its plain words and the confidence it leaves.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Reason {
            $($(#[$doc])* #[doc = $text] $name,)*
        }

        impl Reason {
            pub const ALL: &'static [Self] = &[$(Self::$name),*];

            pub const fn code(self) -> &'static str {
                match self { $(Self::$name => $code,)* }
            }

            /// One sentence without a full stop.
            pub const fn text(self) -> &'static str {
                match self { $(Self::$name => $text,)* }
            }

            /// Whether a share with this reason is undecided.
            pub const fn leaves_undecided(self) -> bool {
                matches!(
                    self,
                    Self::OutsideElevationData
                        | Self::ElevationMissing
                        | Self::SmallerThanACell
                        | Self::PathLeavesData
                        | Self::HoleInElevation
                        | Self::UnmappedChannel
                )
            }

            /// What to look at or measure in the field, where that would settle a doubt.
            pub const fn field_check(self) -> Option<FieldCheck> {
                Some(match self {
                    Self::UnmappedChannel => FieldCheck::Channel,
                    Self::FrontageWithinBoundaryAccuracy
                    | Self::FrontageJustBeyondTolerance
                    | Self::FrontageAtAPoint => FieldCheck::LotLine,
                    Self::CutOffFromFeature => FieldCheck::StripBetween,
                    Self::FallWithinElevationAccuracy => FieldCheck::LevelsOfPath,
                    Self::DivideWithinElevationAccuracy => FieldCheck::LevelsOfDivide,
                    Self::PathCrossesFilledGround => FieldCheck::LowGround,
                    Self::PathOverSuspectedCulvert => FieldCheck::Culvert,
                    Self::PipedOutOfWatershed => FieldCheck::PipeOutlet,
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
    OutsideElevationData, "outside_elevation_data", Low, "the parcel lies outside the elevation data";
    ElevationMissing, "elevation_missing", Low, "too much of the parcel has no elevation";
    SmallerThanACell, "smaller_than_a_cell", Low, "the parcel holds no cell of the elevation data";
    PathLeavesData, "path_leaves_data", Low, "the water leaves the elevation data before it meets a lawful outlet";
    HoleInElevation, "hole_in_elevation", Low, "the water runs into a hole of the elevation data before it meets a lawful outlet";
    UnmappedChannel, "unmapped_channel", Low, "the ground shows a channel at the parcel that no layer maps, and the finding would turn on what it is";
    EndsInKeptDepression, "ends_in_kept_depression", High, "the water ends in a real depression, which is no outlet unless one is cut or piped";
    NoFrontage, "no_frontage", High, "the water reaches a watercourse on which the parcel has no frontage";
    FrontageWithoutFlow, "frontage_without_flow", High, "the parcel has frontage on a watercourse to which this water does not go";
    FrontageWithinBoundaryAccuracy, "frontage_within_boundary_accuracy", Medium, "whether the parcel touches the feature depends on the accuracy of the lot lines";
    FrontageJustBeyondTolerance, "frontage_just_beyond_tolerance", Medium, "the feature lies just too far from the parcel to count as touching it";
    FrontageAtAPoint, "frontage_at_a_point", Medium, "the parcel touches the watercourse at a point only, or over too short a length to distinguish it from one, which is no frontage";
    CutOffFromFeature, "cut_off_from_feature", High, "the feature is near the parcel, but a strip of another's land or a road lies between, so that the parcel does not touch it";
    SameChannel, "same_channel", High, "two mapped features run in the same channel, so it has both statuses; the finding rests on the stronger that gives a right";
    WaterLeavesOverNeighbour, "water_leaves_over_neighbour", High, "the water crosses a neighbour before it reaches the outlet to which there is a right";
    ScheduleNotSupplied, "schedule_not_supplied", Medium, "the drain's schedule is not supplied, so the assessment could not be checked";
    NotInSchedule, "not_in_schedule", High, "the drain's schedule does not list the parcel";
    ExceedsAssessedHectares, "exceeds_assessed_hectares", High, "more hectares drain to the drain than are assessed in its schedule";
    AssessedButNotTouching, "assessed_but_not_touching", High, "the parcel is assessed into the drain, but the drain does not touch it: the assessment gives the outlet, not the way across neighbours";
    AssessedButDrainingElsewhere, "assessed_but_draining_elsewhere", High, "the parcel is assessed into a drain to which none of its water is seen to go";
    PipedOutOfWatershed, "piped_out_of_watershed", High, "a pipe takes water of the parcel out of the watershed to which its surface water goes; water must not be taken where it would not naturally go without a right to do so";
    DrainNotTouching, "drain_not_touching", High, "the water reaches a drain that does not touch the parcel";
    NotNamedParty, "not_named_party", High, "the parcel is not named in the agreement or award of the drain";
    PartiesNotSupplied, "parties_not_supplied", Low, "the parties of the drain are not supplied, so a right under it could not be checked";
    LaterOwnerNotBound, "later_owner_not_bound", Medium, "the agreement is not shown to be registered on title, and the parcel has changed hands since it was made: it does not bind later owners";
    AgreementNotRegistered, "agreement_not_registered", Medium, "the agreement is not shown to be registered on title, so it may bind only those who signed it";
    AgreementDrainWithoutOutlet, "agreement_drain_without_outlet", Medium, "the drain is not seen to reach a natural watercourse or a municipal drain";
    ApprovalNotHeld, "approval_not_held", High, "the outlet may be used only with an approval, and none that is supplied names the parcel";
    ApprovalNotSupplied, "approval_not_supplied", Medium, "the outlet may be used only with an approval, and no list of approvals for it is supplied";
    PermissionsMissing, "permissions_missing", High, "a written permission is needed from every parcel on the way to the outlet, and not all are held";
    NaturalFlowOverNeighbour, "natural_flow_over_neighbour", High, "the water crosses neighbours, who must take what comes to them by natural flow and no more";
    RoadDitchIsNoOutlet, "road_ditch_is_no_outlet", High, "a road ditch is no outlet without the road authority's written permission";
    RoadPermissionIsRevocable, "road_permission_is_revocable", High, "a road authority's written permission is held; it can be withdrawn and is not a right";
    ConfersNoRight, "confers_no_right", High, "the water runs in a mapped ditch or pipe of a class that gives nobody a right of drainage";
    FallWithinElevationAccuracy, "fall_within_elevation_accuracy", Medium, "the fall along the path is no larger than the accuracy of the elevation data";
    DivideWithinElevationAccuracy, "divide_within_elevation_accuracy", Medium, "half or more of the divide toward land that drains elsewhere stands no higher above the place where the water leaves than the elevation data are accurate";
    PathCrossesFilledGround, "path_crosses_filled_ground", Medium, "the path crosses ground that had to be filled to carry the water on";
    PathOverSuspectedCulvert, "path_over_suspected_culvert", Medium, "the path passes a place where a road or bank holds water back and a culvert is only suspected; check it in the field";
    FindingRestsOnRemainder, "finding_rests_on_remainder", Medium, "no share of the parcel's water is large enough for a finding of its own";
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
