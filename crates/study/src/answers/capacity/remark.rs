//! What else was seen when a link was checked.

/// Something seen that does not decide whether a link is sufficient.
#[derive(Clone, Debug, PartialEq)]
pub enum Remark {
    /// A lake or a wide river that is mapped as a polygon: no cross-section is asked of it, and nothing is checked.
    OpenWater,
    /// A reach carries the flow as it is now, and would not as the by-law has it.
    LargerThanDesign,
    /// Metres of the present bed above the by-law's; less than 0 below it.
    BedAboveBylaw { height_m: f64 },
    /// The flow stands above the lower bank of the section.
    OverBank,
    /// The flow is faster than the bed's soil withstands.
    FastOnBed { soil: String, limit_m_per_s: f64 },
    /// The water below a culvert is not known; its capacity is that of water that runs out freely.
    FreeOutflow,
    /// Surface water reaches the upper end of a pipe, which is checked for tile water alone.
    SurfaceWater { hectares: f64 },
    /// A full pipe runs slower than silt needs to keep moving.
    Slow { least_m_per_s: f64 },
    /// A full pipe runs faster than the soil around it withstands.
    FastInPipe { soil: String, limit_m_per_s: f64 },
    /// Less ground lies above a pipe than the least cover.
    ThinCover { cover_m: f64, least_m: f64 },
    /// Millimetres of a pipe's outlet invert above the low water; less than 0 below it.
    OutletAboveWater { height_mm: f64 },
    /// Less land than the removal curve was published for.
    SmallForRemovalCurve,
    /// More land than the rational method is used for.
    LargeForRational,
}
