//! Records of the buffers along open drains.

use fallwright_study::{BufferStrip, Study};
use fallwright_units::SQUARE_METRES_PER_HECTARE;
use geo::{Area, MultiPolygon};

use crate::layer::Record;
use crate::records::buffer::{BufferProperties, MeasuredFrom};
use crate::rounded::hectares;

/// A record for each parcel and waterway; none where the profile states no buffer.
pub(crate) fn buffers(study: &Study) -> Vec<Record<BufferProperties>> {
    let Some(buffer) = &study.inputs.profile.buffer else { return Vec::new() };
    let area_ha = |shape: &MultiPolygon<f64>| hectares(shape.unsigned_area() / SQUARE_METRES_PER_HECTARE);
    let record = |strip: BufferStrip| {
        let (parcel, waterway) = (&study.inputs.parcels[strip.parcel], &study.inputs.waterways[strip.waterway]);
        let properties = BufferProperties {
            parcel_id: parcel.id.to_string(),
            owner: parcel.owner.clone(),
            waterway_id: waterway.id.to_string(),
            class: waterway.class.clone(),
            width_m: buffer.width_m.value,
            measured_from: if waterway.width_m > 0.0 { MeasuredFrom::TopOfBank } else { MeasuredFrom::CentreLine },
            buffer_ha: area_ha(&strip.shape),
            cropped_ha: strip.cropped.as_ref().map(area_ha),
            source: buffer.width_m.source.clone(),
            confirmed: buffer.confirmed,
        };
        Record { geometry: Some(strip.shape.into()), properties }
    };
    fallwright_study::buffers(study).into_iter().map(record).collect()
}
