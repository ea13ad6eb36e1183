//! Tiled land on cells.

use fallwright_case::Inputs;
use fallwright_land::cover;
use fallwright_units::{LabelRuns, MappedStructureIx, StructureIx};
use geo::MultiPolygon;
use typed_index_collections::TiSlice;

/// For each cell the structure that its piped water goes to, 1 for the first; 0 where it is not tiled. `mapped` gives each
/// structure its position in the inputs, in rising order.
pub(super) fn on_cells(inputs: &Inputs, mapped: &TiSlice<StructureIx, MappedStructureIx>) -> LabelRuns {
    let frame = inputs.ground.frame;
    if inputs.tiled.is_empty() {
        return LabelRuns::new(std::iter::repeat_n(0, frame.len()));
    }
    let shapes: Vec<MultiPolygon<f64>> = inputs.tiled.iter().map(|area| area.shape.clone()).collect();
    let label_of = |main: MappedStructureIx| mapped.binary_search(&main).map_or(0, StructureIx::number);
    let by_area: Vec<u32> = inputs.tiled.iter().map(|area| label_of(area.structure)).collect();
    let areas = cover(&frame, &shapes).values.into_iter().zip(&inputs.ground.values);
    let structure = |(area, ground): (u32, &f32)| match area.checked_sub(1) {
        Some(area) if !ground.is_nan() => by_area[area as usize],
        _ => 0,
    };
    LabelRuns::new(areas.map(structure))
}
