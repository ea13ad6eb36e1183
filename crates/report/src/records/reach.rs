//! `reaches.geojson`: mapped waterways between junctions and structures.

use schemars::JsonSchema;
use serde::Serialize;

/// Mapped waterways cut at junctions and structures, as the water was found to run. A lake or a wide river that is mapped as a
/// polygon has a reach for each cell that takes in its water, whose line is the longest way of the water to that cell.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ReachProperties {
    /// Id of the waterway and a number, 1 for its lowest reach
    pub reach_id: String,
    /// Id of the waterway
    pub waterway_id: String,
    /// Its name as given
    pub name: Option<String>,
    /// Its class
    pub class: String,
    /// Other mapped waterways that run in the same channel, as where a natural watercourse was improved as a municipal
    /// drain: the channel has every status
    pub also: Vec<StatusItem>,
    /// Upper node of the outlet network: column.row of the cell
    pub upper_node: String,
    /// Lower node
    pub lower_node: String,
    /// The reach that the water enters next, whatever lies between; null where it enters none
    pub to_reach: Option<String>,
    /// Metres along the reach
    #[schemars(range(min = 0))]
    pub length_m: f64,
    /// Ground as surveyed at the upper end
    pub ground_up_m: Option<f64>,
    /// Ground as surveyed at the lower end
    pub ground_down_m: Option<f64>,
    /// Hectares draining over the surface to the lower end
    #[schemars(range(min = 0))]
    pub surface_ha: f64,
    /// Hectares drained by pipe whose water passes
    #[schemars(range(min = 0))]
    pub piped_ha: f64,
}

/// Another waterway that runs in the same channel.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct StatusItem {
    /// The other waterway
    pub waterway_id: String,
    /// Its class
    pub class: String,
}
