//! The position graph: building it from games, texts and verdicts, and arithmetic over it.
//!
//! Nodes and edges are numbered from 0 and kept as columns: the edges of node `n` are `offsets[n]..offsets[n + 1]`, sorted
//! by their packed move, so that nothing below depends on the order in which games or texts were read.

mod audit;
mod build;
mod components;
mod course;
mod edges;
mod finish;
mod interleave;
mod knot;
mod orders;
mod positions;
mod values;

pub use build::{BuildFault, ELSEWHERE, GAMES, Games, GraphBuilder, MAX_CHANNELS, ROOT, TEXT, VERDICT};
pub use components::{Components, components};
pub use course::{Course, Flow};
pub use edges::{Edges, Incoming};
pub use finish::{Built, Count};
pub use interleave::{Interleavings, interleavings};
pub use orders::Order;
pub use positions::{Collision, KeyMap, PACKED_BYTES, Packed, PositionTable, pack, unpack};
pub use values::{Basis, Certainty, Positions, Value, Verdicts, back_up, back_up_all};

/// "No node" in columns of node numbers.
pub const NO_NODE: u32 = u32::MAX;

use std::fmt;

/// Columns that do not fit together, or say what cannot be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColumnFault(pub String);

impl fmt::Display for ColumnFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for ColumnFault {}

/// `Ok` where `condition` holds, else a fault that says `text`.
pub(crate) fn demand(condition: bool, text: &str) -> Result<(), ColumnFault> {
    if condition { Ok(()) } else { Err(ColumnFault(text.to_owned())) }
}
