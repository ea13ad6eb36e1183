//! The tables that name layers and their fields, and the rules.

use std::path::Path;

use fallwright_units::{HECTARES_PER_ACRE, PartialDate};

use super::class_map::ClassMap;
use super::range::Range;
use super::source::Source;
use super::table::Table;

/// Accuracy of parcel boundaries where the case says none, in metres (our choice, no source).
pub(crate) const BOUNDARY_ACCURACY_M: f64 = 2.0;
/// How near a boundary must be to a waterway to abut it, in metres (our choice, no source).
const ABUT_TOLERANCE_M: f64 = 2.0;
/// More than any tolerance or accuracy of a boundary, in metres: a larger number is a slip (our choice, no source).
const MOST_TOLERANCE_M: f64 = 1_000.0;
/// The rule profile of a case that names none.
const DEFAULT_PROFILE: &str = "ontario";

/// The parcel layer; the texts below `layer` are field names.
#[derive(Clone, Debug, PartialEq)]
pub struct Parcels {
    pub source: Source,
    pub layer: Option<String>,
    pub id: String,
    pub owner: Option<String>,
    pub co_owners: Option<String>,
    /// Holds when the owner acquired the parcel: a year, month or day as in ISO 8601.
    pub owned_since: Option<String>,
    /// Legal description.
    pub legal: Option<String>,
    pub land_use: Option<String>,
    pub tax_class: Option<String>,
    /// Of the boundaries, in metres.
    pub accuracy_m: f64,
    /// Of the roll that the owners are from.
    pub dated: Option<PartialDate>,
}

impl Parcels {
    pub(super) fn read(table: &mut Table) -> Self {
        Self {
            source: table.polygon_source(),
            layer: table.text("layer"),
            id: table.required_text("id"),
            owner: table.text("owner"),
            co_owners: table.text("co_owners"),
            owned_since: table.text("owned_since"),
            legal: table.text("legal"),
            land_use: table.text("land_use"),
            tax_class: table.text("tax_class"),
            accuracy_m: table.number_or("accuracy_m", Range::UpTo(MOST_TOLERANCE_M), BOUNDARY_ACCURACY_M),
            dated: table.date("dated"),
        }
    }
}

/// Fields within parcels; `id` and `parcel` are field names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fields {
    pub source: Source,
    pub layer: Option<String>,
    pub id: String,
    /// Holds the parcel's id.
    pub parcel: String,
}

impl Fields {
    pub(super) fn read(table: &mut Table) -> Self {
        Self {
            source: table.polygon_source(),
            layer: table.text("layer"),
            id: table.required_text("id"),
            parcel: table.required_text("parcel"),
        }
    }
}

/// Where a waterway's legal class comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WaterwayClass {
    /// One class for the whole layer.
    Named(String),
    /// The field that holds each feature's class.
    Field(String),
}

/// One layer of mapped waterways; apart from the class, the texts below `layer` are field names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Waterways {
    /// Its place in the case file, dotted.
    pub key: String,
    pub source: Source,
    pub layer: Option<String>,
    pub id: String,
    pub name: Option<String>,
    pub class: WaterwayClass,
    /// What the values of the class field stand for.
    pub class_map: ClassMap,
    /// Holds the width from top of bank to top of bank, in metres.
    pub width_m: Option<String>,
    /// Holds the ids of the parcels that an agreement, an award, an approval or a written permission names.
    pub members: Option<String>,
    /// Says whether an agreement drain is registered on title.
    pub registered: Option<String>,
    /// Holds when an agreement was made: a year, month or day as in ISO 8601.
    pub agreed: Option<String>,
    /// Holds the by-law's number and date.
    pub bylaw: Option<String>,
}

impl Waterways {
    pub(super) fn read(table: &mut Table) -> Self {
        Self {
            source: table.polygon_source(),
            layer: table.text("layer"),
            id: table.text_or("id", "id"),
            name: table.text("name"),
            key: table.key.clone(),
            class: waterway_class(table),
            class_map: ClassMap::read(table),
            width_m: table.text("width_m"),
            members: table.text("members"),
            registered: table.text("registered"),
            agreed: table.text("agreed"),
            bylaw: table.text("bylaw"),
        }
    }
}

fn waterway_class(table: &mut Table) -> WaterwayClass {
    let count = usize::from(table.has("class")) + usize::from(table.has("class_field"));
    if count != 1 {
        let found = if count == 0 { "neither class nor class_field" } else { "both class and class_field" };
        table.note(
            "class",
            found.to_owned(),
            "exactly one of class and class_field",
            "give class = \"...\" for the whole layer, or class_field = \"...\", the field that holds each feature's class",
        );
    }
    if table.has(ClassMap::KEY) && !table.has("class_field") {
        let (found, expected) = ("class_map without class_field", "class_map together with class_field");
        let hint = "name the field whose values it explains, or leave class_map out";
        table.note(ClassMap::KEY, found.to_owned(), expected, hint);
    }
    let class = table.text("class");
    let field = table.text("class_field");
    field.map_or_else(|| WaterwayClass::Named(class.unwrap_or_default()), WaterwayClass::Field)
}

/// One layer of tile mains and enclosed drains, drawn downstream; the texts below `layer` are field names. The layer may
/// lack the fields of the inverts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pipes {
    pub source: Source,
    pub layer: Option<String>,
    pub id: String,
    pub diameter_mm: String,
    pub grade_percent: String,
    pub material: String,
    pub class: String,
    /// What the values of that field stand for.
    pub class_map: ClassMap,
    /// Says whether a pump lifts the water out.
    pub pumped: String,
    pub invert_up_m: String,
    pub invert_down_m: String,
}

impl Pipes {
    pub(super) fn read(table: &mut Table) -> Self {
        Self {
            source: table.source("source"),
            layer: table.text("layer"),
            id: table.text_or("id", "id"),
            diameter_mm: table.text_or("diameter_mm", "diameter_mm"),
            grade_percent: table.text_or("grade_percent", "grade_percent"),
            material: table.text_or("material", "material"),
            class: table.text_or("class", "class"),
            class_map: ClassMap::read(table),
            pumped: table.text_or("pumped", "pumped"),
            invert_up_m: table.text_or("invert_up_m", "invert_up_m"),
            invert_down_m: table.text_or("invert_down_m", "invert_down_m"),
        }
    }
}

/// One layer of culverts; the texts below `layer` are field names. The layer may lack the fields of the inverts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Culverts {
    pub source: Source,
    pub layer: Option<String>,
    pub id: String,
    pub diameter_mm: String,
    pub grade_percent: String,
    pub material: String,
    pub invert_up_m: String,
    pub invert_down_m: String,
}

impl Culverts {
    pub(super) fn read(table: &mut Table) -> Self {
        Self {
            source: table.source("source"),
            layer: table.text("layer"),
            id: table.text_or("id", "id"),
            diameter_mm: table.text_or("diameter_mm", "diameter_mm"),
            grade_percent: table.text_or("grade_percent", "grade_percent"),
            material: table.text_or("material", "material"),
            invert_up_m: table.text_or("invert_up_m", "invert_up_m"),
            invert_down_m: table.text_or("invert_down_m", "invert_down_m"),
        }
    }
}

/// Land drained by pipe.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TiledAreas {
    pub source: Source,
    pub layer: Option<String>,
    /// The field that holds the id of the main.
    pub pipe: String,
}

impl TiledAreas {
    pub(super) fn read(table: &mut Table) -> Self {
        Self { source: table.polygon_source(), layer: table.text("layer"), pipe: table.required_text("pipe") }
    }
}

/// A drain's current by-law schedule, a CSV file; the texts below `drain` are column names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Schedule {
    pub source: Source,
    /// The drain's id.
    pub drain: String,
    pub parcel: String,
    /// Holds the assessed area, in `unit`.
    pub hectares: String,
    /// Holds the amount assessed for outlet.
    pub outlet: Option<String>,
    /// Holds the amount assessed for benefit.
    pub benefit: Option<String>,
    /// Holds the branch of the drain that a row is of.
    pub branch: Option<String>,
    pub unit: AreaUnit,
    /// When the by-law was made.
    pub dated: Option<PartialDate>,
}

/// What the areas of a schedule are given in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AreaUnit {
    Hectare,
    /// The international acre; a US survey acre is larger by 4 parts in a million, less than any schedule states.
    Acre,
}

impl AreaUnit {
    const ALL: [(&'static str, Self); 2] = [("ha", Self::Hectare), ("ac", Self::Acre)];

    pub(crate) const fn words(self) -> &'static str {
        match self {
            Self::Hectare => "hectares",
            Self::Acre => "acres",
        }
    }

    pub(crate) const fn hectares(self) -> f64 {
        match self {
            Self::Hectare => 1.0,
            Self::Acre => HECTARES_PER_ACRE,
        }
    }
}

impl Schedule {
    pub(super) fn read(table: &mut Table) -> Self {
        if table.has("benefit") && !table.has("outlet") {
            let hint = "name the column of the amounts for outlet too, which decides, or leave benefit out";
            table.note("benefit", "benefit without outlet".to_owned(), "benefit together with outlet", hint);
        }
        Self {
            source: table.source("source"),
            drain: table.required_text("drain"),
            parcel: table.required_text("parcel"),
            hectares: table.required_text("hectares"),
            outlet: table.text("outlet"),
            benefit: table.text("benefit"),
            branch: table.text("branch"),
            unit: table.choice_or("unit", AreaUnit::ALL, AreaUnit::Hectare),
            dated: table.date("dated"),
        }
    }
}

/// Road land; the texts below `layer` are field names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Roads {
    pub source: Source,
    pub layer: Option<String>,
    pub id: Option<String>,
    pub name: Option<String>,
    /// Holds who looks after the road and must be asked about it.
    pub authority: Option<String>,
}

impl Roads {
    pub(super) fn read(table: &mut Table) -> Self {
        Self {
            source: table.polygon_source(),
            layer: table.text("layer"),
            id: table.text("id"),
            name: table.text("name"),
            authority: table.text("authority"),
        }
    }
}

/// Design and present cross-sections at stations of a drain, a CSV file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sections {
    pub source: Source,
}

impl Sections {
    pub(super) fn read(table: &mut Table) -> Self {
        Self { source: table.source("source") }
    }
}

/// Surveyed inverts and water levels, a CSV file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Levels {
    pub source: Source,
}

impl Levels {
    pub(super) fn read(table: &mut Table) -> Self {
        Self { source: table.source("source") }
    }
}

/// Wetlands, regulated areas, fish habitat, utilities: one layer of one kind; the texts below `kind` are field names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Constraints {
    pub source: Source,
    pub layer: Option<String>,
    pub kind: String,
    pub id: Option<String>,
    pub name: Option<String>,
    /// Holds the class within the kind, such as that of a fish habitat.
    pub class: Option<String>,
}

impl Constraints {
    pub(super) fn read(table: &mut Table) -> Self {
        Self {
            source: table.polygon_source(),
            layer: table.text("layer"),
            kind: table.required_text("kind"),
            id: table.text("id"),
            name: table.text("name"),
            class: table.text("class"),
        }
    }
}

/// Depth or intensity of rain by duration and return period, a CSV file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rainfall {
    pub source: Source,
}

impl Rainfall {
    pub(super) fn read(table: &mut Table) -> Self {
        Self { source: table.source("source") }
    }
}

/// Hydrologic soil groups.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Soils {
    pub source: Source,
    pub layer: Option<String>,
    /// The field that holds the group: A, B, C or D.
    pub group: String,
}

impl Soils {
    pub(super) fn read(table: &mut Table) -> Self {
        Self { source: table.polygon_source(), layer: table.text("layer"), group: table.text_or("group", "group") }
    }
}

/// The rules to judge by.
#[derive(Clone, Debug, PartialEq)]
pub struct Rules {
    pub profile: Profile,
    pub abut_tolerance_m: f64,
}

/// Which rule profile.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Profile {
    /// A profile that comes with the program.
    Shipped(String),
    /// A TOML file.
    File(Source),
}

impl Rules {
    pub(super) fn read(table: &mut Table) -> Self {
        let given = table.text_or("profile", DEFAULT_PROFILE);
        let is_path = given.contains('/') || Path::new(&given).extension().is_some_and(|end| end == "toml");
        let profile = if is_path {
            Profile::File(table.find("profile", given).unwrap_or_default())
        } else {
            Profile::Shipped(given)
        };
        let abut_tolerance_m = table.number_or("abut_tolerance_m", Range::UpTo(MOST_TOLERANCE_M), ABUT_TOLERANCE_M);
        Self { profile, abut_tolerance_m }
    }
}
