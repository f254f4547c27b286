//! Correction of the static evaluation by what searches of similar positions found: a running mean of the difference, by
//! pawns and by each side's pieces.

use shakmaty::Color;

use crate::board::Board;

/// Slots of each table and side to move.
const SLOTS: usize = 1 << 14;
/// Entries are in sixteenths of a centipawn.
const UNIT: i32 = 16;
const LIMIT: i32 = 64 * UNIT;

/// What was learnt, for each side to move.
pub struct Corrections {
    pawns: Vec<i16>,
    pieces: [Vec<i16>; 2],
}

impl Default for Corrections {
    fn default() -> Corrections {
        Corrections { pawns: vec![0; 2 * SLOTS], pieces: [vec![0; 2 * SLOTS], vec![0; 2 * SLOTS]] }
    }
}

fn slot(turn: Color, key: u64) -> usize {
    turn.is_white() as usize * SLOTS + (key >> 20) as usize % SLOTS
}

impl Corrections {
    /// Forgets everything.
    pub fn clear(&mut self) {
        self.pawns.fill(0);
        for table in &mut self.pieces {
            table.fill(0);
        }
    }

    /// What to add to the static evaluation, in centipawns for the side to move.
    #[inline]
    #[must_use]
    pub fn of(&self, board: &Board) -> i32 {
        let turn = board.turn();
        let pawns = i32::from(self.pawns[slot(turn, board.pawn_key())]);
        let pieces: i32 = Color::ALL
            .into_iter()
            .zip(&self.pieces)
            .map(|(color, table)| i32::from(table[slot(turn, board.piece_key(color))]))
            .sum();
        (2 * pawns + 2 * pieces) / (3 * UNIT)
    }

    /// A search of `depth` found the position better by `difference` centipawns than its static evaluation.
    pub fn learn(&mut self, board: &Board, difference: i32, depth: i32) {
        let turn = board.turn();
        let bonus = (difference * depth * UNIT / 64).clamp(-LIMIT / 4, LIMIT / 4);
        step(&mut self.pawns[slot(turn, board.pawn_key())], bonus);
        for (color, table) in Color::ALL.into_iter().zip(&mut self.pieces) {
            step(&mut table[slot(turn, board.piece_key(color))], bonus);
        }
    }
}

fn step(entry: &mut i16, bonus: i32) {
    let value = i32::from(*entry);
    *entry = (value + bonus - value * bonus.abs() / LIMIT) as i16;
}
