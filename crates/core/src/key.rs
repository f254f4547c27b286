//! Identity of a position: see methods, section 1.

use shakmaty::{Chess, EnPassantMode, Position, zobrist::Zobrist64};

/// How en passant enters keys, FEN and equality everywhere in Variorum: only where such a capture is legal.
pub const EN_PASSANT: EnPassantMode = EnPassantMode::Legal;

/// 64-bit Zobrist key of placement, side to move, castling rights and the file of a legal en-passant capture. Move
/// counters do not count. Values are stable: they stand in stores and in files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PositionKey(pub u64);

/// The key of `position`.
#[must_use]
pub fn key_of(position: &Chess) -> PositionKey {
    PositionKey(position.zobrist_hash::<Zobrist64>(EN_PASSANT).0)
}
