//! Is the outlet big enough, all the way down: every link of the cascade checked, and the one that limits each parcel.
//!
//! Two regimes whose peaks are never summed: the tile design flow through pipes and over their outlets' inverts, and a
//! storm through open reaches and culverts.
//!
//! Reading order: `choices` (the values that the check uses; `default_used`), `links` (the cascade), `tile` and `storm` (the flows), `pipe`,
//! `culvert` and `reach` (what carries them), `to_measure` and `remark` (what is missing, what else was seen), `parcels` (what
//! decides for whom), `fall`.

mod checked;
mod choices;
mod concentration;
mod culvert;
mod default_used;
mod fall;
mod links;
mod parcels;
mod pipe;
mod rain;
mod reach;
mod remark;
mod storm;
mod structure;
mod tile;
mod to_measure;

use std::collections::BTreeMap;

use fallwright_units::{Cell, MillimetresPerDay, ParcelIx, StructureKind};
use typed_index_collections::{TiSlice, TiVec};

pub use self::checked::{Cause, Checked, Fall, GradeSource, PipeOutlet, Remedy, Sufficiency};
use self::choices::Choices;
pub use self::default_used::{Assumed, DefaultName, DefaultUsed, DefaultValue, DefaultsUsed};
pub use self::fall::{OutletLevel, ParcelFall};
pub use self::links::{Link, LinkIx, Links};
pub use self::parcels::ParcelSufficiency;
pub use self::remark::Remark;
pub use self::storm::Storm;
use self::tile::Added;
pub use self::tile::{AddedWater, TileFlow};
pub use self::to_measure::{GroundFallDoubt, ToMeasure};
use crate::error::StudyError;
use crate::study::Study;

/// Land that somebody means to drain by pipe, to see the effect.
#[derive(Clone, Debug, PartialEq)]
pub struct AddedLand {
    /// The parcel's id; all its land that is not drained by pipe yet.
    pub parcel: String,
    pub drainage_coefficient: MillimetresPerDay,
}

/// Every link checked, and a verdict for every parcel.
pub struct CapacityCheck {
    pub links: Links,
    pub tile: TiVec<LinkIx, TileFlow>,
    pub storms: TiVec<LinkIx, Storm>,
    pub checked: TiVec<LinkIx, Checked>,
    pub parcels: TiVec<ParcelIx, ParcelSufficiency>,
    /// Defaults that it rests on, with their values and sources.
    pub defaults_used: DefaultsUsed,
}

/// What land that is added changes.
pub struct AddedEffect {
    /// The check without it.
    pub before: CapacityCheck,
    /// What each piece of it brings, in their order.
    pub water: Vec<AddedWater>,
}

/// The check with the fall to every parcel's outlet.
pub struct Capacity {
    pub check: CapacityCheck,
    /// The effect of the land that is added; `None` where none is.
    pub added: Option<AddedEffect>,
    /// `None` where its path meets no lawful outlet or the case states no accuracy of its elevation.
    pub falls: TiVec<ParcelIx, Option<ParcelFall>>,
    /// Defaults that the check and the falls rest on, with their values and sources.
    pub defaults_used: DefaultsUsed,
}

impl Study {
    /// Checks every link down to the outlets, as if some land more were drained by pipe, and the fall to every outlet.
    ///
    /// *Complexity*: O(n log n) for n cells.
    ///
    /// # Errors
    /// Added land of an unknown parcel.
    pub fn capacity(&self, added: &[AddedLand]) -> Result<Capacity, StudyError> {
        let one =
            |land: &AddedLand| Ok(Added { parcel: self.parcel(&land.parcel)?, coefficient: land.drainage_coefficient });
        let added: Vec<Added> = added.iter().map(one).collect::<Result<_, StudyError>>()?;
        let choices = Choices::of(&self.inputs);
        let check = check(self, &choices, &added);
        let effect = (!added.is_empty()).then(|| AddedEffect {
            water: tile::added_water(self, &check.links, &choices, &added),
            before: self.capacity_check(),
        });
        let falls = falls(self, &choices);
        Ok(Capacity { check, added: effect, falls, defaults_used: choices.used() })
    }

    /// Whether the case holds sizes from which a capacity can be worked out.
    pub(crate) fn sizes_given(&self) -> bool {
        let inputs = &self.inputs;
        let has_size = inputs.structures.iter().any(|structure| structure.dimensions.diameter_mm.is_some());
        has_size || !inputs.sections.is_empty()
    }

    /// Checks every link.
    pub(crate) fn capacity_check(&self) -> CapacityCheck {
        check(self, &Choices::of(&self.inputs), &[])
    }

    /// Checks every link as if the surface water of some cells entered at one of them, and no more where it enters today.
    pub(crate) fn capacity_check_with(&self, cells: &[Cell], enters: LinkIx) -> CapacityCheck {
        let mut links = Links::find(self);
        let mut by_link: BTreeMap<Option<LinkIx>, u64> = BTreeMap::new();
        for &cell in cells {
            *by_link.entry(links.first_at(cell)).or_default() += 1;
        }
        for (today, cells) in by_link {
            for link in today.map(|first| links.chain(first)).unwrap_or_default() {
                links.cells[link] = links.cells[link].saturating_sub(cells);
            }
            for link in links.chain(enters) {
                links.cells[link] += cells;
            }
        }
        check_cascade(self, links, &Choices::of(&self.inputs), &[])
    }
}

fn check(study: &Study, choices: &Choices, added: &[Added]) -> CapacityCheck {
    check_cascade(study, Links::find(study), choices, added)
}

fn check_cascade(study: &Study, links: Links, choices: &Choices, added: &[Added]) -> CapacityCheck {
    let tile = tile::tile_flows(study, &links, choices, added);
    let storms = storm::storms(study, &links, choices, &tile);
    let checked = check_links(study, &links, choices, (&tile, &storms));
    let share = choices.defaults.share_in_doubt.value;
    let parcels = parcels::sufficiency(study, &links, &checked, share);
    CapacityCheck { links, tile, storms, checked, parcels, defaults_used: choices.used() }
}

/// Reaches first: the water in them stands below culverts.
fn check_links(
    study: &Study,
    links: &Links,
    choices: &Choices,
    (tile, storms): (&TiSlice<LinkIx, TileFlow>, &TiSlice<LinkIx, Storm>),
) -> TiVec<LinkIx, Checked> {
    let mut checked: TiVec<LinkIx, Checked> = TiVec::with_capacity(links.list.len());
    for (position, &link) in links.list.iter_enumerated() {
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

fn falls(study: &Study, choices: &Choices) -> TiVec<ParcelIx, Option<ParcelFall>> {
    let fall = |parcel| fall::parcel_fall(study, choices, parcel, &mut Assumed::default());
    fall::low_ground(study).into_iter_enumerated().map(fall).collect()
}
