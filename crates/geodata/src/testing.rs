//! Small files for tests.

use std::path::Path;

use gdal::raster::{Buffer, GdalType, RasterCreationOptions};
use gdal::spatial_ref::SpatialRef;
use gdal::{Dataset, DriverManager};

pub(crate) fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

/// A raster file to write: 3 by 2 cells of 10 m, heights 1 to 6, in EPSG:26917, unit m.
#[derive(Clone)]
pub(crate) struct Sheet<T = f32> {
    pub(crate) driver: &'static str,
    pub(crate) cols: usize,
    pub(crate) bands: usize,
    pub(crate) values: Vec<T>,
    pub(crate) transform: [f64; 6],
    pub(crate) crs: Option<&'static str>,
    pub(crate) unit: &'static str,
    pub(crate) nodata: Option<f64>,
    pub(crate) options: &'static [&'static str],
}

impl Default for Sheet {
    fn default() -> Self {
        Self::of(3, vec![1.0, 2.0, 3.0, 4.0, 5.0, 6.0])
    }
}

impl<T: GdalType + Copy> Sheet<T> {
    pub(crate) fn of(cols: usize, values: Vec<T>) -> Self {
        Self {
            driver: "GTiff",
            cols,
            bands: 1,
            values,
            transform: [500_000.0, 10.0, 0.0, 4_800_000.0, 0.0, -10.0],
            crs: Some("EPSG:26917"),
            unit: "m",
            nodata: None,
            options: &[],
        }
    }

    /// Moved east and south by cells.
    pub(crate) fn moved(mut self, cols: f64, rows: f64) -> Self {
        self.transform[0] += cols * self.transform[1];
        self.transform[3] += rows * self.transform[5];
        self
    }

    pub(crate) fn write(&self, path: &Path) {
        self.write_with(path, |_| {});
    }

    /// Drivers that only copy get a copy of an in-memory raster.
    pub(crate) fn write_with(&self, path: &Path, adorn: impl FnOnce(&mut Dataset)) {
        let driver = DriverManager::get_driver_by_name(self.driver).unwrap();
        let options: RasterCreationOptions = self.options.iter().copied().collect();
        let direct = self.driver == "GTiff";
        let maker = if direct { "GTiff" } else { "MEM" };
        let maker = DriverManager::get_driver_by_name(maker).unwrap();
        let size = (self.cols, self.values.len() / self.cols);
        let none = RasterCreationOptions::default();
        let mut dataset = maker
            .create_with_band_type_with_options::<T, _>(
                path,
                size.0,
                size.1,
                self.bands,
                if direct { &options } else { &none },
            )
            .unwrap();
        dataset.set_geo_transform(&self.transform).unwrap();
        if let Some(crs) = self.crs {
            dataset.set_spatial_ref(&SpatialRef::from_definition(crs).unwrap()).unwrap();
        }
        let mut band = dataset.rasterband(1).unwrap();
        band.set_no_data_value(self.nodata).ok();
        let unit = std::ffi::CString::new(self.unit).unwrap();
        // SAFETY: the band is live and GDAL copies the string.
        unsafe { gdal_sys::GDALSetRasterUnitType(band.c_rasterband(), unit.as_ptr()) };
        band.write((0, 0), size, &mut Buffer::new(size, self.values.clone())).unwrap();
        adorn(&mut dataset);
        if !direct {
            dataset.create_copy(&driver, path, &options).unwrap().close().unwrap();
        }
    }
}
