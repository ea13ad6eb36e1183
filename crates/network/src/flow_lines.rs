//! Lines of flow that many paths share.

use fallwright_units::{Cell, Raster};

use crate::Setting;

/// A stretch between places where lines join or begin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FlowLine {
    /// In the direction of flow; the last is the first cell of the next line, or where the water meets a lawful outlet or ends.
    pub cells: Vec<Cell>,
    /// Position of the line that it runs into.
    pub next: Option<usize>,
}

/// Lines down to the first lawful outlet or the end of the water.
#[derive(Clone, Debug, PartialEq)]
pub struct FlowLines {
    pub list: Vec<FlowLine>,
    /// Position of a cell among all lines' own cells, one line after the other, and 1.
    place: Raster<u32>,
    /// Place of each line's first cell.
    first: Vec<u32>,
}

impl FlowLines {
    /// The line that a cell is on and its position along it.
    pub fn at(&self, cell: Cell) -> Option<(usize, usize)> {
        let place = self.place[cell].checked_sub(1)?;
        let line = self.first.partition_point(|&first| first <= place) - 1;
        Some((line, (place - self.first[line]) as usize))
    }
}

/// The lines along which at least `least_cells` drain, and those from every cell of `starts` on; each start begins a line.
///
/// *Complexity*: O(n + s log s) for n cells and s starts.
pub fn flow_lines(setting: &Setting, starts: &[Cell], least_cells: u64) -> FlowLines {
    let flow = setting.flow();
    let is_open = |cell: Cell| flow.has_data(cell) && setting.lawful_at(cell).is_none();
    let mut on_line = Raster::filled(setting.frame(), false);
    for cell in setting.parties.cells().filter(|&cell| setting.area(cell) >= least_cells && is_open(cell)) {
        on_line[cell] = true;
    }
    for &start in starts {
        for cell in flow.path(start).take_while(|&cell| is_open(cell)) {
            if std::mem::replace(&mut on_line[cell], true) {
                break;
            }
        }
    }
    let mut arriving = Raster::filled(setting.frame(), 0_u8);
    for cell in setting.parties.cells().filter(|&cell| on_line[cell]) {
        if let Some(next) = flow.receiver(cell) {
            arriving[next] = arriving[next].saturating_add(1);
        }
    }
    for &start in starts {
        arriving[start] = 0;
    }
    let begins = |cell: Cell| on_line[cell] && arriving[cell] != 1;
    let heads: Vec<Cell> = setting.parties.cells().filter(|&cell| begins(cell)).collect();
    let mut place = Raster::filled(setting.frame(), 0_u32);
    let (mut list, mut first, mut places) = (Vec::new(), Vec::new(), 0);
    for &head in &heads {
        first.push(places);
        let mut cells = vec![head];
        let mut cell = head;
        loop {
            places += 1;
            place[cell] = places;
            let Some(next) = flow.receiver(cell) else { break };
            cells.push(next);
            if begins(next) || !on_line[next] {
                break;
            }
            cell = next;
        }
        list.push(FlowLine { cells, next: None });
    }
    let mut lines = FlowLines { list, place, first };
    for position in 0..lines.list.len() {
        let last = lines.list[position].cells.last().copied();
        let next = last.and_then(|last| lines.at(last)).map(|(next, _)| next);
        lines.list[position].next = next.filter(|&next| next != position);
    }
    lines
}
