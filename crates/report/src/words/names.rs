//! How outlets, parcels and hectares are named in sentences.

use std::borrow::Borrow;

use fallwright_law::NamedOutlet;
use fallwright_units::{Hectares, ParcelId};

/// `Elm Drain (D-07)`, the id alone where there is no name, or `a lawful outlet` where there is none.
pub(super) fn outlet_name(outlet: Option<&NamedOutlet>) -> String {
    match outlet {
        None => "a lawful outlet".to_owned(),
        Some(NamedOutlet { feature, name: Some(name) }) if name != feature => format!("{name} ({feature})"),
        Some(NamedOutlet { feature, .. }) => feature.clone(),
    }
}

/// More parcels than these are counted, not named: a sentence is read, and the layers list all.
const NAMED: usize = 5;

/// `parcel 12`, `parcels 12 and 13`, `parcels 12, 13 and 14`, `parcels 12, 13, 14, 15 and 4 others`.
pub(super) fn list_parcels(parcels: &[ParcelId]) -> String {
    let ids: Vec<_> = parcels.iter().map(ParcelId::as_str).collect();
    match ids.as_slice() {
        [] => String::new(),
        [only] => format!("parcel {only}"),
        many if many.len() > NAMED => {
            format!("parcels {} and {} others", many[..NAMED - 1].join(", "), many.len() - (NAMED - 1))
        }
        _ => format!("parcels {}", list(&ids)),
    }
}

/// `one`, `one and another`, `one, another and a third`.
pub(crate) fn list<T: Borrow<str>>(names: &[T]) -> String {
    match names {
        [] => String::new(),
        [only] => only.borrow().to_owned(),
        [first @ .., last] => format!("{} and {}", first.join(", "), last.borrow()),
    }
}

pub(super) fn hectares(area: Hectares) -> String {
    format!("{:.2} ha", area.hectares())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::example::{elm_drain, parcels};

    #[test]
    fn parcels_are_listed() {
        let check = |ids: &[&str], expected: &str| assert_eq!(list_parcels(&parcels(ids)), expected);
        check(&[], "");
        check(&["012"], "parcel 012");
        check(&["1", "2"], "parcels 1 and 2");
        check(&["1", "2", "3"], "parcels 1, 2 and 3");
        check(&["1", "2", "3", "4", "5"], "parcels 1, 2, 3, 4 and 5");
        check(&["1", "2", "3", "4", "5", "6"], "parcels 1, 2, 3, 4 and 2 others");
    }

    #[test]
    fn an_outlet_has_its_name_and_id() {
        let check = |name: Option<&str>, expected: &str| {
            let outlet = NamedOutlet { name: name.map(str::to_owned), ..elm_drain() };
            assert_eq!(outlet_name(Some(&outlet)), expected);
        };
        check(Some("Elm Drain"), "Elm Drain (D-07)");
        check(None, "D-07");
        check(Some("D-07"), "D-07");
    }

    #[test]
    fn without_an_outlet_any_lawful_one_is_meant() {
        assert_eq!(outlet_name(None), "a lawful outlet");
    }
}
