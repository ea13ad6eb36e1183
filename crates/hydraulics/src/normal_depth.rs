//! Normal depth: where uniform flow runs.

use fallwright_units::{CubicMetresPerSecond, Metres};

use crate::root::{interval, rising_to};
use crate::wrap::metres;
use crate::{Channel, TooMuch};

impl Channel {
    /// The least depth at which the channel carries a flow.
    ///
    /// In a pipe that is the depth below that of the greatest flow (0.938 of the diameter); in an irregular section, the
    /// first stretch between two of its points within which the flow is reached.
    ///
    /// # Errors
    /// More flow than the section carries.
    ///
    /// *Complexity*: about 60 evaluations of the flow.
    pub fn normal_depth(&self, flow: CubicMetresPerSecond) -> Result<Metres, TooMuch> {
        let target = flow.cubic_metres_per_second();
        if target <= 0.0 {
            return Ok(Metres::ZERO);
        }
        let within = interval(target, self.section().bounds(), |depth| self.flow_at(depth));
        let within = within.ok_or_else(|| TooMuch {
            flow: target,
            capacity: self.section().bounds().map(|depth| self.flow_at(depth)).fold(0.0, f64::max),
        })?;
        Ok(metres(rising_to(target, within, |depth| self.flow_at(depth))))
    }
}

#[cfg(test)]
mod tests {
    use fallwright_units::Slope;
    use proptest::prelude::*;

    use super::*;
    use crate::{Roughness, Section};

    fn channel(section: Section, n: f64, grade: f64) -> Channel {
        Channel::new(section, Roughness::new(n).unwrap(), Slope::from_metres_per_metre(grade).unwrap()).unwrap()
    }

    fn cubic_metres(value: f64) -> CubicMetresPerSecond {
        CubicMetresPerSecond::from_cubic_metres_per_second(value).unwrap()
    }

    /// Colorado Division of Reclamation, Mining and Safety, file 752913, page 12: V-ditch 2:1, 4.8 cfs, n 0.035, 14 %: 0.60 ft
    /// deep at 6.6 ft/s. The source's constant is 1.49; its effect on the depth (0.1 %) is below the printed digit.
    #[test]
    fn v_ditch_of_file_752913() {
        let ditch = channel(Section::v(2.0).unwrap(), 0.035, 0.14);
        let depth = ditch.normal_depth(CubicMetresPerSecond::from_cubic_feet_per_second(4.8).unwrap()).unwrap();
        assert!((depth.feet() - 0.60).abs() <= 0.005, "{}", depth.feet());
        assert!((ditch.velocity(depth).feet_per_second() - 6.6).abs() <= 0.05);
    }

    #[test]
    fn more_than_a_pipe_carries() {
        let pipe = channel(Section::circle(metres(0.3)).unwrap(), 0.017, 0.002);
        let full = pipe.full_flow().unwrap().cubic_metres_per_second();
        assert!(pipe.normal_depth(cubic_metres(full * 1.07)).is_ok());
        let refused = pipe.normal_depth(cubic_metres(full * 1.08)).unwrap_err();
        assert!((refused.capacity / full - 1.076).abs() < 0.001);
    }

    #[test]
    fn no_flow_has_no_depth() {
        let pipe = channel(Section::circle(metres(0.3)).unwrap(), 0.017, 0.002);
        assert_eq!(pipe.normal_depth(CubicMetresPerSecond::ZERO), Ok(Metres::ZERO));
    }

    proptest! {
        #[test]
        fn the_flow_at_normal_depth_is_the_flow(q in 1e-4_f64..3.0, kind in 0_usize..4) {
            let points = [(0.0, 3.0), (2.0, 1.0), (4.0, 0.0), (5.0, 0.1), (7.0, 1.0), (9.0, 1.1), (12.0, 3.0)];
            let points = points.map(|(x, z)| (metres(x), metres(z)));
            let section = [
                Section::circle(metres(2.0)).unwrap(),
                Section::trapezoid(metres(0.9), 1.5).unwrap(),
                Section::v(2.0).unwrap(),
                Section::irregular(&points).unwrap(),
            ][kind].clone();
            let channel = channel(section, 0.03, 0.002);
            let depth = channel.normal_depth(cubic_metres(q)).unwrap();
            prop_assert!((channel.flow(depth).cubic_metres_per_second() / q - 1.0).abs() < 1e-12);
        }
    }
}
