//! Maps on sheets.

use std::sync::Arc;

use geo::{BoundingRect, Coord, LineString, MultiPolygon, Rect};

use super::canvas::{Area, Canvas, Letters, fitted, path_data, text_width};
use crate::escape::html;
use crate::palette::PALETTE;
use crate::relief::Relief;

/// Millimetres between the lines of a hatch, along the sheet's sides, and between dots (our choice).
const HATCH_MM: f64 = 2.4;
const DOTS_MM: f64 = 3.0;
/// Of the colour in which a lake or wide river is filled (our choice).
const WATER_OPACITY: f64 = 0.25;
/// The sign of a parcel's standing, and its label.
const MARK: Letters = Letters::bold(3.4).middle();
const LABEL: Letters = Letters::plain(2.4).middle().halo();
/// The widest letters of a sign.
const SIGN: Letters = Letters::bold(2.9);

/// What a map shows, in projected coordinates, metres.
#[derive(Clone, Debug)]
pub struct SheetMap {
    pub extent: Rect<f64>,
    /// The maps of a case share it, and the parcels, waters and lines.
    pub(crate) relief: Arc<Relief>,
    pub parcels: Arc<[MapParcel]>,
    /// Of each parcel, in their order.
    pub outlines: Vec<Outline>,
    pub waters: Arc<[MapWater]>,
    pub lines: Arc<[MapLine]>,
    pub paths: Vec<MapPath>,
    pub signs: Vec<MapSign>,
}

#[derive(Clone, Debug)]
pub struct MapParcel {
    pub shape: MultiPolygon<f64>,
    /// As the palette names it.
    pub style: &'static str,
    /// Written inside, where there is room.
    pub label: Option<String>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outline {
    Plain,
    /// Of the parcel that the sheet is about.
    Thick,
    /// Of parcels whose water arrives.
    Broken,
}

/// A lake or a wide river with its shores.
#[derive(Clone, Debug)]
pub struct MapWater {
    pub shape: MultiPolygon<f64>,
    /// Of its class among the lines, as the palette names it.
    pub style: &'static str,
}

/// A waterway, a structure or a watershed's limit.
#[derive(Clone, Debug)]
pub struct MapLine {
    pub line: LineString<f64>,
    /// As the palette names it.
    pub style: &'static str,
}

#[derive(Clone, Debug)]
pub struct MapPath {
    pub line: LineString<f64>,
    pub is_main: bool,
}

#[derive(Clone, Debug)]
pub struct MapSign {
    pub at: Coord<f64>,
    pub kind: SignKind,
}

#[derive(Clone, Debug)]
pub enum SignKind {
    Start,
    End,
    /// A number or a short id.
    Number(String),
    /// A station: a tick with its metres.
    Station(String),
}

/// Where metres fall on the sheet.
#[derive(Clone, Copy, Debug)]
pub(crate) struct MapFrame {
    pub(crate) area: Area,
    west: f64,
    north: f64,
    pub(crate) mm_per_m: f64,
}

impl MapFrame {
    /// The whole extent in the middle of the area.
    pub(crate) fn new(area: Area, extent: Rect<f64>) -> Self {
        let (across, up) = (extent.width().max(1.0), extent.height().max(1.0));
        let mm_per_m = (area.width / across).min(area.height / up);
        let centre = extent.center();
        Self {
            area,
            west: centre.x - area.width / mm_per_m / 2.0,
            north: centre.y + area.height / mm_per_m / 2.0,
            mm_per_m,
        }
    }

    /// What the area shows: the extent, and what lies beside it where its sides have another ratio.
    fn shown(self) -> Rect<f64> {
        let (width, height) = (self.area.width / self.mm_per_m, self.area.height / self.mm_per_m);
        Rect::new((self.west, self.north - height), (self.west + width, self.north))
    }

    fn at(self, point: Coord<f64>) -> (f64, f64) {
        (self.area.x + (point.x - self.west) * self.mm_per_m, self.area.y + (self.north - point.y) * self.mm_per_m)
    }

    fn shows(self, shape: Option<Rect<f64>>) -> bool {
        shape.is_some_and(|shape| {
            let (left, top) = self.at(Coord { x: shape.min().x, y: shape.max().y });
            let (right, bottom) = self.at(Coord { x: shape.max().x, y: shape.min().y });
            left <= self.area.right() && right >= self.area.x && top <= self.area.bottom() && bottom >= self.area.y
        })
    }

    /// Whether text that reaches so far from a place to both sides may lie on the map. What lies beside it is clipped, yet a
    /// reader of the PDF would find it among the words of the sheet.
    fn shows_text(self, (x, y): (f64, f64), reach_mm: f64, letters: Letters) -> bool {
        x + reach_mm >= self.area.x
            && x - reach_mm <= self.area.right()
            && y + letters.size >= self.area.y
            && y - letters.size <= self.area.bottom()
    }

    fn line(self, line: &LineString<f64>) -> String {
        path_data(line.0.iter().map(|&point| self.at(point)))
    }

    fn shape(self, shape: &MultiPolygon<f64>) -> String {
        let rings = shape.iter().flat_map(|polygon| std::iter::once(polygon.exterior()).chain(polygon.interiors()));
        rings.map(|ring| self.line(ring) + "Z").collect()
    }
}

pub(crate) fn draw(canvas: &mut Canvas, area: Area, map: &SheetMap, id: usize) -> MapFrame {
    let frame = MapFrame::new(area, map.extent);
    let Area { x, y, width, height } = area;
    canvas.add(format_args!(
        "<clipPath id=\"clip{id}\"><rect x=\"{x:.2}\" y=\"{y:.2}\" width=\"{width:.2}\" height=\"{height:.2}\"/></clipPath>\n<g clip-path=\"url(#clip{id})\">\n"
    ));
    if let Some(shade) = map.relief.within(frame.shown()) {
        let (left, top) = frame.at(Coord { x: shade.extent.min().x, y: shade.extent.max().y });
        canvas.add(format_args!(
            "<image href=\"{}\" x=\"{left:.2}\" y=\"{top:.2}\" width=\"{:.2}\" height=\"{:.2}\" preserveAspectRatio=\"none\"/>\n",
            html(&shade.uri),
            shade.extent.width() * frame.mm_per_m,
            shade.extent.height() * frame.mm_per_m
        ));
    }
    let parcels = map.parcels.iter().zip(&map.outlines);
    let seen: Vec<_> = parcels.filter(|(parcel, _)| frame.shows(parcel.shape.bounding_rect())).collect();
    for (number, (parcel, _)) in seen.iter().enumerate() {
        fill(canvas, frame, parcel, &format!("clip{id}-{number}"));
    }
    for water in map.waters.iter().filter(|water| frame.shows(water.shape.bounding_rect())) {
        let line = PALETTE.line(water.style);
        canvas.add(format_args!(
            "<path d=\"{}\" fill=\"{1}\" fill-opacity=\"{WATER_OPACITY}\" stroke=\"{1}\" stroke-width=\"0.5\"/>\n",
            frame.shape(&water.shape),
            line.colour
        ));
    }
    for line in map.lines.iter().filter(|line| frame.shows(line.line.bounding_rect())) {
        styled(canvas, &frame.line(&line.line), line.style);
    }
    for (parcel, outline) in seen.iter().filter(|(_, outline)| **outline != Outline::Plain) {
        let dash = if **outline == Outline::Broken { " stroke-dasharray=\"1.6 1.2\"" } else { "" };
        let width = if **outline == Outline::Broken { 0.7 } else { 1.2 };
        canvas.add(format_args!(
            "<path d=\"{}\" fill=\"none\" stroke=\"#000\" stroke-width=\"{width}\"{dash}/>\n",
            frame.shape(&parcel.shape)
        ));
    }
    for path in &map.paths {
        self::path(canvas, frame, path);
    }
    for (parcel, _) in &seen {
        mark(canvas, frame, parcel);
    }
    for sign in &map.signs {
        self::sign(canvas, frame, sign);
    }
    canvas.add(format_args!("</g>\n"));
    canvas.frame(area, 0.4);
    frame
}

/// Hatches and dots are drawn one by one, not as a pattern: printed patterns become large pictures.
fn fill(canvas: &mut Canvas, frame: MapFrame, parcel: &MapParcel, clip: &str) {
    let style = PALETTE.standing(parcel.style);
    let shape = frame.shape(&parcel.shape);
    canvas.add(format_args!(
        "<path d=\"{shape}\" fill=\"{}\" fill-opacity=\"0.85\" fill-rule=\"evenodd\" stroke=\"{}\" stroke-width=\"0.25\"/>\n",
        style.fill, PALETTE.outline
    ));
    let (Some(over), Some(bounds)) = (&style.over, parcel.shape.bounding_rect()) else { return };
    let (left, top) = frame.at(Coord { x: bounds.min().x, y: bounds.max().y });
    let (right, bottom) = frame.at(Coord { x: bounds.max().x, y: bounds.min().y });
    let area = frame.area;
    let seen = [left.max(area.x), top.max(area.y), right.min(area.right()), bottom.min(area.bottom())];
    let marks = if style.pattern == "dots" { dots(seen) } else { hatch(seen) };
    let width = if style.pattern == "dots" { 0.6 } else { 0.5 };
    canvas.add(format_args!(
        "<clipPath id=\"{clip}\"><path d=\"{shape}\" clip-rule=\"evenodd\"/></clipPath>\n<path clip-path=\"url(#{clip})\" d=\"{marks}\" stroke=\"{over}\" stroke-width=\"{width}\" stroke-linecap=\"round\"/>\n"
    ));
}

/// A rectangle filled as a parcel of a standing is, with its mark.
pub(crate) fn swatch(canvas: &mut Canvas, area: Area, style: &str) {
    let style = PALETTE.standing(style);
    let Area { x, y, width, height } = area;
    canvas.add(format_args!(
        "<rect x=\"{x:.2}\" y=\"{y:.2}\" width=\"{width}\" height=\"{height}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"0.25\"/>\n",
        style.fill, PALETTE.outline
    ));
    if let Some(over) = &style.over {
        let marks = if style.pattern == "dots" {
            dots([x, y, area.right(), area.bottom()])
        } else {
            let step = width / 4.0;
            let line =
                |i: u32| format!("M{:.2} {:.2}l{step:.2} {:.2}", x + f64::from(i) * step, area.bottom(), -height);
            [0, 1, 2, 3].map(line).concat()
        };
        canvas.add(format_args!("<path d=\"{marks}\" stroke=\"{over}\" stroke-width=\"0.5\"/>\n"));
    }
    canvas.add(format_args!(
        "<text x=\"{:.2}\" y=\"{:.2}\" font-size=\"3\" font-weight=\"700\" text-anchor=\"middle\" fill=\"{}\">{}</text>\n",
        x + width / 2.0,
        area.bottom() - 0.9,
        style.text,
        style.mark
    ));
}

/// Lines at 45° over a rectangle of left, top, right and bottom, millimetres.
fn hatch([left, top, right, bottom]: [f64; 4]) -> String {
    let first = ((left + top) / HATCH_MM).floor() as i64;
    let last = ((right + bottom) / HATCH_MM).ceil() as i64;
    let line = |number: i64| {
        let sum = number as f64 * HATCH_MM;
        format!("M{:.2} {top:.2}L{:.2} {bottom:.2}", sum - top, sum - bottom)
    };
    (first..=last).map(line).collect()
}

fn dots([left, top, right, bottom]: [f64; 4]) -> String {
    let steps = |from: f64, to: f64| (from / DOTS_MM).ceil() as i64..=(to / DOTS_MM).floor() as i64;
    let dot = |col: i64, row: i64| format!("M{:.2} {:.2}h0.01", col as f64 * DOTS_MM, row as f64 * DOTS_MM);
    steps(top, bottom).flat_map(|row| steps(left, right).map(move |col| dot(col, row))).collect()
}

/// The standing's mark, and the label where the parcel is large enough.
fn mark(canvas: &mut Canvas, frame: MapFrame, parcel: &MapParcel) {
    let style = PALETTE.standing(parcel.style);
    let Some(bounds) = parcel.shape.bounding_rect() else { return };
    let (width, height) = (bounds.width() * frame.mm_per_m, bounds.height() * frame.mm_per_m);
    if width.min(height) < 5.0 {
        return;
    }
    let (x, y) = frame.at(bounds.center());
    if frame.shows_text((x, y + 1.2), text_width(&style.mark, MARK) / 2.0, MARK) {
        canvas.add(format_args!(
            "<text x=\"{x:.2}\" y=\"{:.2}\" font-size=\"{}\" font-weight=\"700\" text-anchor=\"middle\" fill=\"{}\">{}</text>\n",
            y + 1.2,
            MARK.size,
            style.text,
            style.mark
        ));
    }
    if let Some(label) = parcel.label.as_ref().filter(|_| width > 18.0 && height > 12.0) {
        let text = fitted(label, width - 2.0, LABEL);
        if frame.shows_text((x, y + 5.2), text_width(&text, LABEL) / 2.0, LABEL) {
            canvas.text((x, y + 5.2), &text, LABEL);
        }
    }
}

/// A line in its palette style, with an arrow head at its end where the style has one.
pub(crate) fn styled(canvas: &mut Canvas, data: &str, style: &str) {
    let line = PALETTE.line(style);
    let dash: Vec<String> = line.dash_mm.iter().map(ToString::to_string).collect();
    let dash = if dash.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{}\"", dash.join(" ")) };
    let arrow = if line.arrow { format!(" marker-end=\"url(#arrow-{style})\"") } else { String::new() };
    let cap = if style == "path" { "round" } else { "butt" };
    if line.casing {
        let width = line.width_mm + 0.9;
        canvas.add(format_args!("<path d=\"{data}\" fill=\"none\" stroke=\"#fff\" stroke-width=\"{width}\"/>\n"));
    }
    canvas.add(format_args!(
        "<path d=\"{data}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\" stroke-linecap=\"{cap}\"{dash}{arrow}/>\n",
        line.colour, line.width_mm
    ));
}

fn path(canvas: &mut Canvas, frame: MapFrame, path: &MapPath) {
    let data = frame.line(&path.line);
    if path.is_main {
        styled(canvas, &data, "path");
    } else {
        canvas.add(format_args!(
            "<path d=\"{data}\" fill=\"none\" stroke=\"#fff\" stroke-width=\"1\"/>\n<path d=\"{data}\" fill=\"none\" stroke=\"#000\" stroke-width=\"0.4\" stroke-linecap=\"round\" stroke-dasharray=\"0.01 0.9\"/>\n"
        ));
    }
}

fn sign(canvas: &mut Canvas, frame: MapFrame, sign: &MapSign) {
    let (x, y) = frame.at(sign.at);
    let text = match &sign.kind {
        SignKind::Start | SignKind::End => "",
        SignKind::Number(text) | SignKind::Station(text) => text,
    };
    if !frame.shows_text((x, y), SIGN.size + text_width(text, SIGN), SIGN) {
        return;
    }
    match &sign.kind {
        SignKind::Start => canvas.start_sign((x, y)),
        SignKind::End => canvas.end_sign((x, y)),
        SignKind::Number(text) => canvas.number((x, y), text),
        SignKind::Station(text) => {
            canvas.add(format_args!("<circle cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"0.7\" fill=\"#000\"/>\n"));
            canvas.text((x + 1.4, y - 1.0), text, Letters::plain(2.2).halo());
        }
    }
}

/// Arrow heads; once on every sheet.
pub(crate) fn definitions(canvas: &mut Canvas) {
    canvas.add(format_args!("<defs>\n"));
    for style in PALETTE.lines.iter().filter(|style| style.arrow) {
        canvas.add(format_args!(
            "<marker id=\"arrow-{}\" viewBox=\"0 0 10 10\" refX=\"8\" refY=\"5\" markerWidth=\"2.6\" markerHeight=\"2.6\" orient=\"auto\" markerUnits=\"userSpaceOnUse\"><path d=\"M0 0L10 5L0 10z\" fill=\"{}\"/></marker>\n",
            style.id, style.colour
        ));
    }
    canvas.add(format_args!("</defs>\n"));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_beside_the_map_is_left_out() {
        let area = Area { x: 10.0, y: 10.0, width: 100.0, height: 50.0 };
        let frame = MapFrame::new(area, Rect::new((0.0, 0.0), (1000.0, 500.0)));
        let check = |at, expected| assert_eq!(frame.shows_text(at, 5.0, Letters::plain(3.0)), expected, "{at:?}");
        check((60.0, 30.0), true);
        check((114.0, 30.0), true);
        check((116.0, 30.0), false);
        check((4.0, 30.0), false);
        check((60.0, 6.0), false);
        check((60.0, 64.0), false);
    }
}
