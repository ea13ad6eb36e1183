//! The search for cuts: the pond over a pit and the path of least rise from it, over squares of the surface.

mod path_search;
mod pond;
mod search;
mod seeker;
mod squares;

pub use pond::{Storage, storage};
pub(crate) use seeker::Seekers;
