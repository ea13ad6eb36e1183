//! Down the slope: where water goes from a place, and the lands that it crosses.

use fallwright_network::{Path, path};
use fallwright_units::{Cell, ParcelIx, ShareIx};

use super::piped::PipedWay;
use crate::error::StudyError;
use crate::place::{MapPoint, Place};
use crate::study::Study;

/// Where water leaves from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LeavingFrom {
    Parcel(ParcelIx),
    Point { at: MapPoint, cell: Cell },
}

/// One way by which water leaves.
#[derive(Clone, Debug, PartialEq)]
pub struct LeavingPath {
    /// The parcel's share; `None` from a point.
    pub share: Option<ShareIx>,
    /// `None` for the remainder of small leaving points.
    pub path: Option<Path>,
}

/// The paths of the water of a place to their first lawful outlet, or to where they end.
#[derive(Clone, Debug, PartialEq)]
pub struct Leaving {
    pub from: LeavingFrom,
    /// One for each pipe to which land of the parcel is drained, in their order; none from a point.
    pub piped: Vec<PipedWay>,
    /// One for each share of a parcel, in their order.
    pub paths: Vec<LeavingPath>,
}

impl Study {
    /// Follows the water of a parcel, by each pipe and share by share, or of a point.
    ///
    /// *Complexity*: O(n) for n cells to look for land of the parcel that is drained by pipe, and O(length of the paths in
    /// cells); where some is, as [`Study::finding`].
    ///
    /// # Errors
    /// An unknown parcel, a point without elevation, a place of another kind.
    pub fn leaving(&self, place: &Place) -> Result<Leaving, StudyError> {
        match place {
            Place::Parcel(id) => {
                let parcel = self.parcel(id)?;
                let shares = self.shares[parcel].iter_enumerated();
                let paths = shares.map(|(number, share)| LeavingPath {
                    share: Some(number),
                    path: (!share.is_remainder).then(|| path(&self.setting, share.leaving)),
                });
                let is_piped = self.piped_lands().iter().any(|land| land.parcel == parcel);
                let piped = if is_piped { self.piped_ways(parcel, &self.finding(id)?) } else { Vec::new() };
                Ok(Leaving { from: LeavingFrom::Parcel(parcel), piped, paths: paths.collect() })
            }
            Place::Point(at) => {
                let cell = self.cell_at(*at)?;
                let paths = vec![LeavingPath { share: None, path: Some(path(&self.setting, cell)) }];
                Ok(Leaving { from: LeavingFrom::Point { at: *at, cell }, piped: Vec::new(), paths })
            }
            Place::Outlet(_) => Err(StudyError::OtherPlace { question: "a trace", expected: "a parcel or a point" }),
        }
    }
}
