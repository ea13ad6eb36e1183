use crate::{Finding, ParcelFacts, Profile};

pub fn judge(_facts: &ParcelFacts, _profile: &Profile) -> Finding {
    unimplemented!("being written")
}
