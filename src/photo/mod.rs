//! Photographs of trays: reading them within limits, straightening, measuring, and a first reading. Effects: it decodes
//! files of strangers, which can take long and much memory, so the window calls it from its worker.

mod decode;
mod exif;
mod landmarks;
mod reading;
mod shapes;
mod straighten;

pub use decode::{Limits, PhotoFault, Photograph, decode, shrink, without_metadata};
pub use image::RgbImage;
pub use landmarks::quarter_turns;
pub use reading::{Clearness, Proposal, ReadingFault, propose};
pub use straighten::{CellGrid, Corners, CornersFault, Point, RectMm, Straightened, first_guess, length_mm};
