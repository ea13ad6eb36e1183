//! Reads a case, wires the steps and assembles the facts.

pub mod case;
