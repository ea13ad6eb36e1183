//! The network against a walk of every cell on random small cases.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_terrain::{Conditioned, Conditioning, Link, Links, condition};
use fallwright_units::{Cell, Frame, LinkId, Raster, WaterwayId};
use fallwright_units::{ParcelIx, ReachIx, RoadIx, ShareIx, StructureIx, StructureKind, WaterwayIx};
use petgraph::algo::is_cyclic_directed;
use proptest::prelude::*;
use typed_index_collections::{TiSlice, TiVec, ti_vec};

use crate::{
    Carrier, Contribution, Courses, Destination, Edge, Feature, Junction, LandsCrossed, Onward, OutletNetwork, Parties,
    Party, Path, Setting, ShareLimits, Station, Structure, Via, Waterway, arriving, contributing, draining_through,
    flow_lines, lands_crossed, path, piped_path, reaches, shares, trace,
};

const PARCELS: usize = 4;

/// A waterway's first cell, two directions with the cells that it runs in each, and whether it is lawful.
type Line = (usize, [(usize, usize); 2], bool);

/// Random ground with flats, missing data, parcels in patches, some bent waterways and some structures.
fn settings() -> impl Strategy<Value = Setting> {
    (4_usize..12, 4_usize..12).prop_flat_map(|(cols, rows)| {
        let cells = cols * rows;
        let level = prop_oneof![12 => (0_u8..8).prop_map(f32::from), 1 => Just(f32::NAN)];
        (
            prop::collection::vec(level, cells),
            prop::collection::vec(0_u32..=PARCELS as u32, 16),
            prop::collection::vec(
                (0..cells, [(0_usize..8, 1_usize..6), (0_usize..8, 1_usize..6)], any::<bool>()),
                0..5,
            ),
            prop::collection::vec((0..cells, 0..cells, any::<bool>()), 0..4),
        )
            .prop_map(move |(values, patches, lines, ends)| setting((cols, rows), values, &patches, &lines, &ends))
    })
}

fn setting(
    (cols, rows): (usize, usize),
    mut values: Vec<f32>,
    patches: &[u32],
    lines: &[Line],
    ends: &[(usize, usize, bool)],
) -> Setting {
    values[0] = 3.0;
    let frame = Frame::new(cols, rows, (0.0, 0.0), (1.0, 1.0)).unwrap();
    let ground = Raster { frame, values };
    let has_data = |cell: &Cell| !ground[*cell].is_nan();
    let structures: BTreeMap<Cell, (Cell, bool)> = ends
        .iter()
        .map(|&(a, b, lawful)| (Cell(a), (Cell(b), lawful)))
        .filter(|(a, (b, _))| a != b && has_data(a) && has_data(b))
        .collect();
    let waterways: Vec<Waterway> = lines
        .iter()
        .enumerate()
        .map(|(position, &(start, bends, lawful))| {
            let mut chain = vec![Cell(start)];
            for (direction, length) in bends {
                let step = fallwright_units::NEIGHBOURS[direction];
                let last = chain.last().copied();
                let run = std::iter::successors(last, |&cell| frame.step(cell, step)).skip(1).take(length);
                chain.extend(run.collect::<Vec<_>>());
            }
            Waterway {
                id: WaterwayId::new(format!("W{position}")),
                class: "x".into(),
                lawful,
                chains: vec![chain],
                shares: vec![],
                waters: vec![],
                is_lake: false,
            }
        })
        .collect();
    let waterways = with_shares(waterways);
    let links: Vec<Link> = structures.iter().map(|(&inlet, &(outlet, _))| Link { inlet, outlet }).collect();
    let known = Conditioning {
        channels: waterways.iter().flat_map(|waterway| waterway.chains.clone()).collect(),
        links: Links::new(&links).unwrap(),
        ..Conditioning::default()
    };
    let conditioned = condition(&ground, known).unwrap();
    let structures = structures
        .into_iter()
        .filter(|(inlet, _)| conditioned.flow.links.is_inlet(*inlet))
        .map(|(inlet, (outlet, lawful))| Structure {
            id: LinkId::new(format!("S{}", inlet.0)),
            kind: StructureKind::Culvert,
            class: None,
            lawful,
            link: Link { inlet, outlet },
            bends: Vec::new(),
            joins: None,
        })
        .collect();
    let parties = Parties::new((0..frame.len()).map(|index| {
        let (col, row) = frame.col_row(Cell(index));
        match patches[(row / 3 * 4 + col / 3) % patches.len()] {
            0 if index % 5 == 0 => Party::Road(RoadIx(index % 2)),
            0 => Party::Unowned,
            parcel => Party::Parcel(ParcelIx(parcel as usize - 1)),
        }
    }));
    Setting::new(ground.into(), conditioned, parties.into(), PARCELS, waterways.into(), structures)
}

/// Every second waterway runs along the upper half of the one before as well.
fn with_shares(mut waterways: Vec<Waterway>) -> Vec<Waterway> {
    for with in (0..waterways.len().saturating_sub(1)).step_by(2) {
        let chain = &waterways[with].chains[0];
        waterways[with + 1].shares = chain[..chain.len() / 2].iter().map(|&cell| (WaterwayIx(with), cell)).collect();
    }
    waterways
}

fn cells_with_data(setting: &Setting) -> impl Iterator<Item = Cell> + '_ {
    setting.parties.cells().filter(|&cell| setting.flow().has_data(cell))
}

/// By definition: walk every cell's path, note every party it touches.
fn contributing_by_walk(setting: &Setting) -> BTreeMap<Party, Contribution> {
    let mut all: BTreeMap<Party, Contribution> = BTreeMap::new();
    for cell in cells_with_data(setting) {
        let own = setting.parties.of(cell);
        let touched: BTreeSet<Party> = setting.flow().path(cell).map(|on| setting.parties.of(on)).collect();
        for party in touched {
            let contribution = all.entry(party).or_default();
            contribution.contributing += 1;
            if party == own {
                contribution.own += 1;
            } else {
                *contribution.receives_from.entry(own).or_default() += 1;
            }
        }
    }
    all
}

/// Where the shares of every parcel leave.
fn leaving(setting: &Setting) -> TiVec<ParcelIx, TiVec<ShareIx, Cell>> {
    shares(setting, no_limits()).iter().map(|own| own.iter().map(|share| share.leaving).collect()).collect()
}

fn no_limits() -> ShareLimits {
    ShareLimits { fraction: 0.0, cells: 0.0 }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn contributing_areas_equal_a_walk_of_every_cell(setting in settings()) {
        let found = contributing(&setting);
        for contribution in found.values() {
            let run_on: u64 = contribution.receives_from.values().sum();
            prop_assert_eq!(run_on, contribution.contributing - contribution.own);
        }
        prop_assert_eq!(found, contributing_by_walk(&setting));
    }

    #[test]
    fn what_arrives_is_what_a_walk_of_every_cell_brings(setting in settings(), chosen in 0..PARCELS) {
        let place = Party::Parcel(ParcelIx(chosen));
        let is_place = |cell: Cell| setting.parties.of(cell) == place;
        let found = arriving(&setting, is_place);
        let mut walked: BTreeMap<(Party, Vec<Via>), u64> = BTreeMap::new();
        let mut inflows: BTreeMap<Party, u64> = BTreeMap::new();
        for cell in cells_with_data(&setting).filter(|&cell| !is_place(cell)) {
            let path: Vec<Cell> = setting.flow().path(cell).collect();
            let Some(first) = path.iter().position(|&on| is_place(on)) else { continue };
            let giver = setting.parties.of(cell);
            let mut through = Vec::new();
            for &on in &path[..first] {
                let land = setting.parties.of(on);
                if land != giver && !through.contains(&Via::Land(land)) {
                    through.push(Via::Land(land));
                }
                if let Some(structure) = setting.structure_at(on)
                    && !through.contains(&Via::Structure(structure))
                {
                    through.push(Via::Structure(structure));
                }
            }
            *walked.entry((giver, through)).or_default() += 1;
            *inflows.entry(setting.parties.of(path[first - 1])).or_default() += 1;
        }
        let reported: BTreeMap<(Party, Vec<Via>), u64> =
            found.arrivals.iter().map(|arrival| ((arrival.giver, arrival.through.clone()), arrival.cells)).collect();
        prop_assert_eq!(reported.len(), found.arrivals.len());
        prop_assert_eq!(reported, walked);
        let mut reported: BTreeMap<Party, u64> = BTreeMap::new();
        for inflow in &found.inflows {
            prop_assert!(is_place(inflow.at));
            *reported.entry(inflow.from).or_default() += inflow.cells;
        }
        prop_assert_eq!(reported, inflows);
    }

    #[test]
    fn shares_hold_every_own_cell_once_and_know_the_first_outlet(setting in settings()) {
        let all = shares(&setting, no_limits());
        for (parcel, shares) in all.iter_enumerated() {
            let own = cells_with_data(&setting).filter(|&cell| setting.parties.of(cell) == Party::Parcel(parcel)).count();
            prop_assert_eq!(shares.iter().map(|share| share.cells).sum::<u64>(), own as u64);
            for share in shares {
                let first = setting.flow().path(share.leaving).find_map(|cell| setting.lawful_at(cell));
                let traced = trace(&setting, share.leaving);
                prop_assert_eq!(traced.outlet, first);
                prop_assert_eq!(traced.outlet.is_none(), traced.end.is_some());
                let own_exits = share.exits.iter().all(|&exit| setting.parties.of(exit) == Party::Parcel(parcel));
                prop_assert!(own_exits);
            }
        }
    }

    /// Oracle: a walk of every cell. The areas are lands, any cells, and one cell.
    #[test]
    fn what_drains_through_an_area_is_every_cell_whose_walk_comes_there(setting in settings()) {
        let cells: Vec<Cell> = cells_with_data(&setting).collect();
        let of = |party: Party| cells.iter().copied().filter(|&cell| setting.parties.of(cell) == party).collect();
        let mut areas: Vec<Vec<Cell>> = (0..PARCELS).map(|parcel| of(Party::Parcel(ParcelIx(parcel)))).collect();
        areas.extend([3, 5].map(|n| cells.iter().copied().filter(|cell| cell.0 * 7 % n == 0).collect()));
        areas.push(vec![cells[0]]);
        let walked: Vec<u64> = areas
            .iter()
            .map(|area| cells.iter().filter(|&&cell| setting.flow().path(cell).any(|on| area.contains(&on))).count() as u64)
            .collect();
        let areas: Vec<&[Cell]> = areas.iter().map(Vec::as_slice).collect();
        prop_assert_eq!(draining_through(&setting, &areas), walked);
    }

    #[test]
    fn small_groups_go_into_one_remainder(setting in settings()) {
        for shares in shares(&setting, ShareLimits { fraction: 0.5, cells: 6.0 }) {
            let own: u64 = shares.iter().map(|share| share.cells).sum();
            prop_assert!(shares.iter().filter(|share| share.is_remainder).count() <= 1);
            for share in shares.iter().filter(|share| !share.is_remainder) {
                prop_assert!(share.cells >= 6 || share.cells * 2 >= own);
            }
        }
    }

    #[test]
    fn reaches_hold_every_open_channel_cell_once(setting in settings()) {
        let reaches = reaches(&setting);
        let in_reaches: Vec<Cell> = reaches.list.iter().flat_map(|reach| reach.cells.clone()).collect();
        let distinct: BTreeSet<Cell> = in_reaches.iter().copied().collect();
        prop_assert_eq!(in_reaches.len(), distinct.len());
        for (position, reach) in reaches.list.iter_enumerated() {
            for &cell in &reach.cells {
                prop_assert_eq!(reaches.of(cell), Some(position));
                prop_assert_eq!(setting.waterway_of(cell), Some(reach.waterway));
            }
        }
        for cell in cells_with_data(&setting) {
            if reaches.of(cell).is_none() {
                let open = setting.waterway_of(cell).is_some() && setting.structure_at(cell).is_none();
                prop_assert!(!open, "an open channel cell without reach");
            }
        }
    }

    #[test]
    fn the_network_has_no_cycle_and_one_way_on(setting in settings()) {
        let reaches = reaches(&setting);
        let leaving = leaving(&setting);
        let network = OutletNetwork::build(&setting, &reaches, &leaving);
        prop_assert!(!is_cyclic_directed(&network.graph));
        for node in network.graph.node_indices() {
            prop_assert!(network.graph.edges(node).count() <= 1);
            prop_assert!(network.end_of(node).is_some());
        }
    }

    /// The chain of reaches in the graph is the chain met by walking cell by cell.
    #[test]
    fn a_share_follows_the_reaches_that_its_cells_run_through(setting in settings()) {
        let reaches = reaches(&setting);
        let leaving = leaving(&setting);
        let network = OutletNetwork::build(&setting, &reaches, &leaving);
        for (parcel, cells) in leaving.iter_enumerated() {
            for (share, &cell) in cells.iter_enumerated() {
                let mut walked: Vec<ReachIx> = setting.flow().path(cell).filter_map(|on| reaches.of(on)).collect();
                walked.dedup();
                let node = network.leaving(parcel, share).unwrap();
                let by_graph: Vec<ReachIx> = network
                    .downstream(node)
                    .into_iter()
                    .filter_map(|edge| match edge {
                        Edge::Reach(reach) | Edge::Joins(reach) => Some(reach),
                        Edge::Overland | Edge::Structure(_) => None,
                    })
                    .collect();
                for &reach in &by_graph {
                    let met = setting.flow().path(cell).any(|on| reaches.list[reach].cells.contains(&on));
                    prop_assert!(met, "a reach off the way");
                }
                let end = setting.flow().path(cell).last().and_then(|last| setting.ends().get(&last).copied());
                prop_assert_eq!(network.end_of(node), end);
                prop_assert_eq!(by_graph, walked);
            }
        }
    }

    #[test]
    fn the_features_below_a_share_are_those_of_the_cells_on_its_way(setting in settings()) {
        let reaches = reaches(&setting);
        let leaving = leaving(&setting);
        let network = OutletNetwork::build(&setting, &reaches, &leaving);
        for (parcel, cells) in leaving.iter_enumerated() {
            for (share, &cell) in cells.iter_enumerated() {
                let mut walked = Vec::new();
                for on in setting.flow().path(cell) {
                    walked.extend(setting.waterway_of(on).map(Feature::Waterway));
                    walked.extend(setting.structure_at(on).map(Feature::Structure));
                }
                walked.dedup();
                let node = network.leaving(parcel, share).unwrap();
                let mut reported: Vec<Feature> = network.channels_below(node, &reaches).into_iter().map(|channel| channel[0]).collect();
                reported.dedup();
                prop_assert_eq!(reported, walked);
            }
        }
    }

    /// Oracle: a walk of each path alone.
    #[test]
    fn what_is_told_of_paths_that_run_together_is_what_a_walk_of_each_tells(setting in settings()) {
        let starts: TiVec<ParcelIx, TiVec<ShareIx, Cell>> =
            cells_with_data(&setting).map(|cell| ti_vec![cell]).collect();
        let is_marked = |cell: Cell| cell.0.is_multiple_of(7);
        let courses = Courses::find(&setting, &starts, is_marked);
        let places = courses.places();
        for (parcel, start) in starts.iter_enumerated() {
            let (share, start) = (ShareIx(0), start[ShareIx(0)]);
            let Path { stations, trace: alone } = path(&setting, start);
            let reported = courses.trace(&setting, parcel, share);
            // As text, since no level is no number.
            prop_assert_eq!(format!("{reported:?}"), format!("{alone:?}"));
            prop_assert_eq!(courses.passes_marked(parcel, share), stations.iter().any(|station| is_marked(station.cell)));
            prop_assert_eq!(courses.before_outlet(parcel, share), reported.before_outlet);
            let walked = crossed(&setting, &stations);
            prop_assert_eq!(reported.crossings.len(), walked.len());
            let at: Vec<(f64, f64)> = courses.places_crossed(parcel, share).map(|place| places[place]).collect();
            for ((crossing, (from, to, cell, carrier, metres)), at) in reported.crossings.iter().zip(walked).zip(at) {
                prop_assert_eq!((crossing.from, crossing.to, crossing.carrier), (from, to, carrier));
                prop_assert_eq!(setting.frame().cell_at(at), Some(cell));
                prop_assert!((crossing.metres_on_land - metres).abs() < 1e-9);
            }
            let mut distance_m = 0.0;
            for pair in stations.windows(2) {
                distance_m += (pair[1].x - pair[0].x).hypot(pair[1].y - pair[0].y);
                prop_assert!((pair[1].distance_m - distance_m).abs() < 1e-9);
            }
            prop_assert_eq!(reported.outlet, setting.lawful_at(reported.last.cell));
            let before_outlet = |cell: &Cell| setting.lawful_at(*cell).is_none();
            let Conditioned { surface, enforced, .. } = &*setting.conditioned;
            let fill_m = |cell: Cell| f64::from(surface[cell]) - f64::from(enforced[cell]);
            let way = setting.flow().path(start).take_while(before_outlet);
            prop_assert_eq!(reported.deepest_fill_m, way.map(fill_m).fold(0.0, f64::max));
            let mut carriers: Vec<Carrier> = Vec::new();
            for carrier in stations.iter().map(|station| station.carrier) {
                let is_other = carrier != Carrier::Overland && reported.outlet.map(Carrier::Mapped) != Some(carrier);
                if is_other && !carriers.contains(&carrier) {
                    carriers.push(carrier);
                }
            }
            prop_assert_eq!(reported.carriers.into_iter().map(Carrier::Mapped).collect::<Vec<_>>(), carriers);
        }
    }

    #[test]
    fn metres_on_the_lands_crossed_add_up(setting in settings()) {
        for cell in cells_with_data(&setting) {
            let Path { stations, trace: traced } = path(&setting, cell);
            let first = traced.crossings.first().map_or(traced.length_m(), |crossing| crossing.distance_m);
            let crossed: f64 = traced.crossings.iter().map(|crossing| crossing.metres_on_land).sum();
            prop_assert!((first + crossed - traced.length_m()).abs() < 1e-9);
            for pair in traced.crossings.windows(2) {
                prop_assert_eq!(pair[0].to, pair[1].from);
            }
            if let Some(first) = traced.crossings.first() {
                let before = stations.iter().find(|station| station.distance_m >= first.distance_m).unwrap();
                let own = stations[0].level_m - before.level_m;
                let fall: f64 = traced.crossings.iter().map(|crossing| crossing.fall_m).sum();
                prop_assert!((own + fall - traced.fall_m()).abs() < 1e-9);
            }
        }
    }
}

/// By definition: the stretches of a path on each land, a lawful outlet as the end only, and on each what carries the water
/// farthest, on a tie what comes first.
fn crossed(setting: &Setting, stations: &[Station]) -> Vec<(Party, Party, Cell, Carrier, f64)> {
    let party = |station: &Station| setting.parties.of(station.cell);
    let mut steps: Vec<(&Station, f64)> =
        stations.windows(2).map(|pair| (&pair[0], (pair[1].x - pair[0].x).hypot(pair[1].y - pair[0].y))).collect();
    steps.extend(stations.last().filter(|last| setting.lawful_at(last.cell).is_none()).map(|last| (last, 0.0)));
    let lands: Vec<&[(&Station, f64)]> = steps.chunk_by(|a, b| party(a.0) == party(b.0)).collect();
    let crossing = |pair: &[&[(&Station, f64)]]| {
        let (before, land) = (pair[0], pair[1]);
        let metres = |carrier: Carrier| -> f64 {
            land.iter().filter(|(station, _)| station.carrier == carrier).map(|(_, step)| step).sum()
        };
        let carriers = land.iter().map(|(station, _)| station.carrier);
        let farthest = carriers.reduce(|a, b| if metres(b) > metres(a) + 1e-6 { b } else { a }).unwrap();
        let length = land.iter().map(|(_, step)| step).sum();
        (party(before[0].0), party(land[0].0), land[0].0.cell, farthest, length)
    };
    lands.windows(2).map(crossing).collect()
}

/// The lands that follow an entry, and where it leads.
fn followed(lands: &LandsCrossed, from: usize) -> (Vec<Party>, Destination) {
    let mut crossed = Vec::new();
    let mut entry = from;
    loop {
        match lands.list[entry] {
            Onward::Crosses { land, then } => {
                crossed.push(land);
                entry = then;
            }
            Onward::Meets(destination) => return (crossed, destination),
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn lands_crossed_from_every_cell_are_those_of_its_trace(setting in settings()) {
        let lands = lands_crossed(&setting);
        for cell in cells_with_data(&setting) {
            let traced = trace(&setting, cell);
            let crossed = traced.crossings.iter().map(|crossing| crossing.to).collect();
            let destination = traced.outlet.map(Destination::Outlet).or(traced.end.map(Destination::End));
            prop_assert_eq!(followed(&lands, lands.of(cell).unwrap()), (crossed, destination.unwrap()));
        }
    }

    #[test]
    fn flow_lines_put_together_are_the_path_of_every_cell_on_them(setting in settings(), least in 1_u64..9) {
        let starts: Vec<Cell> = cells_with_data(&setting).step_by(7).collect();
        let lines = flow_lines(&setting, &starts, least);
        for cell in cells_with_data(&setting).filter(|&cell| setting.lawful_at(cell).is_none()) {
            let Some((mut line, position)) = lines.at(cell) else {
                prop_assert!(setting.area(cell) < least && !starts.contains(&cell));
                continue;
            };
            if starts.contains(&cell) {
                prop_assert_eq!(position, 0);
            }
            let mut path = lines.list[line].cells[position..].to_vec();
            while let Some(next) = lines.list[line].next {
                path.extend(&lines.list[next].cells[1..]);
                line = next;
            }
            let mut walked: Vec<Cell> = Vec::new();
            for on in setting.flow().path(cell) {
                walked.push(on);
                if setting.lawful_at(on).is_some() {
                    break;
                }
            }
            prop_assert_eq!(path, walked);
        }
    }
}

#[test]
fn a_path_names_the_lands_it_crosses_and_the_outlet_it_meets() {
    let frame = Frame::new(9, 1, (0.0, 1.0), (10.0, 10.0)).unwrap();
    let ground = Raster { frame, values: (0_u8..9).rev().map(f32::from).collect() };
    let drain = Waterway {
        id: WaterwayId::new("D"),
        class: "municipal_drain".into(),
        lawful: true,
        chains: vec![vec![frame.cell(7, 0), frame.cell(8, 0)]],
        shares: vec![],
        waters: vec![],
        is_lake: false,
    };
    let known = Conditioning { channels: drain.chains.clone(), ..Conditioning::default() };
    let conditioned = condition(&ground, known).unwrap();
    let lands = [
        (Party::Parcel(ParcelIx(0)), 3),
        (Party::Parcel(ParcelIx(1)), 2),
        (Party::Road(RoadIx(0)), 1),
        (Party::Parcel(ParcelIx(2)), 3),
    ];
    let parties = Parties::new(lands.into_iter().flat_map(|(party, cells)| std::iter::repeat_n(party, cells)));
    let setting = Setting::new(ground.into(), conditioned, parties.into(), 3, ti_vec![drain], ti_vec![]);
    let traced = trace(&setting, frame.cell(2, 0));
    assert_eq!(traced.outlet, Some(Feature::Waterway(WaterwayIx(0))));
    assert_eq!(traced.length_m(), 50.0);
    assert_eq!(traced.fall_m(), 5.0);
    let crossed: Vec<(Party, f64)> = traced.crossings.iter().map(|c| (c.to, c.metres_on_land)).collect();
    assert_eq!(
        crossed,
        [(Party::Parcel(ParcelIx(1)), 20.0), (Party::Road(RoadIx(0)), 10.0), (Party::Parcel(ParcelIx(2)), 10.0)]
    );
    assert_eq!(traced.crossings.iter().map(|c| c.fall_m).collect::<Vec<_>>(), [2.0, 1.0, 1.0]);
    assert_eq!(traced.parcels_crossed(), [ParcelIx(1), ParcelIx(2)]);
}

/// Ground falls to the east; a pipe takes in a ditch where it begins, so that no reach of the ditch is met.
#[test]
fn a_ditch_that_a_pipe_takes_in_at_once_is_met_before_the_pipe() {
    let frame = Frame::new(9, 1, (0.0, 1.0), (10.0, 10.0)).unwrap();
    let ground = Raster { frame, values: (0_u8..9).rev().map(f32::from).collect() };
    let ditch = Waterway {
        id: WaterwayId::new("D"),
        class: "x".into(),
        lawful: true,
        chains: vec![vec![frame.cell(4, 0)]],
        shares: vec![],
        waters: vec![],
        is_lake: false,
    };
    let link = Link { inlet: frame.cell(4, 0), outlet: frame.cell(7, 0) };
    let pipe = Structure {
        id: LinkId::new("P"),
        kind: StructureKind::Pipe,
        class: None,
        lawful: true,
        link,
        bends: vec![],
        joins: None,
    };
    let known =
        Conditioning { channels: ditch.chains.clone(), links: Links::new(&[link]).unwrap(), ..Conditioning::default() };
    let conditioned = condition(&ground, known).unwrap();
    let parties = Parties::new([Party::Parcel(ParcelIx(0)); 9]);
    let setting = Setting::new(ground.into(), conditioned, parties.into(), 1, ti_vec![ditch], ti_vec![pipe]);
    let reaches = reaches(&setting);
    let network = OutletNetwork::build(&setting, &reaches, TiSlice::from_ref(&[ti_vec![frame.cell(0, 0)]]));
    let below = network.channels_below(network.leaving(ParcelIx(0), ShareIx(0)).unwrap(), &reaches);
    assert_eq!(below, [vec![Feature::Waterway(WaterwayIx(0))], vec![Feature::Structure(StructureIx(0))]]);
}

/// Ground falls to the east; the creek runs along all of it, a drain in the same channel for its lower part.
#[test]
fn a_channel_with_two_statuses_is_cut_where_they_change_and_tells_both() {
    let frame = Frame::new(9, 1, (0.0, 1.0), (10.0, 10.0)).unwrap();
    let ground = Raster { frame, values: (0_u8..9).rev().map(f32::from).collect() };
    let cells = |range: std::ops::Range<usize>| range.map(|col| frame.cell(col, 0)).collect::<Vec<_>>();
    let waterway = |id: &str, chains, shares| Waterway {
        id: WaterwayId::new(id),
        class: "x".into(),
        lawful: true,
        chains,
        shares,
        waters: vec![],
        is_lake: false,
    };
    let along_creek = cells(4..9).into_iter().map(|cell| (WaterwayIx(0), cell)).collect();
    let waterways = ti_vec![waterway("MC", vec![cells(1..9)], vec![]), waterway("D", vec![], along_creek)];
    let known = Conditioning { channels: vec![cells(1..9)], ..Conditioning::default() };
    let conditioned = condition(&ground, known).unwrap();
    let parties = Parties::new([Party::Parcel(ParcelIx(0)); 9]);
    let setting = Setting::new(ground.into(), conditioned, parties.into(), 1, waterways, ti_vec![]);
    let reaches = reaches(&setting);
    let by_length: Vec<(usize, &[WaterwayIx])> =
        reaches.list.iter().map(|r| (r.cells.len(), r.also.as_slice())).collect();
    assert_eq!(by_length, [(5, &[WaterwayIx(1)][..]), (3, &[][..])]);
    let network = OutletNetwork::build(&setting, &reaches, TiSlice::from_ref(&[ti_vec![frame.cell(0, 0)]]));
    let below = network.channels_below(network.leaving(ParcelIx(0), ShareIx(0)).unwrap(), &reaches);
    let (creek, drain) = (Feature::Waterway(WaterwayIx(0)), Feature::Waterway(WaterwayIx(1)));
    assert_eq!(below, [vec![creek], vec![creek, drain]]);
}

/// Two short arms of a channel, each a corner: one leads into the other, and that one into the reach below.
#[test]
fn a_corner_that_leads_into_a_corner_belongs_to_the_reach_below_both() {
    let cells = |line: &[usize]| line.iter().map(|&cell| Cell(cell)).collect::<Vec<_>>();
    let waterway = |id: &str, chain| Waterway {
        id: WaterwayId::new(id),
        class: "x".into(),
        lawful: true,
        chains: vec![chain],
        shares: vec![],
        waters: vec![],
        is_lake: false,
    };
    let waterways = ti_vec![waterway("A", cells(&[6, 5, 4, 9, 14])), waterway("B", cells(&[10, 9, 14]))];
    let frame = Frame::new(4, 4, (0.0, 0.0), (1.0, 1.0)).unwrap();
    let ground = Raster::filled(frame, 0.0);
    let channels = waterways.iter().flat_map(|waterway| waterway.chains.clone()).collect();
    let conditioned = condition(&ground, Conditioning { channels, ..Conditioning::default() }).unwrap();
    let parties = Parties::new([Party::Unowned; 16]);
    let setting = Setting::new(ground.into(), conditioned, parties.into(), 0, waterways, ti_vec![]);
    let reaches = reaches(&setting);
    for cell in setting.channel_cells() {
        let reach = &reaches.list[reaches.of(cell).unwrap()];
        assert!(setting.flow().path(cell).any(|on| reach.cells.contains(&on)), "{cell:?} of {}", reach.id);
    }
}

/// Ground falls to the east, cells of 10 m: parcel 0 on three cells, parcel 1 on three, a road, parcel 2 on three, then the
/// drain on two, on nobody's land. Each pipe is given by the cells of its ends and whether it is lawful. Expected of the water that
/// the first pipe takes of a land: lands with metres, the length, and whether it meets the drain or the pipe itself.
#[track_caller]
fn check_piped(pipes: &[(usize, usize, bool)], giver: Party, crossed: &[(Party, f64)], length_m: f64, outlet: Feature) {
    let frame = Frame::new(12, 1, (0.0, 1.0), (10.0, 10.0)).unwrap();
    let structure = |&(inlet, end, lawful): &(usize, usize, bool)| Structure {
        id: LinkId::new(format!("T-{inlet}")),
        kind: StructureKind::Pipe,
        class: None,
        lawful,
        link: Link { inlet: frame.cell(inlet, 0), outlet: frame.cell(end, 0) },
        bends: Vec::new(),
        joins: None,
    };
    check_structures(pipes.iter().map(structure).collect(), giver, crossed, length_m, outlet);
}

/// The same for two pipes, of which the first ends on the line of the second, 28 m from that one's beginning in the first cell. The
/// second, lawful or not, ends in the drain.
#[track_caller]
fn check_joined(lawful: bool, giver: Party, crossed: &[(Party, f64)], length_m: f64, outlet: Feature) {
    let to_drain = |id: &str, inlet| Structure {
        id: LinkId::new(id),
        kind: StructureKind::Pipe,
        class: None,
        lawful: false,
        link: Link { inlet: Cell(inlet), outlet: Cell(10) },
        bends: Vec::new(),
        joins: None,
    };
    let junction = Junction { structure: StructureIx(1), at: (33.0, -4.0), along_m: 28.0 };
    let joining = Structure { joins: Some(junction), ..to_drain("T-1", 1) };
    let structures = ti_vec![joining, Structure { lawful, ..to_drain("T-2", 0) }];
    check_structures(structures, giver, crossed, length_m, outlet);
}

#[track_caller]
fn check_structures(
    structures: TiVec<StructureIx, Structure>,
    giver: Party,
    crossed: &[(Party, f64)],
    length_m: f64,
    outlet: Feature,
) {
    let frame = Frame::new(12, 1, (0.0, 1.0), (10.0, 10.0)).unwrap();
    let ground = Raster { frame, values: (0_u8..12).rev().map(f32::from).collect() };
    let drain = Waterway {
        id: WaterwayId::new("D"),
        class: "municipal_drain".into(),
        lawful: true,
        chains: vec![vec![frame.cell(10, 0), frame.cell(11, 0)]],
        shares: vec![],
        waters: vec![],
        is_lake: false,
    };
    let links: Vec<Link> = structures.iter().map(|structure| structure.link).collect();
    let known =
        Conditioning { channels: drain.chains.clone(), links: Links::new(&links).unwrap(), ..Conditioning::default() };
    let conditioned = condition(&ground, known).unwrap();
    let lands = [(parcel(0), 3), (parcel(1), 3), (ROAD, 1), (parcel(2), 3), (Party::Unowned, 2)];
    let parties = Parties::new(lands.into_iter().flat_map(|(party, cells)| std::iter::repeat_n(party, cells)));
    let setting = Setting::new(ground.into(), conditioned, parties.into(), 3, ti_vec![drain], structures);
    let Path { stations, trace } = piped_path(&setting, giver, StructureIx(0));
    let found: Vec<(Party, f64)> = trace.crossings.iter().map(|on| (on.to, on.metres_on_land)).collect();
    assert_eq!(found, crossed);
    assert_eq!(trace.crossings.first().map(|first| first.from), crossed.first().map(|_| giver));
    assert_eq!((trace.length_m(), trace.outlet), (length_m, Some(outlet)));
    assert_eq!((stations[0], stations[stations.len() - 1]), (trace.first, trace.last));
    assert_eq!(trace.first.carrier, Carrier::Mapped(Feature::Structure(StructureIx(0))));
}

/// Places on the second pipe are 9 m apart from the junction on.
#[test]
fn a_pipe_that_joins_another_goes_on_in_it() {
    let (a, b) = (parcel(1), parcel(2));
    check_joined(false, parcel(0), &[(a, 27.0), (ROAD, 18.0), (b, 27.0)], 90.0, DRAIN);
    check_joined(true, parcel(0), &[], 18.0, Feature::Structure(StructureIx(1)));
}

const DRAIN: Feature = Feature::Waterway(WaterwayIx(0));
const ROAD: Party = Party::Road(RoadIx(0));

const fn parcel(number: usize) -> Party {
    Party::Parcel(ParcelIx(number))
}

#[test]
fn piped_water_runs_from_the_giver_under_each_land_to_the_drain() {
    let (a, b) = (parcel(1), parcel(2));
    check_piped(&[(1, 10, false)], parcel(0), &[(a, 30.0), (ROAD, 10.0), (b, 30.0)], 90.0, DRAIN);
    check_piped(&[(1, 10, false)], a, &[(ROAD, 10.0), (b, 30.0)], 70.0, DRAIN);
    check_piped(&[(7, 10, false)], b, &[], 30.0, DRAIN);
}

#[test]
fn a_main_off_the_givers_land_begins_on_its_neighbours() {
    let (a, b) = (parcel(1), parcel(2));
    check_piped(&[(4, 10, false)], parcel(0), &[(a, 20.0), (ROAD, 10.0), (b, 30.0)], 60.0, DRAIN);
}

#[test]
fn water_goes_on_over_the_ground_and_by_the_next_pipe() {
    let (a, b) = (parcel(1), parcel(2));
    let crossed = [(a, 30.0), (ROAD, 10.0), (b, 30.0)];
    check_piped(&[(1, 4, false)], parcel(0), &crossed, 90.0, DRAIN);
    check_piped(&[(1, 4, false), (4, 8, false)], parcel(0), &crossed, 90.0, DRAIN);
    let next = Feature::Structure(StructureIx(1));
    check_piped(&[(1, 4, false), (4, 8, true)], parcel(0), &[(a, 10.0)], 30.0, next);
}

#[test]
fn a_pipe_that_is_a_lawful_outlet_ends_the_path_where_it_takes_the_water() {
    let itself = Feature::Structure(StructureIx(0));
    check_piped(&[(1, 10, true)], parcel(0), &[], 0.0, itself);
    check_piped(&[(1, 10, true)], parcel(2), &[], 0.0, itself);
    check_piped(&[(7, 10, true)], parcel(0), &[], 0.0, itself);
}

/// A lake of the rows in the middle; a creek comes in from the north and leaves to the south where the shore is lowest. Water is
/// a waterway of its own whatever line runs through it, and one reach.
#[test]
fn a_lake_between_two_creeks_is_one_reach() {
    let frame = Frame::new(5, 9, (0.0, 9.0), (1.0, 1.0)).unwrap();
    let is_water = |cell: Cell| {
        let (col, row) = frame.col_row(cell);
        (1..4).contains(&col) && (3..6).contains(&row)
    };
    let height = |cell: Cell| {
        let (col, row) = frame.col_row(cell);
        if is_water(cell) { 5.0 } else { 9.0 - row as f32 * 0.5 + col.abs_diff(2) as f32 }
    };
    let ground = Raster { frame, values: (0..frame.len()).map(Cell).map(height).collect() };
    let water: Vec<Cell> = (0..frame.len()).map(Cell).filter(|&cell| is_water(cell)).collect();
    let column = |rows: std::ops::Range<usize>| rows.map(|row| frame.cell(2, row)).collect::<Vec<Cell>>();
    let waterway = |id: &str, chains, waters| Waterway {
        id: WaterwayId::new(id),
        class: "x".into(),
        lawful: true,
        chains,
        shares: vec![],
        waters,
        is_lake: true,
    };
    let check = |creeks: Vec<Vec<Cell>>, expected: &[(&str, usize)]| {
        let known = Conditioning { channels: creeks.clone(), ..Conditioning::default() };
        let conditioned = condition(&ground, known).unwrap();
        let waterways = ti_vec![waterway("CREEK", creeks, vec![]), waterway("LAKE", vec![], vec![water.clone()])];
        let parties = Parties::new((0..frame.len()).map(|_| Party::Unowned));
        let setting = Setting::new(ground.clone().into(), conditioned, parties.into(), 0, waterways, TiVec::new());
        let reaches = reaches(&setting);
        let found: Vec<(&str, usize)> =
            reaches.list.iter().map(|reach| (reach.id.as_str(), reach.cells.len())).collect();
        assert_eq!(found, expected);
        let network = OutletNetwork::build(&setting, &reaches, &TiVec::new());
        let next = |id: &str| {
            let position = reaches.list.position(|reach| reach.id.as_str() == id).unwrap();
            network.next_reach(position).map(|next| reaches.list[next].id.as_str())
        };
        assert_eq!((next("CREEK/2"), next("LAKE/1")), (Some("LAKE/1"), Some("CREEK/1")));
    };
    check(vec![column(0..9)], &[("CREEK/1", 3), ("CREEK/2", 3), ("LAKE/1", 9)]);
    check(vec![column(0..4), column(5..9)], &[("CREEK/1", 3), ("CREEK/2", 3), ("LAKE/1", 9)]);
}
