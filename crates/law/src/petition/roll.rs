//! Who owns how much land in the area.

use fallwright_units::{SQUARE_METRES_PER_HECTARE, position};
use typed_index_collections::TiVec;

position!(
    /// An owner's position in a roll: a person, a company or a road's authority.
    OwnerIx
);

/// The lands of an area with their owners.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Roll {
    /// Names, each once.
    pub owners: TiVec<OwnerIx, String>,
    pub lands: Vec<RollLand>,
}

/// A land as far as it lies in the area.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RollLand {
    pub kind: LandKind,
    pub id: String,
    /// In order, each once; none where the roll names none.
    pub owners: Vec<OwnerIx>,
    /// Inside the area, whole square metres.
    pub square_metres: u64,
    /// Whether some of it lies outside the area.
    pub is_partly_outside: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LandKind {
    Parcel,
    Road,
}

impl RollLand {
    pub fn is_road(&self) -> bool {
        self.kind == LandKind::Road
    }

    pub fn hectares(&self) -> f64 {
        self.square_metres as f64 / SQUARE_METRES_PER_HECTARE
    }
}

impl Roll {
    /// The owner of that name, added where there is none yet.
    pub fn owner(&mut self, name: &str) -> OwnerIx {
        self.owners.position(|known| known == name).unwrap_or_else(|| self.owners.push_and_get_key(name.to_owned()))
    }

    /// The same without some lands.
    #[must_use]
    pub fn without(&self, is_left_out: impl Fn(&RollLand) -> bool) -> Self {
        let lands = self.lands.iter().filter(|land| !is_left_out(land)).cloned().collect();
        Self { owners: self.owners.clone(), lands }
    }

    /// The same with every owner replaced.
    #[must_use]
    pub fn with_owners(&self, replaced: impl Fn(OwnerIx) -> OwnerIx) -> Self {
        let lands = self.lands.iter().cloned().map(|land| {
            let mut owners: Vec<OwnerIx> = land.owners.iter().map(|&owner| replaced(owner)).collect();
            owners.sort_unstable();
            owners.dedup();
            RollLand { owners, ..land }
        });
        Self { owners: self.owners.clone(), lands: lands.collect() }
    }

    /// Whether somebody owns land of the area, alone or with others.
    pub fn owns_inside(&self, owner: OwnerIx) -> bool {
        self.lands.iter().any(|land| land.owners.contains(&owner))
    }
}
