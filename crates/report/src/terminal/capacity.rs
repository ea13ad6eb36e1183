//! The check of capacity on a terminal.

use std::path::Path;

use fallwright_study::{Capacity, CapacityCheck, Cause, LinkIx, ParcelSufficiency, Remedy, Study, Sufficiency};

use crate::CAUTION;
use crate::counts::CapacityCounts;
use crate::words::{defaults_words, table};

pub fn capacity(study: &Study, capacity: &Capacity, out: &Path) -> Vec<String> {
    let Capacity { check, falls, defaults_used } = capacity;
    let counts = CapacityCounts::of(check);
    let row = |name: &str, links: usize, parcels: usize| format!("  {name:<14} {links:>8} {parcels:>8}");
    let mut lines = vec![
        format!("{}: is the outlet big enough", study.inputs.case.name.as_deref().unwrap_or("case")),
        format!("  {:<14} {:>8} {:>8}", "", "links", "parcels"),
        row("sufficient", counts.links_sufficient, counts.parcels_sufficient),
        row("insufficient", counts.links_insufficient, counts.parcels_insufficient),
        row("not checked", counts.links_not_checked, counts.parcels_not_checked),
    ];
    lines.extend(limiting_lines(study, check));
    let with = |code| falls.iter().flatten().filter(|fall| fall.fall.code() == code).count();
    lines.push(format!(
        "  fall to the outlet: {} enough, {} short, {} cannot be confirmed from lidar alone; survey it (fall.csv)",
        with("enough"),
        with("short"),
        with("survey")
    ));
    if !defaults_used.is_empty() {
        lines.push(format!(
            "  defaults used, listed in run.json with their sources: {}",
            defaults_words(defaults_used).into_keys().collect::<Vec<_>>().join(", ")
        ));
    }
    lines.push(format!("Look first at {}", out.join("capacity.csv").display()));
    lines.push("Sizes are for screening; a licensed engineer designs.".to_owned());
    lines.push(CAUTION.to_owned());
    lines
}

/// The links that are not enough, with the parcels that they limit.
fn limiting_lines(study: &Study, check: &CapacityCheck) -> Vec<String> {
    let failing = check.checked.keys().filter(|&link| check.checked[link].sufficiency() == Sufficiency::Insufficient);
    let shown = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| format!("{value:.3}"));
    let limited = |link: LinkIx| {
        check.parcels.iter().filter(|verdict: &&ParcelSufficiency| verdict.limiting_link() == Some(link)).count()
    };
    let rows: Vec<Vec<String>> = failing
        .map(|link| {
            let checked = &check.checked[link];
            let size = checked
                .next_diameter_mm
                .map(|size| format!("{size} mm"))
                .or(checked.next_bottom_m.map(|bottom| format!("bottom {bottom:.1} m")));
            vec![
                study.link_id(check.links.list[link]),
                checked.cause.map_or("", Cause::code).to_owned(),
                shown(checked.flow),
                shown(checked.capacity),
                limited(link).to_string(),
                checked.remedy.map_or("-", Remedy::code).to_owned(),
                size.unwrap_or_else(|| "-".to_owned()),
            ]
        })
        .collect();
    if rows.is_empty() {
        return Vec::new();
    }
    let header =
        ["link", "cause", "m³/s", "carries", "limits parcels", "remedy", "adequate"].map(str::to_owned).to_vec();
    table(&[vec![header], rows].concat()).into_iter().map(|line| format!("  {line}")).collect()
}
