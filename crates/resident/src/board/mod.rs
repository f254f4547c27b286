//! The search's own board: small, copied for every move, with incremental keys.
//!
//! Rules questions of the rest of the project are answered by the rules library; this board exists because the search
//! asks them millions of times a second. It is proved against the library by move-path counts and random play.

mod legal;
mod play;

use shakmaty::{
    Bitboard, CastlingSide, Chess, Color, EnPassantMode, Position, Role, Square,
    attacks::{bishop_attacks, king_attacks, knight_attacks, pawn_attacks, rook_attacks},
};

use crate::{keys, moves::Move};

/// One castling right as an index: White short, White long, Black short, Black long.
const fn right_index(color: Color, side: CastlingSide) -> usize {
    (color.is_black() as usize) * 2 + side.is_queen_side() as usize
}

/// A position as the search sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Board {
    roles: [Bitboard; 6],
    colors: [Bitboard; 2],
    on_square: [Option<Role>; 64],
    checkers: Bitboard,
    pinned: Bitboard,
    key: u64,
    pawn_key: u64,
    /// Keys of each side's pieces other than pawns, Black's then White's.
    piece_keys: [u64; 2],
    halfmoves: u16,
    turn: Color,
    /// Bit per right, by `right_index`.
    rights: u8,
    /// Rook squares of the rights; a1 where the right is gone.
    rooks: [Square; 4],
    /// Set only if an en-passant capture is legal (the repetition rule).
    en_passant: Option<Square>,
}

impl From<&Chess> for Board {
    fn from(position: &Chess) -> Board {
        let mut board = Board {
            roles: [Bitboard::EMPTY; 6],
            colors: [Bitboard::EMPTY; 2],
            on_square: [None; 64],
            checkers: Bitboard::EMPTY,
            pinned: Bitboard::EMPTY,
            key: 0,
            pawn_key: 0,
            piece_keys: [0; 2],
            halfmoves: position.halfmoves().min(u32::from(u16::MAX)) as u16,
            turn: position.turn(),
            rights: 0,
            rooks: [Square::A1; 4],
            en_passant: position.ep_square(EnPassantMode::Legal),
        };
        for (square, piece) in position.board().clone() {
            board.put(piece.color, piece.role, square);
        }
        for color in Color::ALL {
            for side in CastlingSide::ALL {
                if let Some(rook) = position.castles().rook(color, side) {
                    let index = right_index(color, side);
                    board.rights |= 1 << index;
                    board.rooks[index] = rook;
                }
            }
        }
        board.key ^= keys::castling(board.rights);
        if let Some(square) = board.en_passant {
            board.key ^= keys::en_passant(square);
        }
        if board.turn.is_black() {
            board.key ^= keys::BLACK_TO_MOVE;
        }
        board.look_for_checks();
        board
    }
}

impl Board {
    /// Squares with pieces of one kind, both colours.
    #[inline]
    #[must_use]
    pub const fn role(&self, role: Role) -> Bitboard {
        self.roles[role as usize - 1]
    }

    /// Squares of one side.
    #[inline]
    #[must_use]
    pub const fn side(&self, color: Color) -> Bitboard {
        self.colors[color.is_white() as usize]
    }

    /// Squares of one side's pieces of one kind.
    #[inline]
    #[must_use]
    pub fn of(&self, color: Color, role: Role) -> Bitboard {
        self.side(color) & self.role(role)
    }

    /// All occupied squares.
    #[inline]
    #[must_use]
    pub fn occupied(&self) -> Bitboard {
        self.colors[0] | self.colors[1]
    }

    /// What stands on a square.
    #[inline]
    #[must_use]
    pub const fn role_on(&self, square: Square) -> Option<Role> {
        self.on_square[square.to_usize()]
    }

    /// The king's square.
    #[inline]
    #[must_use]
    pub fn king(&self, color: Color) -> Square {
        self.of(color, Role::King).first().expect("a legal position has both kings")
    }

    /// Who is to move.
    #[inline]
    #[must_use]
    pub const fn turn(&self) -> Color {
        self.turn
    }

    /// Pieces that give check to the side to move.
    #[inline]
    #[must_use]
    pub const fn checkers(&self) -> Bitboard {
        self.checkers
    }

    /// Pieces of the side to move that may only move on a line with their king.
    #[inline]
    #[must_use]
    pub const fn pinned(&self) -> Bitboard {
        self.pinned
    }

    /// Whether the side to move is in check.
    #[inline]
    #[must_use]
    pub const fn is_check(&self) -> bool {
        self.checkers.any()
    }

    /// Key of the position: placement, side to move, castling rights, legal en passant.
    #[inline]
    #[must_use]
    pub const fn key(&self) -> u64 {
        self.key
    }

    /// Key of the pawns and kings alone.
    #[inline]
    #[must_use]
    pub const fn pawn_key(&self) -> u64 {
        self.pawn_key
    }

    /// Key of one side's pieces other than pawns, its king included.
    #[inline]
    #[must_use]
    pub const fn piece_key(&self, color: Color) -> u64 {
        self.piece_keys[color.is_white() as usize]
    }

    /// Plies since the last capture or pawn move.
    #[inline]
    #[must_use]
    pub const fn halfmoves(&self) -> u16 {
        self.halfmoves
    }

    /// The square on which a pawn can be taken in passing, if one legally can.
    #[inline]
    #[must_use]
    pub const fn en_passant(&self) -> Option<Square> {
        self.en_passant
    }

    /// The rook with which `color` may still castle to `side`.
    #[inline]
    #[must_use]
    pub const fn castling_rook(&self, color: Color, side: CastlingSide) -> Option<Square> {
        let index = right_index(color, side);
        if self.rights & 1 << index != 0 { Some(self.rooks[index]) } else { None }
    }

    /// Pieces other than pawns and king of one side.
    #[inline]
    #[must_use]
    pub fn officers(&self, color: Color) -> Bitboard {
        self.side(color) & !(self.role(Role::Pawn) | self.role(Role::King))
    }

    /// Whether the move castles.
    #[inline]
    #[must_use]
    pub fn is_castling(&self, m: Move) -> bool {
        self.side(self.turn).contains(m.to())
    }

    /// Whether the move takes a pawn in passing.
    #[inline]
    #[must_use]
    pub fn is_en_passant(&self, m: Move) -> bool {
        Some(m.to()) == self.en_passant && self.role_on(m.from()) == Some(Role::Pawn)
    }

    /// What the move captures.
    #[inline]
    #[must_use]
    pub fn captured(&self, m: Move) -> Option<Role> {
        if self.is_en_passant(m) {
            Some(Role::Pawn)
        } else if self.is_castling(m) {
            None
        } else {
            self.role_on(m.to())
        }
    }

    /// Whether the move neither captures nor promotes.
    #[inline]
    #[must_use]
    pub fn is_quiet(&self, m: Move) -> bool {
        m.promotion().is_none() && self.captured(m).is_none()
    }

    /// Whether the piece that moves attacks the other king from where it goes. Checks by uncovering another piece, and
    /// by the rook in castling, are not seen.
    #[inline]
    #[must_use]
    pub fn gives_direct_check(&self, m: Move) -> bool {
        self.role_on(m.from()).is_some_and(|role| self.checking_squares(role).contains(m.to()))
    }

    /// Squares from which a piece of the side to move would attack the other king. A piece that moves cannot have stood
    /// in its own way: it would have given check before.
    #[inline]
    #[must_use]
    pub fn checking_squares(&self, role: Role) -> Bitboard {
        let enemy = self.turn.other();
        let king = self.king(enemy);
        match role {
            Role::Pawn => pawn_attacks(enemy, king),
            Role::Knight => knight_attacks(king),
            Role::Bishop => bishop_attacks(king, self.occupied()),
            Role::Rook => rook_attacks(king, self.occupied()),
            Role::Queen => rook_attacks(king, self.occupied()) | bishop_attacks(king, self.occupied()),
            Role::King => Bitboard::EMPTY,
        }
    }

    /// Pieces of either side that attack a square, given which squares are occupied.
    #[inline]
    #[must_use]
    pub fn attackers(&self, square: Square, occupied: Bitboard) -> Bitboard {
        let straight = self.role(Role::Rook) | self.role(Role::Queen);
        let slanted = self.role(Role::Bishop) | self.role(Role::Queen);
        (rook_attacks(square, occupied) & straight)
            | (bishop_attacks(square, occupied) & slanted)
            | (knight_attacks(square) & self.role(Role::Knight))
            | (king_attacks(square) & self.role(Role::King))
            | (pawn_attacks(Color::White, square) & self.of(Color::Black, Role::Pawn))
            | (pawn_attacks(Color::Black, square) & self.of(Color::White, Role::Pawn))
    }

    /// Whether `color` attacks a square.
    #[inline]
    #[must_use]
    pub fn is_attacked(&self, square: Square, by: Color, occupied: Bitboard) -> bool {
        (self.attackers(square, occupied) & self.side(by)).any()
    }

    /// Neither side can mate by any sequence of legal moves: bare kings, one minor piece, or bishops on one colour.
    #[must_use]
    pub fn is_dead(&self) -> bool {
        let heavy = self.role(Role::Pawn) | self.role(Role::Rook) | self.role(Role::Queen);
        if heavy.any() {
            return false;
        }
        let (knights, bishops) = (self.role(Role::Knight), self.role(Role::Bishop));
        match knights.count() {
            0 => (bishops & Bitboard::LIGHT_SQUARES).is_empty() || (bishops & Bitboard::DARK_SQUARES).is_empty(),
            1 => bishops.is_empty(),
            _ => false,
        }
    }
}
