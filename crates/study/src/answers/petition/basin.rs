//! Whether the area is a basin: where its water goes, and whose water comes to it.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_land::cells_inside;
use fallwright_network::Party;
use fallwright_terrain::label_upstream;
use fallwright_units::{Cell, Raster, StructureKind};

use super::PetitionQuestion;
use super::lands::PetitionLand;
use crate::answers::capacity::{CapacityCheck, Link, LinkIx, Remedy, Sufficiency};
use crate::answers::watersheds::first_outlets;
use crate::error::StudyError;
use crate::place::Place;
use crate::study::Study;

/// Where the water of the area goes.
pub struct Basin {
    /// The outlet asked about, or the one that most of the area drains to.
    pub outlet: Place,
    pub is_named: bool,
    /// Cells of the area with elevation, and those of them that drain to the outlet over the surface.
    pub cells: u64,
    pub draining_cells: u64,
    /// Cells inside that drain elsewhere, by land.
    pub elsewhere: BTreeMap<Party, u64>,
    /// Cells outside whose water comes through the area, by land.
    pub from_outside: BTreeMap<Party, u64>,
    /// `None` where the case has no sizes.
    pub below: Option<Below>,
}

/// What is known of the links from where the area's water meets the outlet down: as they are, and if all of the area drained there over
/// the surface, the rest of it at the outlet's lower end.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Below {
    pub links: usize,
    /// The link at the outlet's lower end; `None` where none is.
    pub lowest: Option<OutletLink>,
    /// Id of the first link that is too small as it is.
    pub too_small: Option<String>,
    /// Whether the design that it was given would hold, so that maintenance may do.
    pub maintenance_may_do: bool,
    /// Id of the first link that is large enough as it is, and not with all of the area.
    pub too_small_with_area: Option<String>,
    /// Id of the first link that could not be checked.
    pub not_checked: Option<String>,
}

/// The link at an outlet's lower end, with the flow of the check in m³/s; `None` where something is still to be measured.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OutletLink {
    pub id: String,
    /// A pipe, which is checked for tile flow alone.
    pub is_pipe: bool,
    pub flow: Option<f64>,
    pub flow_with_area: Option<f64>,
}

/// Counts the cells of each land too. `None` where no outlet is named and the area drains to none.
///
/// *Complexity*: O(n) for n cells.
///
/// # Errors
/// An outlet that does not exist or lies off the elevation.
pub(super) fn basin(
    study: &Study,
    question: &PetitionQuestion,
    capacity: Option<&CapacityCheck>,
    lands: &mut [PetitionLand],
) -> Result<Option<Basin>, StudyError> {
    let flow = study.setting.flow();
    let named = question.outlet.as_ref();
    let cells: Vec<Cell> =
        cells_inside(&study.setting.frame(), &question.area).into_iter().filter(|&cell| flow.has_data(cell)).collect();
    let Some(outlet) = named.cloned().or_else(|| nearest_outlet(study, &cells)) else { return Ok(None) };
    let parts = study.watershed(&outlet, 0.0)?.parts;
    let mut basin = Basin {
        is_named: named.is_some(),
        cells: cells.len() as u64,
        draining_cells: 0,
        elsewhere: BTreeMap::new(),
        from_outside: BTreeMap::new(),
        below: None,
        outlet,
    };
    let mut draining: BTreeMap<Party, u64> = BTreeMap::new();
    let (drains, elsewhere): (Vec<Cell>, Vec<Cell>) =
        cells.iter().partition(|&&cell| parts.is_inside(parts.labels[cell]));
    for (cells, counts) in [(&drains, &mut draining), (&elsewhere, &mut basin.elsewhere)] {
        for &cell in cells {
            *counts.entry(study.setting.parties.of(cell)).or_default() += 1;
        }
    }
    basin.draining_cells = drains.len() as u64;
    for land in lands {
        land.draining_cells = draining.get(&land.party).copied().unwrap_or_default();
    }
    basin.from_outside = from_outside(study, &cells);
    basin.below = capacity.map(|today| below(study, today, (&basin.outlet, parts.at), (&drains, &elsewhere)));
    Ok(Some(basin))
}

/// The lawful outlet that most cells come to first.
fn nearest_outlet(study: &Study, cells: &[Cell]) -> Option<Place> {
    let first = first_outlets(study);
    let mut counts = vec![0_u64; first.features.len()];
    for label in cells.iter().map(|&cell| first.labels[cell]).filter(|&label| label > 0) {
        counts[label as usize - 1] += 1;
    }
    let most = counts.iter().copied().max().filter(|&most| most > 0)?;
    let position = counts.iter().position(|&count| count == most)?;
    Some(Place::Outlet(study.setting.feature_id(first.features[position]).to_owned()))
}

/// Cells outside whose path enters the area.
fn from_outside(study: &Study, cells: &[Cell]) -> BTreeMap<Party, u64> {
    const INSIDE: u32 = 1;
    let mut labels = Raster::filled(study.setting.frame(), 0_u32);
    for &cell in cells {
        labels[cell] = INSIDE;
    }
    let mut reached = label_upstream(study.setting.flow(), labels);
    for &cell in cells {
        reached[cell] = 0;
    }
    let mut by_party = BTreeMap::new();
    for cell in study.setting.parties.cells().filter(|&cell| reached[cell] == INSIDE) {
        *by_party.entry(study.setting.parties.of(cell)).or_default() += 1;
    }
    by_party
}

/// `drains` are the cells of the area that drain to the outlet today, `elsewhere` the others.
fn below(
    study: &Study,
    today: &CapacityCheck,
    (outlet, at): (&Place, Cell),
    (drains, elsewhere): (&[Cell], &[Cell]),
) -> Below {
    let Some(lowest) = lowest_link(study, today, at) else { return Below::default() };
    let id = |link: LinkIx| study.link_id(today.links.list[link]);
    let with_area = (!elsewhere.is_empty()).then(|| study.capacity_check_with(elsewhere, lowest));
    let with_area = with_area.as_ref().unwrap_or(today);
    let mut below = Below {
        lowest: Some(OutletLink {
            id: id(lowest),
            is_pipe: matches!(today.links.list[lowest], Link::Structure(structure)
                if study.setting.structures[structure].kind == StructureKind::Pipe),
            flow: today.checked[lowest].flow,
            flow_with_area: with_area.checked[lowest].flow,
        }),
        ..Below::default()
    };
    for link in links_from(study, today, outlet, (lowest, drains)) {
        below.links += 1;
        let checked = &today.checked[link];
        match checked.sufficiency() {
            Sufficiency::Insufficient if below.too_small.is_none() => {
                below.too_small = Some(id(link));
                below.maintenance_may_do = checked.remedy == Some(Remedy::Maintenance);
            }
            Sufficiency::NotChecked if below.not_checked.is_none() => below.not_checked = Some(id(link)),
            Sufficiency::Sufficient if below.too_small_with_area.is_none() => {
                let is_too_small = with_area.checked[link].sufficiency() == Sufficiency::Insufficient;
                below.too_small_with_area = is_too_small.then(|| id(link));
            }
            Sufficiency::Insufficient | Sufficiency::NotChecked | Sufficiency::Sufficient => {}
        }
    }
    below
}

/// The links that the area's water passes from the outlet on, upstream first: from each link of the outlet that the land draining
/// there today meets, and from the outlet's lowest link for the rest.
fn links_from(
    study: &Study,
    check: &CapacityCheck,
    outlet: &Place,
    (lowest, drains): (LinkIx, &[Cell]),
) -> Vec<LinkIx> {
    let is_of_outlet = |&link: &LinkIx| match (outlet, check.links.list[link]) {
        (Place::Outlet(id), Link::Reach(reach)) => {
            study.reaches.list[reach].waterways().any(|own| study.inputs.waterways[own].id.as_str() == id)
        }
        _ => link == lowest,
    };
    let met: BTreeSet<LinkIx> = drains.iter().filter_map(|&cell| check.links.first_at(cell)).collect();
    let mut passed: BTreeSet<LinkIx> = check.links.chain(lowest).into_iter().collect();
    for first in met {
        passed.extend(check.links.chain(first).into_iter().skip_while(|link| !is_of_outlet(link)));
    }
    check.links.order.iter().copied().filter(|link| passed.contains(link)).collect()
}

/// The reach that holds the outlet's lowest cell, or the structure there.
fn lowest_link(study: &Study, check: &CapacityCheck, at: Cell) -> Option<LinkIx> {
    let reach = study.reaches.of(at).map(Link::Reach);
    let structure = || study.setting.structure_at(at).map(Link::Structure);
    let link = reach.or_else(structure)?;
    check.links.list.position(|&known| known == link)
}
