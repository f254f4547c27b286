//! Moves in sixteen bits, and the null move.

use shakmaty::{Chess, Color, FromSetup, Move, Position, Role, Square};

use crate::key::EN_PASSANT;

/// A move in 16 bits: from, to (6 bits each), promotion (0 none, 1 knight, 2 bishop, 3 rook, 4 queen). Castling is
/// always king takes own rook. Zero is the null move.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct PackedMove(pub u16);

impl PackedMove {
    /// The null move, and "no move" at the end of a game.
    pub const NULL: PackedMove = PackedMove(0);

    /// Packs a move of standard chess.
    #[must_use]
    pub fn pack(played: Move) -> PackedMove {
        let from = played.from().map_or(0, u16::from);
        let promotion = match played.promotion() {
            Some(Role::Knight) => 1,
            Some(Role::Bishop) => 2,
            Some(Role::Rook) => 3,
            Some(Role::Queen) => 4,
            _ => 0,
        };
        PackedMove(from | u16::from(played.to()) << 6 | promotion << 12)
    }

    /// Whether this is the null move.
    #[must_use]
    pub const fn is_null(self) -> bool {
        self.0 == 0
    }

    /// The square the move starts from.
    #[must_use]
    pub fn from(self) -> Square {
        Square::new(u32::from(self.0 & 63))
    }

    /// The square the move ends on; of castling, the rook's square.
    #[must_use]
    pub fn to(self) -> Square {
        Square::new(u32::from(self.0 >> 6 & 63))
    }

    /// The move in `position`; `None` for the null move and for what is not legal there.
    #[must_use]
    pub fn unpack(self, position: &Chess) -> Option<Move> {
        let (from, to) = (self.from(), self.to());
        let promotion = match self.0 >> 12 {
            0 => None,
            1 => Some(Role::Knight),
            2 => Some(Role::Bishop),
            3 => Some(Role::Rook),
            4 => Some(Role::Queen),
            _ => return None,
        };
        let role = position.board().role_at(from)?;
        let played = if role == Role::King && position.castles().castling_rights().contains(to) {
            Move::Castle { king: from, rook: to }
        } else if role == Role::Pawn && from.file() != to.file() && !position.board().occupied().contains(to) {
            Move::EnPassant { from, to }
        } else {
            Move::Normal { role, from, capture: position.board().role_at(to), to, promotion }
        };
        (PackedMove::pack(played) == self && position.is_legal(played)).then_some(played)
    }
}

/// The position after the side to move passes; `None` when it is in check. En passant lapses, the clocks go on.
#[must_use]
pub fn pass(position: &Chess) -> Option<Chess> {
    let mut setup = position.to_setup(EN_PASSANT);
    setup.ep_square = None;
    setup.halfmoves = setup.halfmoves.saturating_add(1);
    if position.turn() == Color::Black {
        setup.fullmoves = setup.fullmoves.saturating_add(1);
    }
    setup.turn = !setup.turn;
    Chess::from_setup(setup, position.castles().mode()).ok()
}
