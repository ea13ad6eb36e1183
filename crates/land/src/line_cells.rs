//! Lines on cells.

use fallwright_units::{Cell, Frame};
use geo::{Coord, LineString};

/// The cells a line runs through, in its order: each the neighbour of the one before, no corner cell that could be cut.
///
/// Parts outside the frame are left out, so the result is one chain for each stretch inside.
///
/// *Method*: the line is sampled at a quarter of a cell; a cell between two that touch is dropped, so a bend
/// narrower than two cells is cut short.
///
/// *Complexity*: O(corners + length inside the frame / cell size).
pub fn cells_along(frame: &Frame, line: &LineString<f64>) -> Vec<Vec<Cell>> {
    let spacing = frame.cell_width().min(frame.cell_height()) / 4.0;
    let mut chains = vec![Vec::new()];
    for point in line.lines().flat_map(|edge| sampled(frame, edge.start, edge.end, spacing)) {
        match frame.cell_at((point.x, point.y)) {
            Some(cell) => push_thin(frame, chains.last_mut().expect("never empty"), cell),
            None if chains.last().is_some_and(|chain: &Vec<Cell>| !chain.is_empty()) => chains.push(Vec::new()),
            None => {}
        }
    }
    chains.retain(|chain| !chain.is_empty());
    chains
}

/// Points at equal spaces along an edge: those inside the frame and the nearest ones outside.
fn sampled(frame: &Frame, start: Coord<f64>, end: Coord<f64>, spacing: f64) -> impl Iterator<Item = Coord<f64>> {
    let along = end - start;
    let steps = (along.x.hypot(along.y) / spacing).ceil().max(1.0);
    let (enters, leaves) = inside(frame, start, along);
    let (first, last) = ((enters * steps).floor() - 1.0, (leaves * steps).ceil() + 1.0);
    let range = if enters <= leaves { first.max(0.0) as usize..last.min(steps) as usize + 1 } else { 0..0 };
    range.map(move |step| start + along * (step as f64 / steps))
}

/// Where an edge enters and leaves the frame, as fractions of its length; the first is the larger where it never does.
///
/// *References*: Liang and Barsky (1984), A new concept and method for line clipping (from memory).
fn inside(frame: &Frame, start: Coord<f64>, along: Coord<f64>) -> (f64, f64) {
    let sides = [
        (along.x, frame.west() - start.x, frame.east() - start.x),
        (along.y, frame.south() - start.y, frame.north() - start.y),
    ];
    sides.into_iter().fold((0.0, 1.0), |(enters, leaves), (along, low, high)| {
        if along == 0.0 {
            return if low <= 0.0 && high >= 0.0 { (enters, leaves) } else { (1.0, 0.0) };
        }
        let (one, other) = (low / along, high / along);
        (f64::max(enters, one.min(other)), f64::min(leaves, one.max(other)))
    })
}

fn push_thin(frame: &Frame, chain: &mut Vec<Cell>, cell: Cell) {
    if chain.last() == Some(&cell) {
        return;
    }
    while let [.., before, _] = chain[..]
        && touch(frame, before, cell)
    {
        chain.pop();
    }
    if chain.last() != Some(&cell) {
        chain.push(cell);
    }
}

fn touch(frame: &Frame, a: Cell, b: Cell) -> bool {
    let ((ac, ar), (bc, br)) = (frame.col_row(a), frame.col_row(b));
    ac.abs_diff(bc) <= 1 && ar.abs_diff(br) <= 1
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn frame() -> Frame {
        Frame::new(20, 20, (0.0, 20.0), (1.0, 1.0)).unwrap()
    }

    fn check(points: &[(f64, f64)], expected: &[&[(usize, usize)]]) {
        let chains = cells_along(&frame(), &LineString::from(points.to_vec()));
        let found: Vec<Vec<_>> =
            chains.iter().map(|chain| chain.iter().map(|&cell| frame().col_row(cell)).collect()).collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn a_line_becomes_a_chain_of_touching_cells() {
        check(&[(0.5, 19.5), (3.5, 19.5)], &[&[(0, 0), (1, 0), (2, 0), (3, 0)]]);
        check(&[(0.5, 19.5), (2.5, 17.5)], &[&[(0, 0), (1, 1), (2, 2)]]);
        check(&[(0.5, 19.5), (0.5, 18.5), (1.5, 18.5)], &[&[(0, 0), (1, 1)]]);
        check(&[(5.5, 5.5)], &[]);
    }

    #[test]
    fn a_line_that_leaves_and_comes_back_is_two_chains() {
        check(&[(0.5, 19.5), (0.5, 22.5), (2.5, 22.5), (2.5, 19.5)], &[&[(0, 0)], &[(2, 0)]]);
    }

    /// A walk over all of it would take hours.
    #[test]
    fn what_lies_far_outside_costs_nothing() {
        check(
            &[(0.5, 19.5), (1e12, 19.5), (1e12, 1e12), (3.5, 1e12), (3.5, 18.5)],
            &[&(0..20).map(|col| (col, 0)).collect::<Vec<_>>(), &[(3, 0), (3, 1)]],
        );
        check(&[(-1e12, -1e12), (1e12, -1e12)], &[]);
    }

    proptest! {
        #[test]
        fn each_cell_touches_the_next_and_not_the_one_after(points in prop::collection::vec((0.0..20.0_f64, 0.01..20.0_f64), 2..6)) {
            for chain in cells_along(&frame(), &LineString::from(points)) {
                for pair in chain.windows(2) {
                    prop_assert!(pair[0] != pair[1] && touch(&frame(), pair[0], pair[1]));
                }
                for three in chain.windows(3) {
                    prop_assert!(!touch(&frame(), three[0], three[2]));
                }
            }
        }
    }
}
