//! What the page holds, as the JSON in it names it.
//!
//! Coordinates are whole decimetres east and north of the elevation's south-west corner, each after the first as the
//! difference from the one before. Texts that occur often are positions in [`Overview::texts`].

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;

#[derive(Clone, Debug, Serialize)]
pub(crate) struct Overview {
    pub furniture: Furniture,
    /// Size of the elevation from west to east and from south to north, metres.
    pub size_m: [f64; 2],
    /// South-west corner in the case's reference system, metres.
    pub corner: [f64; 2],
    pub shade: Picture,
    pub parcels: Vec<ParcelOnPage>,
    /// Name of the land whose position is -1.
    pub no_parcel: &'static str,
    pub waters: Vec<WaterOnPage>,
    pub channels: Vec<ChannelOnPage>,
    pub structures: Vec<StructureOnPage>,
    /// The position of the first is -4, of the second -5.
    pub roads: Vec<RoadOnPage>,
    pub limits: Vec<LimitOnPage>,
    pub doubts: Vec<DoubtOnPage>,
    /// What was put right, or should be known, one sentence each.
    pub notes: Vec<String>,
    pub lines: Vec<FlowLineOnPage>,
    pub click: ClickGrid,
    /// Sentences on what the page holds in less detail than the results.
    pub thinned: Vec<String>,
    pub texts: Vec<String>,
}

/// What stands on the page and on every sheet beside the map.
#[derive(Clone, Debug, Serialize)]
pub struct Furniture {
    /// Name of the case.
    pub title: String,
    pub crs: String,
    pub heights: String,
    pub sources: Vec<SourceFile>,
    pub run_date: String,
    pub version: String,
    /// First digits of the SHA-256 of the settings and inputs.
    pub settings_digest: String,
    pub profile: String,
    pub caution: String,
}

#[derive(Clone, Debug, Serialize)]
pub struct SourceFile {
    pub name: String,
    /// When it was surveyed, where the case says it.
    pub date: Option<String>,
}

#[derive(Clone, Debug, Serialize)]
pub(crate) struct Picture {
    /// A `data:` address.
    pub uri: String,
    pub cell_m: f64,
}

#[derive(Clone, Debug, Serialize)]
pub(crate) struct ParcelOnPage {
    pub id: String,
    pub owner: Option<String>,
    pub legal: Option<String>,
    /// As the palette names it.
    pub style: &'static str,
    pub area_ha: f64,
    pub own_ha: f64,
    pub run_on_ha: f64,
    pub right_ha: f64,
    pub acquire_ha: f64,
    pub undecided_ha: f64,
    pub piped_ha: f64,
    pub confidence: &'static str,
    pub next_step: String,
    pub sufficiency: String,
    pub limiting_reach: Option<String>,
    pub reasons: Vec<usize>,
    pub evidence: Vec<EvidenceOnPage>,
    pub ways: Vec<WayOnPage>,
    /// Positions of parcels; -1 land of no parcel and no road; -4 the first road, -5 the second; hectares.
    pub receives: Vec<(i64, f64)>,
    /// For each pipe to which land of the parcel is drained, a few sentences.
    pub piped: Vec<String>,
    /// What works on the parcel or along its main path would meet, a sentence each; or that nothing is known of it.
    pub constraints: Vec<usize>,
    pub shares: Vec<ShareOnPage>,
    /// Rings of one or more polygons.
    pub rings: Vec<Vec<Vec<i64>>>,
}

/// Rule, source, feature, measure, value, unit.
pub(crate) type EvidenceOnPage = (usize, usize, Option<String>, usize, Value, Option<&'static str>);

#[derive(Clone, Debug, Serialize)]
pub(crate) struct WayOnPage {
    pub label: usize,
    pub source: usize,
    /// Positions of parcels.
    pub through: Vec<i64>,
    pub steps: Vec<usize>,
}

#[derive(Clone, Debug, Serialize)]
pub(crate) struct ShareOnPage {
    pub hectares: f64,
    /// As the law has it: `right`, `acquire` or `undecided`.
    pub standing: &'static str,
    /// A text, as `municipal drain D-07 (Quernstone Drain)`; where the water ends otherwise.
    pub to: usize,
    pub has_outlet: bool,
    /// Position of the first flow line; `None` where no line is drawn.
    pub line: Option<usize>,
    pub path_m: f64,
    pub fall_m: f64,
    pub is_remainder: bool,
    pub crossings: Vec<CrossingOnPage>,
}

/// Onto whose land (position), metres from the leaving point, metres on it, what carries the water, who maintains that.
pub(crate) type CrossingOnPage = (i64, f64, f64, usize, usize);

#[derive(Clone, Debug, Serialize)]
pub(crate) struct ChannelOnPage {
    pub id: String,
    pub name: Option<String>,
    pub class: String,
    pub style: &'static str,
    pub surface_ha: f64,
    pub points: Vec<i64>,
}

#[derive(Clone, Debug, Serialize)]
pub(crate) struct StructureOnPage {
    pub id: String,
    pub kind: &'static str,
    pub points: Vec<i64>,
}

#[derive(Clone, Debug, Serialize)]
pub(crate) struct RoadOnPage {
    /// As `Mill Road (County of Thrumbleby)`.
    pub name: String,
    pub rings: Vec<Vec<i64>>,
}

/// A lake or a wide river that is mapped with its shores.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct WaterOnPage {
    pub style: &'static str,
    pub rings: Vec<Vec<i64>>,
}

/// The limit of one outlet's watershed.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct LimitOnPage {
    pub outlet: String,
    pub name: Option<String>,
    pub area_ha: f64,
    pub rings: Vec<Vec<i64>>,
}

#[derive(Clone, Debug, Serialize)]
pub(crate) struct DoubtOnPage {
    pub id: String,
    /// One plain sentence.
    pub what: String,
    pub advice: String,
    pub at: [i64; 2],
    pub points: Vec<i64>,
    /// Positions of parcels whose path crosses it, and of those whose finding changes without it.
    pub parcels: Vec<i64>,
    pub depends: Option<Vec<i64>>,
    pub is_suspected_culvert: bool,
}

#[derive(Clone, Debug, Serialize)]
pub(crate) struct FlowLineOnPage {
    /// Position of the line that it runs into, or -1.
    pub next: i64,
    pub length_m: f64,
    /// Decimetres east and north, and centimetres of ground level, in turn.
    pub points: Vec<i64>,
}

/// For each cell of a coarse grid what the water of its middle does, worked out at full resolution.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct ClickGrid {
    pub cols: usize,
    pub rows: usize,
    /// Metres from one point to the next.
    pub step_m: [f64; 2],
    /// The first point, metres from the north-west corner.
    pub first_m: [f64; 2],
    /// Elements of `entries`: land (position) and the element that follows, or a text after -2 for an outlet and -3 for
    /// another end.
    pub entries: Vec<(i64, usize)>,
    /// Five planes of 32-bit numbers, little-endian, row by row: element of `entries` and 1, 0 without data; land: 1 of no
    /// parcel and no road, then the parcels from 2, then the roads;
    /// position in `lines` and 1, 0 for none; how far along it in 1/65535; metres to the outlet or end. Deflated (RFC
    /// 1951), base64.
    pub planes: String,
}

/// Texts that occur often, each once.
#[derive(Debug, Default)]
pub(crate) struct Texts {
    list: Vec<String>,
    position: BTreeMap<String, usize>,
}

impl Texts {
    pub(crate) fn add(&mut self, text: &str) -> usize {
        if let Some(&position) = self.position.get(text) {
            return position;
        }
        self.list.push(text.to_owned());
        self.position.insert(text.to_owned(), self.list.len() - 1);
        self.list.len() - 1
    }

    pub(crate) fn into_list(self) -> Vec<String> {
        self.list
    }
}
