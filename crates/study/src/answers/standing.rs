//! The main job: every parcel's standing, and which findings depend on what conditioning changed.

use fallwright_case::Progress;
use fallwright_law::{Finding, judge};
use fallwright_units::ParcelIx;
use typed_index_collections::TiVec;

use super::capacity::CapacityCheck;
use super::terrain_changes::{Filled, TerrainChange, rank, terrain_changes};
use crate::dependence::work_out_dependence;
use crate::error::StudyError;
use crate::facts::each_facts;
use crate::study::Study;

/// Every parcel's finding, with what conditioning changed.
pub struct Standings {
    pub findings: TiVec<ParcelIx, Finding>,
    pub changes: Vec<TerrainChange>,
    pub filled: Filled,
    /// Whether outlets are big enough; `None` where the case holds nothing that a capacity could be worked out from.
    pub capacity: Option<CapacityCheck>,
}

impl Study {
    /// Judges every parcel, and judges anew without each change of the terrain that can decide a finding.
    ///
    /// *Complexity*: O(n) for n cells for each change that is left out, besides the lands that all paths cross.
    ///
    /// # Errors
    /// Areas whose outline cannot be traced.
    pub fn standings(&self, progress: Progress) -> Result<Standings, StudyError> {
        progress("judging every parcel");
        let findings = findings(self);
        progress("listing what conditioning changed");
        let (mut changes, filled) = terrain_changes(self)?;
        progress("finding the changes that can decide a finding");
        work_out_dependence(self, &findings, &mut changes, progress);
        rank(self, &mut changes);
        Ok(Standings { findings, changes, filled, capacity: self.sizes_given().then(|| self.capacity_check()) })
    }

    /// The finding on one parcel.
    ///
    /// *Complexity*: as that of all parcels, since what they have in common is most of the work.
    ///
    /// # Errors
    /// No parcel has the id.
    pub fn finding(&self, parcel_id: &str) -> Result<Finding, StudyError> {
        Ok(self.finding_at(self.parcel(parcel_id)?))
    }

    /// The same for a parcel at its position.
    pub fn finding_at(&self, parcel: ParcelIx) -> Finding {
        findings(self).swap_remove(parcel)
    }
}

/// The finding on every parcel, in their order.
pub fn findings(study: &Study) -> TiVec<ParcelIx, Finding> {
    each_facts(study, |_, facts| judge(facts, &study.inputs.profile))
}
