//! What stands on a sheet to print.

use super::map::SheetMap;
use super::paper::Paper;
use crate::overview::Furniture;
use crate::profile::Profile;

/// One page.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// States the finding.
    pub title: String,
    pub lines: Vec<String>,
    pub paper: Paper,
    pub landscape: bool,
    pub blocks: Vec<Block>,
    pub furniture: Furniture,
    /// Page and pages.
    pub page: (usize, usize),
}

/// What stands on a sheet, from top to bottom. The map takes the room that is left.
#[derive(Clone, Debug)]
pub enum Block {
    Map(SheetMap),
    /// The whole of a profile, or a stretch of it, with its height in millimetres.
    Profile {
        profile: Profile,
        stretch: Option<(f64, f64)>,
        exaggeration: Option<f64>,
        height_mm: f64,
    },
    Text(String),
    Small(String),
    /// Signs with words: a number or a short word, then what it stands for.
    Items(Vec<(String, String)>),
    Table(Table),
}

/// Rows of text under heads; widths are parts of the whole.
#[derive(Clone, Debug)]
pub struct Table {
    pub heads: Vec<String>,
    pub widths: Vec<f64>,
    /// Columns of figures, set to the right.
    pub figures: Vec<bool>,
    pub rows: Vec<Vec<String>>,
    /// Rows are left out beyond the room, and their number is said.
    pub most_rows: usize,
}
