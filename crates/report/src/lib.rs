//! Results to GeoJSON and tables: the only crate that knows the output schemas.
