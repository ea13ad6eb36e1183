//! From links to parcels: which link decides whether a parcel's outlet is enough.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_network::{Feature, Party, Share};
use fallwright_units::{ParcelIx, ShareIx, StructureIx};
use typed_index_collections::{TiSlice, TiVec};

use super::checked::{Cause, Checked, Sufficiency};
use super::links::{Link, LinkIx, Links};
use super::reach;
use crate::study::Study;

/// Whether a parcel's outlet is enough, and which link decides it.
#[derive(Clone, Debug, PartialEq)]
pub struct ParcelSufficiency {
    pub sufficiency: Sufficiency,
    /// The worst of the links that are not enough, else the first that could not be checked, else the fullest.
    pub limiting: Option<String>,
    limiting_link: Option<LinkIx>,
}

impl ParcelSufficiency {
    pub fn limiting_link(&self) -> Option<LinkIx> {
        self.limiting_link
    }
}

/// A verdict for every parcel.
pub(super) fn sufficiency(
    study: &Study,
    links: &Links,
    checked: &TiSlice<LinkIx, Checked>,
    share_in_doubt: f64,
) -> TiVec<ParcelIx, ParcelSufficiency> {
    let mains = mains(study);
    study
        .inputs
        .parcels
        .keys()
        .map(|parcel| {
            let own = links_of(study, links, (parcel, mains.get(&parcel)), share_in_doubt);
            verdict(study, links, checked, &own)
        })
        .collect()
}

/// The structures that drain some of a parcel's land by pipe.
fn mains(study: &Study) -> BTreeMap<ParcelIx, BTreeSet<StructureIx>> {
    let mut mains: BTreeMap<ParcelIx, BTreeSet<StructureIx>> = BTreeMap::new();
    for cell in study.setting.parties.cells() {
        if let (Party::Parcel(parcel), Some(structure)) = (study.setting.parties.of(cell), study.drained_to(cell)) {
            mains.entry(parcel).or_default().insert(structure);
        }
    }
    mains
}

/// The links that a parcel's water passes, in order: down to its lawful outlet, and below it as long as the parcel is more
/// than a small part of the land that the link serves; open water is not among them. The remainder of small leaving points counts only where it is all.
fn links_of(
    study: &Study,
    links: &Links,
    (parcel, mains): (ParcelIx, Option<&BTreeSet<StructureIx>>),
    share_in_doubt: f64,
) -> Vec<LinkIx> {
    let own: u64 = study.shares[parcel].iter().map(|share| share.cells).sum();
    let main = |(number, share): &(ShareIx, &Share)| *number == ShareIx(0) || !share.is_remainder;
    let shares = study.shares[parcel].iter_enumerated().filter(main);
    let by_surface = shares.filter_map(|(_, share)| links.first_at(share.leaving));
    let by_pipe = mains.into_iter().flatten().map(|&main| links.structure(main));
    let mut passed = Vec::new();
    for start in by_pipe.chain(by_surface) {
        let mut has_reached_outlet = false;
        for link in links.chain(start) {
            let is_in_doubt = own as f64 >= share_in_doubt * links.cells[link] as f64;
            if has_reached_outlet && !is_in_doubt {
                break;
            }
            has_reached_outlet |= is_lawful(study, links.list[link]);
            if !is_open_water(study, links.list[link]) && !passed.contains(&link) {
                passed.push(link);
            }
        }
    }
    passed
}

fn is_open_water(study: &Study, link: Link) -> bool {
    matches!(link, Link::Reach(reach) if reach::is_open_water(study, reach))
}

fn is_lawful(study: &Study, link: Link) -> bool {
    match link {
        Link::Reach(reach) => study.setting.waterways[study.reaches.list[reach].waterway].lawful,
        Link::Structure(structure) => study.setting.structures[structure].lawful,
    }
}

fn verdict(study: &Study, links: &Links, checked: &TiSlice<LinkIx, Checked>, own: &[LinkIx]) -> ParcelSufficiency {
    let with =
        |sufficiency: Sufficiency| own.iter().copied().filter(move |&link| checked[link].sufficiency() == sufficiency);
    // Where water stands in an outlet it is worse than any link that is merely full.
    let ratio = |link: &LinkIx| match checked[*link].cause {
        Some(Cause::Submerged | Cause::OutletLow) => f64::INFINITY,
        _ => checked[*link].ratio().unwrap_or(f64::INFINITY),
    };
    let fullest = |a: &LinkIx, b: &LinkIx| ratio(a).total_cmp(&ratio(b)).then(b.cmp(a));
    let worst = with(Sufficiency::Insufficient).max_by(fullest);
    let unknown = with(Sufficiency::NotChecked).next();
    let (sufficiency, limiting_link) = match (worst, unknown) {
        (Some(worst), _) => (Sufficiency::Insufficient, Some(worst)),
        (None, Some(unknown)) => (Sufficiency::NotChecked, Some(unknown)),
        (None, None) if own.is_empty() => (Sufficiency::NotChecked, None),
        (None, None) => (Sufficiency::Sufficient, with(Sufficiency::Sufficient).max_by(fullest)),
    };
    let limiting = limiting_link.map(|link| study.link_id(links.list[link]));
    ParcelSufficiency { sufficiency, limiting, limiting_link }
}

impl Study {
    pub fn link_id(&self, link: Link) -> String {
        match link {
            Link::Reach(reach) => self.reaches.list[reach].id.to_string(),
            Link::Structure(structure) => self.setting.feature_id(Feature::Structure(structure)).to_owned(),
        }
    }
}
