//! Normal depth, critical depth and part-full flow on a grid of sections, as CSV on standard output: what the reference
//! checks compare with root finding by another library.

use std::io::Write;

use fallwright_hydraulics::{Channel, OutOfRange, Roughness, Section, critical_depth};
use fallwright_units::{CubicMetresPerSecond, Metres, Slope};

const GRADES: [f64; 3] = [0.0005, 0.002, 0.02];
const ROUGHNESSES: [f64; 2] = [0.013, 0.035];
/// Flows by the flow at a reference depth of the section.
const PARTS: [f64; 5] = [0.001, 0.05, 0.4, 0.8, 1.0];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut out = std::io::stdout().lock();
    writeln!(out, "shape,size,side_slope,n,grade,flow,normal_depth,critical_depth,flow_at_0.7")?;
    for (shape, size, side_slope) in sections() {
        for n in ROUGHNESSES {
            for grade in GRADES {
                for part in PARTS {
                    writeln!(out, "{}", row((shape, size, side_slope), n, grade, part)?)?;
                }
            }
        }
    }
    Ok(())
}

/// Shape, diameter or bottom width in metres, side slope.
fn sections() -> Vec<(&'static str, f64, f64)> {
    let circles = [0.1, 0.3, 1.2].map(|diameter| ("circle", diameter, 0.0));
    let trapezoids =
        [("trapezoid", 0.9, 1.5), ("trapezoid", 3.0, 2.0), ("trapezoid", 0.0, 2.0), ("trapezoid", 2.0, 0.0)];
    [&circles[..], &trapezoids[..], &[("irregular", 0.0, 0.0)]].concat()
}

fn section((shape, size, side_slope): (&str, f64, f64)) -> Result<Section, OutOfRange> {
    let metres = |value: f64| Metres::from_metres(value).expect("a number of this file");
    match shape {
        "circle" => Section::circle(metres(size)),
        "trapezoid" => Section::trapezoid(metres(size), side_slope),
        _ => {
            let points = [(0.0, 2.0), (2.0, 0.6), (3.0, 0.0), (3.5, 0.1), (5.0, 0.7), (9.0, 2.1)];
            Section::irregular(&points.map(|(station, level)| (metres(station), metres(level))))
        }
    }
}

fn row(shape: (&str, f64, f64), n: f64, grade: f64, part: f64) -> Result<String, Box<dyn std::error::Error>> {
    let section = section(shape)?;
    let channel = Channel::new(section.clone(), Roughness::new(n)?, Slope::from_metres_per_metre(grade)?)?;
    // A pipe's full diameter, or one metre.
    let reference = if shape.0 == "circle" { shape.1 } else { 1.0 };
    let most = channel.flow(Metres::from_metres(reference)?).cubic_metres_per_second();
    let flow = CubicMetresPerSecond::from_cubic_metres_per_second(part * most)?;
    let normal = channel.normal_depth(flow)?.metres();
    let critical = critical_depth(&section, flow).map_or(f64::NAN, Metres::metres);
    let at_part = channel.flow(Metres::from_metres(0.7 * reference)?).cubic_metres_per_second();
    let flow = flow.cubic_metres_per_second();
    Ok(format!("{},{},{},{n},{grade},{flow},{normal},{critical},{at_part}", shape.0, shape.1, shape.2))
}
