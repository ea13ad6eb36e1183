//! Tables of a petition: lands, tests, and the working list for signatures.

use schemars::JsonSchema;
use serde::Serialize;

use fallwright_law::petition::{OwnerIx, PetitionLaw, RollLand};
use fallwright_study::{Petition, Study};

use super::cells::{Decimal, Text};
use super::rows::rows_csv;
use crate::layer::Record;
use crate::records::petition::{PetitionLandProperties, PetitionRecord, PetitionTestRecord};

/// Each parcel and road of the area.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct PetitionRow {
    /// Stage that the count is of, as given
    pub stage: Text,
    /// Kind of land: parcel or road
    #[schemars(extend("enum" = ["parcel", "road"]))]
    pub kind: &'static str,
    /// Id of the parcel or road
    pub id: Text,
    /// Legal description as given
    pub legal: Option<Text>,
    /// Owner as given; a road's authority
    pub owner: Option<Text>,
    /// Kind of ownership: `sole`, `co_owned`, `road_authority`, or `none` where the roll names nobody
    pub ownership: &'static str,
    /// Hectares inside the area
    pub inside_ha: Decimal,
    /// Hectares of the whole land
    pub whole_ha: Decimal,
    /// Whether it counts in any test
    pub counts: bool,
    /// Whether all its owners have signed and not withdrawn
    pub signed: bool,
    /// Whether one of its owners alone changes whether enough have signed
    pub tips: bool,
    /// Hectares inside that drain to the outlet
    pub drains_to_outlet_ha: Option<Decimal>,
}

/// Each condition of each test with its figures.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct PetitionTestRow {
    /// Stage that the count is of, as given
    pub stage: Text,
    /// Id of the test in the profile
    pub test: Text,
    /// The test in words
    pub label: Text,
    /// Number of the condition in the test
    pub condition: usize,
    /// heads or hectares
    pub measure: Text,
    /// Whether roads are part of the whole
    pub roads: Text,
    /// Heads or hectares that have signed
    pub have: Decimal,
    /// Of so many in all
    pub of: Decimal,
    /// So many are needed at least
    pub needed: Decimal,
    /// `more_than`, `at_least` or `count`
    pub comparison: Text,
    /// The fraction
    pub fraction: Option<Text>,
    /// Whether the condition is met
    pub met: bool,
    /// Above what is needed; negative for what is missing
    pub distance: Decimal,
}

/// A line for each owner of each land, to be filled in by hand; not the prescribed form.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct SignatureRow {
    /// Roll number: the id of the parcel or road
    pub roll_number: Text,
    /// Legal description as given
    pub legal: Option<Text>,
    /// Owner
    pub owner: Text,
    /// Kind of ownership: `sole`, `co_owned`, `road_authority`, or `none` where the roll names nobody
    pub ownership: &'static str,
    /// Names that must all sign for the land
    pub all_must_sign: Text,
    /// Signed and not withdrawn so far
    pub signed: bool,
    /// In what capacity: owner, partner, officer of a corporation, attorney; to be filled in
    pub signing_capacity: &'static str,
    /// Signature; to be filled in
    pub signature: &'static str,
    /// Date; to be filled in
    pub date: &'static str,
    /// Purpose: what drainage is asked for; to be filled in
    pub purpose: &'static str,
    /// Contact; to be filled in
    pub contact: &'static str,
    /// What whoever signs must know
    pub warning: Text,
}

pub(crate) fn petition_rows(
    petition: &Petition,
    lands: &[Record<PetitionLandProperties>],
    stage: &str,
) -> Vec<PetitionRow> {
    let row = |(land, Record { properties, .. }): (&RollLand, &Record<PetitionLandProperties>)| PetitionRow {
        stage: stage.into(),
        kind: if land.is_road() { "road" } else { "parcel" },
        id: land.id.as_str().into(),
        legal: properties.legal.as_ref().map(Into::into),
        owner: properties.owner.as_ref().map(Into::into),
        ownership: ownership(land),
        inside_ha: Decimal(properties.inside_ha),
        whole_ha: Decimal(properties.whole_ha),
        counts: properties.counts,
        signed: properties.signed,
        tips: properties.tips,
        drains_to_outlet_ha: properties.drains_to_outlet_ha.map(Decimal),
    };
    petition.roll.lands.iter().zip(lands).map(row).collect()
}

pub(crate) fn ownership(land: &RollLand) -> &'static str {
    match land.owners.len() {
        0 => "none",
        _ if land.is_road() => "road_authority",
        1 => "sole",
        _ => "co_owned",
    }
}

/// Earlier stages first.
pub(crate) fn test_rows(record: &PetitionRecord) -> Vec<PetitionTestRow> {
    let earlier = record.earlier.iter().map(|stage| (stage.stage.as_str(), &stage.tests));
    let stages = earlier.chain([(record.stage.as_str(), &record.tests)]);
    stages.flat_map(|(stage, tests)| tests.iter().map(move |test| test_row(stage, test))).collect()
}

fn test_row(stage: &str, test: &PetitionTestRecord) -> PetitionTestRow {
    PetitionTestRow {
        stage: stage.into(),
        test: test.test.as_str().into(),
        label: test.label.as_str().into(),
        condition: test.condition,
        measure: test.measure.as_str().into(),
        roads: test.roads.as_str().into(),
        have: Decimal(test.have),
        of: Decimal(test.of),
        needed: Decimal(test.needed),
        comparison: test.comparison.as_str().into(),
        fraction: test.fraction.as_ref().map(Into::into),
        met: test.met,
        distance: Decimal(test.distance),
    }
}

/// A row for each owner of each land; a land without owner has one too.
pub(crate) fn signature_rows(study: &Study, petition: &Petition) -> Vec<SignatureRow> {
    let signed = petition.signatures.standing();
    let liability = match &study.inputs.profile.petition {
        PetitionLaw::Known(rules) => rules.liability.as_str(),
        PetitionLaw::None { .. } | PetitionLaw::Unstated => "",
    };
    let warning = format!("Working list, not the prescribed form. {liability}");
    let row = |land: &RollLand, part: &fallwright_study::PetitionLand, owner: Option<OwnerIx>| {
        let legal = match part.party {
            fallwright_network::Party::Parcel(parcel) => study.inputs.parcels[parcel].legal.as_ref(),
            _ => None,
        };
        let names: Vec<&str> = land.owners.iter().map(|&owner| petition.roll.owners[owner].as_str()).collect();
        SignatureRow {
            roll_number: land.id.as_str().into(),
            legal: legal.map(Into::into),
            owner: owner.map_or("", |owner| petition.roll.owners[owner].as_str()).into(),
            ownership: ownership(land),
            all_must_sign: names.join("; ").into(),
            signed: owner.is_some_and(|owner| signed.contains(&owner)),
            signing_capacity: "",
            signature: "",
            date: "",
            purpose: "",
            contact: "",
            warning: warning.as_str().into(),
        }
    };
    let mut rows = Vec::new();
    for (land, part) in petition.roll.lands.iter().zip(&petition.lands) {
        if land.owners.is_empty() {
            rows.push(row(land, part, None));
        }
        rows.extend(land.owners.iter().map(|&owner| row(land, part, Some(owner))));
    }
    rows
}

pub(crate) fn petition_csv(rows: &[PetitionRow]) -> String {
    rows_csv(rows)
}

pub(crate) fn tests_csv(rows: &[PetitionTestRow]) -> String {
    rows_csv(rows)
}

pub(crate) fn signatures_csv(rows: &[SignatureRow]) -> String {
    rows_csv(rows)
}
