//! Sizes that are sold.

use fallwright_units::Millimetres;

/// The smallest size of a catalogue that does; the catalogue rises.
pub fn next_size(catalogue: &[Millimetres], does: impl Fn(Millimetres) -> bool) -> Option<Millimetres> {
    catalogue.iter().copied().find(|&size| does(size))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wrap::millimetres;

    #[test]
    fn the_smallest_size_that_does() {
        let catalogue = [100.0, 150.0, 200.0].map(millimetres);
        let check = |least: f64, expected: Option<f64>| {
            let found = next_size(&catalogue, |size| size.millimetres() >= least);
            assert_eq!(found.map(Millimetres::millimetres), expected);
        };
        check(1.0, Some(100.0));
        check(120.0, Some(150.0));
        check(201.0, None);
    }
}
