//! The hand evaluation: material, piece squares, mobility, pawns, passed pawns, threats, space and the kings' safety,
//! blended from middle game to endgame by the pieces that are left. Its weights are fitted (see `training`).

use shakmaty::Color;

use super::{
    Evaluator,
    endings::{corner, end_scale},
    king,
    pawns::{PawnFeatures, PawnTable, look_at},
    pieces::{self, Attacks},
    record::{Record, Silent, Trace},
    sum::Sum,
    tapered::Tapered,
    terms as w, threats,
};
use crate::board::Board;

/// The phase of the full set.
const FULL_PHASE: i32 = 24;
/// No static evaluation is greater.
const MOST: i32 = 20_000;

/// The evaluator that Variorum brings along.
#[derive(Default)]
pub struct HandEvaluation {
    pawns: PawnTable,
}

impl Evaluator for HandEvaluation {
    fn evaluate(&mut self, board: &Board) -> i32 {
        let pawns = self.pawns.features(board);
        let value = judge(board, pawns, &mut Silent).value;
        if board.turn().is_white() { value } else { -value }
    }
}

/// How the evaluation of a board comes about.
#[must_use]
pub fn trace(board: &Board) -> Trace {
    let mut trace = Trace::default();
    let pawns = look_at(board, &mut trace);
    let Judged { value, phase, scale, rest } = judge(board, &pawns, &mut trace);
    Trace { value, phase, scale, rest, ..trace }
}

/// An evaluation for White and how it was blended.
struct Judged {
    value: i32,
    phase: i32,
    scale: i32,
    rest: i32,
}

fn judge<R: Record>(board: &Board, pawns: &PawnFeatures, record: &mut R) -> Judged {
    let mut attacks = Attacks::of_kings_and_pawns(board, pawns);
    let mut phase = 0;
    let mut totals = [Tapered::ZERO; 2];
    for color in Color::ALL {
        let mut sum = Sum::new(color, record);
        phase += pieces::add(board, color, pawns, &mut attacks, &mut sum);
        totals[color.is_white() as usize] = sum.total;
    }
    for color in Color::ALL {
        let mut sum = Sum::new(color, record);
        threats::add_passers(board, color, pawns, &attacks, &mut sum);
        threats::add_threats(board, color, &attacks, &mut sum);
        threats::add_space(board, color, pawns, &mut sum);
        if board.turn() == color {
            sum.add(w::TEMPO, 0);
        }
        totals[color.is_white() as usize] += sum.total;
        totals[color.is_white() as usize] -= king::danger(board, color, pawns, &attacks, record);
    }
    let total = pawns.value + totals[1] - totals[0];
    let phase = phase.min(FULL_PHASE);
    let stronger = Color::from_white(total.end() > 0);
    let scale = end_scale(board, stronger);
    let rest = if scale == 0 || phase == FULL_PHASE { 0 } else { corner(board, stronger) };
    let end = total.end() * scale / 64;
    let blended = (total.middle() * phase + end * (FULL_PHASE - phase)) / FULL_PHASE + rest;
    Judged { value: blended.clamp(-MOST, MOST), phase, scale, rest }
}
