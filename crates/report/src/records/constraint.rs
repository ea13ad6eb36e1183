//! Constraints as records list them: wetlands, regulated areas, fish habitat, utilities.

use schemars::JsonSchema;
use serde::Serialize;

/// A constraint of the case that is met.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ConstraintItem {
    /// What it is, as the rule profile names the kind where it lists it, else as the case does
    pub kind: String,
    /// Its id, where one is given
    pub id: Option<String>,
    /// Its name, where one is given
    pub name: Option<String>,
    /// Its class within the kind, where one is given
    pub class: Option<String>,
    /// Metres of the path inside the area; of a line, metres of the path no farther from it than the diagonal of a cell
    #[schemars(range(min = 0))]
    pub metres: f64,
    /// Stretches of the path there
    #[schemars(range(min = 0))]
    pub places: usize,
    /// Hectares of the parcel inside the area; null for a line, and for a path
    #[schemars(range(min = 0))]
    pub hectares: Option<f64>,
    /// Metres of the line on the parcel; null for an area, and for a path
    #[schemars(range(min = 0))]
    pub line_m: Option<f64>,
    /// Whom to ask before any works
    pub ask: String,
    /// Source of that in the rule profile, and whether it was confirmed; null where the profile does not list the kind, so that the keeper of records is asked
    pub source: Option<String>,
}
