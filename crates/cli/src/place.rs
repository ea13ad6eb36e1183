//! A point as arguments, for every command that begins at one.

use clap::Args;
use fallwright::{MapPoint, Place};

use crate::failure::Failure;
use crate::point::Point;

/// The name of the group of arguments that name a place by its id, in each command.
pub(crate) const BY_ID: &str = "by_id";

#[derive(Debug, Args)]
pub(crate) struct At {
    /// A point in the case's reference system
    #[arg(long, value_name = "X,Y", allow_hyphen_values = true, help_heading = "Place")]
    at: Option<Point>,

    /// Read --at as longitude and latitude in degrees (WGS 84)
    #[arg(long, conflicts_with = BY_ID, help_heading = "Place")]
    lonlat: bool,
}

impl At {
    /// The place that was named, by its id or as the point.
    ///
    /// # Errors
    /// A point that cannot be the longitude and latitude it is said to be; neither an id nor a point.
    pub(crate) fn place(&self, by_id: Option<Place>) -> Result<Place, Failure> {
        self.optional_place(by_id)?.ok_or_else(|| Failure::Usage("name a place".to_owned()))
    }

    /// The same where a place may be left out.
    ///
    /// # Errors
    /// A point that cannot be the longitude and latitude it is said to be.
    pub(crate) fn optional_place(&self, by_id: Option<Place>) -> Result<Option<Place>, Failure> {
        let point = self.point()?.map(Place::Point);
        Ok(by_id.or(point))
    }

    fn point(&self) -> Result<Option<MapPoint>, Failure> {
        let Some(point) = self.at else { return Ok(None) };
        if self.lonlat {
            point.check_lonlat()?;
        }
        Ok(Some(MapPoint { x: point.x, y: point.y, lonlat: self.lonlat }))
    }
}
