//! Time of concentration of the land above a link: along the longest way that its water runs.

use fallwright_hydraulics::{Surface, shallow_flow_time, sheet_flow_time, travel_time};
use fallwright_units::{Cell, Hours, Metres, MetresPerSecond, Millimetres, Raster, Slope};

use super::choices::Choices;
use super::default_used::Assumed;
use super::links::{Link, lower_cell};
use super::rain;
use super::to_measure::ToMeasure;
use crate::study::Study;

pub(super) const TWENTY_FOUR_HOURS_MIN: f64 = 1440.0;
/// Sheet flow ends here: 100 ft (newer guidance to TR-55, worksheet 3), in metres.
const SHEET_FLOW_M: f64 = 30.48;
/// Ground that falls less is taken to fall so much: lidar resolves no smaller grade (our choice).
const LEAST_GRADE: f64 = 0.0005;

/// The longest way down to every cell.
pub(super) struct Concentration {
    /// The cell where the longest way to each cell begins.
    farthest: Raster<Cell>,
    sheet_flow_n: f64,
    channel_velocity: MetresPerSecond,
    rain: Result<Millimetres, ToMeasure>,
}

impl Concentration {
    /// *Complexity*: O(n log n) for n cells.
    pub(super) fn of(study: &Study, choices: &Choices, assumed: &mut Assumed) -> Self {
        let defaults = choices.defaults;
        let (sheet, channel) = (&defaults.sheet_flow_n, &defaults.channel_velocity);
        Self {
            farthest: farthest(study),
            sheet_flow_n: choices.default("sheet_flow_n", sheet, sheet.value, assumed),
            channel_velocity: choices.default(
                "channel_velocity_m_per_s",
                channel,
                channel.value.metres_per_second(),
                assumed,
            ),
            rain: rain::depth(&study.inputs.rainfall, 2.0, TWENTY_FOUR_HOURS_MIN),
        }
    }

    /// Sheet flow for the first 100 feet, shallow concentrated flow to the first mapped channel or structure, then flow in
    /// channels.
    ///
    /// # Errors
    /// What to add to the rainfall table.
    pub(super) fn hours(&self, study: &Study, link: Link) -> Result<Hours, ToMeasure> {
        let rain = self.rain.clone()?;
        let way = FlowPath::from(study, self.farthest[lower_cell(study, link)], lower_cell(study, link));
        let sheet = sheet_flow_time(self.sheet_flow_n, metres(way.sheet.length_m), rain, way.sheet.grade())?;
        let shallow = shallow_flow_time(Surface::Unpaved, metres(way.shallow.length_m), way.shallow.grade())?;
        let channel = travel_time(metres(way.channel_m), self.channel_velocity)?;
        Ok(sheet + shallow + channel)
    }
}

/// A stretch of a way over land.
#[derive(Clone, Copy, Debug, Default)]
struct OverLand {
    length_m: f64,
    fall_m: f64,
}

impl OverLand {
    fn grade(self) -> Slope {
        let grade = if self.length_m > 0.0 { self.fall_m / self.length_m } else { LEAST_GRADE };
        Slope::from_metres_per_metre(grade.max(LEAST_GRADE)).expect("a fall by a length above 0 is finite")
    }
}

#[derive(Clone, Copy, Debug, Default)]
struct FlowPath {
    sheet: OverLand,
    shallow: OverLand,
    channel_m: f64,
}

impl FlowPath {
    fn from(study: &Study, start: Cell, end: Cell) -> Self {
        let flow = study.setting.flow();
        let surface = &study.setting.conditioned.surface;
        let in_works =
            |cell: Cell| study.setting.waterway_of(cell).is_some() || study.setting.structure_at(cell).is_some();
        let mut way = Self::default();
        let mut cell = start;
        let mut in_channel = false;
        while let Some(next) = flow.receiver(cell).filter(|_| cell != end) {
            let length_m = study.setting.frame().distance(cell, next);
            let fall_m = f64::from(surface[cell]) - f64::from(surface[next]);
            in_channel |= in_works(cell);
            if in_channel {
                way.channel_m += length_m;
            } else {
                let in_sheet = way.sheet.length_m + length_m <= SHEET_FLOW_M;
                let stretch = if in_sheet { &mut way.sheet } else { &mut way.shallow };
                stretch.length_m += length_m;
                stretch.fall_m += fall_m;
            }
            cell = next;
        }
        way
    }
}

fn farthest(study: &Study) -> Raster<Cell> {
    let flow = study.setting.flow();
    let frame = study.setting.frame();
    let mut cells: Vec<Cell> = study.setting.parties.cells().filter(|&cell| flow.has_data(cell)).collect();
    // More land drains through a cell than through any cell upstream of it.
    cells.sort_unstable_by_key(|&cell| (study.setting.area(cell), cell));
    let mut length = Raster::filled(frame, 0.0_f32);
    let mut start = Raster { frame, values: (0..frame.len()).map(Cell).collect() };
    for cell in cells {
        if let Some(next) = flow.receiver(cell) {
            let reaching = length[cell] + frame.distance(cell, next) as f32;
            if reaching > length[next] {
                length[next] = reaching;
                start[next] = start[cell];
            }
        }
    }
    start
}

fn metres(value: f64) -> Metres {
    Metres::from_metres(value).expect("a length of cells is finite")
}
