//! Rule profiles: which class of feature confers what, under which provision, with its source.

mod petition;
mod read;

use fallwright_units::{Hectares, Metres, SQUARE_METRES_PER_HECTARE};

use crate::WayKind;
use crate::petition::PetitionLaw;
pub use read::{ProfileError, ProfileProblem};

/// The rules of one jurisdiction, read from TOML by [`Profile::from_toml`].
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    pub id: String,
    pub name: String,
    pub ask: Ask,
    pub minimums: Minimums,
    pub unmapped_channel: UnmappedChannel,
    /// `None` where the profile states no buffer.
    pub buffer: Option<Buffer>,
    pub petition: PetitionLaw,
    /// In order of strength.
    classes: Vec<Class>,
    ways: Vec<WayRule>,
    constraints: Vec<ConstraintRule>,
}

/// A number in a profile with where it comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Sourced {
    pub value: f64,
    pub source: String,
}

/// Whom to ask, as words for a sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ask {
    /// About drains and outlets, for instance `the municipality's drainage superintendent`.
    pub drains: String,
    /// For by-laws, schedules and awards.
    pub records: String,
    /// For what is registered on title.
    pub titles: String,
    /// About permits for works in or beside natural water.
    pub waters: String,
}

/// Below these a difference does not count.
#[derive(Clone, Debug, PartialEq)]
pub struct Minimums {
    /// Hectares of a parcel without elevation; counts only together with `missing_elevation_fraction`.
    pub missing_elevation_ha: Sourced,
    /// Fraction (0 to 1) of a parcel without elevation.
    pub missing_elevation_fraction: Sourced,
    /// Hectares beyond the assessed ones; the smaller of this and `excess_fraction` counts.
    pub excess_ha: Sourced,
    /// Fraction (0 to 1) of the assessed hectares.
    pub excess_fraction: Sourced,
    /// Metres of own frontage to which water can be led.
    pub frontage_m: Sourced,
    /// Metres of filling on a path.
    pub filled_m: Sourced,
    /// Hectares of one filled hollow that a path crosses.
    pub filled_ha: Sourced,
    /// Fraction (0 to 1) of hectares; where no more than these are doubtful, the whole is not.
    pub doubtful_fraction: Sourced,
    /// Cells across a parcel, as the side of a square of its area; with fewer, what lies within one cell of its lot line counts.
    pub cells_across: Sourced,
}

impl Minimums {
    /// How far a measured area may differ from an assessed one before the difference counts: the smaller of `excess_ha`
    /// and `excess_fraction` of the assessed hectares.
    pub(crate) fn area_accuracy(&self, assessed: Hectares) -> Hectares {
        let fraction = assessed.hectares() * self.excess_fraction.value;
        Hectares::from_hectares(fraction.min(self.excess_ha.value)).expect("finite numbers of a profile")
    }

    /// Whether a parcel is so few cells across that one cell along its lot line may change the finding.
    pub fn is_few_cells_across(&self, parcel: Hectares, cell: Metres) -> bool {
        let side_m = (parcel.hectares() * SQUARE_METRES_PER_HECTARE).sqrt();
        side_m < self.cells_across.value * cell.metres()
    }
}

/// When ground without a mapped feature shows a channel that matters.
#[derive(Clone, Debug, PartialEq)]
pub struct UnmappedChannel {
    /// At least this contributing area, hectares.
    pub contributing_ha: Sourced,
    /// At least this far below both banks, metres.
    pub depth_m: Sourced,
    /// Banks are looked for within this distance of the channel, metres.
    pub bank_distance_m: Sourced,
    /// Over at least this length, metres.
    pub length_m: Sourced,
    /// Cells within `bank_distance_m`; with fewer the ground may have a channel that the cells do not show.
    pub cells_to_bank: Sourced,
}

/// The strip along open drains that is kept out of crop.
#[derive(Clone, Debug, PartialEq)]
pub struct Buffer {
    /// On each side, from the top of bank, metres.
    pub width_m: Sourced,
    pub confirmed: bool,
    /// Ids of the classes that have one.
    pub classes: Vec<String>,
}

/// Who is notified before work on a feature begins.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    pub who: String,
    pub source: String,
    pub confirmed: bool,
}

/// A class of mapped features and what it confers.
#[derive(Clone, Debug, PartialEq)]
pub struct Class {
    pub id: String,
    pub label: String,
    pub kind: ClassKind,
    pub provision: Provision,
    /// What it confers, in plain words.
    pub confers: String,
    pub source: String,
    pub confirmed: bool,
    /// Whether a path that meets the class has met an outlet, of whoever's standing.
    pub lawful_outlet: bool,
    /// Who may do maintenance on such a feature, in plain words.
    pub maintained_by: String,
    pub notified: Notice,
}

/// What the features of a class are, whatever the law calls them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClassKind {
    /// A natural watercourse.
    Channel,
    /// A lake, pond or wide river.
    Lake,
    /// A drain made under a statute, an award or an agreement.
    LegalDrain,
    /// A ditch of a road or of private land.
    Ditch,
    /// A private tile or pipe.
    Pipe,
}

impl ClassKind {
    pub const ALL: [Self; 5] = [Self::Channel, Self::Lake, Self::LegalDrain, Self::Ditch, Self::Pipe];

    pub const fn code(self) -> &'static str {
        match self {
            Self::Channel => "channel",
            Self::Lake => "lake",
            Self::LegalDrain => "legal_drain",
            Self::Ditch => "ditch",
            Self::Pipe => "pipe",
        }
    }
}

/// How a class confers a right.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Provision {
    /// On land that has frontage on the feature.
    Frontage,
    /// On the hectares that the drain's schedule assesses.
    AssessedBySchedule,
    /// On the parties named in an agreement.
    NamedParty,
    /// On the lands named in an award.
    NamedInAward,
    /// On all land whose water runs there by itself.
    NaturalFlow,
    /// On the parcels that an approval names.
    Approval,
    /// On the parcels that an approval names together with every parcel on the way.
    PermissionOfEveryParcel,
    /// Never a right; use by written permission.
    WrittenPermission,
    /// Nothing.
    None,
}

impl Provision {
    pub const ALL: [Self; 9] = [
        Self::Frontage,
        Self::AssessedBySchedule,
        Self::NamedParty,
        Self::NamedInAward,
        Self::NaturalFlow,
        Self::Approval,
        Self::PermissionOfEveryParcel,
        Self::WrittenPermission,
        Self::None,
    ];

    /// Whether only land that is assessed, named or approved may use a feature of the class.
    pub(crate) const fn admits_only_some(self) -> bool {
        matches!(
            self,
            Self::AssessedBySchedule
                | Self::NamedParty
                | Self::NamedInAward
                | Self::Approval
                | Self::PermissionOfEveryParcel
        )
    }

    /// Whether a right under it rests on a document that names parcels and may give the way across others.
    pub(crate) const fn is_by_document(self) -> bool {
        matches!(self, Self::NamedParty | Self::NamedInAward | Self::Approval | Self::PermissionOfEveryParcel)
    }

    /// Whether a right under it says nothing about the way across neighbours to the feature.
    pub(crate) const fn asks_for_the_way(self) -> bool {
        !matches!(self, Self::NaturalFlow | Self::PermissionOfEveryParcel)
    }

    pub const fn code(self) -> &'static str {
        match self {
            Self::Frontage => "frontage",
            Self::AssessedBySchedule => "assessed_by_schedule",
            Self::NamedParty => "named_party",
            Self::NamedInAward => "named_in_award",
            Self::NaturalFlow => "natural_flow",
            Self::Approval => "approval",
            Self::PermissionOfEveryParcel => "permission_of_every_parcel",
            Self::WrittenPermission => "written_permission",
            Self::None => "none",
        }
    }
}

/// A way to acquire an outlet, as the profile describes it.
#[derive(Clone, Debug, PartialEq)]
pub struct WayRule {
    pub way: WayKind,
    pub label: String,
    pub source: String,
    pub confirmed: bool,
    /// Whether the owners of the land on the way must consent.
    pub consent: bool,
    /// What has to be drawn up or obtained, in order.
    pub documents: Vec<String>,
    /// Sentences; `{outlet}` and `{parcels}` stand for the feature and the parcels crossed.
    pub steps: Vec<String>,
    /// What remains if somebody refuses, in plain words.
    pub if_refused: String,
}

/// Whom to ask before works meet a constraint of one kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ConstraintRule {
    /// As layers name it, for instance `wetland`.
    pub kind: String,
    pub label: String,
    /// Words for a sentence, for instance `the conservation authority, before any works`.
    pub ask: String,
    pub source: String,
    pub confirmed: bool,
}

impl Profile {
    /// Names of the profiles that come with the crate.
    pub const SHIPPED: [&str; 4] = ["ontario", "iowa", "manitoba", "saskatchewan"];

    /// A profile that comes with the crate; `None` if there is none of that name.
    pub fn shipped(name: &str) -> Option<Self> {
        let text = match name {
            "ontario" => include_str!("../profiles/ontario.toml"),
            "iowa" => include_str!("../profiles/iowa.toml"),
            "manitoba" => include_str!("../profiles/manitoba.toml"),
            "saskatchewan" => include_str!("../profiles/saskatchewan.toml"),
            _ => return None,
        };
        Some(Self::from_toml(text).expect("the tests read every shipped profile"))
    }

    /// Reads a profile.
    ///
    /// # Errors
    /// All problems at once: text that is not TOML, keys missing, unknown, of the wrong type or given twice, sources
    /// that are not listed.
    pub fn from_toml(text: &str) -> Result<Self, ProfileError> {
        read::read(text)
    }

    /// The class of that id.
    pub fn class(&self, id: &str) -> Option<&Class> {
        self.classes.iter().find(|class| class.id == id)
    }

    /// In order of strength.
    pub fn classes(&self) -> &[Class] {
        &self.classes
    }

    /// In order of strength.
    pub fn class_ids(&self) -> impl Iterator<Item = &str> {
        self.classes.iter().map(|class| class.id.as_str())
    }

    /// Whether the class exists and is a lawful outlet.
    pub fn is_lawful(&self, class: &str) -> bool {
        self.class(class).is_some_and(|class| class.lawful_outlet)
    }

    pub fn ways(&self) -> &[WayRule] {
        &self.ways
    }

    /// What works may meet and whom to ask then, in the profile's order.
    pub fn constraints(&self) -> &[ConstraintRule] {
        &self.constraints
    }

    /// What the profile says of a kind of constraint; `None` where it does not list the kind.
    pub fn constraint(&self, kind: &str) -> Option<&ConstraintRule> {
        self.constraints.iter().find(|rule| rule.kind == kind)
    }

    /// Whom to ask about a kind of constraint: the keeper of records where the profile does not list it.
    pub fn ask_about(&self, kind: &str) -> &str {
        self.constraint(kind).map_or(&self.ask.records, |rule| &rule.ask)
    }

    /// Sorts lawful outlets before the rest, each in order of strength; unknown classes last.
    pub fn strength(&self, class: &str) -> (bool, usize) {
        (!self.is_lawful(class), self.rank(class))
    }

    /// Position in order of strength; unknown classes last.
    pub(crate) fn rank(&self, class: &str) -> usize {
        self.classes.iter().position(|known| known.id == class).unwrap_or(self.classes.len())
    }
}

#[cfg(test)]
#[path = "profile/shipped_tests.rs"]
mod tests;
