//! The grid of the page against a trace of its points.

use std::path::Path;
use std::sync::Arc;

use fallwright_case::{Budget, Inputs};
use fallwright_network::{Destination, End, flow_lines, lands_crossed, trace};

use super::*;

const POINTS: usize = 1000;

fn study(case: &Path) -> Study {
    let inputs = Inputs::open(case, &Budget::of(1 << 34), &|_| {}).unwrap();
    Study::of(Arc::new(inputs), &|_| {}).unwrap()
}

/// The grid holds for a point what its trace finds: lands in order, outlet or end, metres.
#[test]
fn the_grid_agrees_with_the_traces_of_1000_points() {
    let home = tempfile::tempdir().unwrap();
    fallwright_demo::write_case(home.path(), true).unwrap();
    let study = study(&home.path().join("case.toml"));
    let starts: Vec<Cell> = study.shares.iter().flatten().map(|share| share.leaving).collect();
    let lines = flow_lines(&study.setting, &starts, 500);
    let lengths = Lengths::new(&study, &lines);
    let lands = lands_crossed(&study.setting);
    let frame = study.setting.frame();
    let mut number = 7_usize;
    let mut compared = 0;
    while compared < POINTS {
        // A full period over any number of cells is not needed: points only have to be spread.
        number = (number * 1_103_515_245 + 12_345) % (1 << 31);
        let cell = Cell(number % frame.len());
        let point = at_point(&study, &lands, &lines, &lengths, cell);
        if point[0] == 0 {
            assert!(!study.setting.flow().has_data(cell));
            continue;
        }
        let traced = trace(&study.setting, cell);
        let mut found = Vec::new();
        let mut element = point[0] as usize - 1;
        let destination = loop {
            match lands.list[element] {
                Onward::Crosses { land, then } => {
                    found.push(land);
                    element = then;
                }
                Onward::Meets(destination) => break destination,
            }
        };
        let crossed: Vec<Party> = traced.crossings.iter().map(|crossing| crossing.to).collect();
        assert_eq!(found, crossed, "{cell:?}");
        let end = || Destination::End(traced.end.unwrap_or(End::Edge));
        assert_eq!(destination, traced.outlet.map_or_else(end, Destination::Outlet), "{cell:?}");
        assert!((f64::from(point[4]) - traced.length_m()).abs() <= 0.5 + 1e-6, "{cell:?}");
        compared += 1;
    }
}
