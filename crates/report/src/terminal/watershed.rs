//! A watershed on a terminal.

use std::path::Path;

use fallwright_study::{Comparison, LandInWatershed, Study, Watershed};

use crate::caution::CAUTION;
use crate::layer::Record;
use crate::records::watershed::WatershedPartProperties;
use crate::words::{counted, hectares, watershed_land_name};

/// Smaller lands are not listed one by one (our choice); the tables hold them all.
const LISTED_HA: f64 = 0.05;

pub fn watershed(
    study: &Study,
    Watershed { parts, lands, .. }: &Watershed,
    records: &[Record<WatershedPartProperties>],
    out: &Path,
) -> Vec<String> {
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
        let name = part.reach_id.as_ref().map_or("joins it farther down".to_owned(), |reach| format!("reach {reach}"));
        lines.push(format!("  {name:<21} {:>12} {:>12} piped", hectares(part.surface_ha), hectares(part.piped_ha)));
    }
    lines.extend(schedule_lines(study, lands));
    if whole.meets_edge {
        let at_edge: Vec<String> =
            lands.iter().filter(|land| land.meets_edge).map(|land| watershed_land_name(study, &land.land)).collect();
        lines.push(format!(
            "  its limit meets the edge of the elevation at {}: hectares beyond are unknown",
            at_edge.join(", ")
        ));
    }
    lines.push(format!(
        "Written to {}: watershed.geojson, watershed_parcels.csv, watershed_lands.csv ({}, {})",
        out.display(),
        counted(records.len(), "part", "parts"),
        counted(lands.len(), "land", "lands")
    ));
    lines.push(CAUTION.to_owned());
    lines
}

/// Nothing where no schedule was compared.
fn schedule_lines(study: &Study, lands: &[LandInWatershed]) -> Vec<String> {
    let of = |compared: Comparison| lands.iter().filter(move |land| land.compared == compared);
    let assessed: f64 = lands.iter().filter_map(|land| land.assessed_ha).sum();
    let measured: f64 = of(Comparison::InBoth).map(|land| land.drains_ha).sum();
    if lands.iter().all(|land| land.assessed_ha.is_none()) {
        return Vec::new();
    }
    let mut lines = vec![format!(
        "  its schedule assesses {}; of the lands in it that drain here {} do",
        hectares(assessed),
        hectares(measured)
    )];
    for (compared, words) in [
        (Comparison::NotInSchedule, "drain here and are not in the schedule"),
        (Comparison::BenefitOnly, "are in the schedule for benefit alone, which is no outlet"),
        (Comparison::NotInWatershed, "are in the schedule and do not drain here"),
        (Comparison::NotInParcelLayer, "are in the schedule and not in the parcel layer"),
    ] {
        let area = |land: &LandInWatershed| match compared {
            Comparison::NotInSchedule | Comparison::BenefitOnly => land.drains_ha,
            _ => land.assessed_ha.unwrap_or(0.0),
        };
        let listed: Vec<String> = of(compared)
            .filter(|land| area(land) >= LISTED_HA)
            .map(|land| format!("{} ({})", watershed_land_name(study, &land.land), hectares(area(land))))
            .collect();
        if !listed.is_empty() {
            lines.push(format!("  {} {words}: {}", counted(listed.len(), "land", "lands"), listed.join(", ")));
        }
    }
    lines
}
