//! Is the outlet big enough, all the way down: every link of the cascade checked, and the one that limits each parcel.
//!
//! Two regimes whose peaks are never summed: the tile design flow through pipes and over their outlets' inverts, and a
//! storm through open reaches and culverts.
//!
//! Reading order: `choices` (what the check reckons with), `links` (the cascade), `tile` and `storm` (the flows), `pipe`,
//! `culvert` and `reach` (what carries them), `parcels` (what decides for whom), `fall`, `records`.

mod checked;
mod choices;
mod concentration;
mod culvert;
mod fall;
mod links;
mod parcels;
mod pipe;
mod rain;
mod reach;
mod records;
mod storm;
mod structure;
mod tile;

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use fallwright_geodata::Streamed;
use fallwright_network::StructureKind;
use fallwright_report::{Decimal, FallRow, capacity_csv, feature, layer, metres, rows_csv};
use fallwright_units::MillimetresPerDay;
use serde_json::{Value, json};

use self::checked::{Checked, Sufficiency};
use self::choices::{Assumed, Choices};
use self::fall::ParcelFall;
use self::links::{Link, Links};
use self::storm::Storm;
use self::tile::{Added, TileFlow};
use crate::Progress;
use crate::failure::{Failure, Settings};
use crate::inputs::read_inputs;
use crate::outlets::{ParcelLayer, judged, require_parcels, settings_of};
use crate::output::output_folder;
use crate::place;
use crate::run_record::{RunRecord, input_digests, input_files};
use crate::study::{Study, work_out};
use crate::summary::table;

pub(crate) use self::parcels::ParcelSufficiency;

/// Land that somebody means to drain by pipe, to see what it would do.
#[derive(Clone, Debug, PartialEq)]
pub struct AddedLand {
    /// The parcel's id; all its land that is not drained by pipe yet.
    pub parcel: String,
    pub drainage_coefficient: MillimetresPerDay,
}

/// What was found.
pub struct CapacityReport {
    summary: Value,
    lines: Vec<String>,
}

impl CapacityReport {
    pub fn lines(&self) -> Vec<String> {
        self.lines.clone()
    }

    pub fn json(&self) -> Value {
        self.summary.clone()
    }
}

/// Every link checked, and a verdict for every parcel.
pub(crate) struct Check {
    links: Links,
    tile: Vec<TileFlow>,
    storms: Vec<Storm>,
    checked: Vec<Checked>,
    pub(crate) parcels: Vec<ParcelSufficiency>,
    /// Defaults that it rests on, with their values and sources.
    pub(crate) defaults_used: BTreeMap<String, String>,
}

/// Checks the capacity of a case's works and writes `capacity.geojson`, `capacity.csv`, `fall.csv`, `parcels.geojson` and
/// `run.json`.
///
/// # Errors
/// Faults of the input; a case without parcels; added land of a parcel that is not there; an output folder that cannot be
/// written.
pub fn capacity(
    case: &Path,
    out: &Path,
    added: &[AddedLand],
    settings: &Settings,
    progress: Progress,
) -> Result<CapacityReport, Failure> {
    let inputs = read_inputs(case, settings, progress)?;
    require_parcels(&inputs)?;
    let mut folder = output_folder(out, &input_files(&inputs.case), settings)?;
    let study = work_out(Arc::new(inputs), progress)?;
    let added_land = added_land(&study, added)?;
    progress("checking every link of the cascade");
    let choices = Choices::of(&study.inputs);
    let check = check(&study, &choices, &added_land);
    progress("writing the results");
    let records = records::records(&study, &check);
    folder.write_geojson("capacity.geojson", &layer(&records), &study.inputs.crs)?;
    folder.write_bytes("capacity.csv", capacity_csv(&records).as_bytes())?;
    let falls = falls(&study, &choices);
    folder.write_bytes("fall.csv", fall_table(&study, &check, &falls).as_bytes())?;
    let findings = judged(&study);
    let parcels = ParcelLayer::find(&study, &findings, Some(check.parcels.clone()))?;
    let features = Streamed::new(|| parcels.records(&study, &findings).map(|record| feature(&record)));
    folder.write_geojson("parcels.geojson", &features, &study.inputs.crs)?;
    let counts = counts(&check);
    let given: Vec<Value> =
        added.iter().map(|land| json!([land.parcel, land.drainage_coefficient.millimetres_per_day()])).collect();
    let mut settings = settings_of(&study);
    settings["added_mm_per_day"] = json!(given);
    settings["capacity_defaults_used"] = json!(choices.used());
    RunRecord { command: "capacity", settings, counts: counts.clone(), notes: &study.notes }
        .write(&mut folder, input_digests(&study.inputs.case)?)?;
    folder.commit()?;
    let lines = lines(&study, &check, (&choices, &falls), out);
    Ok(CapacityReport { summary: json!({ "out": out.display().to_string(), "counts": counts }), lines })
}

/// The check for the main job; `None` where the case holds nothing that a capacity could be worked out from.
pub(crate) fn sufficiency(study: &Study) -> Option<Check> {
    let inputs = &study.inputs;
    let has_size = inputs.structures.iter().any(|structure| structure.dimensions.diameter_mm.is_some());
    (has_size || !inputs.sections.is_empty()).then(|| check(study, &Choices::of(inputs), &[]))
}

fn check(study: &Study, choices: &Choices, added: &[Added]) -> Check {
    let links = Links::find(study);
    let tile = tile::tile_flows(study, &links, choices, added);
    let storms = storm::storms(study, &links, choices, &tile);
    let checked = check_links(study, &links, choices, (&tile, &storms));
    let share = choices.defaults.share_in_doubt.value;
    let parcels = parcels::sufficiency(study, &links, &checked, share);
    Check { links, tile, storms, checked, parcels, defaults_used: choices.used() }
}

/// Reaches first: the water in them stands below culverts.
fn check_links(
    study: &Study,
    links: &Links,
    choices: &Choices,
    (tile, storms): (&[TileFlow], &[Storm]),
) -> Vec<Checked> {
    let mut checked: Vec<Checked> = Vec::with_capacity(links.list.len());
    for (position, &link) in links.list.iter().enumerate() {
        let storm = &storms[position];
        let found = match link {
            Link::Reach(reach) => reach::check(study, choices, reach, storm),
            Link::Structure(structure) => match study.setting.structures[structure].kind {
                StructureKind::Pipe => pipe::check(study, links, choices, position, tile[position]),
                StructureKind::Culvert => {
                    let below = links.next[position].filter(|&next| matches!(links.list[next], Link::Reach(_)));
                    let tailwater_m = below.and_then(|next| checked[next].water_depth_m);
                    culvert::check(study, choices, structure, storm, tailwater_m)
                }
            },
        };
        checked.push(found);
    }
    checked
}

fn added_land(study: &Study, added: &[AddedLand]) -> Result<Vec<Added>, Failure> {
    let one = |land: &AddedLand| {
        let parcel = place::parcel(study, &land.parcel)?;
        Ok(Added { parcel, coefficient: land.drainage_coefficient })
    };
    added.iter().map(one).collect()
}

fn counts(check: &Check) -> Value {
    let links = |sufficiency| check.checked.iter().filter(|checked| checked.sufficiency() == sufficiency).count();
    let parcels = |sufficiency| check.parcels.iter().filter(|verdict| verdict.sufficiency == sufficiency).count();
    json!({
        "links": check.checked.len(),
        "links_sufficient": links(Sufficiency::Sufficient),
        "links_insufficient": links(Sufficiency::Insufficient),
        "links_not_checked": links(Sufficiency::NotChecked),
        "parcels": check.parcels.len(),
        "parcels_sufficient": parcels(Sufficiency::Sufficient),
        "parcels_insufficient": parcels(Sufficiency::Insufficient),
        "parcels_not_checked": parcels(Sufficiency::NotChecked),
    })
}

fn falls(study: &Study, choices: &Choices) -> Vec<Option<ParcelFall>> {
    let fall = |parcel| fall::parcel_fall(study, choices, parcel, &mut Assumed::default());
    fall::low_ground(study).into_iter().enumerate().map(fall).collect()
}

/// One row a parcel: what decides, and the fall to its outlet.
fn fall_table(study: &Study, check: &Check, falls: &[Option<ParcelFall>]) -> String {
    let of_parcel = |(parcel, verdict): (usize, &ParcelSufficiency)| {
        let fall = &falls[parcel];
        let number = |value: Option<f64>| value.map(|value| Decimal(metres(value)));
        let of = fall.as_ref().map(|fall| fall.fall);
        FallRow {
            parcel_id: study.inputs.parcels[parcel].id.as_str().into(),
            sufficiency: verdict.sufficiency.code(),
            limiting_reach: verdict.limiting.as_ref().map(Into::into),
            path_m: number(fall.as_ref().map(|fall| fall.path_m)),
            fall_available_m: number(of.map(|fall| fall.available_m)),
            fall_needed_m: number(of.map(|fall| fall.needed_m)),
            fall_doubt_m: number(of.and_then(|fall| fall.doubt_m)),
            outlet_level: fall.as_ref().map(|fall| fall.outlet_level),
            fall: of.map(checked::Fall::code),
        }
    };
    rows_csv(check.parcels.iter().enumerate().map(of_parcel))
}

fn lines(study: &Study, check: &Check, (choices, falls): (&Choices, &[Option<ParcelFall>]), out: &Path) -> Vec<String> {
    let counts = counts(check);
    let row = |name: &str, key: &str| {
        let number = |of: &str| counts[format!("{of}_{key}")].to_string();
        format!("  {name:<14} {:>8} {:>8}", number("links"), number("parcels"))
    };
    let mut lines = vec![
        format!("{}: is the outlet big enough", study.inputs.case.name.as_deref().unwrap_or("case")),
        format!("  {:<14} {:>8} {:>8}", "", "links", "parcels"),
        row("sufficient", "sufficient"),
        row("insufficient", "insufficient"),
        row("not checked", "not_checked"),
    ];
    lines.extend(limiting_lines(study, check));
    let with = |code| falls.iter().flatten().filter(|fall| fall.fall.code() == code).count();
    lines.push(format!(
        "  fall to the outlet: {} enough, {} short, {} cannot be confirmed from lidar alone; survey it (fall.csv)",
        with("enough"),
        with("short"),
        with("survey")
    ));
    let used = choices.used();
    if !used.is_empty() {
        lines.push(format!(
            "  reckoned with defaults, which run.json lists with their sources: {}",
            used.into_keys().collect::<Vec<_>>().join(", ")
        ));
    }
    lines.push(format!("Look first at {}", out.join("capacity.csv").display()));
    lines.push("Sizes are for screening; a licensed engineer designs.".to_owned());
    lines.push(fallwright_report::CAUTION.to_owned());
    lines
}

/// The links that are not enough, with the parcels that they limit.
fn limiting_lines(study: &Study, check: &Check) -> Vec<String> {
    let failing =
        (0..check.checked.len()).filter(|&link| check.checked[link].sufficiency() == Sufficiency::Insufficient);
    let shown = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| format!("{value:.3}"));
    let limited = |link: usize| {
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
                parcels::link_id(study, check.links.list[link]),
                checked.cause.map_or("", checked::Cause::code).to_owned(),
                shown(checked.flow),
                shown(checked.capacity),
                limited(link).to_string(),
                checked.remedy.map_or("-", checked::Remedy::code).to_owned(),
                size.unwrap_or_else(|| "-".to_owned()),
            ]
        })
        .collect();
    if rows.is_empty() {
        return Vec::new();
    }
    let header =
        ["link", "cause", "m³/s", "carries", "limits parcels", "remedy", "would do"].map(str::to_owned).to_vec();
    table(&[vec![header], rows].concat()).into_iter().map(|line| format!("  {line}")).collect()
}
