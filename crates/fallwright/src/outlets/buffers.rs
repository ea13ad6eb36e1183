//! Buffers along open drains, as the rule profile asks.

use fallwright_land::strips;
use fallwright_report::{BufferProperties, MeasuredFrom, Record, hectares};
use fallwright_units::SQUARE_METRES_PER_HECTARE;
use geo::{Area, BooleanOps, MultiPolygon};

use crate::study::Study;

/// A record for each parcel and waterway; none where the profile states no buffer.
pub(super) fn buffers(study: &Study) -> Vec<Record<BufferProperties>> {
    let Some(buffer) = &study.inputs.profile.buffer else { return Vec::new() };
    let waterways: Vec<_> =
        study.inputs.waterways.iter().filter(|waterway| buffer.classes.contains(&waterway.class)).collect();
    let beds: Vec<_> = waterways.iter().map(|waterway| (waterway.lines.clone(), waterway.width_m)).collect();
    let parcels: Vec<MultiPolygon<f64>> = study.inputs.parcels.iter().map(|parcel| parcel.shape.clone()).collect();
    let cropped = cropped_by_parcel(study);
    let record = |strip: fallwright_land::Strip| {
        let (parcel, waterway) = (&study.inputs.parcels[strip.parcel], waterways[strip.waterway]);
        let area_ha = |shape: &MultiPolygon<f64>| hectares(shape.unsigned_area() / SQUARE_METRES_PER_HECTARE);
        let properties = BufferProperties {
            parcel_id: parcel.id.to_string(),
            owner: parcel.owner.clone(),
            waterway_id: waterway.id.to_string(),
            class: waterway.class.clone(),
            width_m: buffer.width_m.value,
            measured_from: if waterway.width_m > 0.0 { MeasuredFrom::TopOfBank } else { MeasuredFrom::CentreLine },
            buffer_ha: area_ha(&strip.shape),
            cropped_ha: cropped[strip.parcel].as_ref().map(|fields| area_ha(&strip.shape.intersection(fields))),
            source: buffer.width_m.source.clone(),
            confirmed: buffer.confirmed,
        };
        Record { geometry: Some(strip.shape.into()), properties }
    };
    strips(&parcels, &beds, buffer.width_m.value).into_iter().map(record).collect()
}

/// The fields of every parcel together; `None` where no field of it is supplied.
fn cropped_by_parcel(study: &Study) -> Vec<Option<MultiPolygon<f64>>> {
    let mut cropped: Vec<Option<MultiPolygon<f64>>> = vec![None; study.inputs.parcels.len()];
    for field in &study.inputs.fields {
        if let Some(parcel) = study.parcel_position(field.parcel.as_str()) {
            let before = cropped[parcel].take();
            cropped[parcel] = Some(before.map_or_else(|| field.shape.clone(), |fields| fields.union(&field.shape)));
        }
    }
    cropped
}
