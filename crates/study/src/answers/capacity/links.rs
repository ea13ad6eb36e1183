//! The cascade's links: reaches and structures in the order of flow.

use std::cmp::Reverse;

use fallwright_network::Edge;
use fallwright_terrain::label_upstream;
use fallwright_units::{Cell, Raster, ReachIx, StructureIx, position};
use typed_index_collections::{TiSlice, TiVec, ti_vec};

use crate::study::Study;

/// What carries water.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Link {
    Reach(ReachIx),
    Structure(StructureIx),
}

position!(
    /// A link's position among [`Links::list`].
    LinkIx
);

/// All reaches, then all structures.
pub struct Links {
    pub list: TiVec<LinkIx, Link>,
    /// The link that takes each link's water next.
    pub next: TiVec<LinkIx, Option<LinkIx>>,
    /// Cells whose surface water passes each link's lower end; of a structure, through it.
    pub cells: TiVec<LinkIx, u64>,
    /// Upstream first.
    pub order: Vec<LinkIx>,
    first: Raster<u32>,
}

impl Links {
    /// *Complexity*: O(n) for n cells.
    pub fn find(study: &Study) -> Self {
        let reaches = study.reaches.list.keys().map(Link::Reach);
        let list: TiVec<LinkIx, Link> = reaches.chain(study.setting.structures.keys().map(Link::Structure)).collect();
        let next: TiVec<LinkIx, Option<LinkIx>> = list.iter().map(|&link| next(study, link)).collect();
        let cells: TiVec<LinkIx, u64> = list.iter().map(|&link| cells(study, link)).collect();
        let mut order: Vec<LinkIx> = list.keys().collect();
        // Below a link there is one link less than below any that gives it water.
        order.sort_by_cached_key(|&position| (Reverse(links_below(&next, position)), cells[position], position));
        Self { first: first(study, &list), list, next, cells, order }
    }

    /// The link that a cell's surface water meets first.
    pub fn first_at(&self, cell: Cell) -> Option<LinkIx> {
        LinkIx::from_number(self.first[cell])
    }

    /// A link and those below it.
    pub fn chain(&self, from: LinkIx) -> Vec<LinkIx> {
        std::iter::successors(Some(from), |&position| self.next[position]).collect()
    }

    /// For each link those that give it their water, in their order.
    pub fn upstream(&self) -> TiVec<LinkIx, Vec<LinkIx>> {
        let mut upstream: TiVec<LinkIx, Vec<LinkIx>> = ti_vec![Vec::new(); self.list.len()];
        for (position, next) in self.next.iter_enumerated() {
            if let Some(next) = *next {
                upstream[next].push(position);
            }
        }
        upstream
    }

    pub fn structure(&self, structure: StructureIx) -> LinkIx {
        position(self.list.len() - self.structures(), Link::Structure(structure))
    }

    fn structures(&self) -> usize {
        self.list.iter().filter(|link| matches!(link, Link::Structure(_))).count()
    }
}

/// Where a link's flow is computed: a reach's last cell, the inlet of a structure.
pub(super) fn lower_cell(study: &Study, link: Link) -> Cell {
    match link {
        Link::Reach(reach) => *study.reaches.list[reach].cells.last().expect("a reach has cells"),
        Link::Structure(structure) => study.setting.structures[structure].link.inlet,
    }
}

fn cells(study: &Study, link: Link) -> u64 {
    match link {
        Link::Reach(reach) => study.cells_through(reach),
        Link::Structure(structure) => study.cells_into(structure),
    }
}

fn links_below(next: &TiSlice<LinkIx, Option<LinkIx>>, from: LinkIx) -> usize {
    std::iter::successors(next[from], |&position| next[position]).count()
}

/// The position of a link after so many reaches.
fn position(reaches: usize, link: Link) -> LinkIx {
    match link {
        Link::Reach(reach) => LinkIx(reach.0),
        Link::Structure(structure) => LinkIx(reaches + structure.0),
    }
}

fn next(study: &Study, link: Link) -> Option<LinkIx> {
    let from = match link {
        Link::Reach(reach) => study.network.reach_nodes[reach].1,
        Link::Structure(structure) => {
            let structure = &study.setting.structures[structure];
            if let Some(junction) = structure.joins {
                return Some(position(study.reaches.list.len(), Link::Structure(junction.structure)));
            }
            study.network.point(structure.link.outlet)?
        }
    };
    let next = study.network.downstream(from).into_iter().find_map(|edge| match edge {
        Edge::Reach(reach) | Edge::Joins(reach) => Some(Link::Reach(reach)),
        Edge::Structure(structure) => Some(Link::Structure(structure)),
        Edge::Overland => None,
    });
    next.map(|next| position(study.reaches.list.len(), next))
}

fn first(study: &Study, list: &TiSlice<LinkIx, Link>) -> Raster<u32> {
    let mut labels = Raster::filled(study.setting.frame(), 0_u32);
    for (label, &link) in (1_u32..).zip(list) {
        match link {
            Link::Reach(reach) => {
                for &cell in &study.reaches.list[reach].cells {
                    labels[cell] = label;
                }
            }
            Link::Structure(structure) => labels[study.setting.structures[structure].link.inlet] = label,
        }
    }
    label_upstream(study.setting.flow(), labels)
}
