//! What was found about one link.

use fallwright_hydraulics::Control;

use super::default_used::Assumed;
use super::remark::Remark;
use super::to_measure::ToMeasure;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sufficiency {
    Sufficient,
    Insufficient,
    NotChecked,
}

impl Sufficiency {
    pub const fn code(self) -> &'static str {
        match self {
            Self::Sufficient => "sufficient",
            Self::Insufficient => "insufficient",
            Self::NotChecked => "not_checked",
        }
    }
}

/// Why a link is not enough.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// By its design.
    Undersized,
    /// A natural watercourse, which has no design.
    Overflows,
    /// The design is adequate; the present bed is not.
    Silted,
    /// As it is now; without the by-law's section the reason is unknown.
    UndersizedOrSilted,
    /// The low water stands at or above the outlet's invert.
    Submerged,
    /// The outlet's invert is too little above the low water.
    OutletLow,
}

impl Cause {
    pub const fn code(self) -> &'static str {
        match self {
            Self::Undersized => "undersized",
            Self::Overflows => "overflows",
            Self::Silted => "silted",
            Self::UndersizedOrSilted => "undersized_or_silted",
            Self::Submerged => "submerged",
            Self::OutletLow => "outlet_low",
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Remedy {
    Improvement,
    Maintenance,
}

impl Remedy {
    pub const fn code(self) -> &'static str {
        match self {
            Self::Improvement => "improvement",
            Self::Maintenance => "maintenance",
        }
    }
}

/// Where a grade comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GradeSource {
    SurveyedInverts,
    LayerInverts,
    SurveyedBeds,
    BylawProfile,
    LayerGrade,
    Ground,
}

impl GradeSource {
    pub const fn code(self) -> &'static str {
        match self {
            Self::SurveyedInverts => "surveyed_inverts",
            Self::LayerInverts => "layer_inverts",
            Self::SurveyedBeds => "surveyed_beds",
            Self::BylawProfile => "bylaw_profile",
            Self::LayerGrade => "layer_grade",
            Self::Ground => "ground",
        }
    }
}

/// How a pipe ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PipeOutlet {
    Free,
    Low,
    Submerged,
    Pumped,
}

impl PipeOutlet {
    pub const fn code(self) -> &'static str {
        match self {
            Self::Free => "free",
            Self::Low => "low",
            Self::Submerged => "submerged",
            Self::Pumped => "pumped",
        }
    }
}

/// Fall available against fall needed, metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fall {
    pub available_m: f64,
    pub needed_m: f64,
    /// Within which the difference of two lidar heights lies in 95 of 100 cases; `None` for surveyed levels.
    pub doubt_m: Option<f64>,
}

impl Fall {
    /// `enough`, `short`, or `survey` where lidar alone cannot decide.
    pub fn code(self) -> &'static str {
        let spare = self.available_m - self.needed_m;
        let doubt = self.doubt_m.unwrap_or(0.0);
        if spare >= doubt {
            "enough"
        } else if spare < -doubt {
            "short"
        } else {
            "survey"
        }
    }
}

/// Everything found about one link; flows in m³/s, velocities in m/s.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Checked {
    pub flow: Option<f64>,
    pub capacity: Option<f64>,
    /// Of the by-law's section, where a reach has both.
    pub design_capacity: Option<f64>,
    pub velocity: Option<f64>,
    /// Metres per metre.
    pub grade: Option<(f64, GradeSource)>,
    pub cover_m: Option<f64>,
    pub freeboard_m: Option<f64>,
    pub water_depth_m: Option<f64>,
    pub outlet: Option<PipeOutlet>,
    /// Of a culvert.
    pub control: Option<Control>,
    pub fall: Option<Fall>,
    pub cause: Option<Cause>,
    pub remedy: Option<Remedy>,
    /// Millimetres of a pipe's or culvert's next adequate size.
    pub next_diameter_mm: Option<f64>,
    /// Metres of the next adequate bottom width.
    pub next_bottom_m: Option<f64>,
    pub to_measure: Vec<ToMeasure>,
    pub remarks: Vec<Remark>,
    pub assumed: Assumed,
}

impl Checked {
    /// Insufficient for one known cause, whatever else is missing; sufficient only if nothing is; open water is not checked.
    pub fn sufficiency(&self) -> Sufficiency {
        if self.cause.is_some() {
            Sufficiency::Insufficient
        } else if self.to_measure.is_empty() && !self.remarks.contains(&Remark::OpenWater) {
            Sufficiency::Sufficient
        } else {
            Sufficiency::NotChecked
        }
    }

    /// Flow by capacity; without a capacity, or with one of 0, there is none.
    pub fn ratio(&self) -> Option<f64> {
        let (flow, capacity) = self.flow.zip(self.capacity)?;
        (capacity > 0.0).then(|| flow / capacity)
    }

    pub fn fails_by_flow(&self) -> bool {
        self.flow.zip(self.capacity).is_some_and(|(flow, capacity)| flow > capacity)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example of 400 m of main at 0.10 %: 0.40 m needed; heights good to 10 cm are in doubt by 1.96 √2 × 0.10 = 0.277 m.
    #[test]
    fn fall_that_lidar_alone_cannot_confirm() {
        let doubt_m = Some(1.96 * std::f64::consts::SQRT_2 * 0.10);
        let check = |available_m: f64, doubt_m, expected: &str| {
            assert_eq!(Fall { available_m, needed_m: 0.40, doubt_m }.code(), expected, "{available_m}");
        };
        check(0.50, doubt_m, "survey");
        check(0.30, doubt_m, "survey");
        check(0.68, doubt_m, "enough");
        check(0.12, doubt_m, "short");
        check(0.41, None, "enough");
        check(0.39, None, "short");
    }

    #[test]
    fn a_known_cause_comes_before_what_is_missing() {
        let missing = Checked { to_measure: vec![ToMeasure::OutletInvert], ..Checked::default() };
        assert_eq!(missing.sufficiency(), Sufficiency::NotChecked);
        assert_eq!(Checked { cause: Some(Cause::Submerged), ..missing }.sufficiency(), Sufficiency::Insufficient);
        assert_eq!(Checked::default().sufficiency(), Sufficiency::Sufficient);
    }
}
