//! Acceptance tests: the whole toolkit through the functions that its commands call.

mod bad_input;
mod capacity;
mod capacity_input;
mod channels_and_banks;
mod clumsy_input;
mod commands;
mod constraints;
mod cuts;
mod demonstration;
mod engine;
mod lakes;
mod oxpindle;
mod petition;
mod piped;
mod results;
mod rights;
mod roads;
mod same_bytes;
mod small_case;
mod surveyed_levels;
mod three_users;
