//! `terrain_changes.geojson`: where the conditioned surface departs from the ground.

use fallwright_units::ParcelId;
use schemars::JsonSchema;
use serde::{Serialize, Serializer};

/// Where the conditioned surface departs from the ground: depressions filled, barriers cut, channel beds enforced, real
/// depressions kept. Fills and cuts of less than 5 cm are only totalled in run.json.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct TerrainChangeProperties {
    /// F and a number for fills, the deepest first; B for cuts through barriers, by hectares; C and the waterway for
    /// channel beds; K for kept depressions
    pub change_id: String,
    /// Ground raised, ground lowered, or a real depression left as it is
    pub kind: ChangeKind,
    /// Greatest depth of fill, cut or water
    #[schemars(range(min = 0))]
    pub depth_m: f64,
    /// Cubic metres of fill or cut, or of storage below the spill level: of a kept depression without what others inside it
    /// hold up to theirs
    #[schemars(range(min = 0))]
    pub volume_m3: f64,
    /// Hectares changed, or under water at the spill level and in no other kept depression inside it
    #[schemars(range(min = 0))]
    pub area_ha: f64,
    /// Of a cut: metres along it
    pub length_m: Option<f64>,
    /// Level at which a filled or kept depression spills
    pub level_m: Option<f64>,
    /// Of a cut along a mapped channel: the waterway whose bed was enforced
    pub waterway_id: Option<String>,
    /// Hectares whose water runs through it, each counted once: what comes into a fill, a lowered bed or a kept depression;
    /// of a cut through a barrier, what it releases
    #[schemars(range(min = 0))]
    pub draining_ha: f64,
    /// Of a cut through a barrier: the sum of max(0, z - pit) over its path, metres
    pub rise_sum_m: Option<f64>,
    /// Whether a road, lane or railway holds water back here, by layer or by shape: a culvert may be missing from the
    /// data; check it in the field. The cut is at least 0.3 m and three times the roughness deep; where neither a road nor
    /// the end of a channel is mapped, the bank is eight times as high (our choice, no source). A fill is one where its water
    /// spills over a road, or where water at least 0.2 m deep is kept by a bank from ground within 30 m that is lower than its level by as much
    pub suspected_culvert: bool,
    /// Of a suspected culvert: whether a road of the layer lies over it; null where the case has no roads
    pub on_road: Option<bool>,
    /// Of a suspected culvert at a bank: whether the ground is shaped like an embankment: long, narrow, steep on both
    /// sides, at least eight times as high as the ground around is rough
    pub embankment: Option<bool>,
    /// Of a suspected culvert that is a cut: whether a mapped channel begins or ends within 15 m, at a narrow rise
    pub channel_end: Option<bool>,
    /// Of a suspected culvert at a bank: metres by which the bank stands above the lower ground on both sides within
    /// 15 m, as the median over 40 m along it
    #[schemars(range(min = 0))]
    pub bank_height_m: Option<f64>,
    /// Of a suspected culvert at a bank: roughness of the ground within 30 m, the median departure from the mean of two
    /// places 4 m to both sides, metres
    #[schemars(range(min = 0))]
    pub roughness_m: Option<f64>,
    /// What changes without the cut or fill: a finding, else where water of 0.05 ha or more comes or whose land it crosses
    /// (watershed), else none. Null for beds and kept depressions
    pub consequence: Option<Consequence>,
    /// Hectares whose water takes another way without it; 0 where it comes together again before anything changes. Null as
    /// consequence
    #[schemars(range(min = 0))]
    pub rerouted_ha: Option<f64>,
    /// Among the suspected culverts of some consequence, 1 for the one on which most depends: by the hectares of the parcels
    /// whose finding changes without it, then by hectares rerouted, then by hectares draining. Null for those without consequence, which
    /// are a second list
    #[schemars(range(min = 1))]
    pub rank: Option<usize>,
    /// Ids of parcels with a share whose path to its outlet crosses it
    #[serde(serialize_with = "as_texts")]
    #[schemars(with = "Vec<String>")]
    pub parcels: Vec<ParcelId>,
    /// Ids of parcels whose finding (standing, basis, outlet, hectares to the tenth) changes without it, worked out
    /// anew. A cut is left out with the cuts from the same depression, a suspected culvert with those through the same
    /// bank (within 30 m) too; without a fill, water stays in its depression. Empty where less than 0.05 ha takes
    /// another way. Null for beds of mapped channels, which are mapped and not guessed, for kept depressions, and for
    /// changes beyond the bound on work (250 million cells, a lot line that a path may cross counting as 17 and a cell of
    /// a mapped channel as 20, those through which most land drains first)
    pub finding_depends: Option<Vec<String>>,
}

/// What changes without a cut or a fill, the weightiest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Consequence {
    Finding,
    Watershed,
    None,
}

/// Kinds of change, in the order in which they are listed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ChangeKind {
    Cut,
    Fill,
    Kept,
}

fn as_texts<S: Serializer>(ids: &[ParcelId], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(ids.iter().map(ParcelId::as_str))
}
