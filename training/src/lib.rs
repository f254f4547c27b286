//! Positions of the resident's own games, and the model that is fitted to them.

pub mod model;
pub mod positions;
