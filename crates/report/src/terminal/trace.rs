//! Traces as tables: the lands that water crosses on its way down, and whose water arrives.

use std::collections::BTreeSet;

use fallwright_network::{Carrier, Crossing, Feature, Inflow, Party, Path, Trace, Via, lands_above};
use fallwright_study::{ArrivingAt, ArrivingWater, Giver, Leaving, LeavingFrom, Study};

use super::columns::{indented_table, wrapped};
use crate::caution::CAUTION;
use crate::words::works::outlet_works;
use crate::words::{
    Works, along_words, counted, destination_of, hectares, list, onward_words, party_name, party_words, piped_words,
    works,
};

/// More stretches of a way than this are not listed in the table (our choice).
const MOST_STRETCHES: usize = 6;

/// Each path with the lands on it, then who maintains what carries the water.
pub fn leaving(study: &Study, leaving: &Leaving) -> Vec<String> {
    let mut lines = vec![match leaving.from {
        LeavingFrom::Parcel(parcel) => format!("water leaving {}", party_words(study, Party::Parcel(parcel))),
        LeavingFrom::Point { at, cell } => {
            let land = party_words(study, study.setting.parties.of(cell));
            format!("water from {}, {} on {land}", at.x, at.y)
        }
    }];
    let mut on_the_way = BTreeSet::new();
    for way in &leaving.piped {
        let id = &study.setting.structures[way.pipe].id;
        lines.push(format!("by pipe {id}: {}", hectares(way.hectares().hectares())));
        lines.extend(path_lines(study, &way.path));
        lines.extend(way.findings.iter().flat_map(|found| wrapped(&piped_words(found), "  ")));
        on_the_way.extend(works_on(study, &way.path.trace));
    }
    for leaving_path in &leaving.paths {
        if let (Some(share), LeavingFrom::Parcel(parcel)) = (leaving_path.share, leaving.from) {
            let area = hectares(study.hectares(study.shares[parcel][share].cells));
            lines.push(match leaving_path.path {
                Some(_) => format!("share {}: {area}", share.number()),
                None => format!("remainder of small leaving points: {area}"),
            });
        }
        if let Some(path) = &leaving_path.path {
            lines.extend(path_lines(study, path));
            on_the_way.extend(works_on(study, &path.trace));
        }
    }
    if leaving.paths.is_empty() {
        lines.push("no part of it lies on the elevation".to_owned());
    }
    lines.extend(works_lines(&on_the_way));
    lines.extend(wrapped(CAUTION, ""));
    lines
}

/// Where water comes in, whose it is and the way most of it comes.
pub fn arriving(study: &Study, water: &ArrivingWater) -> Vec<String> {
    let title = match water.at {
        ArrivingAt::Parcel(parcel) => format!("water arriving on {}", party_words(study, Party::Parcel(parcel))),
        ArrivingAt::Point(point) => format!("water passing {}, {}", point.x, point.y),
    };
    let mut lines = vec![format!("{title}: {}", hectares(study.hectares(water.cells)))];
    if water.cells > 0 {
        lines.push("where it comes in".to_owned());
        lines.extend(inflow_lines(study, &water.inflows));
        lines.push("whose it is, and the way most of it comes".to_owned());
        lines.extend(giver_lines(study, &water.givers));
    }
    lines.extend(wrapped(CAUTION, ""));
    lines
}

/// The lands that a path crosses, as a table, where it ends, and the constraints that it meets.
fn path_lines(study: &Study, path: &Path) -> Vec<String> {
    let trace = &path.trace;
    let header = ["at m", "m on it", "fall m", "onto", "carried by"].map(str::to_owned).to_vec();
    let row = |crossing: &Crossing| {
        let fall = if crossing.fall_m.is_nan() { "unknown".to_owned() } else { format!("{:.2}", crossing.fall_m) };
        let [at, on_it] = [crossing.distance_m, crossing.metres_on_land].map(|metres| format!("{metres:.1}"));
        vec![at, on_it, fall, party_words(study, crossing.to), works(study, crossing.carrier, crossing.to).label]
    };
    let rows: Vec<Vec<String>> = std::iter::once(header).chain(trace.crossings.iter().map(row)).collect();
    let mut lines = if trace.crossings.is_empty() { Vec::new() } else { indented_table(&rows) };
    lines.extend(wrapped(&conclusion(study, trace), "  "));
    lines.extend(study.constraints_on(path).iter().flat_map(|met| wrapped(&along_words(study, met), "  ")));
    lines
}

/// The works that carry a path's water, and the outlet that it meets.
fn works_on(study: &Study, trace: &Trace) -> Vec<Works> {
    let crossed = trace.crossings.iter().map(|crossing| works(study, crossing.carrier, crossing.to));
    crossed.chain(outlet_works(study, trace)).collect()
}

fn works_lines(on_the_way: &BTreeSet<Works>) -> Vec<String> {
    if on_the_way.is_empty() {
        return Vec::new();
    }
    let header = ["carried by", "who may do maintenance", "who is notified first"].map(str::to_owned).to_vec();
    let row = |works: &Works| vec![works.label.clone(), works.maintained_by.clone(), works.notified.clone()];
    let rows: Vec<Vec<String>> = std::iter::once(header).chain(on_the_way.iter().map(row)).collect();
    let title = "maintenance on the way".to_owned();
    std::iter::once(title).chain(indented_table(&rows)).collect()
}

fn inflow_lines(study: &Study, inflows: &[Inflow]) -> Vec<String> {
    let header = ["hectares", "from", "carried by", "most of it near"].map(str::to_owned).to_vec();
    let row = |inflow: &Inflow| {
        let (x, y) = study.setting.frame().centre(inflow.at);
        vec![
            format!("{:.2}", study.hectares(inflow.cells)),
            party_words(study, inflow.from),
            works(study, inflow.carrier, inflow.from).label,
            format!("{x:.0}, {y:.0}"),
        ]
    };
    indented_table(&std::iter::once(header).chain(inflows.iter().map(row)).collect::<Vec<_>>())
}

fn giver_lines(study: &Study, givers: &[Giver]) -> Vec<String> {
    let header = ["hectares", "of", "by way of"].map(str::to_owned).to_vec();
    let row = |giver: &Giver| {
        let main = way_in_words(study, &giver.ways[0].through);
        let others = match giver.ways.len() - 1 {
            0 => String::new(),
            others => format!("; {}", counted(others, "other way", "other ways")),
        };
        vec![
            format!("{:.2}", study.hectares(giver.cells())),
            party_words(study, giver.party),
            format!("{main}{others}"),
        ]
    };
    indented_table(&std::iter::once(header).chain(givers.iter().map(row)).collect::<Vec<_>>())
}

fn way_in_words(study: &Study, through: &[Via]) -> String {
    if through.is_empty() {
        return "straight over the lot line".to_owned();
    }
    let named: Vec<String> = through.iter().take(MOST_STRETCHES).map(|&stretch| in_words(study, stretch)).collect();
    let more = match through.len().saturating_sub(MOST_STRETCHES) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    format!("{}{more}", named.join(", "))
}

fn in_words(study: &Study, stretch: Via) -> String {
    match stretch {
        Via::Land(party) => party_name(study, party),
        Via::Structure(structure) => {
            let label = works(study, Carrier::Mapped(Feature::Structure(structure)), Party::Unowned).label;
            let above = lands_above(&study.setting, structure).into_iter();
            let roads = above.filter(|party| matches!(party, Party::Road(_))).map(|road| party_name(study, road));
            let roads: Vec<String> = roads.collect();
            if roads.is_empty() { label } else { format!("{label} under {}", list(&roads)) }
        }
    }
}

fn conclusion(study: &Study, trace: &Trace) -> String {
    let way = format!("after {:.0} m and {:.2} m of fall", trace.length_m(), trace.fall_m());
    format!("{way} it {}", onward_words(study, destination_of(trace)))
}
