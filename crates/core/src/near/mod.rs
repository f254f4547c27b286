//! Positions of a graph that differ in at most two units, and those that do with colours reversed (methods, section 6).
//!
//! Every position is filed under what is left of it after taking off none, one or two units; positions that share such a
//! remainder are candidates. Colours do not matter to the file, so that twins are found by the same search. The file is
//! made in several passes, each over a part of the hashes, so that memory stays bounded.

mod placement;
mod search;
mod setting;

pub use placement::{Difference, Placement, difference};
pub use search::{Group, NearFault, Pair, Pairs, find_pairs, pairs_of};
pub use setting::{Columns, Setting};

#[cfg(test)]
mod tests;
