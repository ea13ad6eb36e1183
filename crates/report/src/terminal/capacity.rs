//! The check of capacity on a terminal.

use std::path::Path;

use fallwright_network::Party;
use fallwright_study::{
    AddedEffect, AddedWater, Capacity, CapacityCheck, Cause, LinkIx, ParcelSufficiency, Remedy, Study, Sufficiency,
};

use super::columns::indented_table;
use crate::caution::CAUTION;
use crate::counts::CapacityCounts;
use crate::words::{defaults_words, party_words};

pub fn capacity(study: &Study, capacity: &Capacity, out: &Path) -> Vec<String> {
    let Capacity { check, added, falls, defaults_used } = capacity;
    let counts = CapacityCounts::of(check);
    let row = |name: &str, links: usize, parcels: usize| format!("  {name:<14} {links:>8} {parcels:>8}");
    let mut lines = added.iter().flat_map(|effect| effect_lines(study, check, effect)).collect::<Vec<_>>();
    lines.extend([
        format!("{}: is the outlet big enough", study.inputs.case.name.as_deref().unwrap_or("case")),
        format!("  {:<14} {:>8} {:>8}", "", "links", "parcels"),
        row("sufficient", counts.links_sufficient, counts.parcels_sufficient),
        row("insufficient", counts.links_insufficient, counts.parcels_insufficient),
        row("not checked", counts.links_not_checked, counts.parcels_not_checked),
    ]);
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

/// What each piece of added land brings, link by link down to the end, before and after.
fn effect_lines(study: &Study, check: &CapacityCheck, effect: &AddedEffect) -> Vec<String> {
    effect.water.iter().flat_map(|water| water_lines(study, check, &effect.before, water)).collect()
}

fn water_lines(study: &Study, after: &CapacityCheck, before: &CapacityCheck, water: &AddedWater) -> Vec<String> {
    let litres = |flow: f64| format!("{:.1}", flow * 1000.0);
    let parcel = party_words(study, Party::Parcel(water.parcel));
    let mut lines = vec![format!("{parcel} adds {} L/s", litres(water.flow.cubic_metres_per_second()))];
    let known = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), litres);
    let row = |&link: &LinkIx| {
        let (was, is) = (&before.checked[link], &after.checked[link]);
        vec![
            study.link_id(after.links.list[link]),
            known(was.flow),
            known(is.flow),
            known(is.capacity),
            was.sufficiency().code().replace('_', " "),
            is.sufficiency().code().replace('_', " "),
        ]
    };
    let header = ["link", "before L/s", "after L/s", "carries L/s", "before", "after"].map(str::to_owned).to_vec();
    let rows: Vec<Vec<String>> = std::iter::once(header).chain(water.links.iter().map(row)).collect();
    lines.extend(indented_table(&rows));
    lines.push(format!("  {}", first_limit(study, after, before, water)));
    lines
}

/// The first link on the way that is not enough, else the first that could not be checked.
fn first_limit(study: &Study, after: &CapacityCheck, before: &CapacityCheck, water: &AddedWater) -> String {
    let first = |of: Sufficiency| water.links.iter().copied().find(|&link| after.checked[link].sufficiency() == of);
    let id = |link: LinkIx| study.link_id(after.links.list[link]);
    match (first(Sufficiency::Insufficient), first(Sufficiency::NotChecked)) {
        (Some(link), _) if before.checked[link].sufficiency() == Sufficiency::Insufficient => {
            format!("the first link that limits is {}, which was not enough before", id(link))
        }
        (Some(link), _) => format!("the first link that limits is {}, which was enough before", id(link)),
        (None, Some(link)) => format!("no link that could be checked limits it; {} could not be checked", id(link)),
        (None, None) if water.links.is_empty() => "its water meets no link that could be checked".to_owned(),
        (None, None) => "every link down to the end is sufficient with it".to_owned(),
    }
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
    indented_table(&[vec![header], rows].concat())
}
