//! Manning's roughness coefficient n.

use fallwright_units::Millimetres;

use crate::OutOfRange;

/// Manning's n, s/m^(1/3); the same number in US customary units.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Roughness(f64);

impl Roughness {
    /// # Errors
    /// A value outside 0.005 to 0.5. Glass has about 0.010, flood plains with dense timber up to about 0.2 (Chow,
    /// Open-Channel Hydraulics, 1959, table 5-6, from memory); the limits are wider by our choice.
    pub fn new(n: f64) -> Result<Self, OutOfRange> {
        OutOfRange::unless_within("Manning's n", n, 0.005..=0.5, "a number from 0.005 to 0.5").map(Self)
    }

    pub const fn n(self) -> f64 {
        self.0
    }
}

/// The roughness of a material up to a diameter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoughnessStep {
    /// The largest diameter to which it applies; `None` for all larger ones.
    pub to: Option<Millimetres>,
    pub roughness: Roughness,
}

/// The roughness of a pipe by its diameter: that of the first step that reaches so far.
pub fn roughness_at(steps: &[RoughnessStep], diameter: Millimetres) -> Option<Roughness> {
    steps.iter().find(|step| step.to.is_none_or(|to| diameter <= to)).map(|step| step.roughness)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wrap::millimetres;

    #[test]
    fn a_roughness_of_nothing_is_refused() {
        for n in [0.0, -0.013, 13.0, f64::NAN] {
            assert!(Roughness::new(n).is_err(), "{n}");
        }
        assert_eq!(
            Roughness::new(0.0).unwrap_err().to_string(),
            "Manning's n is 0, expected a number from 0.005 to 0.5"
        );
    }

    #[test]
    fn the_first_step_that_reaches_so_far() {
        let step =
            |to: Option<f64>, n| RoughnessStep { to: to.map(millimetres), roughness: Roughness::new(n).unwrap() };
        let steps = [step(Some(200.0), 0.015), step(Some(300.0), 0.017), step(None, 0.02)];
        let check = |diameter, n| assert_eq!(roughness_at(&steps, millimetres(diameter)).map(Roughness::n), Some(n));
        check(75.0, 0.015);
        check(200.0, 0.015);
        check(201.0, 0.017);
        check(900.0, 0.02);
        assert_eq!(roughness_at(&steps[..1], millimetres(201.0)), None);
    }
}
