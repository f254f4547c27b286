//! Square language: what the pawns of a position make of its squares (methods, section 8). Functions of the position alone.
//!
//! Everything is worked out for White; Black's answer is White's on the board with colours reversed.

mod language;
mod routes;

pub use language::{Language, Sides, language};
pub use routes::{MOST_MOVES, Route, routes};

use rayon::prelude::*;
use shakmaty::{Board, Color, Role};

use crate::graph::Packed;
use crate::structures::board_of;

/// The units of a board that matter here, as White sees them: `own` and `their` of each kind.
#[derive(Debug, Clone, Copy)]
pub(crate) struct View {
    pub own_pawns: u64,
    pub their_pawns: u64,
    pub own_knights: u64,
    pub own_bishops: u64,
    pub own: u64,
    pub their: u64,
}

impl View {
    /// The board as `side` sees it: for Black with ranks turned over.
    pub fn of(board: &Board, side: Color) -> View {
        let turn = |squares: u64| side.fold_wb(squares, squares.swap_bytes());
        let (own, their) = (board.by_color(side), board.by_color(side.other()));
        let of = |role, whose| turn((board.by_role(role) & whose).into());
        View {
            own_pawns: of(Role::Pawn, own),
            their_pawns: of(Role::Pawn, their),
            own_knights: of(Role::Knight, own),
            own_bishops: of(Role::Bishop, own),
            own: turn(own.into()),
            their: turn(their.into()),
        }
    }
}

/// The words of many packed positions, in order, on all cores; `None` where the bytes of one are no position.
#[must_use]
pub fn languages(positions: &[Packed]) -> Option<Vec<Sides>> {
    positions.par_iter().with_min_len(512).map(|packed| board_of(packed).map(|board| language(&board))).collect()
}

#[cfg(test)]
mod tests;
