//! What conditioning one raster did, on a terminal.

use std::path::Path;

use super::columns::table;
use crate::caution::CAUTION;
use crate::counts::{SuspectedCulvert, TerrainCounts};
use crate::words::counted;

pub fn terrain(counts: &TerrainCounts, dem: &Path, out: &Path) -> Vec<String> {
    let depressions = |count| counted(count, "depression", "depressions");
    let mut lines = vec![
        format!("{}: {} with elevation", dem.display(), counted(counts.cells_with_elevation, "cell", "cells")),
        "  no depression kept: a case file can name those that are real".to_owned(),
        format!(
            "  {} filled: {} raised, {:.1} m³, at most {:.2} m deep",
            depressions(counts.depressions_filled),
            counted(counts.cells_raised, "cell", "cells"),
            counts.fill_m3,
            counts.deepest_fill_m
        ),
        format!(
            "  {} cut open: {:.1} m³ (--longest-cut and --deepest-cut set the limits)",
            depressions(counts.depressions_cut),
            counts.cut_m3
        ),
    ];
    if counts.suspected_culverts > 0 {
        let culverts = counted(counts.suspected_culverts, "culvert", "culverts");
        lines.push(format!("  {culverts} suspected by shape; the largest:"));
        lines.extend(culvert_table(&counts.largest_suspected_culverts));
    }
    lines.push(format!("Written to {}: ground.tif, direction.tif, area_draining.tif", out.display()));
    lines.push(CAUTION.to_owned());
    lines
}

fn culvert_table(culverts: &[SuspectedCulvert]) -> impl Iterator<Item = String> {
    let header = ["x", "y", "cut m", "draining ha"].map(str::to_owned).to_vec();
    let row = |&SuspectedCulvert { x, y, depth_m, draining_ha }: &SuspectedCulvert| {
        vec![format!("{x:.1}"), format!("{y:.1}"), format!("{depth_m:.2}"), format!("{draining_ha:.2}")]
    };
    let rows: Vec<_> = std::iter::once(header).chain(culverts.iter().map(row)).collect();
    table(&rows).into_iter().map(|line| format!("    {line}"))
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn counts(culverts: &[SuspectedCulvert]) -> TerrainCounts {
        TerrainCounts {
            cells_with_elevation: 1198,
            depressions_kept: 0,
            depressions_filled: 1,
            cells_raised: 12,
            fill_m3: 3.25,
            deepest_fill_m: 0.1249,
            depressions_cut: 2,
            cut_m3: 0.5,
            suspected_culverts: culverts.len(),
            largest_suspected_culverts: culverts.to_vec(),
        }
    }

    fn check(culverts: &[SuspectedCulvert], expected: &[&str]) {
        let lines = terrain(&counts(culverts), Path::new("dem.tif"), Path::new("out"));
        assert_eq!(
            lines[..4],
            [
                "dem.tif: 1198 cells with elevation",
                "  no depression kept: a case file can name those that are real",
                "  1 depression filled: 12 cells raised, 3.2 m³, at most 0.12 m deep",
                "  2 depressions cut open: 0.5 m³ (--longest-cut and --deepest-cut set the limits)",
            ]
        );
        assert_eq!(lines[4..lines.len() - 2], *expected);
        assert_eq!(lines[lines.len() - 2], "Written to out: ground.tif, direction.tif, area_draining.tif");
        assert_eq!(lines[lines.len() - 1], CAUTION);
    }

    #[test]
    fn suspected_culverts_are_listed_where_there_are_any() {
        check(&[], &[]);
        let culvert = SuspectedCulvert { x: 400_100.5, y: 4_800_000.5, depth_m: 1.25, draining_ha: 12.3456 };
        let head = "  1 culvert suspected by shape; the largest:";
        check(
            &[culvert],
            &[head, "           x          y  cut m  draining ha", "    400100.5  4800000.5   1.25        12.35"],
        );
    }

    /// Lengths to the millimetre, areas to the hundredth of a square metre.
    #[test]
    fn the_record_holds_rounded_numbers() {
        let culvert = SuspectedCulvert { x: 0.5, y: 0.5, depth_m: 1.234_56, draining_ha: 1.234_567_8 };
        let record = json!(counts(&[culvert]));
        let listed = json!([{ "x": 0.5, "y": 0.5, "depth_m": 1.235, "draining_ha": 1.234_568 }]);
        assert_eq!(record["largest_suspected_culverts"], listed);
        assert_eq!(record["deepest_fill_m"], 0.125);
    }
}
