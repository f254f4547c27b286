//! Random numbers of the search's own incremental keys (Zobrist, "A New Hashing Method with Application for Game
//! Playing", 1970). They never leave the search: the project's keys are those of the core.

use shakmaty::{Color, Role, Square};

/// One step of the generator of Steele, Lea and Flood ("Fast Splittable Pseudorandom Number Generators", 2014).
#[must_use]
pub const fn mix(state: u64) -> u64 {
    let mut z = state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// The increment that goes with [`mix`].
pub const GOLDEN: u64 = 0x9e37_79b9_7f4a_7c15;

const fn numbers<const N: usize>(seed: u64) -> [u64; N] {
    let mut out = [0; N];
    let mut state = seed;
    let mut i = 0;
    while i < N {
        state = state.wrapping_add(GOLDEN);
        out[i] = mix(state);
        i += 1;
    }
    out
}

static PIECES: [u64; 768] = numbers(1);
static CASTLING: [u64; 16] = numbers(2);
static EN_PASSANT: [u64; 8] = numbers(3);

/// Black is to move.
pub const BLACK_TO_MOVE: u64 = mix(4);

/// A piece on a square.
#[inline]
#[must_use]
pub fn piece(color: Color, role: Role, square: Square) -> u64 {
    PIECES[(color.is_white() as usize * 6 + role as usize - 1) * 64 + square.to_usize()]
}

/// A set of castling rights, as four bits.
#[inline]
#[must_use]
pub fn castling(rights: u8) -> u64 {
    CASTLING[(rights & 15) as usize]
}

/// A file on which an en-passant capture is legal.
#[inline]
#[must_use]
pub fn en_passant(square: Square) -> u64 {
    EN_PASSANT[square.file().to_usize()]
}
