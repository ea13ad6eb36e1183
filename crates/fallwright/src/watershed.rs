//! The watershed of a waterway or of a point.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;

use fallwright_geodata::outlines;
use fallwright_network::{End, Party};
use fallwright_report::{Record, WatershedPartProperties, layer};
use fallwright_terrain::label_upstream;
use fallwright_units::{Cell, Raster};
use serde_json::{Value, json};

use crate::Progress;
use crate::failure::{Failure, Settings};
use crate::inputs::read_inputs;
use crate::output::output_folder;
use crate::place::{MapPoint, cell_at, no_such};
use crate::run_record::{RunRecord, input_digests, input_files};
use crate::study::{Study, work_out};
use crate::summary::{as_csv_text, counted, hectares};

/// Whose watershed.
#[derive(Clone, Debug, PartialEq)]
pub enum WatershedAt {
    /// A waterway's id.
    Outlet(String),
    Point {
        at: MapPoint,
        /// Metres within which the point may move to the main channel.
        snap_m: Option<f64>,
    },
}

/// The hectares found.
pub struct WatershedReport {
    summary: Value,
    lines: Vec<String>,
}

impl WatershedReport {
    pub fn lines(&self) -> Vec<String> {
        self.lines.clone()
    }

    pub fn json(&self) -> Value {
        self.summary.clone()
    }
}

/// Writes `watershed.geojson`, `watershed_parcels.csv` and `run.json`.
///
/// # Errors
/// Faults of the input; an unknown waterway or a point without elevation; an output folder that cannot be written.
pub fn watershed(
    case: &Path,
    at: &WatershedAt,
    out: &Path,
    settings: &Settings,
    progress: Progress,
) -> Result<WatershedReport, Failure> {
    let inputs = read_inputs(case, settings, progress)?;
    let mut folder = output_folder(out, &input_files(&inputs.case), settings)?;
    let study = work_out(Arc::new(inputs), &BTreeSet::new(), progress)?;
    let parts = parts(&study, at)?;
    progress("writing the results");
    let records = records(&study, &parts)?;
    folder.write_geojson("watershed.geojson", &layer(&records), &study.inputs.crs)?;
    folder.write_bytes("watershed_parcels.csv", parcels_csv(&study, &parts).as_bytes())?;
    let whole = records[0].properties.clone();
    let counts = json!({
        "surface_ha": whole.surface_ha,
        "piped_ha": whole.piped_ha,
        "meets_edge": whole.meets_edge,
        "parts": records.len(),
    });
    let (x, y) = study.setting.frame().centre(parts.at);
    let place = json!({ "outlet": parts.outlet.clone(), "x": x, "y": y, "crs": study.inputs.crs.label() });
    let record =
        RunRecord { command: "watershed", settings: place.clone(), counts: counts.clone(), notes: &study.notes };
    record.write(&mut folder, input_digests(&study.inputs.case)?)?;
    folder.commit()?;
    let lines = lines(&study, &parts, &records, out);
    Ok(WatershedReport { summary: json!({ "out": out.display().to_string(), "at": place, "counts": counts }), lines })
}

/// The cells of a watershed, in parts.
struct Parts {
    outlet: Option<String>,
    /// The lowest cell.
    at: Cell,
    /// For each cell the number of its part, 1 for the first; 0 outside.
    labels: Raster<u32>,
    /// Reaches by part; empty for a point.
    reaches: Vec<usize>,
}

fn parts(study: &Study, at: &WatershedAt) -> Result<Parts, Failure> {
    let mut labels = Raster::filled(study.setting.frame(), 0_u32);
    let (outlet, at, reaches) = match at {
        WatershedAt::Outlet(id) => {
            let waterway = study.inputs.waterways.iter().position(|waterway| waterway.id.as_str() == id);
            let ids = study.inputs.waterways.iter().map(|waterway| waterway.id.as_str());
            let waterway = waterway.ok_or_else(|| no_such("waterway", id, ids))?;
            let own = |&reach: &usize| study.reaches.list[reach].waterways().any(|own| own == waterway);
            let reaches: Vec<usize> = (0..study.reaches.list.len()).filter(own).collect();
            for (label, &reach) in (1_u32..).zip(&reaches) {
                for &cell in &study.reaches.list[reach].cells {
                    labels[cell] = label;
                }
            }
            let lowest = reaches.first().and_then(|&reach| study.reaches.list[reach].cells.last().copied());
            let lowest = lowest.ok_or_else(|| Failure::Usage(format!("no part of {id} lies on the elevation")))?;
            (Some(id.clone()), lowest, reaches)
        }
        WatershedAt::Point { at, snap_m } => {
            let cell = snapped(&study.setting.area, cell_at(study, *at)?, snap_m.unwrap_or(0.0));
            labels[cell] = 1;
            (None, cell, Vec::new())
        }
    };
    let labels = label_upstream(&study.setting.conditioned.flow, labels);
    Ok(Parts { outlet, at, labels, reaches })
}

/// The nearest cell of the main channel within a distance: of all cells through which at least half as much land drains as
/// through any other there, the nearest; of cells equally near the one with most land. So a point beside a channel moves
/// across to it and not along it past the next confluence.
fn snapped(area: &Raster<u64>, from: Cell, within_m: f64) -> Cell {
    let frame = area.frame;
    let around = |at: usize, cell_m: f64, count: usize| {
        let steps = (within_m / cell_m) as usize;
        at.saturating_sub(steps)..at.saturating_add(steps).saturating_add(1).min(count)
    };
    let (col, row) = frame.col_row(from);
    let cols = around(col, frame.cell_width(), frame.cols());
    let rows = around(row, frame.cell_height(), frame.rows());
    let within = || {
        let cells = rows.clone().flat_map(|row| cols.clone().map(move |col| frame.cell(col, row)));
        cells.filter(|&cell| frame.distance(from, cell) <= within_m)
    };
    let most = within().map(|cell| area[cell]).max().unwrap_or(0);
    let main_channel = within().filter(|&cell| area[cell] >= most.div_ceil(2));
    let nearer = |a: &Cell, b: &Cell| {
        let by_distance = frame.distance(from, *a).total_cmp(&frame.distance(from, *b));
        by_distance.then(area[*b].cmp(&area[*a])).then(a.cmp(b))
    };
    main_channel.min_by(nearer).unwrap_or(from)
}

/// The whole first, then each reach.
fn records(study: &Study, parts: &Parts) -> Result<Vec<Record<WatershedPartProperties>>, Failure> {
    let frame = &parts.labels.frame;
    let whole: Vec<u32> = parts.labels.values.iter().map(|&label| u32::from(label != 0)).collect();
    let tally = Tally::of(study, parts);
    let shape = outlines(frame, &whole)?.remove(&1);
    let mut records = vec![Record {
        geometry: shape.map(Into::into),
        properties: WatershedPartProperties {
            part: "whole",
            outlet_id: parts.outlet.clone(),
            reach_id: None,
            surface_ha: study.hectares(tally.surface.values().sum()),
            piped_ha: study.hectares(tally.piped.values().sum()),
            meets_edge: meets_edge(study, parts, |label| label != 0),
        },
    }];
    let mut shapes = if parts.reaches.is_empty() { BTreeMap::new() } else { outlines(frame, &parts.labels.values)? };
    for (label, &reach) in (1_u32..).zip(&parts.reaches) {
        records.push(Record {
            geometry: shapes.remove(&label).map(Into::into),
            properties: WatershedPartProperties {
                part: "reach",
                outlet_id: parts.outlet.clone(),
                reach_id: Some(study.reaches.list[reach].id.to_string()),
                surface_ha: study.hectares(Tally::sum(&tally.surface, label)),
                piped_ha: study.hectares(Tally::sum(&tally.piped, label)),
                meets_edge: meets_edge(study, parts, |other| other == label),
            },
        });
    }
    Ok(records)
}

/// Cells by party and part.
struct Tally {
    surface: BTreeMap<(Party, u32), u64>,
    piped: BTreeMap<(Party, u32), u64>,
}

impl Tally {
    fn of(study: &Study, parts: &Parts) -> Self {
        let mut tally = Self { surface: BTreeMap::new(), piped: BTreeMap::new() };
        let outlet_of = |structure: u32| study.setting.structures[structure as usize - 1].link.outlet;
        for cell in study.setting.parties.cells().filter(|&cell| study.setting.conditioned.flow.has_data(cell)) {
            let party = study.setting.parties.of(cell);
            let label = parts.labels[cell];
            if label != 0 {
                *tally.surface.entry((party, label)).or_default() += 1;
            }
            let piped_to = if study.tiled[cell] == 0 { 0 } else { parts.labels[outlet_of(study.tiled[cell])] };
            if piped_to != 0 {
                *tally.piped.entry((party, piped_to)).or_default() += 1;
            }
        }
        tally
    }

    fn sum(cells: &BTreeMap<(Party, u32), u64>, label: u32) -> u64 {
        cells.iter().filter(|((_, other), _)| *other == label).map(|(_, cells)| cells).sum()
    }
}

/// Whether the watershed's limit meets the edge of the elevation other than where its own water leaves.
fn meets_edge(study: &Study, parts: &Parts, is_part: impl Fn(u32) -> bool) -> bool {
    let frame = parts.labels.frame;
    let flow = &study.setting.conditioned.flow;
    study.setting.parties.cells().filter(|&cell| is_part(parts.labels[cell])).any(|cell| {
        let rim = frame.neighbours(cell).count() < 8 || frame.neighbours(cell).any(|(_, next)| !flow.has_data(next));
        rim && study.setting.ends.get(&cell) != Some(&End::Edge)
    })
}

fn parcels_csv(study: &Study, parts: &Parts) -> String {
    let tally = Tally::of(study, parts);
    let keys: std::collections::BTreeSet<(Party, u32)> =
        tally.surface.keys().chain(tally.piped.keys()).copied().collect();
    let mut csv = csv::Writer::from_writer(Vec::new());
    let mut row = |fields: [&str; 5]| csv.write_record(fields).expect("rows of one length, written to memory");
    row(["parcel_id", "owner", "reach_id", "surface_ha", "piped_ha"]);
    for (party, label) in keys {
        let reach = parts.reaches.get(label as usize - 1).map(|&reach| study.reaches.list[reach].id.to_string());
        let of = |cells: &BTreeMap<(Party, u32), u64>| study.hectares(cells.get(&(party, label)).copied().unwrap_or(0));
        row([
            &as_csv_text(&study.party_name(party)),
            &as_csv_text(study.party_owner(party).unwrap_or_default()),
            &as_csv_text(&reach.unwrap_or_default()),
            &of(&tally.surface).to_string(),
            &of(&tally.piped).to_string(),
        ]);
    }
    String::from_utf8(csv.into_inner().expect("written to memory")).expect("made of text")
}

fn lines(study: &Study, parts: &Parts, records: &[Record<WatershedPartProperties>], out: &Path) -> Vec<String> {
    let whole = &records[0].properties;
    let (x, y) = study.setting.frame().centre(parts.at);
    let what = parts.outlet.clone().unwrap_or_else(|| format!("{x:.1}, {y:.1}"));
    let mut lines = vec![format!(
        "watershed of {what}: {} on the surface, {} drained to it by pipe",
        hectares(whole.surface_ha),
        hectares(whole.piped_ha)
    )];
    for record in &records[1..] {
        let part = &record.properties;
        let reach = part.reach_id.as_deref().unwrap_or_default();
        lines.push(format!(
            "  reach {reach:<12} {:>12} {:>12} piped",
            hectares(part.surface_ha),
            hectares(part.piped_ha)
        ));
    }
    if whole.meets_edge {
        lines.push("  its limit meets the edge of the elevation: land outside may drain to it too".to_owned());
    }
    lines.push(format!(
        "Written to {}: watershed.geojson, watershed_parcels.csv ({})",
        out.display(),
        counted(records.len(), "part", "parts")
    ));
    lines.push(fallwright_report::CAUTION.to_owned());
    lines
}

#[cfg(test)]
mod tests {
    use fallwright_units::Frame;

    use super::*;

    #[test]
    fn a_point_moves_across_to_the_main_channel_and_not_along_it() {
        let check = |within_m, from, expected| {
            // A channel runs south in the third column, a smaller one joins it in the fourth row.
            let values = vec![
                1, 1, 90, 1, 1, //
                1, 1, 92, 1, 1, //
                1, 1, 95, 1, 1, //
                1, 1, 120, 20, 19, //
                1, 1, 123, 1, 1,
            ];
            let area = Raster { frame: Frame::new(5, 5, (0.0, 50.0), (10.0, 10.0)).unwrap(), values };
            let cell = |(col, row)| area.frame.cell(col, row);
            assert_eq!(area.frame.col_row(snapped(&area, cell(from), within_m)), expected);
        };
        check(0.0, (0, 1), (0, 1));
        check(10.0, (0, 1), (0, 1));
        check(20.0, (0, 1), (2, 1));
        check(50.0, (0, 1), (2, 1));
        check(50.0, (4, 3), (2, 3));
        check(10.0, (4, 3), (4, 3));
        check(1e12, (0, 1), (2, 1));
    }
}
