//! Pawn structure and the kings' pawn cover, remembered by the key of pawns and kings.

use shakmaty::{Bitboard, Color, File, Rank, Role, Square, attacks::pawn_attacks};

use super::{
    tapered::{Tapered, t},
    weights as w,
};
use crate::board::Board;

/// What the pawns and kings alone say.
#[derive(Clone, Copy, Default)]
pub struct PawnFeatures {
    key: u64,
    /// White less Black.
    pub value: Tapered,
    /// Passed pawns of both sides.
    pub passed: Bitboard,
    /// Squares attacked by pawns, Black's then White's.
    pub attacks: [Bitboard; 2],
    /// Squares that pawns attack now or may attack after advancing.
    pub reach: [Bitboard; 2],
    /// Middle-game worth of the pawns before each king.
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
            *slot = look_at(board);
        }
        slot
    }
}

/// All squares in front of the given ones, seen from `color`.
pub fn ahead(color: Color, squares: Bitboard) -> Bitboard {
    let Bitboard(mut filled) = squares;
    match color {
        Color::White => {
            filled <<= 8;
            filled |= filled << 8;
            filled |= filled << 16;
            filled |= filled << 32;
        }
        Color::Black => {
            filled >>= 8;
            filled |= filled >> 8;
            filled |= filled >> 16;
            filled |= filled >> 32;
        }
    }
    Bitboard(filled)
}

/// The given squares and those beside them.
fn with_neighbours(squares: Bitboard) -> Bitboard {
    squares | beside(squares)
}

fn beside(squares: Bitboard) -> Bitboard {
    let (a, h) = (Bitboard::from_file(File::A), Bitboard::from_file(File::H));
    (squares & !h).shift(1) | (squares & !a).shift(-1)
}

/// One step forward.
pub fn forward(color: Color, squares: Bitboard) -> Bitboard {
    squares.shift(color.fold_wb(8, -8))
}

/// Squares that pawns on the given ones attack.
pub fn pawn_targets(color: Color, pawns: Bitboard) -> Bitboard {
    beside(forward(color, pawns))
}

fn look_at(board: &Board) -> PawnFeatures {
    let mut features = PawnFeatures { key: board.pawn_key(), ..PawnFeatures::default() };
    for color in Color::ALL {
        let pawns = board.of(color, Role::Pawn);
        features.attacks[color.is_white() as usize] = pawn_targets(color, pawns);
        features.reach[color.is_white() as usize] = pawn_targets(color, pawns | ahead(color, pawns));
    }
    for color in Color::ALL {
        let mut value = Tapered::ZERO;
        for pawn in board.of(color, Role::Pawn) {
            let (worth, passed) = judge(board, &features, color, pawn);
            value += worth;
            if passed {
                features.passed.add(pawn);
            }
        }
        let shelter = shelter(board, color);
        features.shelter[color.is_white() as usize] = shelter;
        value += t(shelter, 0);
        features.value += if color.is_white() { value } else { -value };
    }
    features
}

/// Worth of one pawn, and whether it is passed.
fn judge(board: &Board, features: &PawnFeatures, color: Color, pawn: Square) -> (Tapered, bool) {
    let own = board.of(color, Role::Pawn);
    let enemy = board.of(color.other(), Role::Pawn);
    let square = Bitboard::from_square(pawn);
    let rank = color.relative_rank(pawn.rank()).to_usize();
    let way = ahead(color, square);
    let file = Bitboard::from_file(pawn.file());
    let neighbours = beside(file) & own;
    let open = (way & enemy).is_empty();
    let doubled = (way & own).any();
    let passed = ((with_neighbours(way)) & enemy).is_empty() && !doubled;

    let mut worth = Tapered::ZERO;
    if doubled {
        worth += w::DOUBLED;
    }
    let supported = (pawn_attacks(color.other(), pawn) & own).any();
    let phalanx = (beside(square) & own).any();
    if supported || phalanx {
        worth += w::CONNECTED[rank];
    }
    if neighbours.is_empty() {
        worth += if open { w::ISOLATED_OPEN } else { w::ISOLATED };
    } else if !supported && !phalanx {
        // Friends that stand beside or behind could still come to guard it.
        let behind = neighbours & !ahead(color, with_neighbours(square));
        let stop = forward(color, square);
        if behind.is_empty() && (features.attacks[color.is_black() as usize] & stop).any() {
            worth += if open { w::BACKWARD_OPEN } else { w::BACKWARD };
        }
    }
    if passed {
        worth += w::PASSED[rank];
        if supported {
            worth += w::PASSED_GUARDED;
        }
    }
    (worth, passed)
}

/// Middle-game worth of the pawns around a king: own pawns before it, enemy pawns that come near.
fn shelter(board: &Board, color: Color) -> i32 {
    let king = board.king(color);
    let own = board.of(color, Role::Pawn);
    let enemy = board.of(color.other(), Role::Pawn);
    let king_rank = color.relative_rank(king.rank()).to_usize();
    let before = |pawns: Bitboard| {
        // The pawn nearest to the king on this file, as steps ahead of the king's rank; 0 for none.
        let ranks = pawns.into_iter().map(|pawn| color.relative_rank(pawn.rank()).to_usize());
        ranks.filter(|&rank| rank > king_rank).min().map_or(0, |rank| rank - king_rank)
    };
    let middle = king.file().to_usize().clamp(1, 6);
    let mut total = 0;
    for index in middle - 1..=middle + 1 {
        let file = Bitboard::from_file(File::new(index as u32));
        let (cover, attack) = (before(own & file), before(enemy & file));
        total += w::SHELTER[cover];
        let storm = w::STORM[attack];
        total += if attack != 0 && cover != 0 && attack == cover + 1 { storm / w::STORM_STOPPED } else { storm };
        if (own & file).is_empty() && (enemy & file).is_empty() {
            total += w::SHELTER_OPEN_FILE;
        }
    }
    // A king that has left its first ranks has no shelter to speak of.
    if color.relative_rank(king.rank()) > Rank::Third { total.min(-40) } else { total }
}
