//! Who pays what for a drain: costs by section, shared among the lands that use each section, to the last cent.
//!
//! Plain numbers in, plain numbers out. Money is exact ([`Money`]); areas are whole square metres and run-off factors thousandths, so
//! that every share can be reckoned again from what is printed. Reading order: `sections` (the drain), `lands` (what enters where),
//! `costs` (what is to be shared), `share_out` (one amount among many), `assess` (all of them), `net` (grants and
//! allowances), `later` (actual cost and maintenance).
//!
//! # References
//! The method by sections is common practice, no source; largest remainders: Balinski and Young, *Fair Representation* (from memory).

mod assess;
mod costs;
mod fixed_point;
mod lands;
mod later;
mod money;
mod net;
mod sections;
mod share_out;

pub use assess::{Assessed, Assessment, Reconciliation, assess};
pub use costs::{Cost, CostKind, FaultyCost};
pub use lands::{Entry, Land, LandIx, RunoffFactor};
pub use later::{at_actual_cost, maintenance};
pub use money::{Money, RoundingUnit};
pub use net::{Grant, GrantBasis, Net, net};
pub use sections::{FaultySections, Section, SectionIx, Sections};
pub use share_out::share_out;
