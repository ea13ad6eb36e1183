//! What every drawing carries: legend, north arrow, scale bar, reference systems, sources, date, version, caution, page.

use super::canvas::{Area, Canvas, Letters, lines_of, text_width};
use super::map::{MapFrame, SheetMap, styled, swatch as map_swatch};
use super::profile::ProfileScale;
use super::sheet::{Block, Sheet};
use crate::palette::PALETTE;

const SMALL: Letters = Letters::plain(2.5);
const CAUTION: Letters = Letters::bold(2.8);
const LEGEND: Letters = Letters::plain(2.7);
const LEGEND_ROW_MM: f64 = 5.0;
const SWATCH_MM: f64 = 9.0;

/// What was drawn, for the list of scales.
#[derive(Debug, Default)]
pub(super) struct Shown {
    pub(super) map: Option<MapFrame>,
    pub(super) profile: Option<(ProfileScale, String)>,
}

pub(super) fn height_mm(sheet: &Sheet, width: f64) -> f64 {
    let legend = legend_rows(&entries(sheet), width).len() as f64 * LEGEND_ROW_MM;
    let scale = if sheet.blocks.iter().any(|block| matches!(block, Block::Map(_))) { 9.0 } else { 0.0 };
    let profile = if sheet.blocks.iter().any(|block| matches!(block, Block::Profile { .. })) { 4.0 } else { 0.0 };
    let small =
        facts(sheet).iter().map(|fact| lines_of(fact, width, SMALL)).sum::<usize>() as f64 * SMALL.line_height();
    let caution = lines_of(&sheet.furniture.caution, width, CAUTION) as f64 * CAUTION.line_height();
    scale + profile + legend + small + caution + 5.0
}

pub(super) fn draw(canvas: &mut Canvas, area: Area, sheet: &Sheet, shown: &Shown) {
    let mut y = area.y;
    if let Some(map) = shown.map {
        north_and_scale(canvas, (area.x, y), map);
        y += 9.0;
    }
    if let Some((scale, start)) = &shown.profile {
        let text = format!(
            "Profile: heights drawn {} times as large as lengths, from the drawn scales. Station 0+00: {start}.",
            times(scale.exaggeration())
        );
        canvas.text((area.x, y + SMALL.size), &text, SMALL);
        y += 4.0;
    }
    for row in legend_rows(&entries(sheet), area.width) {
        let mut x = area.x;
        for (entry, width) in row {
            swatch(canvas, (x, y), &entry);
            canvas.text((x + SWATCH_MM + 1.5, y + 3.3), &entry.label, LEGEND);
            x += width;
        }
        y += LEGEND_ROW_MM;
    }
    for fact in facts(sheet) {
        y += canvas.paragraph((area.x, y), area.width, &fact, SMALL);
    }
    canvas.line((area.x, y + 0.8), (area.right(), y + 0.8), 0.3);
    canvas.paragraph((area.x, y + 1.6), area.width, &sheet.furniture.caution, CAUTION);
}

fn facts(sheet: &Sheet) -> Vec<String> {
    let furniture = &sheet.furniture;
    let sources: Vec<String> = furniture
        .sources
        .iter()
        .map(|source| {
            source.date.as_ref().map_or_else(|| source.name.clone(), |date| format!("{} ({date})", source.name))
        })
        .collect();
    vec![
        format!(
            "{}. Coordinates: {}. Heights: {}. Data: {}.",
            furniture.title,
            furniture.crs,
            furniture.heights,
            sources.join(", ")
        ),
        format!(
            "Run {} with Fallwright {}, settings {}, rules {}. Page {} of {}.",
            furniture.run_date,
            furniture.version,
            furniture.settings_digest,
            furniture.profile,
            sheet.page.0,
            sheet.page.1
        ),
    ]
}

/// Both stand outside the map's frame.
fn north_and_scale(canvas: &mut Canvas, (x, y): (f64, f64), map: MapFrame) {
    canvas.add(format_args!("<path d=\"M{:.2} {:.2}l1.8 5l-1.8 -1.2l-1.8 1.2z\" fill=\"#000\"/>\n", x + 2.0, y + 0.6));
    canvas.text((x + 5.0, y + 4.6), "N", Letters::bold(3.6));
    let most = map.area.width / 3.0 / map.mm_per_m;
    let ten = 10_f64.powf(most.log10().floor());
    let length = [5.0, 2.0, 1.0].into_iter().map(|times| times * ten).find(|&length| length <= most).unwrap_or(ten);
    let (left, width) = (x + 12.0, length * map.mm_per_m);
    canvas.add(format_args!(
        "<path d=\"M{left:.2} {:.2}v2.4h{width:.2}v-2.4M{:.2} {:.2}v1.2\" fill=\"none\" stroke=\"#000\" stroke-width=\"0.4\"/>\n",
        y + 2.2,
        left + width / 2.0,
        y + 3.4
    ));
    let text = if length >= 1000.0 { format!("{} km", length / 1000.0) } else { format!("{length} m") };
    canvas.text((left + width + 1.5, y + 4.6), &text, Letters::plain(3.0));
}

#[derive(Clone, Debug)]
struct Entry {
    /// A standing or a line of the palette; `start`, `end` and `number` for signs.
    id: String,
    label: String,
}

/// Only what the sheet shows.
fn entries(sheet: &Sheet) -> Vec<Entry> {
    let maps = sheet.blocks.iter().filter_map(|block| match block {
        Block::Map(map) => Some(map),
        _ => None,
    });
    let maps: Vec<&SheetMap> = maps.collect();
    let mut entries = Vec::new();
    let mut add = |id: &str, label: &str| entries.push(Entry { id: id.to_owned(), label: label.to_owned() });
    for style in &PALETTE.standings {
        if maps.iter().any(|map| map.parcels.iter().any(|parcel| parcel.style == style.id)) {
            add(&style.id, &style.label);
        }
    }
    for style in &PALETTE.lines {
        let is_drawn = |map: &&SheetMap| {
            map.lines.iter().any(|line| line.style == style.id)
                || map.waters.iter().any(|water| water.style == style.id)
        };
        let drawn = maps.iter().any(is_drawn);
        let is_path = style.id == "path" && maps.iter().any(|map| map.paths.iter().any(|path| path.is_main));
        if drawn || is_path {
            add(&style.id, &style.label);
        }
    }
    if maps.iter().any(|map| map.paths.iter().any(|path| path.is_main)) {
        add("start", "start");
        add("end", "outlet or end");
    }
    entries
}

fn legend_rows(entries: &[Entry], width: f64) -> Vec<Vec<(Entry, f64)>> {
    let mut rows: Vec<Vec<(Entry, f64)>> = Vec::new();
    let mut left = 0.0;
    for entry in entries {
        let own = SWATCH_MM + 5.0 + text_width(&entry.label, LEGEND);
        if own > left {
            rows.push(Vec::new());
            left = width;
        }
        left -= own;
        if let Some(row) = rows.last_mut() {
            row.push((entry.clone(), own));
        }
    }
    rows
}

fn swatch(canvas: &mut Canvas, (x, y): (f64, f64), entry: &Entry) {
    let middle = y + 2.3;
    match entry.id.as_str() {
        "start" => canvas.start_sign((x + SWATCH_MM / 2.0, middle)),
        "end" => canvas.end_sign((x + SWATCH_MM / 2.0, middle)),
        id if PALETTE.lines.iter().any(|style| style.id == id) => {
            styled(canvas, &format!("M{x:.2} {middle:.2}h{SWATCH_MM}"), id);
        }
        id => map_swatch(canvas, Area { x, y: y + 0.3, width: SWATCH_MM, height: 4.0 }, id),
    }
}

/// A factor, with decimals below 1, where a whole number would say nothing.
fn times(factor: f64) -> String {
    if factor < 1.0 { format!("{factor:.2}") } else { format!("{factor:.0}") }
}
