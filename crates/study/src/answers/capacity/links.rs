//! The cascade's links: reaches and structures in the order of flow.

use fallwright_network::Edge;
use fallwright_terrain::label_upstream;
use fallwright_units::{Cell, Raster};

use crate::study::Study;

/// What carries water: a position in the study's list of reaches or of structures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Link {
    Reach(usize),
    Structure(usize),
}

/// All reaches, then all structures.
pub struct Links {
    pub list: Vec<Link>,
    /// The link that takes each link's water next.
    pub next: Vec<Option<usize>>,
    /// Cells whose surface water passes each link's lower end.
    pub cells: Vec<u64>,
    /// Positions, upstream first.
    pub order: Vec<usize>,
    first: Raster<u32>,
}

impl Links {
    /// *Complexity*: O(n) for n cells.
    pub fn find(study: &Study) -> Self {
        let (reaches, structures) = (study.reaches.list.len(), study.setting.structures.len());
        let list: Vec<Link> = (0..reaches).map(Link::Reach).chain((0..structures).map(Link::Structure)).collect();
        let next = list.iter().map(|&link| next(study, link)).collect();
        let cells: Vec<u64> = list.iter().map(|&link| study.setting.area(lower_cell(study, link))).collect();
        let mut order: Vec<usize> = (0..list.len()).collect();
        // More land drains through a link than through any link upstream of it.
        order.sort_by_key(|&position| (cells[position], position));
        Self { first: first(study, &list), list, next, cells, order }
    }

    /// The link that a cell's surface water meets first.
    pub fn first_at(&self, cell: Cell) -> Option<usize> {
        (self.first[cell] as usize).checked_sub(1)
    }

    /// A link and those below it.
    pub fn chain(&self, from: usize) -> Vec<usize> {
        std::iter::successors(Some(from), |&position| self.next[position]).collect()
    }

    /// For each link those that give it their water, in their order.
    pub fn upstream(&self) -> Vec<Vec<usize>> {
        let mut upstream = vec![Vec::new(); self.list.len()];
        for (position, next) in self.next.iter().enumerate() {
            if let Some(next) = *next {
                upstream[next].push(position);
            }
        }
        upstream
    }

    pub fn structure(&self, structure: usize) -> usize {
        self.list.len() - self.structures() + structure
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

fn next(study: &Study, link: Link) -> Option<usize> {
    let from = match link {
        Link::Reach(reach) => study.network.reach_nodes[reach].1,
        Link::Structure(structure) => study.network.point(study.setting.structures[structure].link.outlet)?,
    };
    study.network.downstream(from).into_iter().find_map(|edge| match edge {
        Edge::Reach(reach) | Edge::Joins(reach) => Some(reach),
        Edge::Structure(structure) => Some(study.reaches.list.len() + structure),
        Edge::Overland => None,
    })
}

fn first(study: &Study, list: &[Link]) -> Raster<u32> {
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
