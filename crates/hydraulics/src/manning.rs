//! Uniform flow by Manning's formula.

use fallwright_units::{CubicMetresPerSecond, Metres, MetresPerSecond, Slope};

use crate::section::FULLEST_DEPTH_TO_DIAMETER;
use crate::wrap::{flow, velocity};
use crate::{OutOfRange, Roughness, Section};

/// A pipe or open channel of one section, roughness and grade.
///
/// Q = A R^(2/3) S^(1/2) / n, with the wet area A, the hydraulic radius R and the grade S.
///
/// *Assumptions*: uniform flow: the water's surface is parallel to the bed, nothing downstream holds it back.
///
/// *References*: Chow, Open-Channel Hydraulics (1959), equation 5-6 (from memory); NRCS, Technical Release 55 (1986),
/// equation 3-4, in US customary units with 1.49 for 1/0.3048^(1/3) = 1.4859.
#[derive(Clone, Debug, PartialEq)]
pub struct Channel {
    section: Section,
    roughness: Roughness,
    /// Metres per metre, above 0.
    grade: f64,
}

impl Channel {
    /// # Errors
    /// A grade that is not above 0: water does not run by itself.
    pub fn new(section: Section, roughness: Roughness, grade: Slope) -> Result<Self, OutOfRange> {
        let grade = OutOfRange::unless_positive("a grade in metres per metre", grade.metres_per_metre())?;
        Ok(Self { section, roughness, grade })
    }

    /// The same roughness and grade in another section.
    #[must_use]
    pub fn with_section(&self, section: Section) -> Self {
        Self { section, ..self.clone() }
    }

    pub const fn section(&self) -> &Section {
        &self.section
    }

    /// The flow at a depth.
    pub fn flow(&self, depth: Metres) -> CubicMetresPerSecond {
        flow(self.flow_at(depth.metres()))
    }

    /// The mean velocity at a depth; 0 where nothing is wet.
    pub fn velocity(&self, depth: Metres) -> MetresPerSecond {
        let (area, perimeter, _) = self.section.wet(depth.metres());
        velocity(if area > 0.0 { self.conveyance(area, perimeter) / area } else { 0.0 })
    }

    /// The flow of a pipe that runs just full, without pressure; `None` for an open section.
    pub fn full_flow(&self) -> Option<CubicMetresPerSecond> {
        self.section.is_closed().then(|| self.flow(self.section.top().expect("a pipe has a diameter")))
    }

    /// Depth and flow where the section carries most: a pipe just before it is full, an irregular section at its lower
    /// bank. `None` for sections without a top.
    pub fn greatest_flow(&self) -> Option<(Metres, CubicMetresPerSecond)> {
        let top = self.section.top()?.metres();
        let depth = crate::wrap::metres(if self.section.is_closed() { top * FULLEST_DEPTH_TO_DIAMETER } else { top });
        Some((depth, self.flow(depth)))
    }

    /// m³/s at a depth in metres.
    pub(crate) fn flow_at(&self, depth: f64) -> f64 {
        let (area, perimeter, _) = self.section.wet(depth);
        self.conveyance(area, perimeter)
    }

    fn conveyance(&self, area: f64, perimeter: f64) -> f64 {
        if area > 0.0 {
            area * (area / perimeter).powf(2.0 / 3.0) * self.grade.sqrt() / self.roughness.n()
        } else {
            0.0
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::wrap::metres;

    fn channel(section: Section, n: f64, grade: f64) -> Channel {
        Channel::new(section, Roughness::new(n).unwrap(), Slope::from_metres_per_metre(grade).unwrap()).unwrap()
    }

    /// Sources in US customary units print 1.49 (TR-55) for the exact 1/0.3048^(1/3); so their flows are larger by this.
    fn as_with_1_49(exact: f64) -> f64 {
        exact * 1.49 * 0.3048_f64.cbrt()
    }

    fn feet(value: f64) -> Metres {
        Metres::from_feet(value).unwrap()
    }

    fn close(found: f64, printed: f64, last_digit: f64) {
        assert!((found - printed).abs() <= 0.5 * last_digit + 1e-9, "{found}, printed {printed}");
    }

    /// Colorado Division of Reclamation, Mining and Safety, file 750668, page 3: trapezoid 4 ft wide, 0.3 ft deep, 1:1,
    /// n 0.030. The grade's third digit (5.70 %) is inferred from the printed velocity.
    #[test]
    fn trapezoid_of_file_750668_first() {
        let ditch = channel(Section::trapezoid(feet(4.0), 1.0).unwrap(), 0.030, 0.0570);
        let wet = ditch.section().wetted(feet(0.3));
        close(wet.area.square_metres() / 0.3048_f64.powi(2), 1.29, 0.01);
        close(wet.hydraulic_radius().feet(), 0.266, 0.001);
        close(as_with_1_49(ditch.velocity(feet(0.3)).feet_per_second()), 4.905, 0.001);
        // The source multiplies its rounded velocity: 4.905 × 1.29.
        close(as_with_1_49(ditch.flow(feet(0.3)).cubic_feet_per_second()), 6.327, 0.002);
    }

    /// The same file: 9 ft wide, 0.15 ft deep, 1:1, n 0.015, 7.00 %. The source cuts its digits off: 7.275 and
    /// 9.985 by its own constant.
    #[test]
    fn trapezoid_of_file_750668_second() {
        let ditch = channel(Section::trapezoid(feet(9.0), 1.0).unwrap(), 0.015, 0.07);
        close(as_with_1_49(ditch.velocity(feet(0.15)).feet_per_second()), 7.27, 0.02);
        close(as_with_1_49(ditch.flow(feet(0.15)).cubic_feet_per_second()), 9.98, 0.02);
    }

    /// US Army correspondence course EN5465A, page 81: V-ditch 3:1, 1.6 ft deep, 0.5 %. The page does not show n; 0.0243 is
    /// solved back from its velocity, so only area, radius and the relation of flow to velocity are checks.
    #[test]
    fn v_ditch_of_en5465a() {
        let ditch = channel(Section::v(3.0).unwrap(), 0.0243, 0.005);
        let wet = ditch.section().wetted(feet(1.6));
        close(wet.area.square_metres() / 0.3048_f64.powi(2), 7.68, 0.01);
        close(wet.hydraulic_radius().feet(), 0.76, 0.01);
        close(ditch.velocity(feet(1.6)).feet_per_second(), 3.6, 0.1);
        close(
            ditch.flow(feet(1.6)).cubic_feet_per_second() / ditch.velocity(feet(1.6)).feet_per_second() * 3.6,
            27.6,
            0.1,
        );
    }

    /// San Diego State University, CIVE 530 (2008): rectangle 6 m wide, 1.6 m deep, n 0.015, 0.25 %.
    #[test]
    fn rectangle_of_cive_530() {
        let canal = channel(Section::rectangle(metres(6.0)).unwrap(), 0.015, 0.0025);
        close(canal.section().wetted(metres(1.6)).hydraulic_radius().metres(), 1.043, 0.001);
        // The source multiplies by its rounded radius: one unit of the last digit more.
        close(canal.velocity(metres(1.6)).metres_per_second(), 3.428, 0.003);
        close(canal.flow(metres(1.6)).cubic_metres_per_second(), 32.91, 0.03);
    }

    /// Q = 0.3117 D^(8/3) S^(1/2) / n for a full pipe: π/4^(5/3) = 0.31169 by arithmetic.
    #[test]
    fn the_closed_form_of_a_full_pipe() {
        let pipe = channel(Section::circle(metres(0.3)).unwrap(), 0.017, 0.002);
        let expected =
            std::f64::consts::PI / 4.0_f64.powf(5.0 / 3.0) * 0.3_f64.powf(8.0 / 3.0) * 0.002_f64.sqrt() / 0.017;
        let found = pipe.full_flow().unwrap().cubic_metres_per_second();
        assert!((found / expected - 1.0).abs() < 1e-12);
    }

    #[test]
    fn water_does_not_run_without_a_fall() {
        for grade in [0.0, -0.001] {
            let section = Section::circle(metres(0.3)).unwrap();
            let grade = Slope::from_metres_per_metre(grade).unwrap();
            let refused = Channel::new(section, Roughness::new(0.015).unwrap(), grade).unwrap_err();
            assert!(refused.to_string().contains("grade"), "{refused}");
        }
    }

    proptest! {
        #[test]
        fn capacity_grows_with_diameter_and_grade(d in 0.05_f64..2.0, s in 1e-4_f64..0.1, more in 1.001_f64..2.0) {
            let full = |d: f64, s: f64| {
                channel(Section::circle(metres(d)).unwrap(), 0.015, s).full_flow().unwrap().cubic_metres_per_second()
            };
            prop_assert!(full(d * more, s) > full(d, s));
            prop_assert!(full(d, s * more) > full(d, s));
        }

        /// Chow (1959), figure 6-5 (from memory): most at 0.938 of the diameter, there 1.076 times the full flow.
        #[test]
        fn a_pipe_carries_most_just_before_it_is_full(d in 0.05_f64..2.0, filled in 0.0_f64..1.0) {
            let pipe = channel(Section::circle(metres(d)).unwrap(), 0.015, 0.002);
            let (depth, most) = pipe.greatest_flow().unwrap();
            prop_assert!((depth.metres() / d - 0.938).abs() < 0.0005);
            let ratio = most.cubic_metres_per_second() / pipe.full_flow().unwrap().cubic_metres_per_second();
            prop_assert!((ratio - 1.076).abs() < 0.0005);
            prop_assert!(pipe.flow(metres(d * filled)) <= most);
        }
    }
}
