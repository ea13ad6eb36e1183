//! A culvert under the storm's flow.

use fallwright_hydraulics::{Barrel, Culvert, next_size};
use fallwright_units::{CubicMetresPerSecond, Metres, Millimetres, Slope, StructureIx};

use super::checked::{Cause, Checked, Remedy};
use super::choices::Choices;
use super::default_used::Assumed;
use super::remark::Remark;
use super::storm::Storm;
use super::structure::Conduit;
use super::to_measure::ToMeasure;
use crate::study::Study;

/// `tailwater_m` is the water's depth in the reach below, where it is known.
pub(super) fn check(
    study: &Study,
    choices: &Choices,
    structure: StructureIx,
    storm: &Storm,
    tailwater_m: Option<f64>,
) -> Checked {
    let works = Conduit::of(study, structure);
    let mut checked = Checked { assumed: storm.assumed.clone(), remarks: storm.remarks.clone(), ..Checked::default() };
    match &storm.flow {
        Ok(flow) => checked.flow = Some(flow.cubic_metres_per_second()),
        Err(missing) => checked.to_measure.push(missing.clone()),
    }
    let Some((diameter_mm, material, grade)) = works.barrel(study, &mut checked) else { return checked };
    let site = Site { choices, material, grade, length_m: works.length_m, tailwater_m: tailwater_m.unwrap_or(0.0) };
    let Some(culvert) = site.culvert(diameter_mm, &mut checked.assumed) else { return checked };
    checked.capacity = Some(site.capacity(&culvert, diameter_mm, &mut checked.assumed));
    if let Some(flow) = checked.flow {
        let area = std::f64::consts::PI / 4.0 * (diameter_mm / 1000.0).powi(2);
        checked.velocity = Some(flow / area);
        let headwater = culvert.headwater(cubic_metres(flow), metres(site.tailwater_m));
        checked.water_depth_m = Some(headwater.depth.metres());
        checked.control = Some(headwater.control);
    }
    if tailwater_m.is_none() {
        checked.remarks.push(Remark::FreeOutflow);
        checked.to_measure.push(ToMeasure::SectionBelow);
    }
    if checked.fails_by_flow() {
        checked.cause = Some(Cause::Undersized);
        checked.remedy = Some(Remedy::Improvement);
        checked.next_diameter_mm = site.next_diameter_mm(checked.flow.unwrap_or(0.0));
    }
    checked
}

/// Where a culvert lies; its size may differ.
struct Site<'a> {
    choices: &'a Choices<'a>,
    material: &'a str,
    grade: Slope,
    length_m: f64,
    tailwater_m: f64,
}

impl Site<'_> {
    fn culvert(&self, diameter_mm: f64, assumed: &mut Assumed) -> Option<Culvert> {
        let inlet = self.choices.culvert_inlet(self.material, assumed)?;
        let size = Millimetres::from_millimetres(diameter_mm).ok()?;
        let roughness = self.choices.pipe_roughness(self.material, size, assumed)?;
        let barrel = Barrel::Circle { diameter: metres(diameter_mm / 1000.0) };
        Culvert::new(barrel, inlet, roughness, metres(self.length_m), self.grade).ok()
    }

    /// m³/s at the highest headwater that is allowed.
    fn capacity(&self, culvert: &Culvert, diameter_mm: f64, assumed: &mut Assumed) -> f64 {
        let standing = &self.choices.defaults.headwater_to_rise;
        let to_rise = self.choices.default("headwater_to_rise", standing, standing.value, assumed);
        let allowed = metres(to_rise * diameter_mm / 1000.0);
        culvert.capacity(allowed, metres(self.tailwater_m)).cubic_metres_per_second()
    }

    fn next_diameter_mm(&self, flow: f64) -> Option<f64> {
        let does = |size: Millimetres| {
            let mut assumed = Assumed::default();
            let culvert = self.culvert(size.millimetres(), &mut assumed);
            culvert.is_some_and(|culvert| self.capacity(&culvert, size.millimetres(), &mut assumed) >= flow)
        };
        next_size(&self.choices.defaults.material(self.material)?.sizes, does).map(Millimetres::millimetres)
    }
}

fn metres(value: f64) -> Metres {
    Metres::from_metres(value).expect("sizes and lengths are checked where they are read")
}

fn cubic_metres(value: f64) -> CubicMetresPerSecond {
    CubicMetresPerSecond::from_cubic_metres_per_second(value).expect("a flow that was one already")
}
