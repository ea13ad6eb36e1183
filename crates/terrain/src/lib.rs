//! Elevation to conditioned surface, flow direction, area draining and watersheds.
