//! A short account of what conditioning did.

use std::cmp::Reverse;
use std::path::Path;

use fallwright_terrain::tiled::Raised;
use fallwright_units::{Cell, TileSource, Window};
use fallwright_units::{rounded_hectares as hectares, rounded_metres as metres};
use serde_json::{Value, json};

use super::cut_tally::CutTally;
use fallwright_report::words::{counted, table};

/// Suspected culverts that are listed: those through which most land drains.
const LISTED_CULVERTS: usize = 10;

pub(super) struct Account {
    raised: Raised,
    fill_m3: f64,
    cut: usize,
    cut_m3: f64,
    suspected: usize,
    /// Map coordinates, depth in metres and hectares draining through, most hectares first.
    largest: Vec<(f64, f64, f64, f64)>,
}

fn at<C: Copy + Default, E>(area: &impl TileSource<C, Error = E>, cell: Cell) -> Result<C, E> {
    let (col, row) = area.frame().col_row(cell);
    let mut value = [C::default()];
    area.read(Window { col, row, cols: 1, rows: 1 }, &mut value, 1)?;
    Ok(value[0])
}

impl Account {
    /// `area` is the cells that drain through each cell.
    pub(super) fn of<C: Copy + Default + Into<u64>, E>(
        raised: Raised,
        cuts: &CutTally,
        area: &impl TileSource<C, Error = E>,
    ) -> Result<Self, E> {
        let frame = area.frame();
        let cubic_metres = |sum_m: f64| metres(sum_m * frame.cell_square_metres());
        let mut suspected = Vec::new();
        for culvert in &cuts.suspected {
            suspected.push((at(area, culvert.releases)?.into(), culvert.middle, culvert.depth_m));
        }
        suspected.sort_unstable_by_key(|&(released, middle, _)| (Reverse(released), middle));
        suspected.truncate(LISTED_CULVERTS);
        let listed = |(released, middle, depth_m)| {
            let (x, y) = frame.centre(middle);
            (x, y, depth_m, frame.hectares(released))
        };
        Ok(Self {
            fill_m3: cubic_metres(raised.fill_m),
            raised,
            cut: cuts.cuts,
            cut_m3: cubic_metres(cuts.lowering_m()),
            suspected: cuts.suspected.len(),
            largest: suspected.into_iter().map(listed).collect(),
        })
    }

    pub(super) fn json(&self) -> Value {
        let suspected: Vec<Value> = self
            .largest
            .iter()
            .map(|&(x, y, depth, area)| json!({ "x": x, "y": y, "depth_m": metres(depth), "draining_ha": hectares(area) }))
            .collect();
        json!({
            "cells_with_elevation": self.raised.cells_with_data,
            "depressions_kept": 0,
            "depressions_filled": self.raised.areas,
            "cells_raised": self.raised.cells,
            "fill_m3": self.fill_m3,
            "deepest_fill_m": metres(self.raised.deepest_m),
            "depressions_cut": self.cut,
            "cut_m3": self.cut_m3,
            "suspected_culverts": self.suspected,
            "largest_suspected_culverts": suspected,
        })
    }

    pub(super) fn lines(&self, dem: &Path) -> Vec<String> {
        let depressions = |count| counted(count, "depression", "depressions");
        let mut lines = vec![
            format!("{}: {} with elevation", dem.display(), counted(self.raised.cells_with_data, "cell", "cells")),
            "  no depression kept: a case file can name those that are real".to_owned(),
            format!(
                "  {} filled: {} raised, {:.1} m³, at most {:.2} m deep",
                depressions(self.raised.areas),
                counted(self.raised.cells, "cell", "cells"),
                self.fill_m3,
                self.raised.deepest_m
            ),
            format!(
                "  {} cut open: {:.1} m³ (--longest-cut and --deepest-cut set the limits)",
                depressions(self.cut),
                self.cut_m3
            ),
        ];
        if self.suspected > 0 {
            lines
                .push(format!("  {} suspected by shape; the largest:", counted(self.suspected, "culvert", "culverts")));
            let header = ["x", "y", "cut m", "draining ha"].map(str::to_owned).to_vec();
            let row = |&(x, y, depth, area): &(f64, f64, f64, f64)| {
                vec![format!("{x:.1}"), format!("{y:.1}"), format!("{depth:.2}"), format!("{area:.2}")]
            };
            let rows: Vec<_> = std::iter::once(header).chain(self.largest.iter().map(row)).collect();
            lines.extend(table(&rows).into_iter().map(|line| format!("    {line}")));
        }
        lines
    }
}
