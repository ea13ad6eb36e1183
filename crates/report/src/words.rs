//! Words for people: numbers, features, works, ends.

mod numbers;
pub mod works;

pub use numbers::{counted, hectares, table};
pub use works::{Works, destination_words, end_words, land_words, outlet_words, works};
