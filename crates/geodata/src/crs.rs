//! Coordinate reference systems and transformations between them.

use std::cell::OnceCell;
use std::ffi::{CStr, CString};
use std::fmt::Display;
use std::ptr;

use fallwright_units::VerticalUnit;
use gdal::spatial_ref::{AxisMappingStrategy, CoordTransform, CoordTransformOptions, SpatialRef};
use geo::MapCoords;

use crate::GeodataError;
use crate::library::{attempt, trapped};

/// Authorities whose codes PROJ's own database holds.
const AUTHORITIES: [&str; 5] = ["EPSG", "ESRI", "OGC", "IGNF", "IAU_2015"];

/// First words of a reference system in WKT (OGC 18-010r7, clause 7 onwards, and the older OGC 01-009).
const WKT_WORDS: [&str; 15] = [
    "GEOGCS",
    "PROJCS",
    "COMPD_CS",
    "GEOCCS",
    "LOCAL_CS",
    "GEOGCRS",
    "GEOGRAPHICCRS",
    "GEODCRS",
    "GEODETICCRS",
    "PROJCRS",
    "PROJECTEDCRS",
    "COMPOUNDCRS",
    "BOUNDCRS",
    "ENGCRS",
    "DERIVEDPROJCRS",
];

/// Metres of error that a change of datum may state and still be used. "NAD83 to WGS 84 (1)", EPSG:1188, states 4 m;
/// Helmert stand-ins for missing NAD27 grids state 10 m and more. Our choice.
const WORST_ACCURACY_M: f64 = 5.0;

/// A coordinate reference system as plain data.
#[derive(Clone, Debug, PartialEq)]
pub struct Crs {
    wkt: String,
    code: Option<String>,
    name: String,
    kind: Kind,
    unit: (String, f64),
    vertical: Option<VerticalUnit>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Projected,
    Geographic,
    Other,
}

impl Crs {
    /// Understands a code such as `EPSG:26917`, a PROJ string or WKT; never an address, a file, or a definition that
    /// names grid files of its own.
    ///
    /// # Errors
    /// [`GeodataError::UnknownCrs`].
    pub fn from_text(text: &str) -> Result<Self, GeodataError> {
        let text = text.trim();
        let unknown = |reason: String| GeodataError::UnknownCrs { text: shortened(text), reason };
        if names_a_file(text) {
            return Err(unknown("it names a grid file or an address; a definition may not".to_owned()));
        }
        let spatial = if is_code(text) {
            attempt(|| SpatialRef::from_definition(text))
        } else if text.starts_with("+proj=") {
            attempt(|| SpatialRef::from_proj4(text))
        } else if is_wkt(text) {
            attempt(|| SpatialRef::from_wkt(text))
        } else {
            Err("expected a code such as EPSG:26917, a PROJ string that starts with +proj=, or WKT".to_owned())
        };
        Self::from_spatial_ref(&spatial.map_err(unknown)?)
    }

    pub(crate) fn from_spatial_ref(spatial: &SpatialRef) -> Result<Self, GeodataError> {
        let mut spatial = spatial.clone();
        spatial.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
        let name = spatial.name().unwrap_or_else(|| "unnamed".to_owned());
        let unknown = |reason: String| GeodataError::UnknownCrs { text: name.clone(), reason };
        let wkt = wkt2(&spatial).map_err(unknown)?;
        if names_a_file(&wkt) {
            return Err(unknown("it names a grid file or an address; a definition may not".to_owned()));
        }
        let kind = match (spatial.is_projected(), spatial.is_geographic()) {
            (true, _) => Kind::Projected,
            (_, true) => Kind::Geographic,
            _ => Kind::Other,
        };
        let unit = if kind == Kind::Geographic {
            (spatial.angular_units_name().unwrap_or_default(), spatial.angular_units())
        } else {
            (spatial.linear_units_name().unwrap_or_default(), spatial.linear_units())
        };
        Ok(Self { code: code(&spatial), vertical: vertical_unit(&spatial), wkt, name, kind, unit })
    }

    /// Authority and code, for instance `EPSG:26917`, where the system is a registered one.
    pub fn code(&self) -> Option<&str> {
        self.code.as_deref()
    }

    pub fn name(&self) -> &str {
        &self.name
    }

    /// The whole definition (WKT 2, ISO 19162:2019).
    pub fn wkt(&self) -> &str {
        &self.wkt
    }

    pub fn is_projected(&self) -> bool {
        self.kind == Kind::Projected
    }

    pub fn is_geographic(&self) -> bool {
        self.kind == Kind::Geographic
    }

    /// Name of the horizontal axes' unit and its size: metres, or radians in a geographic system.
    pub fn linear_unit(&self) -> (&str, f64) {
        (&self.unit.0, self.unit.1)
    }

    /// Unit of heights, where the system has a vertical part.
    pub fn vertical_unit(&self) -> Option<VerticalUnit> {
        self.vertical
    }

    /// Name with code, for messages.
    pub fn label(&self) -> String {
        match &self.code {
            Some(code) => format!("{code} ({})", self.name),
            None => self.name.clone(),
        }
    }

    /// Whether the system has no name and its datum is not known, so that nothing lies anywhere on the earth by it.
    pub fn names_no_place(&self) -> bool {
        const NO_NAMES: [&str; 4] = ["", "unnamed", "unknown", "undefined"];
        let is_unnamed = NO_NAMES.iter().any(|name| self.name.trim().eq_ignore_ascii_case(name));
        is_unnamed && self.code.is_none() && Projector::to_lonlat(self).is_err()
    }

    /// Whether a system that names no place may be `other`: they have one unit, and the same projection if it has any.
    pub fn may_be(&self, other: &Self) -> bool {
        let projection = |crs: &Self| crs.flat().ok().and_then(|spatial| attempt(|| spatial.to_proj4()).ok());
        let same_unit = (self.unit.1 - other.unit.1).abs() < 1e-12;
        match self.kind {
            Kind::Other => same_unit,
            Kind::Projected | Kind::Geographic => {
                let (Some(own), Some(others)) = (projection(self), projection(other)) else { return false };
                self.kind == other.kind && same_unit && without_datum(&own).eq(without_datum(&others))
            }
        }
    }

    /// The system without its vertical part.
    pub fn horizontal(&self) -> Result<Self, GeodataError> {
        if self.wkt.starts_with("COMPOUNDCRS") { Self::from_spatial_ref(&self.flat()?) } else { Ok(self.clone()) }
    }

    /// Whether both describe the same horizontal system.
    pub fn same_horizontal(&self, other: &Self) -> bool {
        let (Ok(a), Ok(b)) = (self.horizontal(), other.horizontal()) else { return false };
        let same_code = a.code.is_some() && a.code == b.code;
        same_code || matches!((a.flat(), b.flat()), (Ok(a), Ok(b)) if a == b)
    }

    /// GDAL's object, with traditional axis order (east, north).
    pub(crate) fn spatial_ref(&self) -> Result<SpatialRef, GeodataError> {
        let mut spatial = attempt(|| SpatialRef::from_wkt(&self.wkt))
            .map_err(|reason| GeodataError::UnknownCrs { text: self.name.clone(), reason })?;
        spatial.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
        Ok(spatial)
    }

    /// Like [`Self::spatial_ref`], without the vertical part.
    pub(crate) fn flat(&self) -> Result<SpatialRef, GeodataError> {
        let spatial = self.spatial_ref()?;
        if spatial.is_compound() {
            // SAFETY: the handle is owned by `spatial`, which nothing else holds.
            unsafe { gdal_sys::OSRStripVertical(spatial.to_c_hsrs()) };
        }
        Ok(spatial)
    }
}

/// The terms of a PROJ string that say how positions are projected, and not on which datum.
fn without_datum(proj: &str) -> impl Iterator<Item = &str> {
    const OF_DATUM: [&str; 8] = ["+datum=", "+ellps=", "+a=", "+b=", "+rf=", "+towgs84=", "+no_defs", "+type="];
    proj.split_whitespace().filter(|term| !OF_DATUM.iter().any(|start| term.starts_with(start)))
}

/// PROJ names both systems by their whole definitions, which the error names already.
fn without_definitions(reason: &str) -> String {
    reason.split(" from `").next().unwrap_or_default().to_owned()
}

fn is_code(text: &str) -> bool {
    text.split_once(':').is_some_and(|(authority, code)| {
        AUTHORITIES.iter().any(|known| known.eq_ignore_ascii_case(authority))
            && !code.is_empty()
            && code.chars().all(|c| c.is_ascii_alphanumeric() || c == '+')
    })
}

fn is_wkt(text: &str) -> bool {
    text.split_once(['[', '(']).is_some_and(|(word, _)| {
        let word = word.trim_end();
        WKT_WORDS.iter().any(|known| known.eq_ignore_ascii_case(word))
    })
}

/// Whether a definition asks PROJ to open something. `+nadgrids=@null` opens nothing.
fn names_a_file(text: &str) -> bool {
    let text = text.to_lowercase().replace("nadgrids=@null", "");
    ["grids=", "+init", "+file", "+catalog", "parameterfile", "+grids"].iter().any(|word| text.contains(word))
}

fn shortened(text: &str) -> String {
    const LONGEST: usize = 80;
    match text.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}

fn wkt2(spatial: &SpatialRef) -> Result<String, String> {
    let format = c"FORMAT=WKT2_2019";
    let options = [format.as_ptr(), ptr::null()];
    let mut text = ptr::null_mut();
    let export = || {
        // SAFETY: the handle is live, the options end with a null, and `text` receives a string that we free below.
        match unsafe { gdal_sys::OSRExportToWktEx(spatial.to_c_hsrs(), &raw mut text, options.as_ptr()) } {
            gdal_sys::OGRErr::OGRERR_NONE => Ok(()),
            code => Err(format!("export to WKT failed (code {code})")),
        }
    };
    let exported = attempt(export);
    if text.is_null() {
        return Err(exported.err().unwrap_or_else(|| "no WKT".to_owned()));
    }
    // SAFETY: a C string allocated by GDAL, freed once.
    let wkt = unsafe {
        let wkt = CStr::from_ptr(text).to_string_lossy().into_owned();
        gdal_sys::VSIFree(text.cast());
        wkt
    };
    exported.map(|()| wkt)
}

/// The code that the definition itself names, or that of the one registered system that is the same.
fn code(spatial: &SpatialRef) -> Option<String> {
    let authority = |spatial: &SpatialRef| attempt(|| spatial.authority()).ok();
    authority(spatial).or_else(|| registered(spatial).as_ref().and_then(authority))
}

/// The registered system that PROJ holds to be the same, for instance for the names of Esri's `.prj` files.
fn registered(spatial: &SpatialRef) -> Option<SpatialRef> {
    /// In PROJ's words 90 is the same system under another name; 70 is only a likely one.
    const SAME_SYSTEM: i32 = 90;
    let (mut count, mut confidences) = (0, ptr::null_mut());
    // SAFETY: the handle is live and GDAL fills `count` entries of both arrays; the first match is cloned before the
    // arrays are freed, each once.
    let (found, _) = trapped(|| unsafe {
        let matches =
            gdal_sys::OSRFindMatches(spatial.to_c_hsrs(), ptr::null_mut(), &raw mut count, &raw mut confidences);
        let sure = !matches.is_null() && count > 0 && *confidences >= SAME_SYSTEM;
        let first = if sure { SpatialRef::from_c_obj(*matches).ok() } else { None };
        gdal_sys::OSRFreeSRSArray(matches);
        gdal_sys::VSIFree(confidences.cast());
        first
    });
    found
}

fn vertical_unit(spatial: &SpatialRef) -> Option<VerticalUnit> {
    if !spatial.is_compound() {
        return None;
    }
    let part = CString::from(c"VERT_CS");
    // SAFETY: live handle, C string that outlives the call, no name asked for.
    let metres = unsafe { gdal_sys::OSRGetTargetLinearUnits(spatial.to_c_hsrs(), part.as_ptr(), ptr::null_mut()) };
    [VerticalUnit::Metre, VerticalUnit::InternationalFoot, VerticalUnit::UsSurveyFoot]
        .into_iter()
        .find(|unit| (unit.metres() - metres).abs() < 1e-9)
}

/// Takes coordinates from one reference system to another, in one direction.
///
/// Axis order is east, north (longitude, latitude) on both ends. A transformation that ignores a difference of datum,
/// that states an error above 5 m, or that is not meant for the place of the first point, is refused. Holds a GDAL
/// handle, so each thread builds its own.
pub struct Projector {
    from: Crs,
    to: Crs,
    /// Chosen for the place of the first point: PROJ would otherwise use a transformation outside its area.
    chosen: OnceCell<CoordTransform>,
}

impl Projector {
    /// # Errors
    /// [`GeodataError::NoTransformation`] where no transformation keeps to its stated accuracy, for instance because
    /// a datum grid is not installed.
    pub fn new(from: &Crs, to: &Crs) -> Result<Self, GeodataError> {
        let projector = Self { from: from.horizontal()?, to: to.horizontal()?, chosen: OnceCell::new() };
        projector.transformation(None)?;
        Ok(projector)
    }

    /// A transformation for anywhere, or one meant for a place given by longitude and latitude.
    fn transformation(&self, place: Option<(f64, f64)>) -> Result<CoordTransform, GeodataError> {
        /// Degrees on each side of the place; far less than any area of use.
        const AROUND: f64 = 0.01;
        let (source, target) = (self.from.spatial_ref()?, self.to.spatial_ref()?);
        attempt(|| {
            let mut options = CoordTransformOptions::new()?;
            options.set_ballpark_allowed(false)?;
            options.desired_accuracy(WORST_ACCURACY_M)?;
            if let Some((longitude, latitude)) = place {
                options.set_area_of_interest(
                    (longitude - AROUND).max(-180.0),
                    (latitude - AROUND).max(-90.0),
                    (longitude + AROUND).min(180.0),
                    (latitude + AROUND).min(90.0),
                )?;
            }
            CoordTransform::new_with_options(&source, &target, &options)
        })
        .map_err(|reason| GeodataError::NoTransformation {
            from: self.from.label(),
            to: self.to.label(),
            reason: without_definitions(&reason),
        })
    }

    /// The transformation for the place of the first point asked for.
    fn chosen_for(&self, (x, y): (f64, f64)) -> Result<&CoordTransform, GeodataError> {
        if let Some(chosen) = self.chosen.get() {
            return Ok(chosen);
        }
        let place = self.place((x, y))?;
        let transformation = self.transformation(Some(place))?;
        Ok(self.chosen.get_or_init(|| transformation))
    }

    /// Longitude and latitude of a point on its own datum.
    fn place(&self, (x, y): (f64, f64)) -> Result<(f64, f64), GeodataError> {
        let source = self.from.spatial_ref()?;
        let (mut xs, mut ys) = ([x], [y]);
        let moved = attempt(|| {
            let mut degrees = source.geog_cs()?;
            degrees.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
            CoordTransform::new(&source, &degrees)?.transform_coords(&mut xs, &mut ys, &mut [])
        });
        let on_earth = moved.is_ok() && xs[0].is_finite() && ys[0].abs() <= 90.0;
        if on_earth { Ok(((xs[0] + 180.0).rem_euclid(360.0) - 180.0, ys[0])) } else { Err(self.outside(x, y)) }
    }

    fn outside(&self, x: impl Display, y: impl Display) -> GeodataError {
        GeodataError::PointOutside { x: x.to_string(), y: y.to_string(), from: self.from.label(), to: self.to.label() }
    }

    /// To longitude and latitude on WGS 84 (OGC:CRS84).
    pub fn to_lonlat(from: &Crs) -> Result<Self, GeodataError> {
        Self::new(from, &Crs::from_text("OGC:CRS84")?)
    }

    /// From longitude and latitude on WGS 84 (OGC:CRS84).
    pub fn from_lonlat(to: &Crs) -> Result<Self, GeodataError> {
        Self::new(&Crs::from_text("OGC:CRS84")?, to)
    }

    /// # Errors
    /// [`GeodataError::PointOutside`] where the point has no place in the target system;
    /// [`GeodataError::NoTransformation`] where there is none for its place.
    pub fn point(&self, (x, y): (f64, f64)) -> Result<(f64, f64), GeodataError> {
        let transformation = self.chosen_for((x, y))?;
        let (mut xs, mut ys) = ([x], [y]);
        let moved = attempt(|| transformation.transform_coords(&mut xs, &mut ys, &mut []));
        let has_image = moved.is_ok() && xs[0].is_finite() && ys[0].is_finite();
        if has_image { Ok((xs[0], ys[0])) } else { Err(self.outside(x, y)) }
    }

    /// Every point moved, in one call for all.
    ///
    /// # Errors
    /// As [`Self::point`], for the first point that has no place in the target system.
    pub(crate) fn points(&self, points: &[(f64, f64)]) -> Result<Vec<(f64, f64)>, GeodataError> {
        let each = || points.iter().map(|&point| self.point(point)).collect();
        let Some(&first) = points.first() else { return Ok(Vec::new()) };
        let transformation = self.chosen_for(first)?;
        let (mut xs, mut ys): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
        let moved = attempt(|| transformation.transform_coords(&mut xs, &mut ys, &mut []));
        let has_images = moved.is_ok() && xs.iter().chain(&ys).all(|value| value.is_finite());
        if has_images { Ok(xs.into_iter().zip(ys).collect()) } else { each() }
    }

    /// Every vertex moved; straight sides stay straight between their ends.
    ///
    /// # Errors
    /// The first vertex that has no place in the target system.
    pub fn geometry(&self, geometry: &geo::Geometry<f64>) -> Result<geo::Geometry<f64>, GeodataError> {
        geometry.try_map_coords(|at| self.point((at.x, at.y)).map(|(x, y)| geo::Coord { x, y }))
    }

    /// West, south, east and north of a rectangle's image, its sides followed at 21 points each.
    pub(crate) fn bounds(&self, bounds: [f64; 4]) -> Result<[f64; 4], GeodataError> {
        const POINTS_A_SIDE: i32 = 21;
        let [west, south, east, north] = bounds;
        let transformation = self.chosen_for((f64::midpoint(west, east), f64::midpoint(south, north)))?;
        attempt(|| transformation.transform_bounds(&bounds, POINTS_A_SIDE))
            .ok()
            .filter(|image| image.iter().all(|value| value.is_finite()))
            .ok_or_else(|| self.outside(format!("{west} to {east}"), format!("{south} to {north}")))
    }
}

/// Code of a projected system in metres that suits a place: the UTM zone on NAD83 for NAD83 data in North America,
/// on WGS 84 otherwise.
///
/// # References
/// EPSG codes 26901 to 26923 (NAD83 / UTM zone 1N to 23N), 32601 to 32660 and 32701 to 32760 (WGS 84 / UTM); zones of
/// 6° counted eastward from 180° W.
pub fn suitable_projected(crs: &Crs, longitude: f64, latitude: f64) -> String {
    let zone = (((longitude + 180.0) / 6.0).floor() as i64 + 1).clamp(1, 60);
    let north = latitude >= 0.0;
    let nad83 = crs.wkt.contains("\"North American Datum 1983\"") || crs.wkt.contains("\"NAD83\"");
    let base = match (nad83 && zone <= 23, north) {
        (true, true) => 26900,
        (_, true) => 32600,
        (_, false) => 32700,
    };
    format!("EPSG:{}", base + zone)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn crs(text: &str) -> Crs {
        Crs::from_text(text).unwrap()
    }

    #[test]
    fn codes_proj_strings_and_wkt() {
        let check = |text: &str, code: Option<&str>, projected: bool| {
            let crs = crs(text);
            assert_eq!((crs.code(), crs.is_projected()), (code, projected), "{text}");
        };
        check("EPSG:26917", Some("EPSG:26917"), true);
        check(" epsg:4326 ", Some("EPSG:4326"), false);
        check("ESRI:102001", Some("ESRI:102001"), true);
        check("+proj=utm +zone=17 +datum=NAD83 +units=m", Some("EPSG:26917"), true);
        check(crs("EPSG:26917").wkt(), Some("EPSG:26917"), true);
        check("+proj=tmerc +lat_0=43 +lon_0=-81 +datum=NAD83", None, true);
    }

    #[test]
    fn anything_else_is_refused() {
        for text in [
            "",
            "26917",
            "EPSG:",
            "EPSG:99999999",
            "http://127.0.0.1:9/crs",
            "https://spatialreference.org/ref/epsg/26917/",
            "/etc/passwd",
            "case.prj",
            "NAD83",
            "+init=epsg:26917",
            "+proj=utm +zone=17 +ellps=clrk66 +nadgrids=/tmp/grid.gsb",
            "+proj=longlat +ellps=clrk66 +geoidgrids=http://127.0.0.1:9/g.gtx",
            "PROJCS[nonsense",
        ] {
            assert!(Crs::from_text(text).is_err(), "{text}");
        }
    }

    #[test]
    fn units_of_the_axes() {
        let check = |text: &str, name: &str, size: f64| {
            let crs = crs(text);
            let unit = crs.linear_unit();
            assert_eq!(unit.0, name);
            assert!((unit.1 - size).abs() < 1e-12, "{unit:?}");
        };
        check("EPSG:26917", "metre", 1.0);
        // US survey foot: 1200/3937 m, Federal Register, 1 July 1959.
        check("EPSG:2264", "US survey foot", 1200.0 / 3937.0);
        check("EPSG:4269", "degree", std::f64::consts::PI / 180.0);
    }

    #[test]
    fn units_of_heights() {
        let check = |text: &str, unit| assert_eq!(crs(text).vertical_unit(), unit, "{text}");
        check("EPSG:26917", None);
        // NAVD88 height, in metres (EPSG:5703) and in US survey feet (EPSG:6360).
        check("EPSG:26917+5703", Some(VerticalUnit::Metre));
        check("EPSG:26917+6360", Some(VerticalUnit::UsSurveyFoot));
        // NAVD88 height (ft), in international feet.
        check("EPSG:26917+8228", Some(VerticalUnit::InternationalFoot));
    }

    #[test]
    fn the_vertical_part_can_be_left_out() {
        let whole = crs("EPSG:26917+6360");
        assert!(whole.same_horizontal(&crs("EPSG:26917")));
        assert!(!whole.same_horizontal(&crs("EPSG:26918")));
        assert_eq!(whole.horizontal().unwrap().code(), Some("EPSG:26917"));
    }

    /// Expected values from pyproj 3.7.2 with PROJ 9.5.1, `Transformer.from_crs(.., always_xy=True)`.
    #[test]
    fn known_points_to_a_millimetre() {
        const MILLIMETRE: f64 = 1e-3;
        const MILLIMETRE_IN_DEGREES: f64 = 9e-9;
        let check = |from: &str, to: &str, at: (f64, f64), expected: (f64, f64), tolerance: f64| {
            let found = Projector::new(&crs(from), &crs(to)).unwrap().point(at).unwrap();
            assert!((found.0 - expected.0).abs() < tolerance, "{from} {to} {found:?}");
            assert!((found.1 - expected.1).abs() < tolerance, "{from} {to} {found:?}");
        };
        let lonlat = "OGC:CRS84";
        let (degrees, metres) = (MILLIMETRE_IN_DEGREES, MILLIMETRE);
        check("EPSG:26917", lonlat, (500_000.0, 4_800_000.0), (-81.0, 43.352_855_393_22), degrees);
        check("EPSG:26917", lonlat, (432_100.25, 4_765_432.75), (-81.833_559_631_43, 43.038_549_307_19), degrees);
        check("EPSG:26917", "EPSG:4326", (500_000.0, 4_800_000.0), (-81.0, 43.352_855_393_22), degrees);
        check(lonlat, "EPSG:26917", (-80.5, 43.25), (540_588.590_83, 4_788_698.827_77), metres);
        check("EPSG:26917", "EPSG:3347", (500_000.0, 4_800_000.0), (7_099_294.428_87, 870_612.778_40), metres);
        check("EPSG:26917", "EPSG:26916", (300_000.0, 4_700_000.0), (793_596.247_76, 4_703_309.384_20), metres);
        check(lonlat, "EPSG:3794", (14.5, 46.2), (461_412.015_56, 117_926.274_69), metres);
        check("EPSG:2264", "EPSG:26917", (1_400_000.0, 600_000.0), (498_808.761_06, 3_915_394.827_30), metres);
    }

    const UNNAMED_UTM_17: &str = "PROJCS[\"unnamed\",GEOGCS[\"unknown\",DATUM[\"unknown\",SPHEROID[\"GRS 1980\",6378137,\
        298.257222101]],PRIMEM[\"Greenwich\",0],UNIT[\"degree\",0.0174532925199433]],PROJECTION[\"Transverse_Mercator\"],\
        PARAMETER[\"latitude_of_origin\",0],PARAMETER[\"central_meridian\",-81],PARAMETER[\"scale_factor\",0.9996],\
        PARAMETER[\"false_easting\",500000],PARAMETER[\"false_northing\",0],UNIT[\"metre\",1]]";
    const UNNAMED_METRES: &str = "LOCAL_CS[\"unnamed\",UNIT[\"metre\",1]]";

    /// Zone 17 of UTM has the central meridian 81° W, the factor 0.9996 and the false easting 500,000 m by definition.
    #[test]
    fn a_system_that_names_no_place_may_be_one_of_its_projection() {
        let check = |text: &str, no_place: bool, may_be: &[(&str, bool)]| {
            let found = crs(text);
            assert_eq!(found.names_no_place(), no_place, "{text}");
            for (other, expected) in may_be {
                assert_eq!(found.may_be(&crs(other)), *expected, "{text} as {other}");
            }
        };
        let others = [("EPSG:26917", true), ("EPSG:32617", true), ("EPSG:26916", false), ("EPSG:2264", false)];
        check(UNNAMED_UTM_17, true, &others);
        check(UNNAMED_METRES, true, &[("EPSG:26917", true), ("EPSG:26916", true), ("EPSG:2264", false)]);
        check("EPSG:26917", false, &[]);
        check("+proj=tmerc +lat_0=43 +lon_0=-81 +datum=NAD83", false, &[]);
    }

    #[test]
    fn no_message_holds_a_whole_definition() {
        let Err(error) = Projector::to_lonlat(&crs(UNNAMED_UTM_17)) else { panic!("its datum is unknown") };
        let message = error.to_string();
        assert!(message.len() < 200 && !message.contains('['), "{message}");
    }

    #[test]
    fn there_and_back() {
        let utm = crs("EPSG:26917");
        let (there, back) = (Projector::to_lonlat(&utm).unwrap(), Projector::from_lonlat(&utm).unwrap());
        let at = (456_789.125, 4_765_432.5);
        let again = back.point(there.point(at).unwrap()).unwrap();
        assert!((again.0 - at.0).hypot(again.1 - at.1) < 1e-6);
    }

    #[test]
    fn a_change_of_datum_that_nobody_has_measured_is_refused() {
        let unknown = crs("+proj=longlat +ellps=clrk66");
        assert!(matches!(Projector::new(&unknown, &crs("EPSG:26917")), Err(GeodataError::NoTransformation { .. })));
    }

    /// NAD27 to NAD83 needs grid files in Ontario. Without them PROJ falls back on "NAD27 to WGS 84 (88)", EPSG:15978,
    /// which is meant for Cuba and gives the points below (PROJ 9.1.1).
    #[test]
    fn a_transformation_meant_for_elsewhere_is_not_used() {
        let check = |from: &str, to: &str, at: (f64, f64), meant_for_cuba: (f64, f64), near: f64| {
            let found = Projector::new(&crs(from), &crs(to)).and_then(|projector| projector.point(at));
            if let Ok(found) = found {
                let off = (found.0 - meant_for_cuba.0).hypot(found.1 - meant_for_cuba.1);
                assert!(off > near, "{from} to {to}: {found:?}");
            }
        };
        check("EPSG:4267", "EPSG:26917", (-81.0, 43.0), (500_023.109, 4_760_804.279), 1.0);
        check("EPSG:26717", "EPSG:26917", (500_000.0, 4_800_000.0), (500_023.232, 4_800_204.549), 1.0);
        check("EPSG:4267", "OGC:CRS84", (-81.0, 43.0), (-80.999_716_479, 42.999_905_296), 1e-5);
    }

    #[test]
    fn a_point_without_an_image_is_an_error() {
        let projector = Projector::new(&crs("OGC:CRS84"), &crs("EPSG:26917")).unwrap();
        assert!(projector.point((-81.0, 95.0)).is_err());
        assert!(projector.point((f64::NAN, 43.0)).is_err());
        assert!(projector.point((f64::INFINITY, 43.0)).is_err());
    }

    #[test]
    fn every_part_of_a_geometry_moves() {
        let projector = Projector::new(&crs("EPSG:26917"), &crs("EPSG:26916")).unwrap();
        let line = geo::Geometry::from(geo::LineString::from(vec![(300_000.0, 4_700_000.0), (300_100.0, 4_700_000.0)]));
        let geo::Geometry::LineString(moved) = projector.geometry(&line).unwrap() else {
            panic!("a line stays a line")
        };
        assert_eq!(moved.0.len(), 2);
        assert!((moved.0[0].x - 793_596.247_76).abs() < 1e-3);
    }

    #[test]
    fn suitable_systems() {
        let check = |text: &str, at: (f64, f64), expected: &str| {
            assert_eq!(suitable_projected(&crs(text), at.0, at.1), expected);
        };
        check("EPSG:4269", (-93.5, 41.5), "EPSG:26915");
        check("EPSG:4326", (-93.5, 41.5), "EPSG:32615");
        check("EPSG:4326", (-81.0, 43.0), "EPSG:32617");
        check("EPSG:4326", (18.0, -34.0), "EPSG:32734");
        check("EPSG:2264", (-80.0, 35.0), "EPSG:26917");
        check("EPSG:4326", (180.0, 10.0), "EPSG:32660");
    }
}
