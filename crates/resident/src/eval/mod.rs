//! Static evaluation, behind one trait so that another evaluator can take its place.

mod endings;
mod hand;
mod king;
mod pawns;
mod pieces;
mod record;
mod shelter;
mod squares;
mod sum;
mod tapered;
pub mod terms;
mod threats;
mod weights;

pub use hand::{HandEvaluation, trace};
pub use king::{DANGER_SQUARE, DANGER_STRAIGHT};
pub use record::Trace;

use crate::board::Board;

/// Judges positions without searching.
pub trait Evaluator: Send {
    /// Centipawns for the side to move, at most 20 000 in size. The same board always has the same value.
    fn evaluate(&mut self, board: &Board) -> i32;
}

/// The weights in use: middle game and endgame of each term, and those of danger.
#[must_use]
pub fn weights() -> (Vec<(i32, i32)>, Vec<i32>) {
    (weights::WEIGHTS.iter().map(|weight| (weight.middle(), weight.end())).collect(), weights::DANGER.to_vec())
}
