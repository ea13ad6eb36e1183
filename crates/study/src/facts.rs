//! What the law asks about each parcel, measured.

mod abutting;
mod coverage;
mod fills;
mod holdings;
mod lands;
mod path;
mod piped;
mod quantities;
mod shares;

use std::sync::Arc;

use fallwright_case::{AssessedFor, AssessedLand, Schedule};
use fallwright_land::{Abutting, Bed, BedIx};
use fallwright_law::{Assessed, Assessment, Membership, ParcelFacts, PipedFacts};
use fallwright_network::{Destinations, Feature, LotLines, divide_heights};
use fallwright_units::{Metres, ParcelId, ParcelIx, SQUARE_METRES_PER_HECTARE, ShareIx};
use geo::Area;
use rayon::prelude::*;
use typed_index_collections::{TiSlice, TiVec};

pub(crate) use self::abutting::bed;
use self::abutting::{boundary_accuracy_m, frontage_fact, frontages, mapped_features};
pub(crate) use self::coverage::missing_hectares;
use self::coverage::{Coverage, coverage, missing_ha, reaches_beyond};
use self::fills::Fills;
use self::holdings::Holdings;
pub use self::path::path_end;
use self::quantities::{hectares, metres};
use self::shares::{DivideHeights, shares};
use crate::share_cells::ShareCells;
use crate::study::Study;

/// What is measured for all parcels together, and what each has of it.
struct Measured {
    features: TiVec<BedIx, (Feature, Bed)>,
    frontages: Vec<Abutting>,
    holdings: Holdings,
    coverage: TiVec<ParcelIx, Coverage>,
    members: Arc<[Membership]>,
    divides: DivideHeights,
    lot_lines: LotLines,
    fills: Fills,
    piped: TiVec<ParcelIx, Vec<PipedFacts>>,
}

/// Looks at what the law asks about every parcel, in their order: one parcel's facts tell every land that its water crosses,
/// and are forgotten after that.
pub(crate) fn each_facts<T: Send>(
    study: &Study,
    look: impl Fn(ParcelIx, &ParcelFacts) -> T + Sync,
) -> TiVec<ParcelIx, T> {
    let measured = Measured::find(study);
    let parcels = (0..study.inputs.parcels.len()).into_par_iter().map(ParcelIx);
    parcels.map(|parcel| look(parcel, &measured.facts(study, parcel))).collect::<Vec<T>>().into()
}

impl Measured {
    fn find(study: &Study) -> Self {
        let features = mapped_features(study);
        let holdings = Holdings::of(study);
        let frontages = frontages(study, &features, &holdings);
        let destinations = Destinations::find(&study.setting);
        let share_cells = ShareCells::find(&study.setting, &study.shares);
        let share_of = |cell| share_cells.of(&study.setting, cell);
        let leaving = |(parcel, share): (ParcelIx, ShareIx)| study.shares[parcel][share].leaving;
        let divides = divide_heights(&study.setting, &destinations, share_of, leaving);
        let coverage = coverage(study);
        let few_cells = |parcel: ParcelIx| {
            let own = hectares(study.hectares(coverage[parcel].with_data));
            study.inputs.profile.minimums.is_few_cells_across(own, cell(study))
        };
        let lot_lines = LotLines::find(&study.setting, &destinations, &study.shares, share_of, few_cells);
        let piped = piped::piped(study, &destinations, share_of, &holdings);
        let members = memberships(study);
        Self { features, frontages, holdings, coverage, members, divides, lot_lines, fills: Fills::find(study), piped }
    }

    fn facts(&self, study: &Study, parcel: ParcelIx) -> ParcelFacts {
        ParcelFacts {
            shares: shares(study, parcel, (&self.divides, &self.lot_lines, &self.fills), &self.holdings),
            piped: self.piped[parcel].clone(),
            members: Arc::clone(&self.members),
            also_owned: self.holdings.others(study, parcel),
            other_destination_beside: self.lot_lines.has_other_destination_beside(parcel),
            ..parcel_facts(study, parcel, &self.features, &self.frontages, self.coverage[parcel])
        }
    }
}

fn parcel_facts(
    study: &Study,
    parcel: ParcelIx,
    features: &TiSlice<BedIx, (Feature, Bed)>,
    frontages: &[Abutting],
    coverage: Coverage,
) -> ParcelFacts {
    let given = &study.inputs.parcels[parcel];
    let area_ha = given.shape.unsigned_area() / SQUARE_METRES_PER_HECTARE;
    let covered = coverage.with_data + coverage.without_data;
    let first = frontages.partition_point(|abutting| abutting.parcel < parcel);
    let own_frontage = frontages[first..].iter().take_while(|abutting| abutting.parcel == parcel);
    ParcelFacts {
        parcel: given.id.clone(),
        owner: given.owner.clone(),
        owned_since: given.owned_since,
        own_ha: hectares(study.hectares(coverage.with_data)),
        area_ha: hectares(area_ha),
        missing_ha: hectares(missing_ha(study, parcel, coverage)),
        entirely_outside: covered == 0 && reaches_beyond(study, parcel),
        frontage: own_frontage.map(|abutting| frontage_fact(study, features[abutting.bed].0, abutting)).collect(),
        assessments: assessments(study, &given.id),
        members: Arc::default(),
        also_owned: Vec::new(),
        shares: Vec::new(),
        piped: Vec::new(),
        cell: cell(study),
        other_destination_beside: false,
        elevation_rmse: study.inputs.case.terrain.rmse_z_m.map(metres),
        boundary_accuracy: metres(boundary_accuracy_m(study)),
        abut_tolerance: metres(study.inputs.case.rules.abut_tolerance_m),
    }
}

/// The longer side of a cell.
fn cell(study: &Study) -> Metres {
    let frame = study.setting.frame();
    metres(frame.cell_width().max(frame.cell_height()))
}

fn assessments(study: &Study, parcel: &ParcelId) -> Vec<Assessment> {
    let of = |schedule: &Schedule| match schedule.assessed.get(parcel.as_str()).map(AssessedLand::assessed) {
        Some(AssessedFor::Outlet(area)) => Assessed::Hectares(hectares(area)),
        Some(AssessedFor::BenefitOnly(_)) => Assessed::BenefitOnly,
        None => Assessed::NotListed,
    };
    let schedules = study.inputs.schedules.iter();
    schedules.map(|schedule| Assessment { drain: schedule.drain.clone(), assessed: of(schedule) }).collect()
}

fn memberships(study: &Study) -> Arc<[Membership]> {
    let with_members =
        study.inputs.waterways.iter().filter_map(|waterway| Some((waterway, waterway.members.as_ref()?)));
    with_members
        .map(|(waterway, members)| Membership {
            feature: waterway.id.to_string(),
            parties: members.iter().map(ParcelId::new).collect(),
            runs_over: lands::run_over(study, waterway)
                .filter(|id| !members.iter().any(|party| party == id.as_str()))
                .cloned()
                .collect(),
            agreed: waterway.agreed,
            registered: waterway.registered,
        })
        .collect()
}
