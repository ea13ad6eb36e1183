//! Sets of things that are joined one after the other: each points to another of its set, the representative to itself.
//!
//! 32 bits number the basins of one tile, and the areas along the edges of all tiles of up to half a trillion cells.

/// The representative of an item's set; shortens the way to it.
pub(super) fn root(parent: &mut [u32], mut item: u32) -> u32 {
    while parent[item as usize] != item {
        let above = parent[item as usize];
        parent[item as usize] = parent[above as usize];
        item = above;
    }
    item
}
