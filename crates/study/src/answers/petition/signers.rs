//! Who has signed, by owner of the roll.

use std::collections::BTreeSet;

use fallwright_case::{Inputs, Signature, Signer};
use fallwright_law::petition::{Officer, OwnerIx, PetitionRules, RaisedBy, Roll, Signatures};

use super::PetitionQuestion;

/// What was seen about a signature and does not count as given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SignatureNote {
    /// Where it is given.
    pub given: String,
    /// Who signed, by name or id.
    pub who: String,
    pub kind: SignatureRemark,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SignatureRemark {
    /// Owns nothing inside the area.
    OwnsNothingInside,
    /// Given twice, and counted once.
    Twice,
    /// The roll names no owner of that land, so nobody can sign for it.
    NoOwner,
    /// Withdrawn by somebody who has not signed.
    HadNotSigned,
    /// An officer, who has no say in a remonstrance.
    NoOfficer,
}

pub(super) struct Signed {
    pub(super) signatures: Signatures,
    pub(super) notes: Vec<SignatureNote>,
}

struct Reading<'a> {
    inputs: &'a Inputs,
    roll: &'a mut Roll,
    signed: Signed,
}

pub(super) fn signatures(
    inputs: &Inputs,
    roll: &mut Roll,
    question: &PetitionQuestion,
    rules: Option<&PetitionRules>,
) -> Signed {
    let signed = Signed { signatures: Signatures::default(), notes: Vec::new() };
    let mut reading = Reading { inputs, roll, signed };
    let mut seen = BTreeSet::new();
    for signature in &question.signatures {
        if !seen.insert(&signature.by) {
            reading.note(signature, SignatureRemark::Twice);
        }
        if let Signer::Officer(_) = &signature.by {
            if question.raised_by == RaisedBy::Petition {
                reading.signed.signatures.officer = true;
            } else {
                reading.note(signature, SignatureRemark::NoOfficer);
            }
        }
        let owners = reading.owners(signature);
        reading.signed.signatures.signed.extend(&owners);
        if signature.withdrawn.is_some() {
            reading.signed.signatures.withdrawn.extend(&owners);
        }
    }
    for withdrawal in &question.withdrawn {
        let owners = reading.owners(withdrawal);
        let has_signed = owners.iter().any(|owner| reading.signed.signatures.signed.contains(owner));
        if !owners.is_empty() && !has_signed {
            reading.note(withdrawal, SignatureRemark::HadNotSigned);
        }
        let signed = reading.signed.signatures.signed.clone();
        reading.signed.signatures.withdrawn.extend(owners.iter().filter(|owner| signed.contains(owner)));
    }
    let road_officer =
        rules.is_some_and(|rules| rules.officers.iter().any(|officer| officer.id == Officer::ROAD_AUTHORITY));
    let standing = reading.signed.signatures.standing();
    let of_road = |owner: &OwnerIx| reading.roll.lands.iter().any(|land| land.is_road() && land.owners.contains(owner));
    if question.raised_by == RaisedBy::Petition && road_officer && standing.iter().any(of_road) {
        reading.signed.signatures.officer = true;
    }
    reading.signed
}

impl Reading<'_> {
    /// The owners inside whose signature it is.
    fn owners(&mut self, signature: &Signature) -> Vec<OwnerIx> {
        let inputs = self.inputs;
        let names: Vec<&str> = match &signature.by {
            Signer::OwnersOf(parcel) => inputs.parcels[*parcel].owners(),
            Signer::AuthorityOf(road) => vec![inputs.roads[*road].owner()],
            Signer::Owner(name) => vec![name],
            Signer::Officer(_) => return Vec::new(),
        };
        if names.is_empty() {
            self.note(signature, SignatureRemark::NoOwner);
            return Vec::new();
        }
        let owners: Vec<OwnerIx> =
            names.iter().filter_map(|name| self.roll.owners.position(|owner| owner == name)).collect();
        let inside: Vec<OwnerIx> = owners.into_iter().filter(|&owner| self.roll.owns_inside(owner)).collect();
        if inside.is_empty() {
            self.note(signature, SignatureRemark::OwnsNothingInside);
        }
        inside
    }

    fn note(&mut self, signature: &Signature, kind: SignatureRemark) {
        let inputs = self.inputs;
        let who = match &signature.by {
            Signer::OwnersOf(parcel) => inputs.parcels[*parcel].id.as_str().to_owned(),
            Signer::AuthorityOf(road) => inputs.roads[*road].id.as_str().to_owned(),
            Signer::Owner(name) | Signer::Officer(name) => name.clone(),
        };
        self.signed.notes.push(SignatureNote { given: signature.given.clone(), who, kind });
    }
}
