//! Piped water: where land drained by pipe sends its subsurface water.

use fallwright_units::{ReachIx, StructureIx};
use typed_index_collections::{TiSlice, TiVec, ti_vec};

use crate::{Edge, OutletNetwork, Reaches, Setting};

/// Cells drained by pipe whose water passes through each reach.
///
/// `tiled` gives for each structure the cells of tiled land that drain to it. The water leaves at the structure's lower end
/// and goes on as surface water does from there.
///
/// *Complexity*: O(structures × reaches below each).
pub fn piped_by_reach(
    setting: &Setting,
    network: &OutletNetwork,
    reaches: &Reaches,
    tiled: &TiSlice<StructureIx, u64>,
) -> TiVec<ReachIx, u64> {
    let mut piped = ti_vec![0; reaches.list.len()];
    for (structure, &cells) in setting.structures.iter().zip(tiled) {
        let Some(outlet) = network.point(structure.link.outlet).filter(|_| cells > 0) else { continue };
        for edge in network.downstream(outlet) {
            if let Edge::Reach(reach) | Edge::Joins(reach) = edge {
                piped[reach] += cells;
            }
        }
    }
    piped
}
