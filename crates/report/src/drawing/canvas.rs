//! Drawing in SVG, in millimetres.

use std::fmt::Write;

use crate::escape::html;

/// A rectangle, millimetres from the sheet's upper left corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Area {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) width: f64,
    pub(crate) height: f64,
}

impl Area {
    pub(crate) fn right(self) -> f64 {
        self.x + self.width
    }

    pub(crate) fn bottom(self) -> f64 {
        self.y + self.height
    }
}

/// Letters of a text. Sizes are the height of the font in millimetres.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Letters {
    pub(crate) size: f64,
    pub(crate) bold: bool,
    pub(crate) anchor: &'static str,
    pub(crate) halo: bool,
}

impl Letters {
    pub(crate) const fn plain(size: f64) -> Self {
        Self { size, bold: false, anchor: "start", halo: false }
    }

    pub(crate) const fn bold(size: f64) -> Self {
        Self { bold: true, ..Self::plain(size) }
    }

    pub(crate) const fn middle(self) -> Self {
        Self { anchor: "middle", ..self }
    }

    pub(crate) const fn end(self) -> Self {
        Self { anchor: "end", ..self }
    }

    pub(crate) const fn halo(self) -> Self {
        Self { halo: true, ..self }
    }

    pub(crate) fn line_height(self) -> f64 {
        self.size * 1.35
    }
}

#[derive(Debug, Default)]
pub(crate) struct Canvas {
    pub(crate) svg: String,
}

impl Canvas {
    /// Adds markup; texts of a case must come through [`html`].
    pub(crate) fn add(&mut self, markup: std::fmt::Arguments) {
        self.svg.write_fmt(markup).expect("writing to a string cannot fail");
    }

    /// A halo is a text of its own beneath: as a part of the same text, the halo of a letter would cover the letter before it in
    /// a PDF.
    pub(crate) fn text(&mut self, at: (f64, f64), text: &str, letters: Letters) {
        if letters.halo {
            self.painted(at, text, letters, " fill=\"none\" stroke=\"#fff\" stroke-width=\"0.9\"");
        }
        self.painted(at, text, letters, "");
    }

    fn painted(&mut self, (x, y): (f64, f64), text: &str, letters: Letters, paint: &str) {
        let weight = if letters.bold { " font-weight=\"700\"" } else { "" };
        self.add(format_args!(
            "<text x=\"{x:.2}\" y=\"{y:.2}\" font-size=\"{}\" text-anchor=\"{}\"{weight}{paint}>{}</text>\n",
            letters.size,
            letters.anchor,
            html(text)
        ));
    }

    /// Lines of words no wider than the area; the height that they take.
    pub(crate) fn paragraph(&mut self, (x, y): (f64, f64), width: f64, text: &str, letters: Letters) -> f64 {
        let lines = wrapped(text, width, letters);
        for (i, line) in (0_u32..).zip(&lines) {
            self.text((x, y + letters.size + f64::from(i) * letters.line_height()), line, letters);
        }
        lines.len() as f64 * letters.line_height()
    }

    pub(crate) fn line(&mut self, (x1, y1): (f64, f64), (x2, y2): (f64, f64), width: f64) {
        self.add(format_args!(
            "<line x1=\"{x1:.2}\" y1=\"{y1:.2}\" x2=\"{x2:.2}\" y2=\"{y2:.2}\" stroke=\"#000\" stroke-width=\"{width}\"/>\n"
        ));
    }

    pub(crate) fn frame(&mut self, area: Area, width: f64) {
        let Area { x, y, width: across, height } = area;
        self.add(format_args!(
            "<rect x=\"{x:.2}\" y=\"{y:.2}\" width=\"{across:.2}\" height=\"{height:.2}\" fill=\"none\" stroke=\"#000\" stroke-width=\"{width}\"/>\n"
        ));
    }

    /// A circle with a number or a word.
    pub(crate) fn number(&mut self, (x, y): (f64, f64), text: &str) {
        let across = (text_width(text, Letters::bold(2.9)) + 1.6).max(4.4);
        self.add(format_args!(
            "<rect x=\"{:.2}\" y=\"{:.2}\" width=\"{across:.2}\" height=\"4.4\" rx=\"2.2\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"0.4\"/>\n",
            x - across / 2.0,
            y - 2.2
        ));
        self.text((x, y + 1.05), text, Letters::bold(2.9).middle());
    }

    pub(crate) fn start_sign(&mut self, (x, y): (f64, f64)) {
        self.add(format_args!(
            "<rect x=\"{:.2}\" y=\"{:.2}\" width=\"2.6\" height=\"2.6\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"0.6\"/>\n",
            x - 1.3,
            y - 1.3
        ));
    }

    pub(crate) fn end_sign(&mut self, (x, y): (f64, f64)) {
        self.add(format_args!(
            "<path d=\"M{x:.2} {:.2} l1.9 1.9 l-1.9 1.9 l-1.9 -1.9 z\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"0.6\"/>\n",
            y - 1.9
        ));
    }
}

/// Points of a path as SVG has them.
pub(crate) fn path_data(points: impl IntoIterator<Item = (f64, f64)>) -> String {
    let mut data = String::new();
    for (i, (x, y)) in points.into_iter().enumerate() {
        write!(data, "{}{x:.2} {y:.2}", if i == 0 { "M" } else { "L" }).expect("writing to a string cannot fail");
    }
    data
}

/// Words in lines; a word that is wider than the line is broken.
pub(crate) fn wrapped(text: &str, width: f64, letters: Letters) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for part in text.lines() {
        let mut line = String::new();
        for word in part.split_whitespace() {
            let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
            if text_width(&longer, letters) <= width {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for character in word.chars() {
                if !line.is_empty() && text_width(&format!("{line}{character}"), letters) > width {
                    lines.push(std::mem::take(&mut line));
                }
                line.push(character);
            }
        }
        lines.push(line);
    }
    lines
}

/// Lines that a text takes at a width, as they are drawn in the body.
pub(crate) fn lines_of(text: &str, width: f64, letters: Letters) -> usize {
    wrapped(text, width, letters).len()
}

/// A text cut to a width, with an ellipsis where it was.
pub(crate) fn fitted(text: &str, width: f64, letters: Letters) -> String {
    if text_width(text, letters) <= width {
        return text.to_owned();
    }
    let mut cut = String::new();
    for character in text.chars() {
        if text_width(&format!("{cut}{character}…"), letters) > width {
            break;
        }
        cut.push(character);
    }
    cut + "…"
}

/// Widths of the font `DejaVu` Sans in thousandths of its size, by groups of letters, the widest of each (from memory);
/// the other fonts named are narrower.
pub(crate) fn text_width(text: &str, letters: Letters) -> f64 {
    let of = |character: char| match character {
        'i' | 'j' | 'l' | '\'' => 278.0,
        ' ' | '.' | ',' => 318.0,
        'I' | 'J' | '|' | ':' | ';' | '/' | '-' | 't' | 'f' | 'r' | '(' | ')' | '[' | ']' | '!' => 412.0,
        'm' | 'w' | 'M' | 'W' | '@' | '%' | '…' | '—' => 1000.0,
        'A'..='Z' | '+' | '=' | '<' | '>' => 787.0,
        'a'..='z' | '0'..='9' => 636.0,
        character if character.is_ascii() => 700.0,
        _ => 1000.0,
    };
    let thousandths: f64 = text.chars().map(of).sum();
    thousandths / 1000.0 * letters.size * if letters.bold { 1.12 } else { 1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_wrapped_and_long_ones_broken() {
        let check = |text, width, expected: &[&str]| assert_eq!(wrapped(text, width, Letters::plain(1.0)), expected);
        check("one two", 100.0, &["one two"]);
        check("one two", 2.5, &["one", "two"]);
        check("aaaaaa", 2.0, &["aaa", "aaa"]);
        check("", 2.0, &[]);
        assert_eq!(fitted("aaaaaa", 3.0, Letters::plain(1.0)), "aaa…");
    }

    #[test]
    fn markup_in_a_text_stays_text() {
        let mut canvas = Canvas::default();
        canvas.text((0.0, 0.0), "</text><script>", Letters::plain(3.0));
        assert!(canvas.svg.contains("&lt;/text&gt;&lt;script&gt;"), "{}", canvas.svg);
    }

    #[test]
    fn a_halo_is_a_text_beneath() {
        let mut canvas = Canvas::default();
        canvas.text((0.0, 0.0), "word", Letters::plain(3.0).halo());
        let lines: Vec<&str> = canvas.svg.lines().collect();
        assert_eq!(lines.len(), 2);
        assert!(lines[0].contains("fill=\"none\" stroke=\"#fff\"") && !lines[1].contains("stroke"), "{lines:?}");
    }
}
