//! Who each cell belongs to.

use fallwright_case::{Inputs, Note};
use fallwright_land::{close_gaps, cover};
use fallwright_network::{Parties, Party};
use fallwright_units::{Cell, Frame, ParcelIx, RoadIx};
use geo::MultiPolygon;

/// Parcels come before roads, each in the order of their ids, and a gap no wider than the boundaries' accuracy belongs to the
/// land beside it.
pub(super) fn on_cells(inputs: &Inputs, notes: &mut Vec<Note>) -> Parties {
    let frame = inputs.ground.frame;
    let mut shapes: Vec<MultiPolygon<f64>> = inputs.parcels.iter().map(|parcel| parcel.shape.clone()).collect();
    let parcels = shapes.len();
    shapes.extend(inputs.roads.iter().map(|road| road.shape.clone()));
    let mut labels = cover(&frame, &shapes);
    let accuracy_m = inputs.case.parcels.as_ref().map_or(0.0, |table| table.accuracy_m);
    note_closed_gaps(&frame, &close_gaps(&mut labels, accuracy_m), accuracy_m, notes);
    Parties::new(labels.values.into_iter().map(|label| match ParcelIx::from_number(label) {
        None => Party::Unowned,
        Some(ParcelIx(shape)) if shape >= parcels => Party::Road(RoadIx(shape - parcels)),
        Some(parcel) => Party::Parcel(parcel),
    }))
}

fn note_closed_gaps(frame: &Frame, closed: &[Cell], accuracy_m: f64, notes: &mut Vec<Note>) {
    if !closed.is_empty() {
        notes.push(Note::new(
            "parcels",
            format!(
                "gaps of {} {} ({:.4} ha) between lot lines",
                closed.len(),
                if closed.len() == 1 { "cell" } else { "cells" },
                frame.hectares(closed.len() as u64)
            ),
            format!("no wider than the boundaries' accuracy of {accuracy_m} m; given to the land on the west or north"),
        ));
    }
}
