//! Why a question has no answer.

use fallwright_case::Problem;
use fallwright_geodata::GeodataError;
use fallwright_terrain::ConditionError;
use thiserror::Error;

#[derive(Clone, Debug, PartialEq, Error)]
pub enum StudyError {
    /// The input cannot be used; every fault found.
    #[error("the input has {} fault(s)", .0.len())]
    Refused(Vec<Problem>),
    #[error("no {kind} has the id {id:?}{}", near.as_ref().map_or_else(String::new, |near| format!("; did you mean {near}?")))]
    NoSuch {
        kind: &'static str,
        id: String,
        /// A known id that is much like it.
        near: Option<String>,
    },
    #[error("no parcel {id:?}: the case has no [parcels] table; a point can be given by --at")]
    NoParcels { id: String },
    #[error("{question} is that of {expected}")]
    OtherPlace { question: &'static str, expected: &'static str },
    #[error(
        "no land of {ids} is found to lack a right of drainage or to lie under water, so that there is no area to propose (land whose \
         standing is undecided, as where elevation is missing, is not proposed either); draw one and give it by --area"
    )]
    NothingToDrain { ids: String },
    #[error("no part of {id} lies on the elevation")]
    NotOnElevation { id: String },
    #[error("no elevation at {x}, {y}: the elevation covers {extent}; {hint}")]
    NoElevation { x: f64, y: f64, extent: String, hint: &'static str },
    #[error(
        "the elevation has no height at {x}, {y}: the point lies within its extent, where it has a gap; choose a point with a \
         height, or fill the gap"
    )]
    GapInElevation { x: f64, y: f64 },
    #[error(transparent)]
    Geodata(#[from] GeodataError),
    #[error(transparent)]
    Terrain(#[from] ConditionError),
}

impl From<Vec<Problem>> for StudyError {
    fn from(problems: Vec<Problem>) -> Self {
        Self::Refused(problems)
    }
}
