//! What is measured or found as evidence, and the unit it is in.

/// What an item of evidence is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    ApprovalNamesParcel,
    AssessedHectares,
    ChannelDepth,
    ConfersARight,
    ContributingArea,
    CutOffBy,
    DeepestFill,
    DistanceToParcel,
    DivideHeight,
    DrainingHectares,
    Fall,
    FrontageLength,
    FrontageLengthWithoutFlow,
    ListedInSchedule,
    MissingElevation,
    NamedInAward,
    NamedParty,
    NoPermissionFrom,
    OwnerSinceAgreement,
    ReachedByNaturalFlow,
    RegisteredOnTitle,
    SameChannelAs,
    WidthBetween,
    WrittenPermission,
}

/// The unit of a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    Metres,
    Hectares,
}

impl Unit {
    pub const fn code(self) -> &'static str {
        match self {
            Self::Metres => "m",
            Self::Hectares => "ha",
        }
    }
}

impl Measure {
    pub const fn code(self) -> &'static str {
        match self {
            Self::ApprovalNamesParcel => "approval_names_parcel",
            Self::AssessedHectares => "assessed_hectares",
            Self::ChannelDepth => "channel_depth",
            Self::ConfersARight => "confers_a_right",
            Self::ContributingArea => "contributing_area",
            Self::CutOffBy => "cut_off_by",
            Self::DeepestFill => "deepest_fill",
            Self::DistanceToParcel => "distance_to_parcel",
            Self::DivideHeight => "divide_height",
            Self::DrainingHectares => "draining_hectares",
            Self::Fall => "fall",
            Self::FrontageLength => "frontage_length",
            Self::FrontageLengthWithoutFlow => "frontage_length_without_flow",
            Self::ListedInSchedule => "listed_in_schedule",
            Self::MissingElevation => "missing_elevation",
            Self::NamedInAward => "named_in_award",
            Self::NamedParty => "named_party",
            Self::NoPermissionFrom => "no_permission_from",
            Self::OwnerSinceAgreement => "owner_since_agreement",
            Self::ReachedByNaturalFlow => "reached_by_natural_flow",
            Self::RegisteredOnTitle => "registered_on_title",
            Self::SameChannelAs => "same_channel_as",
            Self::WidthBetween => "width_between",
            Self::WrittenPermission => "written_permission",
        }
    }

    /// None for yes and no and for text.
    pub const fn unit(self) -> Option<Unit> {
        match self {
            Self::ChannelDepth
            | Self::DeepestFill
            | Self::DistanceToParcel
            | Self::DivideHeight
            | Self::Fall
            | Self::FrontageLength
            | Self::FrontageLengthWithoutFlow
            | Self::WidthBetween => Some(Unit::Metres),
            Self::AssessedHectares | Self::ContributingArea | Self::DrainingHectares | Self::MissingElevation => {
                Some(Unit::Hectares)
            }
            Self::ApprovalNamesParcel
            | Self::ConfersARight
            | Self::CutOffBy
            | Self::ListedInSchedule
            | Self::NamedInAward
            | Self::NamedParty
            | Self::NoPermissionFrom
            | Self::OwnerSinceAgreement
            | Self::ReachedByNaturalFlow
            | Self::RegisteredOnTitle
            | Self::SameChannelAs
            | Self::WrittenPermission => None,
        }
    }
}
