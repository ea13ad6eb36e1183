//! Gaps between parcels that are no land of their own, only a misfit of two surveys.

use fallwright_units::{Cell, Raster};

/// Gives cells without a label the label beside them where the gap is a sliver, and returns those cells.
///
/// A gap is closed where, along its row or its column, it is no wider than `width_m` and has a label on both sides; the
/// cell goes to the label on the west, or else the north.
///
/// *Complexity*: O(n) for n cells.
pub fn close_gaps(labels: &mut Raster<u32>, width_m: f64) -> Vec<Cell> {
    let frame = labels.frame;
    let across = (width_m / frame.cell_width()).floor() as usize;
    let down = (width_m / frame.cell_height()).floor() as usize;
    let mut closed = Vec::new();
    for cell in (0..frame.len()).map(Cell).filter(|&cell| labels[cell] == 0) {
        let beside = between(labels, cell, (1, 0), across).or_else(|| between(labels, cell, (0, 1), down));
        closed.extend(beside.map(|label| (cell, label)));
    }
    for &(cell, label) in &closed {
        labels[cell] = label;
    }
    closed.into_iter().map(|(cell, _)| cell).collect()
}

/// The label on the near side of a gap of at most `most` cells along one axis.
fn between(labels: &Raster<u32>, cell: Cell, (dc, dr): (i32, i32), most: usize) -> Option<u32> {
    let (before, label) = nearest_label(labels, cell, (-dc, -dr), most)?;
    let (after, _) = nearest_label(labels, cell, (dc, dr), most)?;
    // Both counts include the cell itself.
    (before + after - 1 <= most).then_some(label)
}

fn nearest_label(labels: &Raster<u32>, from: Cell, step: (i32, i32), most: usize) -> Option<(usize, u32)> {
    let mut cell = from;
    for count in 1..=most {
        cell = labels.frame.step(cell, step)?;
        if labels[cell] != 0 {
            return Some((count, labels[cell]));
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use fallwright_units::Frame;

    use super::*;

    fn check(row: &[u32], width_m: f64, expected: &[u32]) {
        let frame = Frame::new(row.len(), 1, (0.0, 0.0), (2.0, 2.0)).unwrap();
        let mut labels = Raster { frame, values: row.to_vec() };
        close_gaps(&mut labels, width_m);
        assert_eq!(labels.values, expected);
    }

    #[test]
    fn only_slivers_between_two_labels_are_closed() {
        check(&[1, 0, 2], 2.0, &[1, 1, 2]);
        check(&[1, 0, 0, 2], 2.0, &[1, 0, 0, 2]);
        check(&[1, 0, 0, 2], 4.0, &[1, 1, 1, 2]);
        check(&[0, 1, 2, 0], 4.0, &[0, 1, 2, 0]);
        check(&[1, 0, 2], 1.9, &[1, 0, 2]);
        check(&[1, 0, 0, 0, 0, 0, 2], 4.0, &[1, 0, 0, 0, 0, 0, 2]);
    }
}
