//! Sheets to print: a title that states the finding, maps, profiles and tables, and the furniture of every drawing.
//!
//! A sheet is one SVG in millimetres, so that a PDF page and the SVG file are the same drawing.

pub(crate) mod canvas;
mod furniture;
pub(crate) mod map;
mod paper;
mod profile;
mod sheet;

pub(crate) use map::{MapLine, MapParcel, MapPath, MapSign, MapWater, Outline, SheetMap, SignKind};
pub use paper::Paper;
pub use sheet::Sheet;
pub(crate) use sheet::{Block, Table};

use self::canvas::{Area, Canvas, Letters, fitted};
use self::profile::{Shown, draw as draw_profile};
use crate::escape::html;

const MARGIN_MM: f64 = 11.0;
const GAP_MM: f64 = 3.0;
/// A map is at least this high, millimetres; what does not fit beside it is cut off with a remark.
const LEAST_MAP_MM: f64 = 70.0;
/// A profile is never drawn lower (our choice).
const LEAST_PROFILE_MM: f64 = 26.0;

/// The sheet, and further ones for the blocks for which it has no room.
pub(crate) fn paged(mut sheet: Sheet) -> Vec<Sheet> {
    let (width, height) = size_mm(&sheet);
    let inner_mm = width - 2.0 * MARGIN_MM;
    let inner = Area { x: 0.0, y: 0.0, width: inner_mm, height: height - 2.0 * MARGIN_MM };
    let foot_mm = furniture::height_mm(&sheet, inner_mm);
    let room_mm = inner.height - heading(&mut Canvas::default(), inner, &sheet) - foot_mm;
    let ends = sheet.blocks.iter().scan(0.0, |end, block| {
        *end += least_mm(block, inner_mm) + GAP_MM;
        Some(*end)
    });
    let fitting = ends.take_while(|&end| end <= room_mm).count().max(1);
    if fitting >= sheet.blocks.len() {
        return vec![sheet];
    }
    let blocks = sheet.blocks.split_off(fitting);
    let title = format!("{} (continued)", sheet.title.trim_end_matches(" (continued)"));
    let next = Sheet { title, lines: Vec::new(), blocks, ..sheet.clone() };
    std::iter::once(sheet).chain(paged(next)).collect()
}

/// The height below which a block cannot be drawn, millimetres.
fn least_mm(block: &Block, width: f64) -> f64 {
    match block {
        Block::Map(_) => LEAST_MAP_MM,
        Block::Profile { height_mm, .. } => LEAST_PROFILE_MM.min(*height_mm),
        other => words(&mut Canvas::default(), Area { x: 0.0, y: 0.0, width, height: 0.0 }, other),
    }
}

/// The sheet as one SVG.
pub(crate) fn sheet_svg(sheet: &Sheet) -> String {
    let (width, height) = size_mm(sheet);
    let mut canvas = Canvas::default();
    canvas.add(format_args!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" viewBox=\"0 0 {width} {height}\" font-family=\"'DejaVu Sans', Verdana, Arial, sans-serif\" role=\"img\" aria-label=\"{}\">\n<title>{}</title>\n<rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>\n",
        html(&sheet.title),
        html(&sheet.title)
    ));
    map::definitions(&mut canvas);
    let inner = Area { x: MARGIN_MM, y: MARGIN_MM, width: width - 2.0 * MARGIN_MM, height: height - 2.0 * MARGIN_MM };
    let mut y = inner.y + heading(&mut canvas, inner, sheet);
    let foot_mm = furniture::height_mm(sheet, inner.width);
    let bottom = inner.bottom() - foot_mm;
    let free_mm = bottom - y - fixed_mm(sheet, inner.width);
    let map_mm = free_mm.max(LEAST_MAP_MM);
    // Where words leave the map too little room, the profile gives way.
    let has_map = sheet.blocks.iter().any(|block| matches!(block, Block::Map(_)));
    let lacking_mm = if has_map { (LEAST_MAP_MM - free_mm).max(0.0) } else { 0.0 };
    let mut shown = furniture::Shown::default();
    for (id, block) in sheet.blocks.iter().enumerate() {
        let area = Area { x: inner.x, y, width: inner.width, height: map_mm };
        let used = match block {
            Block::Map(map) => {
                shown.map = Some(map::draw(&mut canvas, area, map, id));
                map_mm
            }
            Block::Profile { profile, stretch, exaggeration, height_mm } => {
                let (from_m, to_m) = stretch.unwrap_or((0.0, profile.length_m()));
                let stretch = Shown { from_m, to_m, exaggeration: *exaggeration };
                let height = (height_mm - lacking_mm).max(LEAST_PROFILE_MM.min(*height_mm));
                let area = Area { height, ..area };
                shown.profile = Some((draw_profile(&mut canvas, area, profile, stretch), profile.start.clone()));
                height
            }
            other => words(&mut canvas, area, other),
        };
        y += used + GAP_MM;
    }
    let foot = Area { y: bottom, height: foot_mm, ..inner };
    furniture::draw(&mut canvas, foot, sheet, &shown);
    canvas.svg + "</svg>\n"
}

pub(crate) fn size_mm(sheet: &Sheet) -> (f64, f64) {
    let (width, height) = sheet.paper.upright_mm();
    if sheet.landscape { (height, width) } else { (width, height) }
}

const TITLE: Letters = Letters::bold(5.4);
const LINE: Letters = Letters::plain(3.3);
const BODY: Letters = Letters::plain(3.5);
const ITEM: Letters = Letters::plain(3.3);
const CELL: Letters = Letters::plain(2.9);

fn heading(canvas: &mut Canvas, inner: Area, sheet: &Sheet) -> f64 {
    let mut used = canvas.paragraph((inner.x, inner.y), inner.width, &sheet.title, TITLE);
    for line in &sheet.lines {
        used += canvas.paragraph((inner.x, inner.y + used), inner.width, line, LINE);
    }
    used + GAP_MM
}

/// What the blocks beside the map take, millimetres.
fn fixed_mm(sheet: &Sheet, width: f64) -> f64 {
    let of = |block: &Block| match block {
        Block::Map(_) => 0.0,
        Block::Profile { height_mm, .. } => *height_mm,
        other => least_mm(other, width),
    };
    sheet.blocks.iter().map(|block| of(block) + GAP_MM).sum()
}

/// Draws text, items or a table; the height that they take.
fn words(canvas: &mut Canvas, area: Area, block: &Block) -> f64 {
    match block {
        Block::Text(text) => canvas.paragraph((area.x, area.y), area.width, text, BODY),
        Block::Small(text) => canvas.paragraph((area.x, area.y), area.width, text, CELL),
        Block::Items(items) => {
            let mut used = 0.0;
            for (sign, text) in items {
                item_sign(canvas, (area.x + 3.2, area.y + used + 2.4), sign);
                used += canvas.paragraph((area.x + 8.5, area.y + used), area.width - 8.5, text, ITEM).max(5.2);
            }
            used
        }
        Block::Table(table) => draw_table(canvas, area, table),
        Block::Map(_) | Block::Profile { .. } => 0.0,
    }
}

fn item_sign(canvas: &mut Canvas, at: (f64, f64), sign: &str) {
    match sign {
        "□" => canvas.start_sign(at),
        "◇" => canvas.end_sign(at),
        number => canvas.number(at, number),
    }
}

fn draw_table(canvas: &mut Canvas, area: Area, table: &Table) -> f64 {
    let step = CELL.line_height() + 0.8;
    let parts: f64 = table.widths.iter().sum();
    let lefts: Vec<f64> = table
        .widths
        .iter()
        .scan(area.x, |x, part| {
            let left = *x;
            *x += part / parts * area.width;
            Some(left)
        })
        .collect();
    let mut row = |y: f64, cells: &[String], letters: Letters| {
        for (column, cell) in cells.iter().enumerate() {
            let width = table.widths[column] / parts * area.width - 2.0;
            let text = fitted(cell, width, letters);
            if table.figures[column] {
                canvas.text((lefts[column] + width, y), &text, letters.end());
            } else {
                canvas.text((lefts[column], y), &text, letters);
            }
        }
    };
    row(area.y + step, &table.heads, Letters { bold: true, ..CELL });
    let shown = table.rows.len().min(table.most_rows);
    let mut y = area.y + step;
    for cells in &table.rows[..shown] {
        y += step;
        row(y, cells, CELL);
    }
    canvas.line((area.x, area.y + step + 1.2), (area.right(), area.y + step + 1.2), 0.25);
    if table.rows.len() > shown {
        y += step;
        let left = table.rows.len() - shown;
        canvas.text((area.x, y), &format!("and {left} more, which the overview page lists"), CELL);
    }
    y + 1.5 - area.y
}
