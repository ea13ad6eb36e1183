//! Sets of things that are joined one after the other: each points to another of its set, the representative to itself.

/// The representative of an item's set; shortens the way to it.
pub(super) fn root(parent: &mut [usize], mut item: usize) -> usize {
    while parent[item] != item {
        parent[item] = parent[parent[item]];
        item = parent[item];
    }
    item
}
