//! Flow directions.

use fallwright_units::{Cell, Raster, SharedRaster};

use crate::direction;
use crate::flow::Flow;
use crate::link::Links;
use crate::tiled::{self, FlowConstraints, TILE_SIDE, Tiling};

/// The direction of steepest fall among the eight neighbours, flats resolved.
///
/// Slope is the drop over the distance between centres. *Ties* go to the lowest code: north-east first, then clockwise to
/// north. A link's inlet is carried by its structure whatever the ground does. Where no neighbour is lower, water ends at
/// the edge of the data, beside missing data and in the `sinks` of kept depressions; elsewhere the cell lies on a flat and
/// drains across it: toward its low edge and away from higher ground.
///
/// *Units*: `surface` in metres, filled by [`crate::fill`] with the same links and sinks.
///
/// *Complexity*: O(n) for n cells, tiles in parallel (see [`crate::tiled`]).
///
/// *References*: J. F. O'Callaghan & D. M. Mark (1984), The extraction of drainage networks from digital elevation data,
/// Computer Vision, Graphics, and Image Processing 28, 323–344.
pub fn flow_direction(surface: &Raster<f32>, links: Links, sinks: &[Cell]) -> Flow {
    flow_along_channels(surface, links, sinks, &[])
}

/// The same with mapped channels, given as consecutive cells drawn downstream: where a channel runs along the edge of the
/// data, or beside missing data, and on at its level, its water stays in it, if it can leave elsewhere.
pub(crate) fn flow_along_channels(surface: &Raster<f32>, links: Links, sinks: &[Cell], channels: &[Vec<Cell>]) -> Flow {
    let tiling = Tiling { frame: surface.frame, side: TILE_SIDE };
    let direction = SharedRaster::new(Raster::filled(surface.frame, direction::NODATA));
    let constraints = FlowConstraints { links: &links, sinks, channels };
    let Ok(()) = tiled::directions(&tiling, surface, &direction, constraints);
    Flow { direction: direction.into_raster(), links }
}

#[cfg(test)]
mod tests {
    use fallwright_units::Raster;

    use crate::tests::{end_of, grid};
    use crate::{Conditioning, accumulation, condition};

    fn along(channel: &[(usize, usize)]) -> crate::Conditioned {
        let ground = grid(
            "5 5 5 5 5
             6 6 6 6 6
             7 7 7 7 7",
        );
        let cells = channel.iter().map(|&(col, row)| ground.frame.cell(col, row)).collect();
        condition(&ground, Conditioning { channels: vec![cells], ..Conditioning::default() }).unwrap()
    }

    fn cells(raster: &Raster<u64>, col: usize) -> u64 {
        raster[raster.frame.cell(col, 0)]
    }

    #[test]
    fn a_channel_along_the_edge_keeps_its_water_to_its_end() {
        let area = accumulation(&along(&[(0, 0), (1, 0), (2, 0), (3, 0), (4, 0)]).flow);
        assert_eq!(cells(&area, 4), 15);
        let area = accumulation(&along(&[(4, 0), (3, 0), (2, 0), (1, 0), (0, 0)]).flow);
        assert_eq!(cells(&area, 0), 15);
    }

    #[test]
    fn a_channel_that_leads_nowhere_lets_its_water_out_at_the_edge() {
        let conditioned = along(&[(1, 0), (2, 0), (2, 1)]);
        let frame = conditioned.surface.frame;
        for cell in (0..frame.len()).map(fallwright_units::Cell) {
            assert_eq!(frame.col_row(end_of(&conditioned, cell)).1, 0, "{cell:?}");
        }
    }
}
