//! Pawn structure, remembered by the key of pawns and kings.

use shakmaty::{Bitboard, Color, Role, Square, attacks::pawn_attacks};

use super::{
    pieces::square_index,
    record::{Record, Silent},
    shelter,
    squares::{ahead, beside, forward, index, pawn_targets, with_neighbours},
    sum::Sum,
    tapered::Tapered,
    terms as w,
};
use crate::board::Board;

/// What the pawns and kings alone say.
#[derive(Clone, Copy, Default)]
pub struct PawnFeatures {
    key: u64,
    /// White less Black: pawns with their squares and structure, kings with their squares and shelter.
    pub value: Tapered,
    /// Passed pawns of both sides.
    pub passed: Bitboard,
    /// Squares attacked by pawns, Black's then White's.
    pub attacks: [Bitboard; 2],
    /// Squares that pawns attack now or may attack after advancing.
    pub reach: [Bitboard; 2],
    /// Middle-game worth of the pawns around each king.
    pub shelter: [i32; 2],
}

const SLOTS: usize = 1 << 13;

/// Remembers features by key.
pub struct PawnTable(Vec<PawnFeatures>);

impl Default for PawnTable {
    fn default() -> PawnTable {
        // The key of an empty slot must not be that of a position in the same slot.
        PawnTable(vec![PawnFeatures { key: u64::MAX, ..PawnFeatures::default() }; SLOTS])
    }
}

impl PawnTable {
    /// The features of a board.
    pub fn features(&mut self, board: &Board) -> &PawnFeatures {
        let slot = &mut self.0[board.pawn_key() as usize % SLOTS];
        if slot.key != board.pawn_key() {
            *slot = look_at(board, &mut Silent);
        }
        slot
    }
}

/// Looks at pawns and kings.
pub fn look_at<R: Record>(board: &Board, record: &mut R) -> PawnFeatures {
    let mut features = PawnFeatures { key: board.pawn_key(), ..PawnFeatures::default() };
    for color in Color::ALL {
        let pawns = board.of(color, Role::Pawn);
        features.attacks[index(color)] = pawn_targets(color, pawns);
        features.reach[index(color)] = pawn_targets(color, pawns | ahead(color, pawns));
    }
    for color in Color::ALL {
        let mut sum = Sum::new(color, record);
        shelter::add(board, color, &mut sum);
        features.shelter[index(color)] = sum.total.middle();
        sum.add(w::SQUARES, square_index(color, Role::King, board.king(color)));
        for pawn in board.of(color, Role::Pawn) {
            sum.add(w::MATERIAL, 0);
            sum.add(w::SQUARES, square_index(color, Role::Pawn, pawn));
            if judge(board, &features, color, pawn, &mut sum) {
                features.passed.add(pawn);
            }
        }
        features.value += if color.is_white() { sum.total } else { -sum.total };
    }
    features
}

/// Adds the worth of one pawn's place in the structure; whether it is passed.
fn judge<R: Record>(board: &Board, features: &PawnFeatures, color: Color, pawn: Square, sum: &mut Sum<'_, R>) -> bool {
    let own = board.of(color, Role::Pawn);
    let enemy = board.of(color.other(), Role::Pawn);
    let square = Bitboard::from_square(pawn);
    let rank = color.relative_rank(pawn.rank()).to_usize();
    let way = ahead(color, square);
    let neighbours = beside(Bitboard::from_file(pawn.file())) & own;
    let open = (way & enemy).is_empty();
    let doubled = (way & own).any();
    let passed = (with_neighbours(way) & enemy).is_empty() && !doubled;

    if doubled {
        sum.add(w::DOUBLED, 0);
    }
    let guards = pawn_attacks(color.other(), pawn) & own;
    let phalanx = beside(square) & own;
    if guards.any() {
        sum.add(w::GUARDED, rank);
    }
    if phalanx.any() {
        sum.add(w::PHALANX, rank);
    }
    if (forward(color, square) & enemy).any() {
        sum.add(w::STOPPED, rank);
    }
    if neighbours.is_empty() {
        sum.add(w::ISOLATED, usize::from(open));
    } else if guards.is_empty() && phalanx.is_empty() {
        // Friends that stand beside or behind could still come to guard it.
        let behind = neighbours & !ahead(color, with_neighbours(square));
        if behind.is_empty() && (features.attacks[index(color.other())] & forward(color, square)).any() {
            sum.add(w::BACKWARD, usize::from(open));
        }
    }
    if passed {
        sum.add(w::PASSED, rank);
        if guards.any() {
            sum.add(w::PASSED_GUARDED, 0);
        }
    } else if open && !doubled {
        let sentries = (with_neighbours(way) & enemy).count();
        let helpers = (neighbours & !ahead(color, with_neighbours(forward(color, square)))).count();
        if helpers >= sentries {
            sum.add(w::CANDIDATE, rank);
        }
    }
    passed
}
