//! The parcel layer.

use fallwright_geodata::{Problem, VectorLayer};
use fallwright_land::overlaps;
use fallwright_units::{ParcelId, ParcelIx, PartialDate};
use geo::{BoundingRect, MultiPolygon};
use typed_index_collections::{TiSlice, TiVec};

use super::note::Note;
use super::reading::Reading;
use super::shapes::FeaturePlace;
use crate::file::Parcels;

/// One parcel as given; lengths in metres.
#[derive(Clone, Debug, PartialEq)]
pub struct Parcel {
    pub id: ParcelId,
    pub owner: Option<String>,
    pub legal: Option<String>,
    /// `YYYY`, `YYYY-MM` or `YYYY-MM-DD`.
    pub owned_since: Option<PartialDate>,
    pub shape: MultiPolygon<f64>,
}

impl Parcel {
    /// The owners one by one: the names with semicolons between, each once.
    pub fn owners(&self) -> Vec<&str> {
        let names = self.owner.iter().flat_map(|owner| owner.split(';')).map(str::trim);
        let mut owners: Vec<&str> = Vec::new();
        for name in names.filter(|name| !name.is_empty()) {
            if !owners.contains(&name) {
                owners.push(name);
            }
        }
        owners
    }
}

/// An overlap narrow enough to be a misfit of two surveys.
#[derive(Clone, Debug, PartialEq)]
pub struct Sliver {
    /// Keeps the ground.
    pub kept_by: ParcelId,
    pub also_claimed_by: ParcelId,
    pub square_metres: f64,
    pub mean_width_m: f64,
}

/// Reads parcels in the order of their ids, and the slivers among them.
pub(super) fn read(reading: &mut Reading, table: &Parcels) -> (TiVec<ParcelIx, Parcel>, Vec<Sliver>) {
    let optional =
        [&table.owner, &table.co_owners, &table.owned_since, &table.legal, &table.land_use, &table.tax_class];
    let fields: Vec<&str> =
        std::iter::once(table.id.as_str()).chain(optional.into_iter().flatten().map(String::as_str)).collect();
    let Some(layer) = reading.layer(&table.source, table.layer.as_deref(), &fields) else { return Default::default() };
    let mut parcels = TiVec::new();
    let mut ids = Vec::new();
    for feature in &layer.features {
        let place = FeaturePlace { layer: &layer, feature };
        let id = reading.id(place, &table.id);
        let shape = reading.polygon(place, id.as_deref());
        ids.extend(id.clone().map(|id| (feature.position, id)));
        if let Some(shape) = &shape {
            reading.refuse_nowhere(place, id.as_deref(), shape);
        }
        if let (Some(id), Some(shape)) = (id, shape) {
            let owner = place.text(table.owner.as_ref());
            let co_owners = place.text(table.co_owners.as_ref());
            let owner = [owner, co_owners].into_iter().flatten().reduce(|owner, co| format!("{owner}; {co}"));
            let owned_since = reading.date(place, Some(&id), table.owned_since.as_ref());
            let legal = place.text(table.legal.as_ref());
            parcels.push(Parcel { id: ParcelId::new(id), owner, legal, owned_since, shape });
        }
    }
    reading.refuse_shared_ids(&layer, &table.id, &ids);
    parcels.sort_by(|a, b| a.id.cmp(&b.id));
    note_parcels_outside(reading, &parcels);
    let slivers = slivers(reading, &layer, &parcels, table.accuracy_m);
    (parcels, slivers)
}

fn note_parcels_outside(reading: &mut Reading, parcels: &TiSlice<ParcelIx, Parcel>) {
    /// More ids than this are not listed (our choice).
    const LISTED: usize = 10;
    let is_outside = |parcel: &&Parcel| !parcel.shape.bounding_rect().is_some_and(|bounds| reading.meets(bounds));
    let outside: Vec<&str> = parcels.iter().filter(is_outside).map(|parcel| parcel.id.as_str()).collect();
    if !outside.is_empty() {
        let more = if outside.len() > LISTED { format!(" and {} more", outside.len() - LISTED) } else { String::new() };
        let ids = outside.iter().take(LISTED).copied().collect::<Vec<_>>().join(", ");
        let found = format!("outside the extent of the elevation: {ids}{more}");
        reading.notes.push(Note::new("parcels", found, "kept; their finding is undecided"));
    }
}

/// Overlaps no wider than the accuracy of the boundaries are slivers; wider ones are refused.
fn slivers(
    reading: &mut Reading,
    layer: &VectorLayer,
    parcels: &TiSlice<ParcelIx, Parcel>,
    accuracy_m: f64,
) -> Vec<Sliver> {
    let shapes: TiVec<ParcelIx, MultiPolygon<f64>> = parcels.iter().map(|parcel| parcel.shape.clone()).collect();
    let mut slivers = Vec::new();
    for overlap in overlaps(&shapes) {
        let (first, second) = (&parcels[overlap.first].id, &parcels[overlap.second].id);
        if overlap.mean_width_m <= accuracy_m {
            reading.notes.push(Note::new(
                format!("parcels {first} and {second}"),
                format!("an overlap of {:.2} m², {:.2} m wide", overlap.square_metres, overlap.mean_width_m),
                format!("a sliver within the boundaries' accuracy of {accuracy_m} m; the ground stays with {first}"),
            ));
            slivers.push(Sliver {
                kept_by: first.clone(),
                also_claimed_by: second.clone(),
                square_metres: overlap.square_metres,
                mean_width_m: overlap.mean_width_m,
            });
        } else {
            let (area, width) = (overlap.square_metres, overlap.mean_width_m);
            let problem = Problem::in_file(
                &layer.file,
                format!("an overlap of {:.2} ha ({area:.2} m²), {width:.2} m wide on average", area / 10_000.0),
                format!("parcels that overlap by no more than their accuracy, {accuracy_m} m"),
                "correct the boundaries, or state a larger accuracy_m in [parcels] if that is what it is",
            );
            reading.problems.push(problem.in_layer(&layer.layer).at_feature(format!("{first} and {second}")));
        }
    }
    slivers
}
