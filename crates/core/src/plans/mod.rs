//! What the sides do from a position on: breaks, itineraries, castling, exchanges, structures, pressure, read from many games at once
//! (methods, section 9).
//!
//! A table of plans is first grown from games ([`PlanTable::collect`]); those that are wanted of it are then looked up
//! in the same games or in others ([`PlanTable::trace`]), each with the ply at which it was first carried out.

mod events;
mod table;

#[cfg(test)]
mod tests;

pub use events::{Event, MOST_PLIES, What, pressure_on, read_events};
pub use table::{NO_PLAN, PlanColumns, PlanTable, Traced, View, prints};
