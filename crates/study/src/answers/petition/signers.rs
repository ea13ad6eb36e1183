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
    /// Officers who have signed and not withdrawn, by id.
    officers: BTreeSet<String>,
}

/// The list first, then what is added, then what is withdrawn.
pub(super) fn signatures(
    inputs: &Inputs,
    roll: &mut Roll,
    question: &PetitionQuestion,
    rules: Option<&PetitionRules>,
) -> Signed {
    let signed = Signed { signatures: Signatures::default(), notes: Vec::new() };
    let mut reading = Reading { inputs, roll, signed, officers: BTreeSet::new() };
    let mut seen = BTreeSet::new();
    for (signature, is_added) in question
        .signatures
        .iter()
        .map(|signature| (signature, false))
        .chain(question.added.iter().map(|one| (one, true)))
    {
        if !seen.insert(&signature.by) {
            reading.note(signature, SignatureRemark::Twice);
        }
        reading.sign(signature, question.raised_by);
        if is_added {
            reading.take_back_withdrawal(signature);
        }
    }
    for withdrawal in &question.withdrawn {
        reading.withdraw(withdrawal);
    }
    let road_officer =
        rules.is_some_and(|rules| rules.officers.iter().any(|officer| officer.id == Officer::ROAD_AUTHORITY));
    let standing = reading.signed.signatures.standing();
    let of_road = |owner: &OwnerIx| reading.roll.lands.iter().any(|land| land.is_road() && land.owners.contains(owner));
    let by_road = road_officer && standing.iter().any(of_road);
    reading.signed.signatures.officer =
        question.raised_by == RaisedBy::Petition && (by_road || !reading.officers.is_empty());
    reading.signed
}

impl Reading<'_> {
    fn sign(&mut self, signature: &Signature, raised_by: RaisedBy) {
        if let Signer::Officer(id) = &signature.by {
            if raised_by == RaisedBy::Remonstrance {
                self.note(signature, SignatureRemark::NoOfficer);
            } else if signature.withdrawn.is_none() {
                self.officers.insert(id.clone());
            }
        }
        let owners = self.owners(signature);
        self.signed.signatures.signed.extend(&owners);
        if signature.withdrawn.is_some() {
            self.signed.signatures.withdrawn.extend(&owners);
        }
    }

    /// Who signs anew has not withdrawn.
    fn take_back_withdrawal(&mut self, signature: &Signature) {
        if signature.withdrawn.is_none() {
            let owners = self.owners_inside(&self.names(signature));
            self.signed.signatures.withdrawn.retain(|owner| !owners.contains(owner));
        }
    }

    fn withdraw(&mut self, withdrawal: &Signature) {
        if let Signer::Officer(id) = &withdrawal.by {
            if !self.officers.remove(id) {
                self.note(withdrawal, SignatureRemark::HadNotSigned);
            }
            return;
        }
        let owners = self.owners(withdrawal);
        let Signatures { signed, withdrawn, .. } = &mut self.signed.signatures;
        let counted: Vec<OwnerIx> = owners.iter().copied().filter(|owner| signed.contains(owner)).collect();
        withdrawn.extend(&counted);
        if !owners.is_empty() && counted.is_empty() {
            self.note(withdrawal, SignatureRemark::HadNotSigned);
        }
    }

    fn names(&self, signature: &Signature) -> Vec<String> {
        let inputs = self.inputs;
        match &signature.by {
            Signer::OwnersOf(parcel) => inputs.parcels[*parcel].owners().into_iter().map(str::to_owned).collect(),
            Signer::AuthorityOf(road) => vec![inputs.roads[*road].owner().to_owned()],
            Signer::Owner(name) => vec![name.clone()],
            Signer::Officer(_) => Vec::new(),
        }
    }

    fn owners_inside(&self, names: &[String]) -> Vec<OwnerIx> {
        let owners = names.iter().filter_map(|name| self.roll.owners.position(|owner| owner == name));
        owners.filter(|&owner| self.roll.owns_inside(owner)).collect()
    }

    /// The owners inside whose signature it is; a note for those who own nothing there.
    fn owners(&mut self, signature: &Signature) -> Vec<OwnerIx> {
        if matches!(signature.by, Signer::Officer(_)) {
            return Vec::new();
        }
        let names = self.names(signature);
        if names.is_empty() {
            self.note(signature, SignatureRemark::NoOwner);
            return Vec::new();
        }
        let inside = self.owners_inside(&names);
        if inside.is_empty() {
            self.note(signature, SignatureRemark::OwnsNothingInside);
        } else {
            let is_inside = |name: &String| inside.iter().any(|&owner| self.roll.owners[owner] == *name);
            let outside: Vec<String> = names.into_iter().filter(|name| !is_inside(name)).collect();
            self.signed.notes.extend(outside.into_iter().map(|who| SignatureNote {
                given: signature.given.clone(),
                who,
                kind: SignatureRemark::OwnsNothingInside,
            }));
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
