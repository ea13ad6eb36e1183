//! The township's tables as CSV.

use crate::levels::LevelRow;
use crate::rainfall;
use crate::schedule::ScheduleRow;
use crate::sections::SectionRow;

/// The day of the survey and its height datum, all invented.
const SURVEYED: &str = "2023-06-14";
const DATUM: &str = "Oxpindle datum (invented)";

pub(crate) fn schedule(rows: &[ScheduleRow]) -> String {
    let lines = rows.iter().map(|row| format!("{},{},{:.1}", row.drain, row.roll, row.hectares));
    csv("drain,roll,hectares", lines)
}

pub(crate) fn levels(rows: &[LevelRow]) -> String {
    let lines = rows.iter().map(|LevelRow { feature, at, kind, level_m }| {
        format!("{feature},{:.2},{:.2},{kind},{level_m:.2},{SURVEYED},{DATUM}", at.x, at.y)
    });
    csv("feature,x,y,kind,level_m,date,datum", lines)
}

pub(crate) fn sections(rows: &[SectionRow]) -> String {
    let lines = rows.iter().map(|row| {
        let SectionRow { drain, at, kind, bottom_m, side_slope, depth_m, bed_m, n, grade_percent } = row;
        let grade = grade_percent.map_or_else(String::new, |grade| grade.to_string());
        format!(
            "{drain},{:.2},{:.2},{kind},{bottom_m},{side_slope},{depth_m},,{bed_m:.2},{n},{grade},{SURVEYED},{DATUM}",
            at.x, at.y
        )
    });
    csv("drain,x,y,kind,bottom_m,side_slope,depth_m,points,bed_m,n,grade_percent,date,datum", lines)
}

pub(crate) fn rainfall() -> String {
    let lines = rainfall::depths().map(|(minutes, years, depth)| format!("{minutes},{years},{depth},,invented"));
    csv("duration_min,return_period_years,depth_mm,intensity_mm_per_h,source", lines)
}

fn csv(header: &str, lines: impl Iterator<Item = String>) -> String {
    std::iter::once(header.to_owned()).chain(lines).map(|line| line + "\n").collect()
}
