//! Does a petition pass: who owns what of the area, who has signed, how firm the verdict is, and where the area's water goes.
//!
//! Reading order: `lands` (what lies in the area), `signers` (who has signed), `basin` (where its water goes), `needs` (which land needs
//! drainage), `suggested` (an area that a petition could name).

mod basin;
mod lands;
mod needs;
mod signers;
mod suggested;

use std::collections::BTreeSet;

use fallwright_case::Signature;
use fallwright_law::petition::{
    ConditionTally, Firmness, LandKind, OwnerIx, PetitionLaw, PetitionRules, PetitionTest, RaisedBy, Readings, Roll,
    RollLand, Settled, Signatures, Verdict, alike_owners, firmness, readings, settled, tallies, tipping, verdict,
};
use fallwright_units::SQUARE_METRES_PER_HECTARE;
use geo::MultiPolygon;

pub use self::basin::{Basin, Below, OutletLink};
pub use self::lands::PetitionLand;
use self::needs::NeedsDrainage;
pub use self::signers::{SignatureNote, SignatureRemark};
pub use self::suggested::{SuggestedArea, SuggestedLand, WhyInside};
use crate::answers::standing::Standings;
use crate::error::StudyError;
use crate::place::Place;
use crate::study::Study;

/// What is asked of a petition.
#[derive(Clone, Debug)]
pub struct PetitionQuestion {
    /// The area requiring drainage, in the reference system of the case.
    pub area: MultiPolygon<f64>,
    /// The file that the area is from, for messages.
    pub area_file: String,
    pub signatures: Vec<Signature>,
    /// Who signed after these, and stands whatever was withdrawn before.
    pub added: Vec<Signature>,
    /// Names taken back since.
    pub withdrawn: Vec<Signature>,
    pub raised_by: RaisedBy,
    /// Where the area is to drain; the outlet that most of it drains to today where none is named.
    pub outlet: Option<Place>,
}

/// A petition counted.
pub struct Petition {
    pub area: MultiPolygon<f64>,
    pub area_m2: f64,
    pub raised_by: RaisedBy,
    /// In the order of `roll.lands`.
    pub lands: Vec<PetitionLand>,
    /// Ids of lands that only touch the area by the noise of the files' coordinates.
    pub only_touching: Vec<String>,
    pub roll: Roll,
    pub signatures: Signatures,
    pub signature_notes: Vec<SignatureNote>,
    /// Owners inside whose names look alike.
    pub alike: Vec<(OwnerIx, OwnerIx)>,
    pub basin: Option<Basin>,
    /// `None` where the profile knows no such count.
    pub count: Option<PetitionCount>,
}

/// The tests with what they found.
pub struct PetitionCount {
    pub tests: Vec<PetitionTest>,
    pub settled: Settled,
    pub readings: Readings,
    pub tallies: Vec<ConditionTally>,
    pub firmness: Firmness,
    pub tipping: BTreeSet<OwnerIx>,
    /// Without the lands of which less than the profile's sliver lies inside; `None` where there is none.
    pub without_slivers: Option<WithoutSlivers>,
    /// Each parcel that lies partly outside, with the verdict without it; positions of lands.
    pub fringe: Vec<(usize, Verdict)>,
    /// The count over the petitioners' own land in need of drainage alone; `None` where there is none.
    pub own_land: Option<OwnLand>,
}

/// The land inside that needs drainage, of parcels all of whose owners have signed.
pub struct OwnLand {
    pub verdict: Verdict,
    /// Positions of the lands.
    pub lands: Vec<usize>,
    pub square_metres: u64,
}

/// The count without lands that are hardly inside.
pub struct WithoutSlivers {
    pub verdict: Verdict,
    /// Positions of the lands left out.
    pub lands: Vec<usize>,
    /// Owners who then own nothing inside.
    pub owners: BTreeSet<OwnerIx>,
}

impl Study {
    /// Counts a petition or a remonstrance over an area; `standings` are those of this study.
    ///
    /// *Complexity*: O(n) for n cells, and searches over the owners inside.
    ///
    /// # Errors
    /// An area that holds no part of a parcel or road; an outlet that does not exist.
    pub fn petition(&self, question: &PetitionQuestion, standings: &Standings) -> Result<Petition, StudyError> {
        let inside = lands::inside(&self.inputs, question)?;
        let (mut roll, mut lands) = (inside.roll, inside.lands);
        let needs = NeedsDrainage::of(self, &standings.findings);
        lands::count_cells(self, &question.area, &needs, &mut lands);
        let rules = match &self.inputs.profile.petition {
            PetitionLaw::Known(rules) => Some(&**rules),
            PetitionLaw::None { .. } | PetitionLaw::Unstated => None,
        };
        let signed = signers::signatures(&self.inputs, &mut roll, question, rules);
        let basin = basin::basin(self, question, standings.capacity.as_ref(), &mut lands)?;
        let tests = rules.map(|rules| (rules, rules.tests(question.raised_by))).filter(|(_, tests)| !tests.is_empty());
        let alike = alike_owners(&roll);
        let mut count = tests.map(|(rules, tests)| count(tests, &roll, &signed.signatures, (rules, &alike)));
        if let Some(count) = count.as_mut().filter(|_| question.raised_by == RaisedBy::Petition) {
            count.own_land = own_land(&count.tests, (&roll, &lands), &signed.signatures);
        }
        Ok(Petition {
            area: question.area.clone(),
            area_m2: inside.area_m2,
            raised_by: question.raised_by,
            lands,
            only_touching: inside.only_touching,
            roll,
            signatures: signed.signatures,
            signature_notes: signed.notes,
            alike,
            basin,
            count,
        })
    }
}

fn count(
    tests: &[PetitionTest],
    roll: &Roll,
    signatures: &Signatures,
    (rules, alike): (&PetitionRules, &[(OwnerIx, OwnerIx)]),
) -> PetitionCount {
    let fringe = roll.lands.iter().enumerate().filter(|(_, land)| land.is_partly_outside && !land.is_road());
    let without = |land: &RollLand| verdict(tests, &roll.without(|other| is_same(other, land)), signatures);
    PetitionCount {
        tests: tests.to_vec(),
        settled: settled(tests, roll, signatures, alike),
        readings: readings(tests, roll, signatures),
        tallies: tallies(tests, roll, signatures),
        firmness: firmness(tests, roll, signatures),
        tipping: tipping(tests, roll, signatures),
        without_slivers: without_slivers(tests, roll, signatures, rules.sliver_ha.value),
        fringe: fringe.map(|(position, land)| (position, without(land))).collect(),
        own_land: None,
    }
}

/// Land of the petitioners alone, as far as it needs drainage.
fn own_land(
    tests: &[PetitionTest],
    (roll, lands): (&Roll, &[PetitionLand]),
    signatures: &Signatures,
) -> Option<OwnLand> {
    let signed = signatures.standing();
    let own = |(position, (land, part)): (usize, (&RollLand, &PetitionLand))| {
        let is_own =
            !land.is_road() && !land.owners.is_empty() && land.owners.iter().all(|owner| signed.contains(owner));
        let square_metres = ((part.in_need_ha * SQUARE_METRES_PER_HECTARE).round() as u64).min(land.square_metres);
        let is_partly_outside = land.is_partly_outside || square_metres < land.square_metres;
        (is_own && square_metres > 0).then(|| (position, RollLand { square_metres, is_partly_outside, ..land.clone() }))
    };
    let (positions, own): (Vec<usize>, Vec<RollLand>) =
        roll.lands.iter().zip(lands).enumerate().filter_map(own).unzip();
    let square_metres = own.iter().map(|land| land.square_metres).sum();
    let roll = Roll { owners: roll.owners.clone(), lands: own };
    (!positions.is_empty()).then(|| OwnLand {
        verdict: verdict(tests, &roll, signatures),
        lands: positions,
        square_metres,
    })
}

fn is_same(one: &RollLand, other: &RollLand) -> bool {
    one.kind == other.kind && one.id == other.id
}

fn without_slivers(
    tests: &[PetitionTest],
    roll: &Roll,
    signatures: &Signatures,
    sliver_ha: f64,
) -> Option<WithoutSlivers> {
    let is_sliver =
        |land: &RollLand| land.kind == LandKind::Parcel && land.is_partly_outside && land.hectares() < sliver_ha;
    let lands: Vec<usize> =
        roll.lands.iter().enumerate().filter(|(_, land)| is_sliver(land)).map(|(position, _)| position).collect();
    if lands.is_empty() {
        return None;
    }
    let rest = roll.without(is_sliver);
    let dropped = lands.iter().flat_map(|&position| roll.lands[position].owners.iter().copied());
    let owners = dropped.filter(|&owner| !rest.owns_inside(owner)).collect();
    Some(WithoutSlivers { verdict: verdict(tests, &rest, signatures), lands, owners })
}
