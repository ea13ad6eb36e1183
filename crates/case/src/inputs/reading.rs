//! What reading a layer needs to know, and where it leaves its faults and notes.

use fallwright_geodata::{Crs, Problem, Projector};
use fallwright_hydraulics::Defaults;
use fallwright_law::Profile;
use fallwright_units::Frame;

use super::note::Note;

pub(crate) struct Reading<'a> {
    pub crs: &'a Crs,
    /// The same where the case file states it: then layers whose own system names no place are in it.
    pub stated_crs: Option<&'a Crs>,
    /// To longitude and latitude, in which results are written.
    pub to_lonlat: &'a Projector,
    pub frame: &'a Frame,
    /// The case file, for faults of what it says of a layer.
    pub case_file: &'a str,
    /// `None` where there is a fault in it; then classes are not checked.
    pub profile: Option<&'a Profile>,
    /// `None` where there is a fault in them; then materials are not checked.
    pub defaults: Option<&'a Defaults>,
    /// Whether the case has no waterways, pipes and culverts but those that were read; otherwise an id of a drain that is not
    /// known may be right.
    pub drains_are_known: bool,
    /// Metres of mean width up to which ground is a misfit of two surveys.
    pub sliver_m: f64,
    /// Whether polygons of the layer that is being read are mended.
    pub repair: bool,
    pub problems: Vec<Problem>,
    pub notes: Vec<Note>,
}
