//! Whether a petition, or a remonstrance against one, meets a profile's tests, and how firm the verdict is.
//!
//! Everything is counted in whole numbers: heads, and whole square metres of land. A tie is no majority.

mod alike;
mod count;
mod firm;
mod frontier;
mod roll;
mod rule;
mod smallest;
#[cfg(test)]
mod tests;
mod verdict;

pub use alike::alike_owners;
pub use count::{Count, Reading};
pub use firm::{Firmness, TestFirmness, firmness, tipping};
pub use roll::{LandKind, OwnerIx, Roll, RollLand};
pub use rule::{
    CostAtRisk, Denominator, Fraction, HeadRule, Officer, PetitionCondition, PetitionLaw, PetitionRules, PetitionTest,
    RaisedBy, Requirement, Withdrawals,
};
pub use smallest::Smallest;
pub use verdict::{ConditionTally, Doubt, Readings, Settled, Signatures, Verdict, readings, settled, tallies, verdict};
