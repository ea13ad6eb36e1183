//! Plain facts about one parcel and a rule profile in; standing, basis, evidence and ways to acquire out.
