//! Static evaluation, behind one trait so that another evaluator can take its place.

mod hand;
mod pawns;
mod tapered;
mod weights;

pub use hand::HandEvaluation;

use crate::board::Board;

/// Judges positions without searching.
pub trait Evaluator: Send {
    /// Centipawns for the side to move, at most 20 000 in size. The same board always has the same value.
    fn evaluate(&mut self, board: &Board) -> i32;
}
