//! `petition.json` and `petition.geojson`.

use fallwright_law::petition::Verdict;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::records::constraint::ConstraintItem;

/// A petition or a remonstrance counted: each test with its figures, how firm the verdict is, and where the area's water goes.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PetitionRecord {
    /// `valid`: enough have signed whether or not the hectares of roads count; `not_valid`: not enough; `depends_on_roads`: these
    /// hectares, or a road authority's or other officer's own petition, decide; `undecided`: what the roll leaves open decides, or
    /// the profile knows no such count
    #[schemars(extend("enum" = Verdict::ALL.map(Verdict::code)))]
    pub verdict: &'static str,
    /// petition: owners who ask for drainage; remonstrance: owners who object
    #[schemars(extend("enum" = ["petition", "remonstrance"]))]
    pub raised_by: &'static str,
    /// Stage that the count is of, as given
    pub stage: String,
    /// Rule profile
    pub profile: String,
    /// What the count of owners rests on
    pub roll: Option<String>,
    /// Date of that roll, as the case gives it
    pub roll_dated: Option<String>,
    /// Hectares of the area
    #[schemars(range(min = 0))]
    pub area_ha: f64,
    /// Hectares of parcels in it
    #[schemars(range(min = 0))]
    pub owned_ha: f64,
    /// Hectares of roads in it
    #[schemars(range(min = 0))]
    pub road_ha: f64,
    /// Hectares of it that no parcel and no road holds
    #[schemars(range(min = 0))]
    pub unowned_ha: f64,
    /// Counts of earlier stages, as given, in their order
    pub earlier: Vec<StageRecord>,
    /// Each condition of each test; twice where the hectares of roads may or may not count
    pub tests: Vec<PetitionTestRecord>,
    /// `valid` or `not_valid` by the owners' signatures where the hectares of roads count; null where the profile knows no such count
    #[schemars(extend("enum" = ["valid", "not_valid", null]))]
    pub with_roads: Option<&'static str>,
    /// The same where they do not
    #[schemars(extend("enum" = ["valid", "not_valid", null]))]
    pub without_roads: Option<&'static str>,
    /// Officers of the profile whose signature is given or stands for a road in the area, whose own condition is not known here
    pub officers: bool,
    /// The fewest further signatures that make it valid either way; null where none are enough
    pub smallest_to_pass: Option<OwnersRecord>,
    /// The fewest withdrawals after which it is not valid either way; null where it is not, or no withdrawal counts
    pub smallest_to_break: Option<OwnersRecord>,
    /// Each test alone
    pub by_test: Vec<PetitionTestFirmness>,
    /// The count without parcels that are hardly inside; null where there is none
    pub without_slivers: Option<WithoutSliversRecord>,
    /// Each parcel that lies partly outside, with the verdict if it is left out
    pub fringe: Vec<FringeRecord>,
    /// The count over the petitioners' own land in need of drainage, as an area of its own; null where there is none
    pub own_land: Option<OwnLandRecord>,
    /// What the roll leaves open that decides: `parcels_without_owner`, `names_alike`
    pub doubts: Vec<&'static str>,
    /// Where the area's water goes; null where no outlet is named and it meets none
    pub basin: Option<BasinRecord>,
    /// How the area was put together from the terrain; null where it was given
    pub suggested: Option<SuggestedRecord>,
    /// Constraints of the case that lie in the area, with whom to ask before any works; none where no layer of them is given
    pub constraints: Vec<ConstraintItem>,
    /// What was seen about the roll, the area and the signatures
    pub notes: Vec<String>,
    /// Caution of every output
    pub caution: &'static str,
}

/// The count of an earlier stage.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct StageRecord {
    /// The stage, as given then
    pub stage: String,
    /// Its verdict
    pub verdict: String,
    /// Its tests
    pub tests: Vec<PetitionTestRecord>,
}

/// A condition of a test with its figures.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct PetitionTestRecord {
    /// Id of the test in the profile
    pub test: String,
    /// The test in words
    pub label: String,
    /// Number of the condition in the test; all must hold
    pub condition: usize,
    /// heads or hectares
    #[schemars(extend("enum" = ["heads", "hectares"]))]
    pub measure: String,
    /// The whole that is counted
    pub counted_of: String,
    /// Who is one head; null for hectares
    pub heads: Option<String>,
    /// Whether roads are part of the whole
    #[schemars(extend("enum" = ["counted", "not_counted"]))]
    pub roads: String,
    /// Heads or hectares that have signed
    pub have: f64,
    /// Of so many in all
    pub of: f64,
    /// So many are needed at least
    pub needed: f64,
    /// `more_than` or `at_least` the fraction, or a count of heads
    #[schemars(extend("enum" = ["more_than", "at_least", "count"]))]
    pub comparison: String,
    /// The fraction, exactly; null for a count
    pub fraction: Option<String>,
    /// Whether the condition is met
    pub met: bool,
    /// Heads or hectares above what is needed; negative for what is missing
    pub distance: f64,
    /// Whether what it rests on was confirmed in the text of the law
    pub confirmed: bool,
    /// Where it comes from
    pub source: String,
}

/// Owners by name.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct OwnersRecord {
    /// Names as the roll has them
    pub owners: Vec<String>,
    /// How many
    pub count: usize,
    /// Whether no smaller set does; otherwise too many owners are left to search through
    pub proven: bool,
}

/// A whole test in one reading.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PetitionTestFirmness {
    /// Id of the test
    pub test: String,
    /// Whether hectares of roads count; same where that makes no difference
    #[schemars(extend("enum" = ["counted", "not_counted", "same"]))]
    pub roads: &'static str,
    /// Whether all its conditions are met
    pub met: bool,
    /// The fewest further signatures that meet it; null where none are enough
    pub to_pass: Option<OwnersRecord>,
    /// The fewest withdrawals after which it is not met; null where it is not, or none count
    pub to_break: Option<OwnersRecord>,
}

/// The count without parcels that are hardly inside.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WithoutSliversRecord {
    /// The verdict without them
    pub verdict: &'static str,
    /// Parcels of which less lies inside than the profile's sliver
    pub lands_left_out: Vec<String>,
    /// Owners who then own nothing inside
    pub owners_left_out: Vec<String>,
}

/// A parcel that lies partly outside.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FringeRecord {
    /// Id of the parcel
    pub parcel_id: String,
    /// Hectares inside
    pub inside_ha: f64,
    /// The verdict if it is left out
    pub verdict: &'static str,
}

/// The land inside that needs drainage, of parcels all of whose owners have signed.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct OwnLandRecord {
    /// The verdict if it alone were the area
    #[schemars(extend("enum" = Verdict::ALL.map(Verdict::code)))]
    pub verdict: &'static str,
    /// Its hectares: without a right of drainage, no more than the findings have, or under standing water
    #[schemars(range(min = 0))]
    pub hectares: f64,
    /// Ids of its parcels
    pub parcels: Vec<String>,
}

/// An area put together from the terrain.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SuggestedRecord {
    /// The area by its lands, with their legal descriptions where given
    pub description: String,
    /// Its lands; `area.geojson` has their shapes
    pub lands: Vec<SuggestedLandProperties>,
    /// Parcels on the path left out because less than the profile's sliver would lie inside
    pub left_out: Vec<LandHectares>,
    /// Parcels with land without a right whose water comes to the outlet at the same place, though no path asked about crosses them, with
    /// those hectares
    pub same_way: Vec<LandHectares>,
    /// Parcels asked about that have no land in the area
    pub not_inside: Vec<String>,
    /// Parcels asked about with hectares of which it is undecided whether they have a right
    pub undecided: Vec<LandHectares>,
}

/// A land of an area that was put together from the terrain.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SuggestedLandProperties {
    /// parcel or road
    #[schemars(extend("enum" = ["parcel", "road"]))]
    pub kind: &'static str,
    /// Id of the parcel or road
    pub id: String,
    /// Legal description of the parcel or name of the road, as given
    pub legal: Option<String>,
    /// `asked`: asked about; `on_path`: a path asked about crosses land of it that has no right either; `road`: beside the land and draining
    /// the same way
    #[schemars(extend("enum" = ["asked", "on_path", "road"]))]
    pub why: &'static str,
    /// all or part of the land lies inside
    #[schemars(extend("enum" = ["all", "part"]))]
    pub part: &'static str,
    /// Hectares inside
    #[schemars(range(min = 0))]
    pub inside_ha: f64,
    /// Hectares that have a right or are undecided, of the leaving points by which its land without a right drains: which part of their land
    /// that is, is not known
    #[schemars(range(min = 0))]
    pub of_another_standing_ha: f64,
    /// Hectares inside that the terrain holds under at least 0.1 m of water until it spills
    #[schemars(range(min = 0))]
    pub under_water_ha: f64,
}

/// What a pipe is checked for.
pub(crate) const TILE_FLOW: &str = "tile_flow";

/// Where the water of the area goes, over the surface.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct BasinRecord {
    /// Id of the outlet, or coordinates of the point
    pub outlet: String,
    /// Whether the outlet was named; otherwise it is the one to which most of the area drains
    pub named: bool,
    /// Hectares of the area with elevation
    #[schemars(range(min = 0))]
    pub area_ha: f64,
    /// Hectares of it that drain to the outlet
    #[schemars(range(min = 0))]
    pub drains_to_outlet_ha: f64,
    /// Lands inside that drain elsewhere
    pub elsewhere: Vec<LandHectares>,
    /// Lands outside whose water comes through the area
    pub from_outside: Vec<LandHectares>,
    /// Hectares that a drain to the outlet would bring there and that do not drain there today
    #[schemars(range(min = 0))]
    pub adds_ha: f64,
    /// The link at the outlet's lower end, where land that drains elsewhere is taken to enter; null where none is known or no sizes are
    /// given
    pub lowest_link: Option<String>,
    /// What that link is checked for: a pipe for tile flow alone; null where none is known
    #[schemars(extend("enum" = ["tile_flow", "storm", null]))]
    pub lowest_link_checked_for: Option<&'static str>,
    /// Flow that it is checked for, m³/s; null where something is still to be measured
    pub flow_m3_s: Option<f64>,
    /// The same flow if `adds_ha` drained there over the surface as well, m³/s
    pub flow_with_area_m3_s: Option<f64>,
    /// The first link, from where the area's water meets the outlet down, that is too small as it is; null where none was found or no sizes are given
    pub first_too_small: Option<String>,
    /// Whether that link was designed large enough, so that its maintenance may do
    pub maintenance_may_do: bool,
    /// The first of these links that is large enough as it is, and too small if `adds_ha` drained there as well
    pub first_too_small_with_area: Option<String>,
    /// The first of these links whose capacity could not be checked
    pub first_not_checked: Option<String>,
    /// Whether the case gives sizes, so that links below could be checked
    pub links_checked: bool,
}

/// A land by its hectares.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LandHectares {
    /// parcel, road or unowned
    #[schemars(extend("enum" = ["parcel", "road", "unowned"]))]
    pub kind: &'static str,
    /// Id of the parcel or road; null for unowned land
    pub id: Option<String>,
    /// Hectares
    #[schemars(range(min = 0))]
    pub hectares: f64,
}

/// Each parcel and road of the area, as far as it lies inside.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct PetitionLandProperties {
    /// Id of the parcel; null for a road
    pub parcel_id: Option<String>,
    /// Id of the road; null for a parcel
    pub road_id: Option<String>,
    /// Owner as given; a road's authority
    pub owner: Option<String>,
    /// Legal description as given
    pub legal: Option<String>,
    /// Hectares inside the area, to whole square metres, on which all counting is done
    #[schemars(range(min = 0))]
    pub inside_ha: f64,
    /// Hectares of the whole land
    #[schemars(range(min = 0))]
    pub whole_ha: f64,
    /// Whether it counts in any test
    pub counts: bool,
    /// Whether all its owners have signed and not withdrawn
    pub signed: bool,
    /// Whether the signature or withdrawal of one of its owners alone changes whether enough have signed
    pub tips: bool,
    /// Hectares inside that drain to the outlet over the surface; null where there is no outlet
    #[schemars(range(min = 0))]
    pub drains_to_outlet_ha: Option<f64>,
}
