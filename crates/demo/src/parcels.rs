//! Parcels: lots and parts of lots, severed houses, slivers, and the fields of two of them.

use geo::Polygon;

use crate::geometry::{outline, rectangle};
use crate::lot_part::{LotPart, legal_description, roll};
use crate::owners::owner;
use crate::plan::{CONCESSION_SIDES, LOT_SIDES};

#[derive(Clone, Debug, PartialEq)]
pub struct Parcel {
    /// Invented roll number; text with leading zeros.
    pub roll: String,
    pub owner: String,
    pub co_owners: Option<String>,
    /// Legal description.
    pub legal: String,
    pub land_use: &'static str,
    pub tax_class: &'static str,
    pub outline: Polygon,
}

/// A part of a parcel that is worked, and drained, on its own.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    pub id: String,
    pub roll: String,
    pub outline: Polygon,
}

/// Half lots that are held in an east and a west part: concession, half, lots.
const SPLIT_HALVES: [(usize, LotPart, &[usize]); 5] = [
    (1, LotPart::S, &[4, 6, 8, 9]),
    (2, LotPart::N, &[5, 7]),
    (2, LotPart::S, &[1, 2, 9]),
    (3, LotPart::N, &[1, 5, 7, 9]),
    (3, LotPart::S, &[3, 6, 9]),
];
/// Lots held undivided.
const WHOLE_LOTS: [(usize, usize); 2] = [(1, 3), (2, 4)];
/// Lots with a house severed from the road side of the north half: concession, lot, west side of the house lot.
const HOUSES: [(usize, usize, f64); 3] = [(1, 2, 590.0), (1, 5, 1_990.0), (2, 8, 3_240.0)];
const HOUSE_SIZE: (f64, f64) = (60.0, 75.0);
/// The west part of the south half of lot 1, concession II, reaches the creek by a lane along its west side: the lane's east side and
/// north end.
const LANE: (f64, f64) = (60.0, 1_800.0);
/// Sides surveyed twice with different results: concession, lot, part, metres by which its west side lies too far east
/// (a gap) or, where negative, too far west (an overlap).
const SHIFTED_WEST_SIDES: [(usize, usize, LotPart, f64); 3] =
    [(2, 9, LotPart::N, -0.6), (1, 2, LotPart::S, -0.4), (3, 9, LotPart::NW, 1.2)];

/// All parcels by concession and lot, and the fields.
pub(crate) fn parcels() -> (Vec<Parcel>, Vec<Field>) {
    let lots =
        (1..=CONCESSION_SIDES.len()).flat_map(|concession| (1..=LOT_SIDES.len()).map(move |lot| (concession, lot)));
    let of_lot = |(concession, lot)| parts(concession, lot).into_iter().map(move |part| parcel(concession, lot, part));
    (lots.flat_map(of_lot).collect(), fields())
}

fn parts(concession: usize, lot: usize) -> Vec<LotPart> {
    if WHOLE_LOTS.contains(&(concession, lot)) {
        return vec![LotPart::Whole];
    }
    let split =
        |half| SPLIT_HALVES.iter().any(|split| (split.0, split.1) == (concession, half) && split.2.contains(&lot));
    let mut parts = if split(LotPart::N) { vec![LotPart::NW, LotPart::NE] } else { vec![LotPart::N] };
    parts.extend(if split(LotPart::S) { vec![LotPart::SW, LotPart::SE] } else { vec![LotPart::S] });
    if house(concession, lot).is_some() {
        parts.push(LotPart::House);
    }
    parts
}

/// West side of the house lot severed from a lot.
fn house(concession: usize, lot: usize) -> Option<f64> {
    HOUSES.iter().find(|house| (house.0, house.1) == (concession, lot)).map(|house| house.2)
}

fn parcel(concession: usize, lot: usize, part: LotPart) -> Parcel {
    let (owner, co_owners) = owner(concession, lot, part);
    let (land_use, tax_class) = match part {
        LotPart::House => ("residential", "residential"),
        LotPart::NE if concession == 3 => ("woodlot and pasture", "managed forest"),
        LotPart::SE => ("pasture", "farmland"),
        _ => ("field crops", "farmland"),
    };
    Parcel {
        roll: roll(concession, lot, part),
        owner,
        co_owners,
        legal: legal_description(concession, lot, part),
        land_use,
        tax_class,
        outline: outline(&corners(concession, lot, part)),
    }
}

fn corners(concession: usize, lot: usize, part: LotPart) -> Vec<(f64, f64)> {
    let (mut west, mut east) = LOT_SIDES[lot - 1];
    let (south, half, north) = CONCESSION_SIDES[concession - 1];
    let middle = f64::midpoint(west, east).round();
    match part {
        LotPart::NW | LotPart::SW => east = middle,
        LotPart::NE | LotPart::SE => west = middle,
        _ => {}
    }
    if let Some(shift) = SHIFTED_WEST_SIDES.iter().find(|side| (side.0, side.1, side.2) == (concession, lot, part)) {
        west += shift.3;
    }
    let house = house(concession, lot);
    match (part, house) {
        (LotPart::N, _) if (concession, lot) == (2, 1) => {
            let (lane, end) = LANE;
            vec![(lane, half), (east, half), (east, north), (west, north), (west, end), (lane, end)]
        }
        (LotPart::SW, _) if (concession, lot) == (2, 1) => {
            let (lane, end) = LANE;
            vec![(west, south), (east, south), (east, half), (lane, half), (lane, end), (west, end)]
        }
        (LotPart::House, Some(side)) => rectangle((side, side + HOUSE_SIZE.0), (north - HOUSE_SIZE.1, north)).to_vec(),
        (LotPart::N, Some(side)) => around_house((west, east), (half, north), side),
        (LotPart::Whole, _) => rectangle((west, east), (south, north)).to_vec(),
        (LotPart::N | LotPart::NW | LotPart::NE, _) => rectangle((west, east), (half, north)).to_vec(),
        _ => rectangle((west, east), (south, half)).to_vec(),
    }
}

/// A rectangle without the house lot in its north side.
fn around_house((west, east): (f64, f64), (south, north): (f64, f64), house: f64) -> Vec<(f64, f64)> {
    let (back, far) = (north - HOUSE_SIZE.1, house + HOUSE_SIZE.0);
    let [sw, se, ne, nw] = rectangle((west, east), (south, north));
    vec![sw, se, ne, (far, north), (far, back), (house, back), (house, north), nw]
}

/// Two parcels are worked in two fields each.
fn fields() -> Vec<Field> {
    let field =
        |id: &str, roll: &str, u, v| Field { id: id.into(), roll: roll.into(), outline: outline(&rectangle(u, v)) };
    let (whole, half) = (roll(1, 3, LotPart::Whole), roll(3, 8, LotPart::N));
    let (lot_3, lot_8) = (LOT_SIDES[2], LOT_SIDES[7]);
    vec![
        field("back", &whole, lot_3, (40.0, 500.0)),
        field("front", &whole, lot_3, (500.0, 980.0)),
        field("west", &half, (lot_8.0, 3_310.0), (2_480.4, 2_960.0)),
        field("east", &half, (3_310.0, lot_8.1), (2_480.4, 2_960.0)),
    ]
}
