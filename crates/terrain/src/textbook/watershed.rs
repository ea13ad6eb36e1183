//! Watersheds.

use fallwright_units::{Cell, Raster};

use crate::flow::Flow;

/// Gives every cell the label of the first labelled cell on its way downstream, itself included.
///
/// `labels` holds 0 where there is no label; cells whose path meets none keep 0. With one labelled cell the result is that
/// cell's watershed.
///
/// *Complexity*: O(n) for n cells: each cell is walked over at most twice.
pub fn label_upstream(flow: &Flow, mut labels: Raster<u32>) -> Raster<u32> {
    let mut settled: Vec<bool> = labels.values.iter().map(|&label| label != 0).collect();
    let mut walked = Vec::new();
    for start in 0..settled.len() {
        let mut cell = Cell(start);
        let label = loop {
            if settled[cell.0] {
                break labels[cell];
            }
            walked.push(cell);
            match flow.receiver(cell) {
                Some(next) => cell = next,
                None => break 0,
            }
        };
        for cell in walked.drain(..) {
            labels[cell] = label;
            settled[cell.0] = true;
        }
    }
    labels
}
