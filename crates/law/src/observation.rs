//! What is measured or looked up as evidence.

use fallwright_units::{Hectares, Metres, ParcelId};

use crate::Land;

/// Something measured or looked up about a parcel, or about a feature and the parcel.
#[derive(Clone, Debug, PartialEq)]
pub enum Observation {
    ApprovalNamesParcel(bool),
    /// By the drain's schedule.
    AssessedHectares(Hectares),
    /// The drain's schedule assesses the parcel for benefit, not for outlet.
    AssessedForBenefitOnly(bool),
    /// Of watershed areas: differences up to it are within the ordinary accuracy.
    AreaAccuracy(Hectares),
    /// The longer side of a cell of the elevation data.
    CellSize(Metres),
    /// Of a channel that no layer maps, below the lower of its banks.
    ChannelDepth(Metres),
    ConfersARight(bool),
    /// Of a channel that no layer maps, or of a place where there may be one.
    ContributingArea(Hectares),
    /// Land of others between the parcel and the feature.
    CutOffBy(Land),
    /// On the path before the first lawful outlet.
    DeepestFill(Metres),
    DistanceToParcel(Metres),
    /// Of the divide above the place where the share leaves.
    DivideHeight(Metres),
    /// Of the parcel to a drain that assesses some.
    DrainingHectares(Hectares),
    /// Of the hectares that drain to a drain, those beyond the ones assessed.
    ExcessHectares(Hectares),
    /// Along the path to the first lawful outlet.
    Fall(Metres),
    /// Of the filled hollow in which the path lies deepest.
    FilledArea(Hectares),
    /// Of that hollow, at its deepest.
    FilledDepth(Metres),
    FrontageLength(Metres),
    /// Of frontage on a watercourse to which no water of the parcel goes.
    FrontageLengthWithoutFlow(Metres),
    ListedInSchedule(bool),
    /// Of the parcel.
    MissingElevation(Hectares),
    NamedInAward(bool),
    NamedParty(bool),
    /// A parcel on the way whose permission is not held.
    NoPermissionFrom(ParcelId),
    /// Whether the owner has held the parcel since before the agreement.
    OwnerSinceAgreement(bool),
    ReachedByNaturalFlow(bool),
    RegisteredOnTitle(bool),
    /// Another feature in the same channel.
    SameChannelAs(String),
    /// Of the land of others between the parcel and the feature.
    WidthBetween(Metres),
    WrittenPermission(bool),
}
