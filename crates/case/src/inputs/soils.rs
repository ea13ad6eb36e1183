//! Hydrologic soil groups.

use geo::MultiPolygon;

use super::reading::Reading;
use super::shapes::FeaturePlace;
use crate::file;
use crate::spelling;

/// Land of one hydrologic soil group.
#[derive(Clone, Debug, PartialEq)]
pub struct SoilArea {
    /// 0 for A to 3 for D.
    pub group: usize,
    pub shape: MultiPolygon<f64>,
}

pub(super) fn read(reading: &mut Reading, table: &file::Soils) -> Vec<SoilArea> {
    let fields = [table.group.as_str()];
    let Some(layer) = reading.layer(&table.source, table.layer.as_deref(), &fields) else { return Vec::new() };
    let mut areas = Vec::new();
    for feature in &layer.features {
        let place = FeaturePlace { layer: &layer, feature };
        let Some(shape) = reading.polygon(place, None) else { continue };
        let group = place.text(Some(&table.group)).unwrap_or_default();
        match spelling::find(&group, ["A", "B", "C", "D"].into_iter()) {
            Some(group) => areas.push(SoilArea { group, shape }),
            None => reading.problems.push(place.problem(
                None,
                format!("the group {group:?}"),
                "A, B, C or D",
                "for a dual group such as B/D choose the one that fits how the land is drained",
            )),
        }
    }
    areas
}
