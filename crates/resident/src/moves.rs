//! Moves of the search, packed into sixteen bits.

use shakmaty::{Chess, Role, Square};
use variorum_core::moves::PackedMove;

/// A move: origin, destination and promotion. Castling is always the king taking its own rook; zero is no move.
///
/// The bits are those of the core's [`PackedMove`]; here they have what a search needs of them.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default, PartialOrd, Ord)]
pub struct Move(pub u16);

impl Move {
    /// No move.
    pub const NONE: Move = Move(0);

    /// A move without promotion.
    #[inline]
    #[must_use]
    pub const fn new(from: Square, to: Square) -> Move {
        Move(from.to_u32() as u16 | (to.to_u32() as u16) << 6)
    }

    /// A promotion to `role` (knight, bishop, rook or queen).
    #[inline]
    #[must_use]
    pub const fn promoting(from: Square, to: Square, role: Role) -> Move {
        Move(Move::new(from, to).0 | (role as u16 - 1) << 12)
    }

    /// Whether there is no move here.
    #[inline]
    #[must_use]
    pub const fn is_none(self) -> bool {
        self.0 == 0
    }

    /// Where the piece stands.
    #[inline]
    #[must_use]
    pub const fn from(self) -> Square {
        Square::new((self.0 & 63) as u32)
    }

    /// Where it goes; the rook's square in castling.
    #[inline]
    #[must_use]
    pub const fn to(self) -> Square {
        Square::new((self.0 >> 6 & 63) as u32)
    }

    /// What a pawn becomes.
    #[inline]
    #[must_use]
    pub const fn promotion(self) -> Option<Role> {
        match self.0 >> 12 {
            1 => Some(Role::Knight),
            2 => Some(Role::Bishop),
            3 => Some(Role::Rook),
            4 => Some(Role::Queen),
            _ => None,
        }
    }

    /// Origin and destination as one index below 4096.
    #[inline]
    #[must_use]
    pub const fn from_to(self) -> usize {
        (self.0 & 0xfff) as usize
    }

    /// The same move in the vocabulary of the rules library; `None` when it is not legal in `position`.
    #[must_use]
    pub fn to_shakmaty(self, position: &Chess) -> Option<shakmaty::Move> {
        PackedMove(self.0).unpack(position)
    }
}

impl From<shakmaty::Move> for Move {
    fn from(m: shakmaty::Move) -> Move {
        Move(PackedMove::pack(m).0)
    }
}

/// Moves of one position with the scores that order them. No legal position has more than 218 moves.
#[derive(Clone)]
pub struct MoveList {
    moves: [Move; 256],
    len: usize,
}

impl Default for MoveList {
    fn default() -> MoveList {
        MoveList { moves: [Move::NONE; 256], len: 0 }
    }
}

impl MoveList {
    /// Adds a move; pseudo-legal input beyond the capacity is ignored, which legal positions cannot reach.
    #[inline]
    pub fn push(&mut self, m: Move) {
        if let Some(slot) = self.moves.get_mut(self.len) {
            *slot = m;
            self.len += 1;
        }
    }

    /// Empties the list.
    #[inline]
    pub fn clear(&mut self) {
        self.len = 0;
    }

    /// The moves.
    #[inline]
    #[must_use]
    pub fn as_slice(&self) -> &[Move] {
        &self.moves[..self.len]
    }

    /// The moves, to be reordered.
    #[inline]
    pub fn as_mut_slice(&mut self) -> &mut [Move] {
        &mut self.moves[..self.len]
    }
}
