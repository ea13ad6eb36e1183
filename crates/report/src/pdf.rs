//! Sheets as the pages of one PDF, text kept as text, without a browser.
//!
//! Each page is an SVG with its size in millimetres. The bytes depend on the pages, the fonts and the day of the run alone.

mod error;
mod fonts;
mod missing;

pub(crate) use error::{MissingGlyph, PdfError};
pub(crate) use fonts::Fonts;

use krilla::Document;
use krilla::geom::Size;
use krilla::metadata::{DateTime, Metadata};
use krilla::page::PageSettings;
use krilla_svg::{SurfaceExt, SvgSettings};
use rayon::prelude::*;
use usvg::{FontResolver, ImageHrefResolver, Options, Tree};

use self::missing::MissingGlyphs;

/// Points in a pixel of SVG: 72 and 96 to the inch (CSS Values and Units 3, 6.2).
const POINTS_PER_PIXEL: f32 = 0.75;

/// A PDF that grows by a few pages at a time, so that no more than these are held as SVG.
pub(crate) struct PdfPages {
    fonts: Fonts,
    options: Options<'static>,
    document: Document,
    pages: usize,
    missing: MissingGlyphs,
}

impl PdfPages {
    pub(crate) fn new(fonts: &Fonts) -> Self {
        Self {
            fonts: fonts.clone(),
            options: options(fonts),
            document: Document::new(),
            pages: 0,
            missing: MissingGlyphs::default(),
        }
    }

    /// Adds a page for each SVG, of its own size. Texts are set in parallel.
    ///
    /// # Errors
    /// Markup that is no SVG.
    pub(crate) fn add(&mut self, svgs: &[impl AsRef<str> + Sync]) -> Result<(), PdfError> {
        let read = svgs.par_iter().map(|svg| Tree::from_str(svg.as_ref(), &self.options));
        for tree in read.collect::<Vec<_>>() {
            self.pages += 1;
            self.add_page(&tree.map_err(|error| self.unreadable(error.to_string()))?)?;
        }
        Ok(())
    }

    fn add_page(&mut self, tree: &Tree) -> Result<(), PdfError> {
        self.missing.collect(tree.root(), &self.fonts);
        let [width, height] = [tree.size().width(), tree.size().height()].map(|pixels| pixels * POINTS_PER_PIXEL);
        let size =
            Size::from_wh(width, height).ok_or_else(|| self.unreadable(format!("{width} by {height} points")))?;
        let mut page = self.document.start_page_with(PageSettings::new(size));
        let mut surface = page.surface();
        let drawn = surface.draw_svg(tree, size, SvgSettings::default());
        surface.finish();
        page.finish();
        drawn.ok_or_else(|| self.unreadable("cannot be drawn".to_owned()))
    }

    fn unreadable(&self, reason: String) -> PdfError {
        PdfError::Svg { page: self.pages, reason }
    }

    /// The bytes, with a title and the day of the run, as `2026-11-25`.
    ///
    /// # Errors
    /// Characters that no font has, all of them.
    pub(crate) fn finish(mut self, title: &str, run_date: &str) -> Result<Vec<u8>, PdfError> {
        let missing = self.missing.into_list();
        if !missing.is_empty() {
            return Err(PdfError::MissingGlyphs(missing));
        }
        self.document.set_metadata(metadata(title, run_date));
        self.document.finish().map_err(|error| PdfError::Writing(error.to_string()))
    }
}

/// Only the fonts given, and only pictures that the SVG itself holds.
fn options(fonts: &Fonts) -> Options<'static> {
    Options {
        fontdb: fonts.database.clone(),
        font_resolver: FontResolver {
            select_font: FontResolver::default_font_selector(),
            select_fallback: Box::new(|character, tried, database| fonts::fallback(character, tried, database)),
        },
        image_href_resolver: ImageHrefResolver {
            resolve_data: ImageHrefResolver::default_data_resolver(),
            resolve_string: Box::new(|_, _| None),
        },
        ..Options::default()
    }
}

fn metadata(title: &str, run_date: &str) -> Metadata {
    let creator = concat!("Fallwright ", env!("CARGO_PKG_VERSION"));
    let about = Metadata::new().title(title.to_owned()).creator(creator.to_owned()).language("en".to_owned());
    match date(run_date) {
        Some(date) => about.creation_date(date),
        None => about,
    }
}

fn date(run_date: &str) -> Option<DateTime> {
    let mut parts = run_date.splitn(3, '-');
    let year = parts.next()?.parse().ok()?;
    let mut part = || parts.next()?.parse().ok();
    Some(DateTime::new(year).month(part()?).day(part()?))
}

#[cfg(test)]
mod tests;
