//! One function for each command: open, ask, write.

mod capacity;
mod check;
mod outlets;
mod petition;
mod sheets;
mod terrain;
mod watershed;

pub use capacity::{CapacityDone, capacity};
pub use check::check;
pub use outlets::{OutletsDone, outlets};
pub use petition::{AreaAsked, PetitionAsked, PetitionDone, petition};
pub use sheets::{Pdf, sheets};
pub use terrain::{TerrainOptions, terrain};
pub use watershed::{WatershedDone, watershed};
