//! A short account of what conditioning did.

use std::path::Path;

use fallwright_report::{hectares, metres};
use fallwright_terrain::Conditioned;
use fallwright_terrain::tiled::Raised;
use fallwright_units::{Frame, Raster};
use serde_json::{Value, json};

use crate::summary::{counted, table};
use crate::suspect::{is_embankment, released};

/// Suspected culverts that are told, those through which most land drains.
const TOLD_CULVERTS: usize = 10;

pub(super) struct Account {
    raised: Raised,
    fill_m3: f64,
    cut: usize,
    cut_m3: f64,
    /// Map coordinates, depth in metres and hectares draining through, most hectares first.
    suspected: Vec<(f64, f64, f64, f64)>,
}

impl Account {
    /// Of a terrain that was only filled.
    pub(super) fn of_filling(frame: &Frame, raised: Raised) -> Self {
        Self {
            raised,
            fill_m3: metres(raised.fill_m * frame.cell_square_metres()),
            cut: 0,
            cut_m3: 0.0,
            suspected: Vec::new(),
        }
    }

    pub(super) fn of(ground: &Raster<f32>, conditioned: &Conditioned, area: &Raster<u64>, raised: Raised) -> Self {
        let frame = ground.frame;
        let cuts = &conditioned.cuts;
        let mut suspected: Vec<_> = cuts
            .iter()
            .filter(|cut| is_embankment(ground, cut))
            .map(|cut| {
                let (x, y) = frame.centre(cut.way.path[cut.way.path.len() / 2]);
                (x, y, cut.depth_m, frame.hectares(released(ground, area, cut)))
            })
            .collect();
        suspected.sort_by(|a, b| b.3.total_cmp(&a.3));
        Self {
            cut: cuts.len(),
            cut_m3: metres(cuts.iter().map(|cut| cut.lowering_m * frame.cell_square_metres()).sum()),
            suspected,
            ..Self::of_filling(&frame, raised)
        }
    }

    pub(super) fn json(&self) -> Value {
        let suspected: Vec<Value> = self
            .suspected
            .iter()
            .take(TOLD_CULVERTS)
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
            "suspected_culverts": self.suspected.len(),
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
        if !self.suspected.is_empty() {
            lines.push(format!(
                "  {} suspected by shape; the largest:",
                counted(self.suspected.len(), "culvert", "culverts")
            ));
            let header = ["x", "y", "cut m", "draining ha"].map(str::to_owned).to_vec();
            let row = |&(x, y, depth, area): &(f64, f64, f64, f64)| {
                vec![format!("{x:.1}"), format!("{y:.1}"), format!("{depth:.2}"), format!("{area:.2}")]
            };
            let rows: Vec<_> =
                std::iter::once(header).chain(self.suspected.iter().take(TOLD_CULVERTS).map(row)).collect();
            lines.extend(table(&rows).into_iter().map(|line| format!("    {line}")));
        }
        lines
    }
}
