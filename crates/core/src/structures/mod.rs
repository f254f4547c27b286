//! Structures: named pawn skeletons, recognised in either colour (methods, section 8).
//!
//! The skeletons are data that the caller hands over once, as texts; a [`Catalogue`] compiles them to masks. A position is
//! recognised from its pawns alone.

mod catalogue;
mod skeleton;
mod steps;

pub use catalogue::{Catalogue, Entry, Holder, NO_STRUCTURE, Recognised, StructureIndex, code_of};
pub use skeleton::{Skeleton, SkeletonFault};
pub use steps::{Break, Ground, Step, WEIGHTS, Weights, steps};

use shakmaty::{Board, Role, packed::PackedSetup};

use crate::graph::Packed;

/// White's and Black's pawns.
#[must_use]
pub fn pawns_of(board: &Board) -> (u64, u64) {
    let pawns = board.by_role(Role::Pawn);
    ((pawns & board.white()).into(), (pawns & board.black()).into())
}

/// The board of a packed position; `None` where the bytes are not one.
#[must_use]
pub fn board_of(packed: &Packed) -> Option<Board> {
    Some(PackedSetup::try_from_bytes(packed).ok()?.unpack_standard().ok()?.board)
}

#[cfg(test)]
mod tests;
