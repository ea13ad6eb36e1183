//! Words for people: numbers, names, works, ends, sentences about findings.

mod capacity;
mod constraints;
mod defaults;
mod destinations;
#[cfg(test)]
mod example;
mod field_checks;
mod lands;
mod names;
mod next_step;
mod numbers;
mod petition;
mod piped;
mod reasons;
mod sources;
mod ways;
pub mod works;

pub(crate) use capacity::{link_next_step, remark_words, to_measure_words};
pub(crate) use constraints::{along_words, constraint_sentences};
pub(crate) use defaults::{default_name, defaults_words};
pub(crate) use destinations::{destination_of, destination_words, onward_words};
pub use field_checks::field_check_sentence;
pub(crate) use lands::{
    NO_PARCEL, authority_words, owner_words, party_name, party_words, road_name, road_words, watershed_land_name,
};
pub(crate) use names::list;
pub(crate) use next_step::next_step_words;
pub use numbers::{counted, hectares};
pub(crate) use petition::{PetitionWords, area_description, petition_notes};
pub use piped::{piped_sentences, piped_words};
pub use reasons::{reason_of, reason_words};
pub(crate) use sources::{marked, rule_source};
pub use ways::step_sentences;
pub use works::{Works, works};
