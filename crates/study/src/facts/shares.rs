//! What is measured of each share of a parcel.

use std::collections::BTreeMap;

use fallwright_law::{MarkedChannel, OutletOnPath, ShareFacts};
use fallwright_network::{LotLines, Party, Share, Trace};
use fallwright_units::{Cell, Hectares, Metres, ParcelId, ParcelIx, ShareIx};

use super::fills::Fills;
use super::holdings::Holdings;
use super::path::{also_met, constraints_on_path, features_at, lands, lawful_outlets, parcels_crossed, path_end};
use super::quantities::{hectares, metres};
use crate::study::Study;

/// How far the divides of each share stand above where it leaves.
pub(super) type DivideHeights = BTreeMap<(ParcelIx, ShareIx), f64>;

pub(super) fn shares(
    study: &Study,
    parcel: ParcelIx,
    (divides, lot_lines, fills): (&DivideHeights, &LotLines, &Fills),
    holdings: &Holdings,
) -> Vec<ShareFacts> {
    let shares = study.shares[parcel].iter_enumerated();
    shares
        .map(|(number, share)| ShareFacts {
            divide_height: divides.get(&(parcel, number)).copied().map(metres),
            within_a_cell_of_line: lot_lines.holds_all_of(parcel, number),
            filled: study.courses.deepest_fill_at(parcel, number).and_then(|at| fills.at(at)),
            ..share_facts(study, (parcel, number), share, &study.trace(parcel, number), holdings)
        })
        .collect()
}

fn share_facts(
    study: &Study,
    (parcel, number): (ParcelIx, ShareIx),
    share: &Share,
    trace: &Trace,
    holdings: &Holdings,
) -> ShareFacts {
    let crossed = parcels_crossed(study, parcel, trace, holdings);
    ShareFacts {
        share: number.number(),
        hectares: hectares(study.hectares(share.cells)),
        outlets: outlets_on_path(study, parcel, number, trace, &crossed),
        also_met: if trace.carriers.is_empty() {
            Vec::new()
        } else {
            also_met(study, parcel, (&study.path(parcel, number).stations, trace), holdings)
        },
        constraints: if study.inputs.constraints.is_empty() {
            Vec::new()
        } else {
            constraints_on_path(study, &study.path(parcel, number))
        },
        lands: lands(study, parcel, trace, holdings),
        end: path_end(study.network.leaving(parcel, number).and_then(|node| study.network.end_of(node))),
        marked_channel: marked_channel(study, share),
        leaving_area: leaving_area(study, share),
        within_a_cell_of_line: false,
        path: metres(trace.length_m()),
        leaving_level: study.surveyed_m(share.leaving).map(metres),
        fall: Metres::from_metres(trace.fall_m()).ok(),
        deepest_fill: metres(trace.deepest_fill_m),
        filled: None,
        over_suspected_culvert: study.courses.passes_marked(parcel, number),
        divide_height: None,
        is_remainder: share.is_remainder,
    }
}

fn outlets_on_path(
    study: &Study,
    parcel: ParcelIx,
    share: ShareIx,
    trace: &Trace,
    crossed: &[ParcelId],
) -> Vec<OutletOnPath> {
    let node = study.network.leaving(parcel, share);
    let mut channels = node.map_or_else(Vec::new, |node| study.network.channels_below(node, &study.reaches));
    let first = trace.outlet.map_or_else(Vec::new, |outlet| features_at(study, outlet, trace));
    channels.insert(0, first.clone());
    let own_land = study.setting.parties.of(trace.last.cell) == Party::Parcel(parcel);
    let reached = if own_land { first } else { Vec::new() };
    lawful_outlets(study, &channels, crossed, &reached)
}

/// The largest area that drains through a cell without a mapped feature by which a share leaves.
fn leaving_area(study: &Study, share: &Share) -> Hectares {
    let unmapped = leaving_cells(study, share).filter(|&cell| study.setting.waterway_of(cell).is_none());
    unmapped.map(|cell| study.setting.area(cell)).max().map_or(Hectares::ZERO, |cells| hectares(study.hectares(cells)))
}

/// Where a share leaves, on the parcel and just over its boundary.
fn leaving_cells(study: &Study, share: &Share) -> impl Iterator<Item = Cell> {
    let flow = study.setting.flow();
    share.exits.iter().flat_map(|&exit| [Some(exit), flow.receiver(exit)]).flatten()
}

/// The largest marked channel by which a share leaves, on the parcel or just over its boundary.
fn marked_channel(study: &Study, share: &Share) -> Option<MarkedChannel> {
    leaving_cells(study, share)
        .filter_map(|cell| Some((study.setting.area(cell), *study.marked.get(&cell)?)))
        .max_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)))
        .map(|(cells, depth)| MarkedChannel { hectares: hectares(study.hectares(cells)), depth: metres(depth) })
}
