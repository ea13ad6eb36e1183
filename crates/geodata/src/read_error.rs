//! What keeps an elevation model from being read into a raster.

use crate::Problem;

/// What keeps an elevation model from being read into a raster.
#[derive(Debug)]
pub enum ReadError<E> {
    Input(Vec<Problem>),
    Output(E),
}

impl<E> From<Vec<Problem>> for ReadError<E> {
    fn from(problems: Vec<Problem>) -> Self {
        Self::Input(problems)
    }
}
