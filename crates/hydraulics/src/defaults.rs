//! The one table of default values, for what a case does not give; each with its source.

use fallwright_units::{Metres, MetresPerSecond, Millimetres, MillimetresPerDay};
use serde::Deserialize;
use thiserror::Error;

use crate::wrap::millimetres;
use crate::{CurveNumber, Inlet, OutOfRange, RainfallDistribution, Roughness, RoughnessStep};

/// A value with what it rests on.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sourced<T> {
    pub value: T,
    pub source: String,
    /// Whether somebody compared it with the document that the source names.
    pub confirmed: bool,
}

/// How the flow of a storm is found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StormMethod {
    /// [`crate::removal_flow`], with [`crate::join`] at junctions.
    RemovalCurve,
    /// [`crate::rational_flow`].
    Rational,
    /// [`crate::peak_discharge`].
    CurveNumber,
}

impl StormMethod {
    /// The word used in case files and outputs.
    pub const fn name(self) -> &'static str {
        match self {
            Self::RemovalCurve => "removal_curve",
            Self::Rational => "rational",
            Self::CurveNumber => "curve_number",
        }
    }

    /// Whether its flow holds what subsurface drains bring from the same land. A curve number gives direct runoff only; a
    /// removal curve and a runoff coefficient are fitted to whole flows (our reading).
    pub const fn includes_subsurface(self) -> bool {
        !matches!(self, Self::CurveNumber)
    }
}

/// A pipe material.
#[derive(Clone, Debug, PartialEq)]
pub struct Material {
    pub name: String,
    pub roughness: Vec<RoughnessStep>,
    /// Rising.
    pub sizes: Vec<Millimetres>,
    /// How a culvert of it takes in water.
    pub culvert_inlet: Inlet,
    pub source: String,
    pub confirmed: bool,
}

/// A cover of the land.
#[derive(Clone, Debug, PartialEq)]
pub struct Cover {
    pub name: String,
    /// For the hydrologic soil groups A to D.
    pub curve_numbers: [CurveNumber; 4],
    pub source: String,
    pub confirmed: bool,
}

/// What a soil withstands.
#[derive(Clone, Debug, PartialEq)]
pub struct Soil {
    pub name: String,
    pub channel: MetresPerSecond,
    pub pipe: MetresPerSecond,
    pub source: String,
    pub confirmed: bool,
}

/// All default values.
#[derive(Clone, Debug, PartialEq)]
pub struct Defaults {
    pub drainage_coefficient: Sourced<MillimetresPerDay>,
    pub storm_method: Sourced<StormMethod>,
    pub removal_coefficient: Sourced<f64>,
    pub rainfall_distribution: Sourced<RainfallDistribution>,
    pub freeboard: Sourced<Metres>,
    pub outlet_above_low_water: Sourced<Metres>,
    pub least_cover: Sourced<Metres>,
    pub least_velocity: Sourced<MetresPerSecond>,
    pub channel_n: Sourced<Roughness>,
    pub headwater_to_rise: Sourced<f64>,
    pub sheet_flow_n: Sourced<f64>,
    pub channel_velocity: Sourced<MetresPerSecond>,
    pub least_main_grade_percent: Sourced<f64>,
    pub main_depth: Sourced<Metres>,
    /// A part, 0 to 1.
    pub share_in_doubt: Sourced<f64>,
    pub materials: Vec<Material>,
    pub covers: Vec<Cover>,
    pub soils: Vec<Soil>,
}

/// Why a table of defaults cannot be used.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum DefaultsError {
    /// Not TOML, or a key that is missing, unknown or of the wrong type.
    #[error("{0}")]
    Form(String),
    #[error("{key}: {fault}")]
    Value { key: String, fault: OutOfRange },
}

impl Defaults {
    /// The shipped table.
    pub fn shipped() -> Self {
        Self::from_toml(include_str!("../defaults.toml")).expect("a test reads the shipped table")
    }

    /// Reads a table; every key must be there.
    ///
    /// # Errors
    /// The first fault of form, or the first value out of range.
    pub fn from_toml(text: &str) -> Result<Self, DefaultsError> {
        let table: Table = toml::from_str(text).map_err(|error| DefaultsError::Form(error.to_string()))?;
        let positive = |key: &str, sourced: Sourced<f64>| {
            checked(key, sourced, |value| OutOfRange::unless_positive("the value", value))
        };
        let metres = |key: &str, sourced: Sourced<f64>| {
            checked(key, sourced, |value| {
                OutOfRange::unless_within("a height in metres", value, 0.0..=100.0, "0 to 100 m")
                    .map(crate::wrap::metres)
            })
        };
        let speed = |key: &str, sourced: Sourced<f64>| {
            checked(key, sourced, |value| {
                OutOfRange::unless_positive("a velocity in metres a second", value).map(crate::wrap::velocity)
            })
        };
        Ok(Self {
            drainage_coefficient: checked(
                "drainage_coefficient_mm_per_day",
                table.drainage_coefficient_mm_per_day,
                |value| {
                    OutOfRange::unless_positive("a drainage coefficient", value).map(|value| {
                        MillimetresPerDay::from_millimetres_per_day(value).expect("checked to be finite above")
                    })
                },
            )?,
            storm_method: table.storm_method,
            removal_coefficient: positive("removal_coefficient", table.removal_coefficient)?,
            rainfall_distribution: table.rainfall_distribution,
            freeboard: metres("freeboard_m", table.freeboard_m)?,
            outlet_above_low_water: metres("outlet_above_low_water_m", table.outlet_above_low_water_m)?,
            least_cover: metres("least_cover_m", table.least_cover_m)?,
            least_velocity: speed("least_velocity_m_per_s", table.least_velocity_m_per_s)?,
            channel_n: checked("channel_n", table.channel_n, Roughness::new)?,
            headwater_to_rise: positive("headwater_to_rise", table.headwater_to_rise)?,
            sheet_flow_n: positive("sheet_flow_n", table.sheet_flow_n)?,
            channel_velocity: speed("channel_velocity_m_per_s", table.channel_velocity_m_per_s)?,
            least_main_grade_percent: positive("least_main_grade_percent", table.least_main_grade_percent)?,
            main_depth: metres("main_depth_m", table.main_depth_m)?,
            share_in_doubt: checked("share_in_doubt", table.share_in_doubt, |value| {
                OutOfRange::unless_within("a part", value, 0.0..=1.0, "a number from 0 to 1")
            })?,
            materials: table.material.into_iter().map(MaterialTable::checked).collect::<Result<_, _>>()?,
            covers: table.cover.into_iter().map(CoverTable::checked).collect::<Result<_, _>>()?,
            soils: table.soil.into_iter().map(SoilTable::checked).collect::<Result<_, _>>()?,
        })
    }

    pub fn material(&self, name: &str) -> Option<&Material> {
        self.materials.iter().find(|material| material.name == name)
    }

    pub fn cover(&self, name: &str) -> Option<&Cover> {
        self.covers.iter().find(|cover| cover.name == name)
    }

    pub fn soil(&self, name: &str) -> Option<&Soil> {
        self.soils.iter().find(|soil| soil.name == name)
    }
}

fn checked<T, U>(
    key: &str,
    sourced: Sourced<T>,
    check: impl FnOnce(T) -> Result<U, OutOfRange>,
) -> Result<Sourced<U>, DefaultsError> {
    let Sourced { value, source, confirmed } = sourced;
    let value = check(value).map_err(|fault| DefaultsError::Value { key: key.to_owned(), fault })?;
    Ok(Sourced { value, source, confirmed })
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    drainage_coefficient_mm_per_day: Sourced<f64>,
    storm_method: Sourced<StormMethod>,
    removal_coefficient: Sourced<f64>,
    rainfall_distribution: Sourced<RainfallDistribution>,
    freeboard_m: Sourced<f64>,
    outlet_above_low_water_m: Sourced<f64>,
    least_cover_m: Sourced<f64>,
    least_velocity_m_per_s: Sourced<f64>,
    channel_n: Sourced<f64>,
    headwater_to_rise: Sourced<f64>,
    sheet_flow_n: Sourced<f64>,
    channel_velocity_m_per_s: Sourced<f64>,
    least_main_grade_percent: Sourced<f64>,
    main_depth_m: Sourced<f64>,
    share_in_doubt: Sourced<f64>,
    material: Vec<MaterialTable>,
    cover: Vec<CoverTable>,
    soil: Vec<SoilTable>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MaterialTable {
    name: String,
    n: Vec<StepTable>,
    sizes_mm: Vec<f64>,
    culvert_inlet: Inlet,
    source: String,
    confirmed: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct StepTable {
    to_mm: Option<f64>,
    n: f64,
}

impl MaterialTable {
    fn checked(self) -> Result<Material, DefaultsError> {
        let of = |fault| DefaultsError::Value { key: format!("the material {:?}", self.name), fault };
        let size = |value: f64| OutOfRange::unless_positive("a diameter in millimetres", value).map(millimetres);
        let step = |step: &StepTable| {
            let to = step.to_mm.map(size).transpose()?;
            Ok(RoughnessStep { to, roughness: Roughness::new(step.n)? })
        };
        let rises = self.sizes_mm.windows(2).all(|pair| pair[0] < pair[1]);
        if !rises {
            let found = self.sizes_mm.first().copied().unwrap_or_default();
            return Err(of(OutOfRange { quantity: "the first of the sizes", found, expected: "sizes that rise" }));
        }
        Ok(Material {
            roughness: self.n.iter().map(step).collect::<Result<_, _>>().map_err(of)?,
            sizes: self.sizes_mm.iter().copied().map(size).collect::<Result<_, _>>().map_err(of)?,
            name: self.name,
            culvert_inlet: self.culvert_inlet,
            source: self.source,
            confirmed: self.confirmed,
        })
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CoverTable {
    name: String,
    curve_numbers: [f64; 4],
    source: String,
    confirmed: bool,
}

impl CoverTable {
    fn checked(self) -> Result<Cover, DefaultsError> {
        let [a, b, c, d] = self.curve_numbers.map(CurveNumber::new);
        let all = || Ok([a?, b?, c?, d?]);
        let curve_numbers =
            all().map_err(|fault| DefaultsError::Value { key: format!("the cover {:?}", self.name), fault })?;
        Ok(Cover { name: self.name, curve_numbers, source: self.source, confirmed: self.confirmed })
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SoilTable {
    name: String,
    channel_ft_per_s: f64,
    pipe_ft_per_s: f64,
    source: String,
    confirmed: bool,
}

impl SoilTable {
    fn checked(self) -> Result<Soil, DefaultsError> {
        let speed = |value: f64| {
            let value = OutOfRange::unless_positive("a velocity in feet a second", value)?;
            Ok(MetresPerSecond::from_feet_per_second(value).expect("checked to be finite above"))
        };
        let of = |fault| DefaultsError::Value { key: format!("the soil {:?}", self.name), fault };
        Ok(Soil {
            channel: speed(self.channel_ft_per_s).map_err(of)?,
            pipe: speed(self.pipe_ft_per_s).map_err(of)?,
            name: self.name,
            source: self.source,
            confirmed: self.confirmed,
        })
    }
}

#[cfg(test)]
mod tests {
    use fallwright_units::Slope;

    use super::*;
    use crate::{Channel, Section, drainage_coefficient, roughness_at};

    /// Full flow in L/s of corrugated tubing, inner diameter as named, at 0.05, 0.1, 0.2, 0.3, 0.5, 1 and 2 %; worked out from
    /// Manning's formula with these n, not published.
    #[test]
    fn full_flow_of_corrugated_tubing() {
        let table = [
            (75.0, [0.46, 0.66, 0.93, 1.14, 1.47, 2.08, 2.94]),
            (100.0, [1.00, 1.42, 2.00, 2.45, 3.17, 4.48, 6.33]),
            (125.0, [1.81, 2.57, 3.63, 4.45, 5.74, 8.12, 11.48]),
            (150.0, [2.95, 4.17, 5.90, 7.23, 9.33, 13.20, 18.67]),
            (200.0, [6.36, 8.99, 12.71, 15.57, 20.10, 28.43, 40.20]),
            (250.0, [10.17, 14.38, 20.34, 24.91, 32.16, 45.48, 64.31]),
            (300.0, [16.54, 23.38, 33.07, 40.50, 52.29, 73.95, 104.58]),
            (375.0, [28.31, 40.04, 56.63, 69.36, 89.54, 126.63, 179.08]),
            (450.0, [41.44, 58.60, 82.88, 101.50, 131.04, 185.32, 262.08]),
            (600.0, [89.24, 126.21, 178.49, 218.60, 282.21, 399.11, 564.42]),
        ];
        let defaults = Defaults::shipped();
        let tubing = defaults.material("corrugated plastic").unwrap();
        for (diameter, flows) in table {
            for (percent, expected) in [0.05, 0.1, 0.2, 0.3, 0.5, 1.0, 2.0].into_iter().zip(flows) {
                let n = roughness_at(&tubing.roughness, millimetres(diameter)).unwrap();
                let section = Section::circle(crate::wrap::metres(diameter / 1000.0)).unwrap();
                let pipe = Channel::new(section, n, Slope::from_percent(percent).unwrap()).unwrap();
                let found = pipe.full_flow().unwrap().cubic_metres_per_second() * 1000.0;
                assert!((found - expected).abs() <= 0.0051, "{diameter} mm at {percent} %: {found} {expected}");
            }
        }
    }

    /// The hectares drained at 12 mm/d by that table: 1.02 ha by 100 mm and 16.84 ha by 300 mm, both at 0.1 %.
    #[test]
    fn hectares_drained() {
        let check = |litres: f64, hectares: f64| {
            let coefficient = drainage_coefficient(crate::wrap::flow(litres / 1000.0), crate::wrap::hectares(hectares));
            assert!((coefficient.unwrap().millimetres_per_day() / 12.0 - 1.0).abs() < 0.005);
        };
        check(1.42, 1.02);
        check(23.38, 16.84);
    }

    #[test]
    fn every_value_names_its_source() {
        let text = include_str!("../defaults.toml");
        let tables = text.lines().filter(|line| line.starts_with('[')).count();
        assert_eq!(text.lines().filter(|line| line.starts_with("source = \"")).count(), tables);
        assert_eq!(text.lines().filter(|line| line.starts_with("confirmed = ")).count(), tables);
    }

    #[test]
    fn a_faulty_table_is_refused() {
        let check = |from: &str, to: &str, words: &str| {
            let text = include_str!("../defaults.toml").replacen(from, to, 1);
            let error = Defaults::from_toml(&text).unwrap_err().to_string();
            assert!(error.contains(words), "{error}");
        };
        check("value = 0.035", "value = 0.0", "channel_n: Manning's n is 0");
        check("[freeboard_m]", "[freeboards]", "freeboards");
        check("value = \"removal_curve\"", "value = \"guess\"", "guess");
        check("sizes_mm = [75, 100,", "sizes_mm = [100, 75,", "corrugated plastic");
        check("value = 12.0", "value = -12.0", "drainage_coefficient_mm_per_day");
    }
}
