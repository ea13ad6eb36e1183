//! Size, grade and material of culverts and pipes, as their layers give them.

use super::reading::Reading;
use super::shapes::FeaturePlace;
use crate::nearest::meant;
use crate::spelling;

/// A pipe's diameter below this, in millimetres, is taken for inches; the smallest drainage tubing has 50 mm (from memory).
const SMALLEST_PIPE_MM: f64 = 50.0;
/// The same for culverts, which are hardly below 300 mm (common practice, no source).
const SMALLEST_CULVERT_MM: f64 = 150.0;
/// No round pipe is larger (our choice).
const LARGEST_MM: f64 = 10_000.0;
const MILLIMETRES_PER_INCH: f64 = fallwright_units::MILLIMETRES_PER_INCH;

/// What a layer says of one culvert or pipe. What is missing must be measured before its capacity can be checked.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Dimensions {
    pub diameter_mm: Option<f64>,
    pub grade_percent: Option<f64>,
    /// A material of the table of defaults.
    pub material: Option<String>,
    /// Whether its water is lifted out by a pump.
    pub is_pumped: bool,
}

/// The names of a layer's fields.
#[derive(Clone, Copy)]
pub(super) struct Fields<'a> {
    pub(super) diameter_mm: &'a str,
    pub(super) grade_percent: &'a str,
    pub(super) material: &'a str,
    pub(super) pumped: Option<&'a str>,
    pub(super) is_culvert: bool,
}

pub(super) fn read(reading: &mut Reading, place: FeaturePlace, id: &str, fields: Fields) -> Dimensions {
    let attribute = |field: &str| place.feature.attributes.get(field);
    Dimensions {
        diameter_mm: diameter(reading, place, id, fields),
        grade_percent: grade(reading, place, id, fields.grade_percent),
        material: material(reading, place, id, fields.material),
        is_pumped: fields.pumped.and_then(attribute).and_then(fallwright_geodata::Attribute::flag).unwrap_or(false),
    }
}

fn diameter(reading: &mut Reading, place: FeaturePlace, id: &str, fields: Fields) -> Option<f64> {
    let smallest = if fields.is_culvert { SMALLEST_CULVERT_MM } else { SMALLEST_PIPE_MM };
    let value = number(reading, place, id, fields.diameter_mm, "a diameter in millimetres")?;
    if (smallest..=LARGEST_MM).contains(&value) {
        return Some(value);
    }
    let hint = if value > 0.0 && value < smallest {
        format!("if it is in inches, give {:.0} mm", value * MILLIMETRES_PER_INCH)
    } else {
        "correct the diameter or leave it empty".to_owned()
    };
    let found = format!("a diameter of {value} mm in the field {:?}", fields.diameter_mm);
    reading.problems.push(place.problem(Some(id), found, &format!("{smallest} mm to {LARGEST_MM} mm"), &hint));
    None
}

fn grade(reading: &mut Reading, place: FeaturePlace, id: &str, field: &str) -> Option<f64> {
    let value = number(reading, place, id, field, "a grade in per cent")?;
    if value > 0.0 && value < 100.0 {
        return Some(value);
    }
    let found = format!("a grade of {value} % in the field {field:?}");
    let hint = if value < 0.0 {
        "give the fall from the beginning to the end as drawn; draw the pipe downstream"
    } else {
        "correct the grade or leave it empty; water does not run without a fall"
    };
    reading.problems.push(place.problem(Some(id), found, "a grade above 0 % and below 100 %", hint));
    None
}

fn material(reading: &mut Reading, place: FeaturePlace, id: &str, field: &str) -> Option<String> {
    let material = place.feature.attributes.get(field)?.text()?;
    let Some(defaults) = reading.defaults else { return Some(material) };
    let known: Vec<&str> = defaults.materials.iter().map(|known| known.name.as_str()).collect();
    if let Some(position) = spelling::find(&material, known.iter().copied()) {
        return Some(known[position].to_owned());
    }
    let hint = meant(&material, known.iter().copied()).map_or_else(
        || "use one of them, leave it empty, or add it to the table of defaults with its roughness".to_owned(),
        |near| format!("did you mean {near:?}?"),
    );
    let expected = format!("a material of the table of defaults: {}", known.join(", "));
    let found = format!("the material {material:?}");
    reading.problems.push(place.problem(Some(id), found, &expected, &hint));
    None
}

/// A number, or a problem where the field holds something else.
fn number(reading: &mut Reading, place: FeaturePlace, id: &str, field: &str, expected: &str) -> Option<f64> {
    let value = place.feature.attributes.get(field)?;
    let number = value.number();
    if let (None, Some(text)) = (number, value.text()) {
        let found = format!("{text:?} in the field {field:?}");
        reading.problems.push(place.problem(Some(id), found, expected, "give a plain number or leave it empty"));
    }
    number
}
