//! Sentences about findings, made from their values.

#[cfg(test)]
mod example;
mod field_checks;
mod names;
mod next_step;
mod ways;

pub use field_checks::field_check_sentence;
pub use next_step::next_step_sentence;
pub use ways::step_sentences;
