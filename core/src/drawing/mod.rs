//! Drawings and charts as SVG text, the same on pages and in packets. Each has a title and a
//! description, and no meaning rests on colour alone.

mod hits_plot;
pub mod house_marks;
mod planned;
pub mod roof_plan;
mod sheet;
mod storm_plot;
mod sun_day;

pub use hits_plot::hits_plot;
pub use planned::{PlannedRoof, pitch_of, planned_roof};
pub use storm_plot::storm_plot;
pub use sun_day::sun_day;
