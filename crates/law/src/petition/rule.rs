//! What a profile asks of a petition or a remonstrance.

use crate::Sourced;

/// What a profile says of petitions.
#[derive(Clone, Debug, PartialEq)]
pub enum PetitionLaw {
    /// Nothing.
    Unstated,
    /// That its law knows none that is counted.
    None {
        text: String,
        source: String,
        confirmed: bool,
    },
    Known(Box<PetitionRules>),
}

/// The tests of one jurisdiction; a list of remonstrances without tests means that its law is not known to have any.
#[derive(Clone, Debug, PartialEq)]
pub struct PetitionRules {
    /// What the count of owners rests on, in plain words.
    pub roll: String,
    /// When a petitioner becomes liable for cost, in plain words.
    pub liability: String,
    /// Who decides, in plain words.
    pub decides: String,
    /// Of `roll`, `liability` and `decides`.
    pub source: String,
    pub confirmed: bool,
    /// Owners with less land inside than this are left out to see whether they decide the count, hectares.
    pub sliver_ha: Sourced,
    pub petition: Vec<PetitionTest>,
    pub officers: Vec<Officer>,
    pub remonstrance: Vec<PetitionTest>,
    pub costs: Vec<CostAtRisk>,
}

/// Who is counted against what.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RaisedBy {
    /// Owners who ask for drainage.
    Petition,
    /// Owners who object to it.
    Remonstrance,
}

impl PetitionRules {
    pub fn tests(&self, raised_by: RaisedBy) -> &[PetitionTest] {
        match raised_by {
            RaisedBy::Petition => &self.petition,
            RaisedBy::Remonstrance => &self.remonstrance,
        }
    }
}

/// One of several tests of which any is enough; all its conditions must hold.
#[derive(Clone, Debug, PartialEq)]
pub struct PetitionTest {
    pub id: String,
    pub label: String,
    pub source: String,
    pub confirmed: bool,
    pub withdrawals: Withdrawals,
    /// Until when names may be withdrawn, in plain words.
    pub withdrawals_until: String,
    pub all_of: Vec<PetitionCondition>,
}

/// Whether names withdrawn after filing are taken away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Withdrawals {
    Counted,
    Ignored,
}

impl Withdrawals {
    pub(crate) const ALL: [Self; 2] = [Self::Counted, Self::Ignored];

    pub const fn code(self) -> &'static str {
        match self {
            Self::Counted => "counted",
            Self::Ignored => "ignored",
        }
    }
}

/// A condition on the signed part of a whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PetitionCondition {
    pub of: Denominator,
    pub requirement: Requirement,
}

/// The whole that a condition counts in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Denominator {
    Owners(HeadRule),
    OwnersAndRoadAuthorities(HeadRule),
    Land,
    LandAndRoads,
    /// The law does not say whether the hectares of roads count, so both are reckoned.
    LandAndPerhapsRoads,
}

impl Denominator {
    pub(crate) const CODES: [&str; 5] =
        ["owners", "owners_and_road_authorities", "land", "land_and_roads", "land_and_perhaps_roads"];

    pub const fn code(self) -> &'static str {
        match self {
            Self::Owners(_) => "owners",
            Self::OwnersAndRoadAuthorities(_) => "owners_and_road_authorities",
            Self::Land => "land",
            Self::LandAndRoads => "land_and_roads",
            Self::LandAndPerhapsRoads => "land_and_perhaps_roads",
        }
    }

    /// `None` for hectares.
    pub const fn heads(self) -> Option<HeadRule> {
        match self {
            Self::Owners(rule) | Self::OwnersAndRoadAuthorities(rule) => Some(rule),
            Self::Land | Self::LandAndRoads | Self::LandAndPerhapsRoads => None,
        }
    }
}

/// Who is one head.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HeadRule {
    /// Each person who owns land, alone or with others.
    RecordOwner,
    /// Those who own land together are one head; all of them must sign.
    OwnershipUnit,
    /// Each parcel; all its owners must sign.
    Parcel,
}

impl HeadRule {
    pub(crate) const ALL: [Self; 3] = [Self::RecordOwner, Self::OwnershipUnit, Self::Parcel];

    pub const fn code(self) -> &'static str {
        match self {
            Self::RecordOwner => "record_owner",
            Self::OwnershipUnit => "ownership_unit",
            Self::Parcel => "parcel",
        }
    }
}

/// How much of the whole must have signed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Requirement {
    MoreThan(Fraction),
    AtLeast(Fraction),
    /// At least so many heads.
    Count(u64),
}

impl Requirement {
    pub const fn code(self) -> &'static str {
        match self {
            Self::MoreThan(_) => "more_than",
            Self::AtLeast(_) => "at_least",
            Self::Count(_) => "count",
        }
    }

    pub const fn fraction(self) -> Option<Fraction> {
        match self {
            Self::MoreThan(fraction) | Self::AtLeast(fraction) => Some(fraction),
            Self::Count(_) => None,
        }
    }

    /// The least amount that meets it, of a whole; never 0, since a test of nothing is not met.
    pub fn needed(self, whole: u64) -> u64 {
        let least = match self {
            Self::MoreThan(fraction) => fraction.times(whole).0 + 1,
            Self::AtLeast(fraction) => {
                let (floor, is_exact) = fraction.times(whole);
                floor + u64::from(!is_exact)
            }
            Self::Count(heads) => heads,
        };
        least.max(1)
    }
}

/// A fraction above 0 and up to 1, exactly.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fraction {
    numerator: u32,
    denominator: u32,
}

impl Fraction {
    /// Reads `1/2`; `None` for anything that is no fraction above 0 and up to 1.
    pub fn parse(text: &str) -> Option<Self> {
        let (numerator, denominator) = text.split_once('/')?;
        let [numerator, denominator] = [numerator, denominator].map(|number| number.trim().parse::<u32>().ok());
        let (numerator, denominator) = (numerator?, denominator?);
        (0 < numerator && numerator <= denominator).then_some(Self { numerator, denominator })
    }

    pub fn words(self) -> String {
        format!("{}/{}", self.numerator, self.denominator)
    }

    /// As a percentage, for words alone.
    pub fn percent(self) -> f64 {
        100.0 * f64::from(self.numerator) / f64::from(self.denominator)
    }

    /// The whole part of the product with a number, and whether nothing was cut off.
    fn times(self, whole: u64) -> (u64, bool) {
        let (product, denominator) = (u128::from(whole) * u128::from(self.numerator), u128::from(self.denominator));
        let floor = u64::try_from(product / denominator).expect("no more than the whole");
        (floor, product.is_multiple_of(denominator))
    }
}

/// Somebody whose signature makes a petition valid by itself, where the officer's own condition holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Officer {
    pub id: String,
    pub label: String,
    pub source: String,
    pub confirmed: bool,
}

impl Officer {
    /// The officer that a road's authority signs as.
    pub const ROAD_AUTHORITY: &str = "road_authority";
}

/// Who pays what was spent where a petition ends early.
#[derive(Clone, Debug, PartialEq)]
pub struct CostAtRisk {
    /// When it ends, in plain words.
    pub ends: String,
    /// Who pays, in plain words.
    pub rule: String,
    pub source: String,
    pub confirmed: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_that_meets_a_requirement() {
        let check = |requirement: Requirement, whole: u64, expected: u64| {
            assert_eq!(requirement.needed(whole), expected, "{requirement:?} of {whole}");
        };
        let fraction = |text| Fraction::parse(text).unwrap();
        let (more, least) = (Requirement::MoreThan, Requirement::AtLeast);
        // A tie is no majority: 3 of 4, 3 of 5, 4 of 6.
        check(more(fraction("1/2")), 4, 3);
        check(more(fraction("1/2")), 5, 3);
        check(more(fraction("1/2")), 6, 4);
        check(more(fraction("1/2")), 0, 1);
        check(least(fraction("3/5")), 1_000_000, 600_000);
        check(least(fraction("3/5")), 1_000_001, 600_001);
        check(least(fraction("1/3")), 10, 4);
        check(least(fraction("1/1")), u64::MAX, u64::MAX);
        check(least(fraction("1/2")), 0, 1);
        check(Requirement::Count(2), 100, 2);
    }

    #[test]
    fn what_is_no_fraction_is_refused() {
        let check = |text, expected: Option<&str>| {
            assert_eq!(Fraction::parse(text).map(Fraction::words).as_deref(), expected, "{text}");
        };
        check("1/2", Some("1/2"));
        check(" 3 / 5 ", Some("3/5"));
        check("1/1", Some("1/1"));
        for text in ["", "1", "0.5", "0/2", "3/2", "1/0", "-1/2", "1/2/3", "a/b"] {
            check(text, None);
        }
    }
}
