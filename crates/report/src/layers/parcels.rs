//! The parcel layer of the main job.

use std::collections::BTreeMap;

use fallwright_geodata::Projector;
use fallwright_law::{Finding, LandOnPath, PipedFinding, ScheduleCheck, ShareFinding};
use fallwright_network::{Party, Share};
use fallwright_study::{CapacityCheck, ParcelAccounts, PipedLand, Study};
use fallwright_units::{ParcelIx, SQUARE_METRES_PER_HECTARE, ShareIx};
use geo::Area;
use typed_index_collections::{TiSlice, TiVec};

use super::constraints::parcel_constraints;
use super::evidence::evidence_item;
use super::lands::{item_of_land, land_item};
use super::parcels_crossed::crossed;
use super::paths::{PipedPaths, written_end};
use super::ways::way_items;
use crate::caution::CAUTION;
use crate::error::WriteError;
use crate::layer::Record;
use crate::records::parcel::{
    FieldHectares, LandMetres, ParcelProperties, PipedItem, Received, ReceivedPiped, ScheduleItem, ShareItem,
};
use crate::rounded::{hectares, metres};
use crate::words::{field_check_sentence, next_step_words, reason_of};

/// What the records of parcels need besides the findings.
pub(crate) struct ParcelLayer {
    accounts: ParcelAccounts,
    /// Longitude and latitude; none for remainders.
    leaving_points: LeavingPoints,
    /// The piped water of others that crosses each parcel.
    piped_received: TiVec<ParcelIx, Vec<PipedLand>>,
}

type LeavingPoints = TiVec<ParcelIx, TiVec<ShareIx, Option<[f64; 2]>>>;

impl ParcelLayer {
    /// # Errors
    /// A leaving point that has no longitude and latitude.
    pub(crate) fn find(
        study: &Study,
        findings: &TiSlice<ParcelIx, Finding>,
        piped: &PipedPaths,
    ) -> Result<Self, WriteError> {
        Ok(Self {
            accounts: ParcelAccounts::find(study, findings),
            leaving_points: leaving_points(study)?,
            piped_received: piped.received(study),
        })
    }

    /// A record for each parcel, made when it is asked for: it lists every land that the parcel's water crosses.
    pub(crate) fn records<'a>(
        &'a self,
        study: &'a Study,
        findings: &'a TiSlice<ParcelIx, Finding>,
        capacity: Option<&'a CapacityCheck>,
    ) -> impl Iterator<Item = Record<ParcelProperties>> + 'a {
        findings.iter_enumerated().map(move |(parcel, finding)| {
            let mut properties = self.properties(study, parcel, finding);
            if let Some(verdict) = capacity.map(|check| &check.parcels[parcel]) {
                properties.sufficiency = verdict.sufficiency.code();
                properties.limiting_reach.clone_from(&verdict.limiting);
            }
            Record { geometry: Some(study.inputs.parcels[parcel].shape.clone().into()), properties }
        })
    }

    fn properties(&self, study: &Study, parcel: ParcelIx, finding: &Finding) -> ParcelProperties {
        let contribution = self.accounts.contribution(parcel);
        let given = &study.inputs.parcels[parcel];
        let main = (!study.shares[parcel].is_empty()).then(|| study.trace(parcel, ShareIx(0)));
        ParcelProperties {
            parcel_id: given.id.to_string(),
            owner: given.owner.clone(),
            legal: given.legal.clone(),
            area_ha: hectares(given.shape.unsigned_area() / SQUARE_METRES_PER_HECTARE),
            own_ha: study.hectares(contribution.own),
            run_on_ha: study.hectares(contribution.contributing - contribution.own),
            contributing_ha: study.hectares(contribution.contributing),
            piped_ha: study.hectares(self.accounts.piped(parcel)),
            standing: finding.standing.code(),
            right_ha: hectares(finding.right.hectares()),
            presumed_ha: hectares(finding.presumed.hectares()),
            acquire_ha: hectares(finding.acquire.hectares()),
            undecided_ha: hectares(finding.undecided.hectares()),
            shares: self.shares(study, parcel, finding),
            basis: finding.basis.clone(),
            bases: finding.bases.clone(),
            outlet_id: finding.outlet.as_ref().map(|outlet| outlet.feature.clone()),
            outlet_class: finding.outlet.as_ref().map(|outlet| outlet.class.clone()),
            path_m: main.as_ref().map(|trace| metres(trace.length_m())),
            fall_m: main.as_ref().map(|trace| metres(trace.fall_m())),
            parcels_crossed: main.map_or_else(Vec::new, |trace| crossed(study, parcel, &trace)),
            receives_from: contribution
                .receives_from
                .iter()
                .map(|(&party, &cells)| Received { land: land_item(study, party), hectares: study.hectares(cells) })
                .collect(),
            receives_piped_from: self.piped_received[parcel]
                .iter()
                .map(|from| ReceivedPiped {
                    land: land_item(study, Party::Parcel(from.parcel)),
                    hectares: study.hectares(from.cells),
                    pipe_id: study.setting.structures[from.pipe].id.to_string(),
                })
                .collect(),
            confidence: finding.confidence.code(),
            reasons: finding.reasons.iter().map(|reason| reason.code()).collect(),
            reason_texts: finding.reasons.iter().map(|&reason| reason_of(reason, finding).into_owned()).collect(),
            field_checks: finding.field_checks.iter().copied().map(field_check_sentence).collect(),
            evidence: finding.evidence.iter().map(evidence_item).collect(),
            schedule: finding.schedule.iter().map(|check| schedule_item(study, check)).collect(),
            piped: finding.piped.iter().map(|piped| piped_item(study, piped)).collect(),
            ways_to_acquire: way_items(study, parcel, finding, &self.accounts),
            constraints: parcel_constraints(study, parcel),
            next_step: next_step_words(study, parcel, finding),
            sufficiency: "not_checked",
            limiting_reach: None,
            caution: CAUTION,
        }
    }

    fn shares(&self, study: &Study, parcel: ParcelIx, finding: &Finding) -> Vec<ShareItem> {
        let share = |judged: &ShareFinding| {
            let at = judged.leaving_point;
            share_item(study, judged, self.leaving_points[parcel][at], self.accounts.fields(parcel, at))
        };
        finding.shares.iter().map(share).collect()
    }
}

/// Where each share leaves, but for remainders: longitude and latitude to nine places as in the geometries, about a tenth of a
/// millimetre.
fn leaving_points(study: &Study) -> Result<LeavingPoints, WriteError> {
    let to_lonlat = Projector::to_lonlat(&study.inputs.crs)?;
    let nine_places = |degrees: f64| (degrees * 1e9).round() / 1e9;
    let point = |share: &Share| {
        if share.is_remainder {
            return Ok(None);
        }
        let (longitude, latitude) = to_lonlat.point(study.setting.frame().centre(share.leaving))?;
        Ok(Some([nine_places(longitude), nine_places(latitude)]))
    };
    study.shares.iter().map(|own| own.iter().map(point).collect()).collect()
}

fn share_item(
    study: &Study,
    judged: &ShareFinding,
    leaving_point: Option<[f64; 2]>,
    fields: Option<&BTreeMap<usize, u64>>,
) -> ShareItem {
    ShareItem {
        share: judged.share,
        hectares: hectares(judged.hectares.hectares()),
        standing: judged.standing.code(),
        basis: judged.basis.clone(),
        outlet_id: judged.outlet.clone(),
        leaving_point,
        confidence: judged.confidence.code(),
        reasons: judged.reasons.iter().map(|reason| reason.code()).collect(),
        fields: fields
            .into_iter()
            .flatten()
            .map(|(&field, &cells)| FieldHectares {
                field_id: study.inputs.fields[field].id.to_string(),
                hectares: study.hectares(cells),
            })
            .collect(),
    }
}

fn schedule_item(study: &Study, check: &ScheduleCheck) -> ScheduleItem {
    let measured = (check.draining + check.piped_in).hectares();
    ScheduleItem {
        drain_id: check.drain.clone(),
        case: check.case.code(),
        assessed_ha: check.assessed.map(|area| hectares(area.hectares())),
        draining_ha: hectares(check.draining.hectares()),
        piped_in_ha: hectares(check.piped_in.hectares()),
        difference_ha: check.assessed.map(|assessed| hectares(measured - assessed.hectares())),
        within_accuracy: check.within_accuracy,
        through: check.through.iter().map(|land| item_of_land(study, land)).collect(),
    }
}

pub(crate) fn piped_item(study: &Study, piped: &PipedFinding) -> PipedItem {
    let land_metres =
        |on: &LandOnPath| LandMetres { land: item_of_land(study, &on.land), metres: metres(on.metres.metres()) };
    PipedItem {
        pipe_id: piped.pipe.clone(),
        hectares: hectares(piped.hectares.hectares()),
        leaving_watershed_ha: hectares(piped.leaving_watershed.hectares()),
        standing: piped.standing.code(),
        basis: piped.basis.clone(),
        outlet_id: piped.outlet.clone(),
        path_m: metres(piped.path.metres()),
        ends: written_end(piped.end),
        lands_crossed: piped.lands.iter().map(land_metres).collect(),
        confidence: piped.confidence.code(),
        reasons: piped.reasons.iter().map(|reason| reason.code()).collect(),
    }
}
