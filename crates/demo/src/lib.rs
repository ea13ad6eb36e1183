//! The demonstration case: an invented township block, made by a seeded program.
