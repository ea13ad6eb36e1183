//! Rasters, vectors, coordinate reference systems and units in; encoding and atomic writing out.
