//! How features, parcels and hectares are named in sentences.

use fallwright_units::{Hectares, ParcelId};

/// `Elm Drain (D-07)`, or the id alone where there is no name.
pub(crate) fn feature_name(feature: &str, name: Option<&str>) -> String {
    match name {
        Some(name) if name != feature => format!("{name} ({feature})"),
        _ => feature.to_owned(),
    }
}

/// `parcel 12`, `parcels 12 and 13`, `parcels 12, 13 and 14`.
pub(crate) fn list_parcels(parcels: &[ParcelId]) -> String {
    let ids: Vec<_> = parcels.iter().map(ParcelId::as_str).collect();
    match ids.as_slice() {
        [] => String::new(),
        [only] => format!("parcel {only}"),
        [first @ .., last] => format!("parcels {} and {last}", first.join(", ")),
    }
}

pub(crate) fn hectares(area: Hectares) -> String {
    format!("{:.2} ha", area.hectares())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::example::parcels;

    #[test]
    fn parcels_are_listed() {
        let check = |ids: &[&str], expected: &str| assert_eq!(list_parcels(&parcels(ids)), expected);
        check(&[], "");
        check(&["012"], "parcel 012");
        check(&["1", "2"], "parcels 1 and 2");
        check(&["1", "2", "3"], "parcels 1, 2 and 3");
    }

    #[test]
    fn a_feature_has_its_name_and_id() {
        assert_eq!(feature_name("D-07", Some("Elm Drain")), "Elm Drain (D-07)");
        assert_eq!(feature_name("D-07", None), "D-07");
        assert_eq!(feature_name("D-07", Some("D-07")), "D-07");
    }
}
