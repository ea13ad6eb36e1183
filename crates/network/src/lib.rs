//! Land on terrain: leaving points, reaches, junctions, outlets, contributing areas and traces.
