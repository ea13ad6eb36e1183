//! What is known about one parcel: plain values, measured and looked up by others.

use std::sync::Arc;

use fallwright_units::{ConstraintIx, Hectares, Metres, ParcelId, PartialDate, RoadId};

/// Everything [`judge`](crate::judge) needs to know about one parcel. Lengths in metres, areas in hectares.
#[derive(Clone, Debug, PartialEq)]
pub struct ParcelFacts {
    pub parcel: ParcelId,
    pub owner: Option<String>,
    /// When the owner acquired the parcel.
    pub owned_since: Option<PartialDate>,
    /// The parcel's cells with elevation; the shares' hectares sum to it.
    pub own_ha: Hectares,
    /// From the geometry.
    pub area_ha: Hectares,
    /// Of the parcel without elevation, inside or outside the raster.
    pub missing_ha: Hectares,
    pub entirely_outside: bool,
    /// Every mapped feature within `abut_tolerance + boundary_accuracy` of the parcel, so that near misses can be reported.
    pub frontage: Vec<Frontage>,
    /// At most one entry for each drain. A drain without an entry has no schedule supplied.
    pub assessments: Vec<Assessment>,
    /// One entry for each agreement drain, award drain or road ditch that matters to the parcel. A feature without an
    /// entry has no parties supplied. The parcels of a case share theirs.
    pub members: Arc<[Membership]>,
    /// Other parcels of the same owner, who need not agree with himself; they are not among the lands of the paths.
    pub also_owned: Vec<ParcelId>,
    pub shares: Vec<ShareFacts>,
    /// One entry for each pipe to which land of the parcel is drained.
    pub piped: Vec<PipedFacts>,
    /// Longer side of a cell of the elevation model.
    pub cell: Metres,
    /// Within one cell beyond the lot line lies land whose water has a destination that none of the shares has, the remainder
    /// left out. Found for parcels of which [`Minimums::is_few_cells_across`](crate::Minimums::is_few_cells_across) holds.
    pub other_destination_beside: bool,
    /// Vertical accuracy of the elevation model, as the survey states it.
    pub elevation_rmse: Option<Metres>,
    /// Accuracy of the mapped lot lines.
    pub boundary_accuracy: Metres,
    /// A feature no farther than this from the parcel touches it.
    pub abut_tolerance: Metres,
}

/// A mapped waterway or enclosed drain at or near the parcel.
#[derive(Clone, Debug, PartialEq)]
pub struct Frontage {
    pub feature: String,
    pub name: Option<String>,
    pub class: String,
    /// Shortest distance to the parcel; 0 where the line lies on it.
    pub distance: Metres,
    /// Length of the feature within the abut tolerance of the parcel, nothing of others' between.
    pub length: Metres,
    /// The parcel touches the feature at a point, or over so short a length that it cannot be distinguished from one.
    pub at_a_point: bool,
    /// Land of others that lies between wherever the feature is near.
    pub cut_off_by: Option<CutOff>,
    /// Lowest ground along that length, as surveyed.
    pub lowest_ground: Option<Metres>,
}

/// Land of others between a parcel and a feature.
#[derive(Clone, Debug, PartialEq)]
pub struct CutOff {
    pub land: Land,
    pub width: Metres,
}

/// What the schedule of one drain says about the parcel.
#[derive(Clone, Debug, PartialEq)]
pub struct Assessment {
    pub drain: String,
    pub assessed: Assessed,
}

/// What a drain's schedule assesses a parcel for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Assessed {
    /// The schedule is not supplied.
    NotSupplied,
    /// The schedule does not list the parcel.
    NotListed,
    /// The schedule lists the parcel for benefit alone, not for outlet.
    BenefitOnly,
    /// The parcel is assessed for these hectares.
    Hectares(Hectares),
}

impl Assessed {
    /// The hectares, where the parcel is assessed for any.
    pub(crate) fn hectares(self) -> Option<Hectares> {
        match self {
            Self::Hectares(hectares) => Some(hectares),
            Self::NotSupplied | Self::NotListed | Self::BenefitOnly => None,
        }
    }
}

/// Who is named in the agreement, award, approval or road authority's permission for one feature.
#[derive(Clone, Debug, PartialEq)]
pub struct Membership {
    pub feature: String,
    pub parties: Vec<ParcelId>,
    /// Parcels that are no parties, on which the feature runs for more than the accuracy of boundaries.
    pub runs_over: Vec<ParcelId>,
    /// When it was made.
    pub agreed: Option<PartialDate>,
    /// Registered on title; `None` where the data do not say.
    pub registered: Option<bool>,
}

/// One share of the parcel's water: everything that leaves at one leaving point.
#[derive(Clone, Debug, PartialEq)]
pub struct ShareFacts {
    pub share: u32,
    pub hectares: Hectares,
    /// Lawful outlets met, in order downstream, each feature once.
    pub outlets: Vec<OutletOnPath>,
    /// Other mapped features on the path before the first lawful outlet, in order.
    pub also_met: Vec<FeatureMet>,
    /// Land crossed before the first lawful outlet (or the path's end), in order, each once, the parcel itself not among
    /// it.
    pub lands: Vec<LandOnPath>,
    /// How the path ends, whatever it met before.
    pub end: PathEnd,
    /// A channel at the parcel that passes the profile's test and that no layer maps.
    pub marked_channel: Option<MarkedChannel>,
    /// The largest area that contributes to a place where the share leaves on ground without a mapped feature.
    pub leaving_area: Hectares,
    /// Every cell of the share lies within one cell of the lot line. Found as
    /// [`ParcelFacts::other_destination_beside`] is.
    pub within_a_cell_of_line: bool,
    /// Length from the leaving point to the first lawful outlet (or the path's end).
    pub path: Metres,
    /// Ground level at the leaving point, as surveyed.
    pub leaving_level: Option<Metres>,
    /// Ground level at the leaving point less that at the first lawful outlet.
    pub fall: Option<Metres>,
    /// Deepest filling on the path before the first lawful outlet.
    pub deepest_fill: Metres,
    /// All of the filled ground where the path lies deepest in it; `None` where it crosses none.
    pub filled: Option<FilledGround>,
    /// Whether the path before the first lawful outlet passes a place where a culvert is only suspected.
    pub over_suspected_culvert: bool,
    /// How far the divide toward land with another destination stands above the place where the share leaves, half of it no
    /// higher; `None` where the share borders on no such land.
    pub divide_height: Option<Metres>,
    /// The collected groups too small to be a share of their own.
    pub is_remainder: bool,
    /// Constraints met before the first lawful outlet (or the path's end), the parcel's own land included, each once.
    pub constraints: Vec<ConstraintOnPath>,
}

/// Land of the parcel drained by one pipe.
#[derive(Clone, Debug, PartialEq)]
pub struct PipedFacts {
    pub pipe: String,
    /// Its water as that of a share, from where the pipe takes it: the pipe's first place on the parcel's own land, or its
    /// upper end. Land crossed is also that under which pipes run. The number is that of the pipe among the parcel's, 1 for
    /// the first.
    pub water: ShareFacts,
    /// Parcels of others under which pipes carry the water, in order.
    pub under: Vec<ParcelId>,
    /// The first parcel or road of others on which the water runs open, before the first lawful outlet.
    pub open_on: Option<Land>,
    /// By where the surface water of the land goes; their hectares sum to those of the water.
    pub parts: Vec<PipedPart>,
}

/// Land drained by pipe whose surface water goes one way.
#[derive(Clone, Debug, PartialEq)]
pub struct PipedPart {
    pub hectares: Hectares,
    /// Number of the share of its surface water.
    pub share: Option<u32>,
    /// Its surface water meets another lawful outlet first, or another end, than the piped water does.
    pub leaves_watershed: bool,
}

/// Whose land.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Land {
    Parcel(ParcelId),
    Road(RoadId),
    /// No parcel and no road.
    Unowned,
}

/// Land on a path.
#[derive(Clone, Debug, PartialEq)]
pub struct LandOnPath {
    pub land: Land,
    /// Of the path on it, whichever way it goes there.
    pub metres: Metres,
    /// For each time that the path comes onto it the mapped feature that carries the water there for most of the way; `None`
    /// over the ground.
    pub carriers: Vec<Option<String>>,
}

/// A feature of a class that the profile calls a lawful outlet.
#[derive(Clone, Debug, PartialEq)]
pub struct OutletOnPath {
    pub feature: String,
    pub name: Option<String>,
    pub class: String,
    /// Parcels crossed before the path meets the feature, in order, the parcel itself not among them.
    pub crossed_before: Vec<ParcelId>,
    pub reached_on_own_land: bool,
    /// Other features whose lines run in the same channel where the path meets it, as where a natural watercourse was
    /// improved as a municipal drain; each is an outlet on the path of its own.
    pub same_channel_as: Vec<String>,
}

/// A mapped feature on the path whose class is no lawful outlet.
#[derive(Clone, Debug, PartialEq)]
pub struct FeatureMet {
    pub feature: String,
    pub name: Option<String>,
    pub class: String,
    /// Parcels crossed before the path meets the feature, in order, the last where it meets it; the parcel itself not among
    /// them.
    pub crossed_before: Vec<ParcelId>,
}

/// A wetland, regulated area, fish habitat or utility that a path meets.
#[derive(Clone, Debug, PartialEq)]
pub struct ConstraintOnPath {
    pub constraint: ConstraintIx,
    /// As the profile names it where it lists the kind.
    pub kind: String,
    pub id: Option<String>,
    pub name: Option<String>,
    /// Class within the kind.
    pub class: Option<String>,
    /// Of the path inside the area, or at the line.
    pub metres: Metres,
    /// Stretches of the path there.
    pub places: usize,
}

/// A hollow of the ground that was filled to carry water on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FilledGround {
    pub area: Hectares,
    /// At its deepest.
    pub depth: Metres,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PathEnd {
    /// Leaves the elevation data.
    Edge,
    /// Runs into a hole of the elevation data.
    Hole,
    /// Ends in a depression that is kept because it is real.
    KeptDepression,
    /// Ends in a mapped lake without an outlet, which may itself be a lawful outlet on the path.
    ClosedLake,
}

/// A channel marked in the terrain that no layer maps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MarkedChannel {
    /// Contributing area.
    pub hectares: Hectares,
    /// Below the lower of the two banks.
    pub depth: Metres,
}

impl Membership {
    pub(crate) fn names(&self, parcel: &ParcelId) -> bool {
        self.parties.contains(parcel)
    }
}

impl ShareFacts {
    /// Parcels crossed before the first lawful outlet, in order.
    pub(crate) fn crossed(&self) -> Vec<ParcelId> {
        let parcel = |on: &LandOnPath| if let Land::Parcel(parcel) = &on.land { Some(parcel.clone()) } else { None };
        self.lands.iter().filter_map(parcel).collect()
    }
}

impl ParcelFacts {
    /// Whether a parcel is neither this one nor its owner's.
    pub(crate) fn is_of_another(&self, parcel: &ParcelId) -> bool {
        *parcel != self.parcel && !self.also_owned.contains(parcel)
    }

    pub(crate) fn frontage_on(&self, feature: &str) -> Option<&Frontage> {
        let on_it = self.frontage.iter().filter(|frontage| frontage.feature == feature);
        on_it.min_by(|a, b| a.distance.metres().total_cmp(&b.distance.metres()))
    }

    pub(crate) fn assessed_in(&self, drain: &str) -> Assessed {
        let of_drain = self.assessments.iter().find(|assessment| assessment.drain == drain);
        of_drain.map_or(Assessed::NotSupplied, |assessment| assessment.assessed)
    }

    pub(crate) fn membership_of(&self, feature: &str) -> Option<&Membership> {
        self.members.iter().find(|member| member.feature == feature)
    }
}
