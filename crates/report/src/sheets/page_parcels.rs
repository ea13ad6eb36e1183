//! Parcels as the page holds them: the records of the parcel layer, with positions instead of repeated texts.

use std::collections::BTreeMap;

use fallwright_network::{FlowLines, Party};
use fallwright_study::Study;
use fallwright_units::ParcelIx;
use geo::Geometry;

use crate::case_records::CaseRecords;
use crate::layer::Record;
use crate::layers::lands::party_of;
use crate::overview::{EvidenceOnPage, ParcelOnPage, ShareOnPage, Texts, WayOnPage};
use crate::palette::standing_style;
use crate::plan::Plan;
use crate::records::parcel::{EvidenceItem, ParcelProperties, WayItem};
use crate::rounded::metres;
use crate::words::{constraint_sentences, destination_words, piped_sentences, reason_of, works};

/// Vertices of lot lines nearer than this to the line that is kept are left out, metres.
const LOT_LINE_M: f64 = 0.2;

/// Position of a parcel; -1 land of no parcel and no road, -4 the first road, -5 the second.
pub(crate) fn land(party: Party) -> i64 {
    match party {
        Party::Parcel(parcel) => parcel.0 as i64,
        Party::Road(road) => -4 - road.0 as i64,
        Party::Unowned => -1,
    }
}

/// Parcels' positions by id.
pub(crate) fn positions<'a>(results: &'a CaseRecords) -> BTreeMap<&'a str, i64> {
    (0..).zip(&results.parcels).map(|(position, record)| (record.properties.parcel_id.as_str(), position)).collect()
}

pub(crate) struct PageParcels<'a> {
    pub(crate) results: &'a CaseRecords<'a>,
    pub(crate) positions: &'a BTreeMap<&'a str, i64>,
    pub(crate) plan: Plan,
    pub(crate) lines: &'a FlowLines,
}

impl PageParcels<'_> {
    pub(crate) fn all(&self, texts: &mut Texts) -> Vec<ParcelOnPage> {
        self.results.parcels.keys().map(|parcel| self.parcel(parcel, texts)).collect()
    }

    fn parcel(&self, parcel: ParcelIx, texts: &mut Texts) -> ParcelOnPage {
        let record = &self.results.parcels[parcel];
        let given = &record.properties;
        let finding = &self.results.standings.findings[parcel];
        ParcelOnPage {
            id: given.parcel_id.clone(),
            owner: given.owner.clone(),
            legal: given.legal.clone(),
            style: standing_style(finding),
            area_ha: given.area_ha,
            own_ha: given.own_ha,
            run_on_ha: given.run_on_ha,
            right_ha: given.right_ha,
            acquire_ha: given.acquire_ha,
            undecided_ha: given.undecided_ha,
            piped_ha: given.piped_ha,
            confidence: given.confidence,
            next_step: given.next_step.clone(),
            sufficiency: given.sufficiency.to_owned(),
            limiting_reach: given.limiting_reach.clone(),
            reasons: finding.reasons.iter().map(|&reason| texts.add(&reason_of(reason, finding))).collect(),
            evidence: given.evidence.iter().map(|item| evidence(self.results.study, item, texts)).collect(),
            ways: given.ways_to_acquire.iter().map(|way| self.way(way, texts)).collect(),
            receives: given
                .receives_from
                .iter()
                .map(|from| (land(party_of(self.results.study, &from.land)), from.hectares))
                .collect(),
            piped: self.piped(parcel),
            constraints: constraint_sentences(self.results.study, &given.constraints)
                .iter()
                .map(|sentence| texts.add(sentence))
                .collect(),
            shares: (0..given.shares.len()).map(|number| self.share(parcel, number, texts)).collect(),
            rings: self.rings(record),
        }
    }

    fn rings(&self, record: &Record<ParcelProperties>) -> Vec<Vec<Vec<i64>>> {
        let Some(Geometry::MultiPolygon(polygons)) = &record.geometry else { return Vec::new() };
        let rings = |polygon: &geo::Polygon<f64>| {
            let all = std::iter::once(polygon.exterior()).chain(polygon.interiors());
            all.map(|ring| self.plan.thinned(ring, LOT_LINE_M)).collect()
        };
        polygons.iter().map(rings).collect()
    }

    fn piped(&self, parcel: ParcelIx) -> Vec<String> {
        let CaseRecords { study, standings, .. } = self.results;
        let ways = study.piped_ways(parcel, &standings.findings[parcel]);
        ways.iter().map(|way| piped_sentences(study, way)).collect()
    }

    fn way(&self, way: &WayItem, texts: &mut Texts) -> WayOnPage {
        WayOnPage {
            label: texts.add(&way.label),
            source: texts.add(&way.source),
            through: way.through.iter().filter_map(|id| self.positions.get(id.as_str()).copied()).collect(),
            steps: way.steps.iter().map(|step| texts.add(step)).collect(),
        }
    }

    fn share(&self, parcel: ParcelIx, number: usize, texts: &mut Texts) -> ShareOnPage {
        let study = &self.results.study;
        let item = &self.results.parcels[parcel].properties.shares[number];
        let leaving = self.results.standings.findings[parcel].shares[number].leaving_point;
        let (share, trace) = (&study.shares[parcel][leaving], study.trace(parcel, leaving));
        let fall_m = trace.fall_m();
        let mut crossings = Vec::new();
        for crossing in trace.crossings.iter().filter(|_| !share.is_remainder) {
            let works = works(study, crossing.carrier, crossing.to);
            let (carrier, care) = (texts.add(&works.label), texts.add(&works.maintained_by));
            let [at, on_it] =
                [crossing.distance_m, crossing.metres_on_land].map(|metres| (metres * 10.0).round() / 10.0);
            crossings.push((land(crossing.to), at, on_it, carrier, care));
        }
        ShareOnPage {
            hectares: item.hectares,
            standing: item.standing,
            to: texts.add(&destination_words(study, share.destination)),
            has_outlet: trace.outlet.is_some(),
            line: self.lines.at(share.leaving).map(|(line, _)| line).filter(|_| !share.is_remainder),
            path_m: metres(trace.length_m()),
            fall_m: if fall_m.is_nan() { 0.0 } else { metres(fall_m) },
            is_remainder: share.is_remainder,
            crossings,
        }
    }
}

fn evidence(study: &Study, item: &EvidenceItem, texts: &mut Texts) -> EvidenceOnPage {
    let rule = study.inputs.profile.class(&item.rule).map_or(item.rule.replace('_', " "), |class| class.label.clone());
    let measure = texts.add(&item.measure.replace('_', " "));
    (texts.add(&rule), texts.add(&item.source), item.feature_id.clone(), measure, item.value.clone(), item.unit)
}
