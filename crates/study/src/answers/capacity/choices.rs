//! The values that the check uses: the case's own choices, else the table of defaults, and which of the two.

use std::cell::RefCell;

use fallwright_hydraulics::{Cover, Defaults, Inlet, Material, Roughness, Soil, Sourced, StormMethod, roughness_at};
use fallwright_units::{Metres, Millimetres, MillimetresPerDay};

use super::default_used::{Assumed, DefaultName, DefaultUsed, DefaultValue, DefaultsUsed};
use fallwright_case::Inputs;

/// The choices of a run. Asking for a value that comes from the table of defaults notes that it was used.
pub(super) struct Choices<'a> {
    given: &'a fallwright_case::Capacity,
    pub defaults: &'a Defaults,
    used: RefCell<DefaultsUsed>,
}

impl<'a> Choices<'a> {
    pub(super) fn of(inputs: &'a Inputs) -> Self {
        Self { given: &inputs.case.capacity, defaults: &inputs.defaults, used: RefCell::default() }
    }

    /// Every default used so far with its value and source.
    pub(super) fn used(&self) -> DefaultsUsed {
        self.used.borrow().clone()
    }

    /// A default, noted as used.
    pub(super) fn default<T: Copy>(
        &self,
        key: &'static str,
        sourced: &Sourced<T>,
        value: impl Into<DefaultValue>,
        assumed: &mut Assumed,
    ) -> T {
        let Sourced { source, confirmed, .. } = sourced;
        let used = DefaultUsed { value: value.into(), source: source.clone(), confirmed: *confirmed };
        self.note(DefaultName::Key(key), used, assumed);
        sourced.value
    }

    fn note(&self, name: DefaultName, used: DefaultUsed, assumed: &mut Assumed) {
        assumed.add(name.clone());
        self.used.borrow_mut().insert(name, used);
    }

    fn note_material(&self, name: DefaultName, Material { source, confirmed, .. }: &Material, assumed: &mut Assumed) {
        let used = DefaultUsed { value: DefaultValue::OfMaterial, source: source.clone(), confirmed: *confirmed };
        self.note(name, used, assumed);
    }

    pub(super) fn method(&self, assumed: &mut Assumed) -> StormMethod {
        let standing = &self.defaults.storm_method;
        self.given.method.unwrap_or_else(|| self.default("storm_method", standing, standing.value, assumed))
    }

    pub(super) fn return_period_years(&self) -> Option<f64> {
        self.given.return_period_years
    }

    pub(super) fn drainage_coefficient(&self, assumed: &mut Assumed) -> MillimetresPerDay {
        let given = self.given.drainage_coefficient_mm_per_day;
        let standing = &self.defaults.drainage_coefficient;
        let value = standing.value.millimetres_per_day();
        given
            .and_then(|value| MillimetresPerDay::from_millimetres_per_day(value).ok())
            .unwrap_or_else(|| self.default("drainage_coefficient_mm_per_day", standing, value, assumed))
    }

    pub(super) fn freeboard(&self, assumed: &mut Assumed) -> Metres {
        let standing = &self.defaults.freeboard;
        let value = standing.value.metres();
        let given = self.given.freeboard_m.and_then(|value| Metres::from_metres(value).ok());
        given.unwrap_or_else(|| self.default("freeboard_m", standing, value, assumed))
    }

    pub(super) fn removal_coefficient(&self, assumed: &mut Assumed) -> f64 {
        let standing = &self.defaults.removal_coefficient;
        self.default("removal_coefficient", standing, standing.value, assumed)
    }

    /// A channel's roughness where its section gives none.
    pub(super) fn channel_roughness(&self, given: Option<Roughness>, assumed: &mut Assumed) -> Roughness {
        let standing = &self.defaults.channel_n;
        let value = standing.value.n();
        given.unwrap_or_else(|| self.default("channel_n", standing, value, assumed))
    }

    /// A pipe's roughness by its material and diameter.
    pub(super) fn pipe_roughness(
        &self,
        material: &str,
        diameter: Millimetres,
        assumed: &mut Assumed,
    ) -> Option<Roughness> {
        let known = self.defaults.material(material)?;
        let roughness = roughness_at(&known.roughness, diameter)?;
        self.note_material(DefaultName::PipeRoughness { material: material.to_owned() }, known, assumed);
        Some(roughness)
    }

    /// How a culvert of a material takes in water.
    pub(super) fn culvert_inlet(&self, material: &str, assumed: &mut Assumed) -> Option<Inlet> {
        let known = self.defaults.material(material)?;
        self.note_material(DefaultName::CulvertInlet { material: material.to_owned() }, known, assumed);
        Some(known.culvert_inlet)
    }

    /// Only what the case gives; nothing stands in.
    pub(super) fn runoff_coefficient(&self) -> Option<f64> {
        self.given.runoff_coefficient
    }

    pub(super) fn cover(&self) -> Option<&Cover> {
        self.defaults.cover(self.given.cover.as_deref()?)
    }

    pub(super) fn soil(&self) -> Option<&Soil> {
        self.defaults.soil(self.given.soil.as_deref()?)
    }

    pub(super) fn pond_percent(&self) -> f64 {
        self.given.pond_percent
    }

    pub(super) fn rainfall_distribution(&self, assumed: &mut Assumed) -> fallwright_hydraulics::RainfallDistribution {
        let standing = &self.defaults.rainfall_distribution;
        self.given
            .rainfall_distribution
            .unwrap_or_else(|| self.default("rainfall_distribution", standing, standing.value, assumed))
    }
}
