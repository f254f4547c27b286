//! Sets of squares that several terms need.

use shakmaty::{Bitboard, Color, File};

/// Index of a colour: Black first.
#[inline]
#[must_use]
pub const fn index(color: Color) -> usize {
    color.is_white() as usize
}

/// All squares in front of the given ones, seen from `color`.
#[must_use]
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

/// The squares to the left and right of the given ones.
#[must_use]
pub fn beside(squares: Bitboard) -> Bitboard {
    let (a, h) = (Bitboard::from_file(File::A), Bitboard::from_file(File::H));
    (squares & !h).shift(1) | (squares & !a).shift(-1)
}

/// The given squares and those beside them.
#[must_use]
pub fn with_neighbours(squares: Bitboard) -> Bitboard {
    squares | beside(squares)
}

/// One step forward.
#[must_use]
pub fn forward(color: Color, squares: Bitboard) -> Bitboard {
    squares.shift(color.fold_wb(8, -8))
}

/// Squares that pawns on the given ones attack.
#[must_use]
pub fn pawn_targets(color: Color, pawns: Bitboard) -> Bitboard {
    beside(forward(color, pawns))
}
