//! Buffers along open drains, as the rule profile asks.

use fallwright_land::{BedIx, strips};
use fallwright_units::{ParcelIx, WaterwayIx};
use geo::{BooleanOps, MultiPolygon};
use typed_index_collections::{TiVec, ti_vec};

use crate::facts::bed;
use crate::study::Study;

/// The strip of a waterway on a parcel.
pub struct BufferStrip {
    pub parcel: ParcelIx,
    pub waterway: WaterwayIx,
    pub shape: MultiPolygon<f64>,
    /// The part of it that lies in the parcel's fields; `None` where none is supplied.
    pub cropped: Option<MultiPolygon<f64>>,
}

/// A strip for each parcel and waterway; none where the profile states no buffer.
pub fn buffers(study: &Study) -> Vec<BufferStrip> {
    let Some(buffer) = &study.inputs.profile.buffer else { return Vec::new() };
    let waterways = study.inputs.waterways.iter_enumerated();
    let waterways: TiVec<BedIx, _> =
        waterways.filter(|(_, waterway)| buffer.classes.contains(&waterway.class)).collect();
    let beds: TiVec<BedIx, _> = waterways.iter().map(|(_, waterway)| bed(waterway)).collect();
    let parcels: TiVec<ParcelIx, MultiPolygon<f64>> =
        study.inputs.parcels.iter().map(|parcel| parcel.shape.clone()).collect();
    let fields = fields_by_parcel(study);
    let strip = |strip: fallwright_land::Strip| BufferStrip {
        parcel: strip.parcel,
        waterway: waterways[strip.bed].0,
        cropped: fields[strip.parcel].as_ref().map(|fields| strip.shape.intersection(fields)),
        shape: strip.shape,
    };
    strips(&parcels, &beds, buffer.width_m.value).into_iter().map(strip).collect()
}

/// The fields of every parcel together; `None` where no field of it is supplied.
fn fields_by_parcel(study: &Study) -> TiVec<ParcelIx, Option<MultiPolygon<f64>>> {
    let mut together: TiVec<ParcelIx, Option<MultiPolygon<f64>>> = ti_vec![None; study.inputs.parcels.len()];
    for field in &study.inputs.fields {
        if let Some(parcel) = study.parcel_position(field.parcel.as_str()) {
            let before = together[parcel].take();
            together[parcel] = Some(before.map_or_else(|| field.shape.clone(), |fields| fields.union(&field.shape)));
        }
    }
    together
}
