//! Who has signed: a list of ids, or a CSV file with a row for each signature.

use std::collections::BTreeSet;
use std::path::Path;

use fallwright_geodata::Problem;
use fallwright_law::petition::{Officer, PetitionLaw};
use fallwright_units::{ParcelIx, PartialDate, RoadIx};

use super::Inputs;
use super::csv_rows;
use crate::file::Source;
use crate::nearest::meant;

const PARCEL: &str = "parcel";
const OWNER: &str = "owner";
const CAPACITY: &str = "capacity";
const SIGNED: &str = "signed";
const WITHDRAWN: &str = "withdrawn";

/// One signature as it is given.
#[derive(Clone, Debug, PartialEq)]
pub struct Signature {
    /// Where it is given, for notes: `signed.csv row 3`, `--signed`.
    pub given: String,
    pub by: Signer,
    /// In what capacity, as given.
    pub capacity: Option<String>,
    pub signed: Option<PartialDate>,
    /// Taken back since; a day where one is given.
    pub withdrawn: Option<PartialDate>,
}

/// Whose signature.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Signer {
    /// All owners of a parcel.
    OwnersOf(ParcelIx),
    /// The authority of a road.
    AuthorityOf(RoadIx),
    /// One owner by name, for everything that they own.
    Owner(String),
    /// An officer of the rule profile, by id.
    Officer(String),
}

impl Inputs {
    /// Reads signatures: from a CSV file where the text names one, otherwise from the text itself, ids with commas between.
    /// `option` is the option that gave the text.
    ///
    /// # Errors
    /// Every id and name that nobody has, every date that is none, a file that cannot be read.
    pub fn read_signatures(&self, option: &str, text: &str) -> Result<Vec<Signature>, Vec<Problem>> {
        let signers = Signers::of(self);
        let path = Path::new(text);
        let is_csv = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("csv"));
        if path.is_file() {
            signers.in_file(text)
        } else if is_csv {
            let found = if path.exists() { "not a regular file" } else { "no such file" };
            let expected = "a CSV file of signatures, or ids with commas between";
            Err(vec![Problem::in_file(path, found, expected, format!("check the path given with {option}"))])
        } else {
            signers.in_text(option, text)
        }
    }
}

/// Everybody who may sign.
struct Signers<'a> {
    inputs: &'a Inputs,
    owners: BTreeSet<&'a str>,
    officers: Vec<&'a str>,
}

impl<'a> Signers<'a> {
    fn of(inputs: &'a Inputs) -> Self {
        let owners = inputs.parcels.iter().flat_map(super::Parcel::owners);
        let authorities = inputs.roads.iter().map(super::Road::owner);
        let officers = match &inputs.profile.petition {
            // A road's authority signs by the road's id.
            PetitionLaw::Known(rules) => {
                let ids = rules.officers.iter().map(|officer| officer.id.as_str());
                ids.filter(|&id| id != Officer::ROAD_AUTHORITY).collect()
            }
            PetitionLaw::None { .. } | PetitionLaw::Unstated => Vec::new(),
        };
        Self { inputs, owners: owners.chain(authorities).collect(), officers }
    }

    /// A parcel's id before a road's, an officer's and an owner's name.
    fn signer(&self, id: &str) -> Option<Signer> {
        let inputs = self.inputs;
        let parcel = || inputs.parcels.position(|parcel| parcel.id.as_str() == id).map(Signer::OwnersOf);
        let road = || inputs.roads.position(|road| road.id.as_str() == id).map(Signer::AuthorityOf);
        let officer = || self.officers.contains(&id).then(|| Signer::Officer(id.to_owned()));
        parcel().or_else(road).or_else(officer).or_else(|| self.owner(id))
    }

    fn owner(&self, name: &str) -> Option<Signer> {
        self.owners.contains(name).then(|| Signer::Owner(name.to_owned()))
    }

    fn in_text(&self, option: &str, text: &str) -> Result<Vec<Signature>, Vec<Problem>> {
        let mut signatures = Vec::new();
        let mut problems = Vec::new();
        // A name may hold a comma.
        let whole = self.owner(text.trim()).map(|_| vec![text.trim()]);
        let ids = whole.unwrap_or_else(|| text.split(',').map(str::trim).filter(|id| !id.is_empty()).collect());
        for id in ids {
            match self.signer(id) {
                Some(by) => signatures.push(Signature {
                    given: option.to_owned(),
                    by,
                    capacity: None,
                    signed: None,
                    withdrawn: None,
                }),
                None => problems.push(self.nobody(Problem::in_file(option, "", "", ""), id)),
            }
        }
        if problems.is_empty() { Ok(signatures) } else { Err(problems) }
    }

    fn nobody(&self, place: Problem, id: &str) -> Problem {
        let inputs = self.inputs;
        let ids = inputs.parcels.iter().map(|parcel| parcel.id.as_str());
        let ids = ids.chain(inputs.roads.iter().map(|road| road.id.as_str())).chain(self.officers.iter().copied());
        let hint = meant(id, ids.chain(self.owners.iter().copied()))
            .map_or("check the id against the parcel layer".to_owned(), |near| format!("did you mean {near}?"));
        let expected = "the id of a parcel or road, an officer's id of the rule profile, or an owner's name";
        Problem {
            found: format!("{id:?}, which nothing in the case has"),
            expected: expected.to_owned(),
            hint,
            ..place
        }
    }

    fn in_file(&self, given: &str) -> Result<Vec<Signature>, Vec<Problem>> {
        let source = Source { given: given.to_owned(), path: given.into(), repair: false };
        let mut problems = Vec::new();
        let header = csv_rows::header(&source)?;
        let columns = [PARCEL, OWNER, CAPACITY, SIGNED, WITHDRAWN].map(|name| header.contains(name).then_some(name));
        if columns[0].is_none() && columns[1].is_none() {
            let found = format!("neither a column {PARCEL:?} nor a column {OWNER:?}");
            let expected = format!("at least one of the columns {PARCEL:?} and {OWNER:?}");
            return Err(vec![Problem::in_file(given, found, expected, "name the columns in the first row")]);
        }
        let mut signatures = Vec::new();
        for row in csv_rows::read(&source, columns, &mut problems) {
            let place = || Problem::in_file(given, "", "", "").at_row(row.number);
            let [parcel, owner, capacity, signed, withdrawn] = row.values.each_ref().map(String::as_str);
            let mut date = |column: &str, text: &str| {
                let date = (!text.is_empty()).then(|| text.parse::<PartialDate>());
                if let Some(Err(error)) = &date {
                    problems.push(Problem {
                        found: format!("{error} in the column {column:?}"),
                        expected: "a day: 2026-05-02".to_owned(),
                        hint: "correct the date or leave it empty".to_owned(),
                        ..place()
                    });
                }
                date.and_then(Result::ok)
            };
            let (signed, withdrawn) = (date(SIGNED, signed), date(WITHDRAWN, withdrawn));
            match self.in_row(parcel, owner, &place()) {
                Ok(by) => signatures.push(Signature {
                    given: format!("{given} row {}", row.number),
                    by,
                    capacity: (!capacity.is_empty()).then(|| capacity.to_owned()),
                    signed,
                    withdrawn,
                }),
                Err(problem) => problems.push(*problem),
            }
        }
        if problems.is_empty() { Ok(signatures) } else { Err(problems) }
    }

    fn in_row(&self, parcel: &str, owner: &str, place: &Problem) -> Result<Signer, Box<Problem>> {
        let problem = |found: String, expected: &str, hint: &str| {
            Box::new(Problem { found, expected: expected.to_owned(), hint: hint.to_owned(), ..place.clone() })
        };
        match (parcel, owner) {
            ("", "") => Err(problem(
                "neither parcel nor owner".to_owned(),
                "the parcel, the owner, or both",
                "say who signed, or leave the row out",
            )),
            (land, "") => self.signer(land).ok_or_else(|| Box::new(self.nobody(place.clone(), land))),
            ("", name) => self
                .owner(name)
                .or_else(|| self.officers.contains(&name).then(|| Signer::Officer(name.to_owned())))
                .ok_or_else(|| Box::new(self.nobody(place.clone(), name))),
            (land, name) => {
                let owners = match self.signer(land) {
                    Some(Signer::OwnersOf(parcel)) => self.inputs.parcels[parcel].owners(),
                    Some(Signer::AuthorityOf(road)) => vec![self.inputs.roads[road].owner()],
                    Some(Signer::Owner(_) | Signer::Officer(_)) | None => {
                        return Err(Box::new(self.nobody(place.clone(), land)));
                    }
                };
                if owners.contains(&name) {
                    return Ok(Signer::Owner(name.to_owned()));
                }
                let listed = if owners.is_empty() { "nobody".to_owned() } else { owners.join("; ") };
                let hint = "correct the name as the roll has it, or leave the parcel out of the row";
                Err(problem(
                    format!("{name:?} as an owner of {land}, which {listed} owns"),
                    "an owner of that land",
                    hint,
                ))
            }
        }
    }
}
