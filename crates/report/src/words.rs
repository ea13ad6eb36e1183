//! Words for people: numbers, names, works, ends, sentences about findings.

mod capacity;
#[cfg(test)]
mod example;
mod field_checks;
mod lands;
mod names;
mod next_step;
mod numbers;
mod reasons;
mod sources;
mod ways;
pub mod works;

pub(crate) use capacity::{link_next_step, remark_words, to_measure_words};
pub use field_checks::field_check_sentence;
pub(crate) use lands::{ROAD_ID, UNOWNED_ID, land_id, party_id, watershed_land};
pub use next_step::next_step_sentence;
pub use numbers::{counted, hectares, table};
pub use reasons::reason_words;
pub(crate) use sources::{marked, rule_source};
pub use ways::step_sentences;
pub use works::{Works, destination_words, end_words, land_words, outlet_words, works};
