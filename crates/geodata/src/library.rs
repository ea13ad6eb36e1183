//! GDAL itself: set up once, its messages caught, files opened with care.

use std::ffi::{CStr, CString, c_char};
use std::path::{Path, PathBuf};
use std::sync::{LazyLock, Once};

use gdal::{Dataset, DatasetOptions, DriverManager, GdalOpenFlags};

use crate::Problem;

/// Drivers that reach over the network, or whose files name other files or code to be read in their place.
const FOREIGN_DRIVERS: [&str; 42] = [
    "VRT",
    "DERIVED",
    "GTI",
    "WMS",
    "WCS",
    "WMTS",
    "HTTP",
    "OGCAPI",
    "PLMOSAIC",
    "PLSCENES",
    "EEDA",
    "EEDAI",
    "DAAS",
    "NGW",
    "RASDAMAN",
    "STACIT",
    "STACTA",
    "Rasterlite",
    "PostGISRaster",
    "GeoRaster",
    "MEM",
    "TileDB",
    "Zarr",
    "MBTiles",
    "PDF",
    "KMLSUPEROVERLAY",
    "ECRGTOC",
    "RPFTOC",
    "SAFE",
    "SENTINEL2",
    "ILWIS",
    "DIMAP",
    "TIL",
    "OZI",
    "MAP",
    "MRF",
    "PRF",
    "PDS4",
    "RS2",
    "TSX",
    "FAST",
    "ERS",
];

/// Drivers whose libraries end the whole process on a damaged file, as netCDF files with a few changed bytes showed, or
/// print on standard output, as GRIB's does.
const FRAGILE_DRIVERS: [&str; 7] = ["netCDF", "HDF4", "HDF4Image", "HDF5", "HDF5Image", "BAG", "GRIB"];

/// Drivers that read vectors.
pub(crate) const VECTOR_DRIVERS: [&str; 4] = ["GPKG", "ESRI Shapefile", "GeoJSON", "FlatGeobuf"];

/// What GDAL says first is the cause; what follows is mostly its consequence.
const MOST_MESSAGES: usize = 3;

/// Settings that hold for the whole process: no network, no threads, nothing on standard error.
fn set_up() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        DriverManager::register_all();
        // Errors on threads of GDAL's own would be lost, and the caller decides on threads.
        gdal::config::set_config_option("GDAL_NUM_THREADS", "1").expect("neither text holds a NUL");
        // Overviews inside a file take no option of their own for it.
        gdal::config::set_config_option("GDAL_TIFF_OVR_BLOCKSIZE", "256").expect("neither text holds a NUL");
        // SAFETY: both calls only set process-wide switches; the quiet handler is GDAL's own and lives for ever.
        unsafe {
            gdal_sys::CPLSetErrorHandler(Some(gdal_sys::CPLQuietErrorHandler));
            gdal_sys::OSRSetPROJEnableNetwork(0);
        }
    });
}

/// Holds what GDAL keeps of files in memory to a number of bytes.
pub fn limit_cache(bytes: u64) {
    set_up();
    // SAFETY: only sets a process-wide number.
    unsafe { gdal_sys::GDALSetCacheMax64(i64::try_from(bytes).unwrap_or(i64::MAX)) };
}

/// Bytes that can still be written where a folder lies; `None` where the system does not say.
pub(crate) fn free_bytes(folder: &Path) -> Option<u64> {
    let folder = CString::new(folder.as_os_str().as_encoded_bytes()).ok()?;
    // SAFETY: the text ends with a NUL and outlives the call.
    let free = unsafe { gdal_sys::VSIGetDiskFreeSpace(folder.as_ptr()) };
    u64::try_from(free).ok()
}

/// Runs an action and hands back its result with the errors that GDAL reported on this thread meanwhile.
pub(crate) fn trapped<T>(action: impl FnOnce() -> T) -> (T, Vec<String>) {
    set_up();
    let trap = Trap::set();
    let result = action();
    let messages = trap.take();
    (result, messages)
}

/// Runs an action that returns an error if it failed; the error holds GDAL's messages where there are any.
pub(crate) fn attempt<T, E: std::fmt::Display>(action: impl FnOnce() -> Result<T, E>) -> Result<T, String> {
    let (result, messages) = trapped(action);
    result.map_err(|error| if messages.is_empty() { error.to_string() } else { messages.join("; ") })
}

/// Like [`attempt`], and any error that GDAL reported is a failure even where the call returned a result.
pub(crate) fn attempt_strictly<T, E: std::fmt::Display>(action: impl FnOnce() -> Result<T, E>) -> Result<T, String> {
    let (result, messages) = trapped(action);
    match result {
        Ok(value) if messages.is_empty() => Ok(value),
        Err(error) if messages.is_empty() => Err(error.to_string()),
        _ => Err(messages.join("; ")),
    }
}

/// Collects this thread's GDAL errors while it lives.
struct Trap {
    messages: *mut Vec<String>,
}

impl Trap {
    fn set() -> Self {
        let messages = Box::into_raw(Box::new(Vec::new()));
        // SAFETY: `messages` stays allocated until the handler is popped in `drop`.
        unsafe { gdal_sys::CPLPushErrorHandlerEx(Some(collect), messages.cast()) };
        Self { messages }
    }

    fn take(self) -> Vec<String> {
        // SAFETY: allocated in `set`; GDAL calls the handler on this thread only, and not during this call.
        std::mem::take(unsafe { &mut *self.messages })
    }
}

impl Drop for Trap {
    fn drop(&mut self) {
        // SAFETY: pops the handler pushed in `set`, after which nothing else holds the pointer.
        unsafe {
            gdal_sys::CPLPopErrorHandler();
            drop(Box::from_raw(self.messages));
        }
    }
}

/// # Safety
/// To be called by GDAL only, as the handler that [`Trap::set`] pushed.
unsafe extern "C" fn collect(class: gdal_sys::CPLErr::Type, _number: i32, message: *const c_char) {
    if class < gdal_sys::CPLErr::CE_Failure || message.is_null() {
        return;
    }
    // SAFETY: GDAL passes a C string, and the user data is the live vector of `Trap::set`.
    let (message, messages) = unsafe {
        let messages = gdal_sys::CPLGetErrorHandlerUserData().cast::<Vec<String>>();
        (CStr::from_ptr(message), &mut *messages)
    };
    if messages.len() < MOST_MESSAGES {
        let message = message.to_string_lossy();
        messages.push(message.split_whitespace().collect::<Vec<_>>().join(" "));
    }
}

/// Opens a raster of any driver but the foreign and the fragile ones, to be decoded on so many threads where the driver can.
pub(crate) fn open_raster(path: &Path, threads: usize) -> Result<Dataset, Problem> {
    static ALLOWED: LazyLock<Vec<String>> = LazyLock::new(|| {
        let raster = |driver: &gdal::Driver| {
            use gdal::Metadata;
            driver.metadata_item("DCAP_RASTER", "").is_some()
        };
        DriverManager::all()
            .filter(raster)
            .map(|driver| driver.short_name())
            .filter(|name| !FOREIGN_DRIVERS.contains(&name.as_str()) && !FRAGILE_DRIVERS.contains(&name.as_str()))
            .collect()
    });
    let local = local_file(path)?;
    set_up();
    let allowed: Vec<&str> = ALLOWED.iter().map(String::as_str).collect();
    let threads = format!("@NUM_THREADS={threads}");
    open(&local, GdalOpenFlags::GDAL_OF_RASTER, &allowed, &[&threads]).map_err(|reason| {
        Problem::in_file(
            path,
            format!("a file that cannot be read as a raster ({reason})"),
            "a raster held in one local file, such as a GeoTIFF",
            "check that the file is complete; save a virtual, remote, netCDF or HDF raster as a GeoTIFF first",
        )
    })
}

/// Opens a vector file of one of [`VECTOR_DRIVERS`].
pub(crate) fn open_vector(path: &Path) -> Result<Dataset, Problem> {
    let local = local_file(path)?;
    open(&local, GdalOpenFlags::GDAL_OF_VECTOR, &VECTOR_DRIVERS, &[]).map_err(|reason| {
        Problem::in_file(
            path,
            format!("a file that cannot be read as vectors ({reason})"),
            "a GeoPackage, Shapefile, GeoJSON or FlatGeobuf file",
            "check that the file is complete and of one of these formats",
        )
    })
}

fn open(path: &Path, kind: GdalOpenFlags, drivers: &[&str], settings: &[&str]) -> Result<Dataset, String> {
    let options = DatasetOptions {
        open_flags: kind | GdalOpenFlags::GDAL_OF_READONLY | GdalOpenFlags::GDAL_OF_VERBOSE_ERROR,
        allowed_drivers: Some(drivers),
        open_options: Some(settings),
        ..DatasetOptions::default()
    };
    attempt(|| Dataset::open_ex(path, options)).map_err(|reason| reason.replace(&*path.to_string_lossy(), "the file"))
}

/// The absolute path of a plain local file, which no driver can take for an address or a connection string.
fn local_file(path: &Path) -> Result<PathBuf, Problem> {
    let text = path.to_string_lossy();
    let problem = |found: String, hint: &str| Err(Problem::in_file(path, found, "a local file", hint));
    if text.starts_with("/vsi") || text.contains("://") {
        return problem(format!("the address {text}"), "copy the data to a local file and name that file");
    }
    let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    match std::fs::metadata(&absolute) {
        Ok(data) if data.is_file() => Ok(absolute),
        Ok(_) => problem("a folder".to_owned(), "name a file inside the folder"),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            problem("no such file".to_owned(), "check the path; it is relative to the case file")
        }
        Err(error) => problem(format!("a file that cannot be opened ({error})"), "check that you may read the file"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{Sheet, folder};

    fn found(path: &Path) -> String {
        open_raster(path, 1).unwrap_err().found
    }

    #[test]
    fn addresses_and_virtual_paths_are_refused_unopened() {
        for path in ["/vsicurl/http://127.0.0.1:9/dem.tif", "/vsimem/dem.tif", "http://127.0.0.1:9/dem.tif"] {
            assert_eq!(found(Path::new(path)), format!("the address {path}"));
            assert!(open_vector(Path::new(path)).is_err());
        }
    }

    #[test]
    fn a_missing_file_and_a_folder_are_told_apart() {
        let folder = folder();
        assert_eq!(found(&folder.path().join("none.tif")), "no such file");
        assert_eq!(found(folder.path()), "a folder");
    }

    #[test]
    fn a_virtual_raster_under_another_name_is_refused() {
        let folder = folder();
        let (real, disguised) = (folder.path().join("real.tif"), folder.path().join("disguised.tif"));
        Sheet::default().write(&real);
        let vrt = format!(
            "<VRTDataset rasterXSize=\"3\" rasterYSize=\"2\"><VRTRasterBand dataType=\"Float32\" band=\"1\">\
             <SimpleSource><SourceFilename>{}</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>",
            real.display()
        );
        std::fs::write(&disguised, vrt).unwrap();
        assert!(open_raster(&real, 1).is_ok());
        assert!(found(&disguised).starts_with("a file that cannot be read as a raster"));
    }

    #[test]
    fn a_format_whose_library_ends_the_process_is_refused() {
        let folder = folder();
        let path = folder.path().join("dem.nc");
        Sheet { driver: "netCDF", ..Sheet::default() }.write(&path);
        assert!(found(&path).starts_with("a file that cannot be read as a raster"));
    }

    #[test]
    fn a_web_service_description_is_refused() {
        let folder = folder();
        let path = folder.path().join("service.tif");
        std::fs::write(
            &path,
            "<GDAL_WMS><Service name=\"WMS\"><ServerUrl>http://127.0.0.1:9/</ServerUrl></Service></GDAL_WMS>",
        )
        .unwrap();
        assert!(found(&path).starts_with("a file that cannot be read as a raster"));
    }

    #[test]
    fn messages_name_no_path_of_the_machine() {
        let folder = folder();
        let path = folder.path().join("text.tif");
        std::fs::write(&path, "not a raster").unwrap();
        let message = found(&path);
        assert!(!message.contains(folder.path().to_str().unwrap()), "{message}");
    }
}
