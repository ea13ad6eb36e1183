//! A land, as every record names it: the kind beside the id, so that no id is taken for a word.

use schemars::JsonSchema;
use serde::Serialize;

/// A parcel, a road, or land of neither.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct LandItem {
    /// Kind of land; unowned is land that no parcel and no road covers
    #[schemars(extend("enum" = ["parcel", "road", "unowned"]))]
    pub kind: &'static str,
    /// Id of the parcel or road; null for unowned land
    pub id: Option<String>,
    /// Name of the road, where one is given
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Authority of the road, where one is given
    #[serde(skip_serializing_if = "Option::is_none")]
    pub authority: Option<String>,
}
