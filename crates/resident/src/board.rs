//! The search's own board: small, copied for every move, with incremental keys.
//!
//! Rules questions of the rest of the project are answered by the rules library; this board exists because the search
//! asks them millions of times a second. It is proved against the library by move-path counts and random play.

use shakmaty::{
    Bitboard, CastlingSide, Chess, Color, EnPassantMode, Position, Rank, Role, Square,
    attacks::{between, bishop_attacks, king_attacks, knight_attacks, pawn_attacks, ray, rook_attacks},
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
        let us = self.turn;
        let king = self.king(us.other());
        let to = m.to();
        let occupied = self.occupied().without(m.from());
        match self.role_on(m.from()) {
            Some(Role::Pawn) => pawn_attacks(us.other(), king).contains(to),
            Some(Role::Knight) => knight_attacks(king).contains(to),
            Some(Role::Bishop) => bishop_attacks(king, occupied).contains(to),
            Some(Role::Rook) => rook_attacks(king, occupied).contains(to),
            Some(Role::Queen) => (rook_attacks(king, occupied) | bishop_attacks(king, occupied)).contains(to),
            Some(Role::King) | None => false,
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

    /// The position after a legal move.
    #[must_use]
    pub fn play(&self, m: Move) -> Board {
        let mut next = *self;
        let (us, from, to) = (self.turn, m.from(), m.to());
        let role = self.on_square[from.to_usize()].expect("a legal move has a piece to move");
        next.halfmoves = self.halfmoves.saturating_add(1);
        if let Some(square) = next.en_passant.take() {
            next.key ^= keys::en_passant(square);
        }

        if self.is_castling(m) {
            let side = CastlingSide::from_king_side(to > from);
            next.lift(us, Role::King, from);
            next.lift(us, Role::Rook, to);
            next.put(us, Role::King, side.king_to(us));
            next.put(us, Role::Rook, side.rook_to(us));
        } else {
            next.lift(us, role, from);
            if let Some(victim) = self.role_on(to) {
                next.lift(us.other(), victim, to);
                next.halfmoves = 0;
            }
            next.put(us, m.promotion().unwrap_or(role), to);
            if role == Role::Pawn {
                next.halfmoves = 0;
                if self.en_passant == Some(to) {
                    next.lift(us.other(), Role::Pawn, Square::from_coords(to.file(), from.rank()));
                }
            }
        }

        if self.rights != 0 {
            next.lose_rights(role, from, to);
        }
        next.turn = us.other();
        next.key ^= keys::BLACK_TO_MOVE;
        if role == Role::Pawn && from.abs_diff(to) == 16 {
            next.allow_en_passant(Square::new((from.to_u32() + to.to_u32()) / 2), to);
        }
        next.look_for_checks();
        next
    }

    /// The position after passing the turn; not to be used in check. The clock starts anew, so that no repetition is seen
    /// across the pass.
    #[must_use]
    pub fn pass(&self) -> Board {
        let mut next = *self;
        if let Some(square) = next.en_passant.take() {
            next.key ^= keys::en_passant(square);
        }
        next.halfmoves = 0;
        next.turn = self.turn.other();
        next.key ^= keys::BLACK_TO_MOVE;
        next.look_for_checks();
        next
    }

    fn put(&mut self, color: Color, role: Role, square: Square) {
        self.toggle(color, role, square);
        self.on_square[square.to_usize()] = Some(role);
    }

    fn lift(&mut self, color: Color, role: Role, square: Square) {
        self.toggle(color, role, square);
        self.on_square[square.to_usize()] = None;
    }

    #[inline]
    fn toggle(&mut self, color: Color, role: Role, square: Square) {
        let bit = Bitboard::from_square(square);
        self.roles[role as usize - 1] ^= bit;
        self.colors[color.is_white() as usize] ^= bit;
        let number = keys::piece(color, role, square);
        self.key ^= number;
        if matches!(role, Role::Pawn | Role::King) {
            self.pawn_key ^= number;
        }
    }

    fn lose_rights(&mut self, role: Role, from: Square, to: Square) {
        let mut rights = self.rights;
        if role == Role::King {
            rights &= if self.turn.is_white() { 0b1100 } else { 0b0011 };
        }
        for (index, rook) in self.rooks.into_iter().enumerate() {
            if rook == from || rook == to {
                rights &= !(1 << index);
            }
        }
        if rights != self.rights {
            for (index, rook) in self.rooks.iter_mut().enumerate() {
                if rights & 1 << index == 0 {
                    *rook = Square::A1;
                }
            }
            self.key ^= keys::castling(self.rights) ^ keys::castling(rights);
            self.rights = rights;
        }
    }

    /// After a double step: `passed` is open to capture only if a capture there is legal.
    fn allow_en_passant(&mut self, passed: Square, stepped: Square) {
        let us = self.turn;
        let king = self.king(us);
        let takers = pawn_attacks(us.other(), passed) & self.of(us, Role::Pawn);
        for from in takers {
            let occupied = self.occupied().toggled(from).toggled(stepped).with(passed);
            let threats = self.attackers(king, occupied) & self.side(us.other()).without(stepped);
            if (threats & occupied).is_empty() {
                self.en_passant = Some(passed);
                self.key ^= keys::en_passant(passed);
                return;
            }
        }
    }

    fn look_for_checks(&mut self) {
        let us = self.turn;
        let king = self.king(us);
        let (ours, theirs) = (self.side(us), self.side(us.other()));
        let straight = (self.role(Role::Rook) | self.role(Role::Queen)) & theirs;
        let slanted = (self.role(Role::Bishop) | self.role(Role::Queen)) & theirs;
        self.checkers = (knight_attacks(king) & self.role(Role::Knight) & theirs)
            | (pawn_attacks(us, king) & self.role(Role::Pawn) & theirs);
        self.pinned = Bitboard::EMPTY;
        let snipers = (rook_attacks(king, theirs) & straight) | (bishop_attacks(king, theirs) & slanted);
        for sniper in snipers {
            let shield = between(king, sniper) & ours;
            if shield.is_empty() {
                self.checkers.add(sniper);
            } else if !shield.more_than_one() {
                self.pinned |= shield;
            }
        }
    }

    /// Whether a move found elsewhere (in a table, from another position) is legal here.
    #[must_use]
    pub fn is_legal(&self, m: Move) -> bool {
        let (us, from, to) = (self.turn, m.from(), m.to());
        let ours = self.side(us);
        if m.is_none() || !ours.contains(from) {
            return false;
        }
        let Some(role) = self.role_on(from) else { return false };
        if m.promotion().is_some() && role != Role::Pawn || m.0 >> 12 > 4 {
            return false;
        }
        if role == Role::King {
            if ours.contains(to) {
                let side = CastlingSide::from_king_side(to > from);
                return self.castling_rook(us, side) == Some(to) && self.may_castle(side, from, to);
            }
            return king_attacks(from).contains(to) && !self.is_attacked(to, us.other(), self.occupied().without(from));
        }
        if ours.contains(to) {
            return false;
        }
        let occupied = self.occupied();
        let reaches = match role {
            Role::Pawn => return self.is_legal_pawn_move(m),
            Role::Knight => knight_attacks(from),
            Role::Bishop => bishop_attacks(from, occupied),
            Role::Rook => rook_attacks(from, occupied),
            _ => rook_attacks(from, occupied) | bishop_attacks(from, occupied),
        };
        reaches.contains(to) && self.leaves_king_safe(from, to)
    }

    fn is_legal_pawn_move(&self, m: Move) -> bool {
        let (us, from, to) = (self.turn, m.from(), m.to());
        if (us.relative_rank(to.rank()) == Rank::Eighth) != m.promotion().is_some() {
            return false;
        }
        if self.en_passant == Some(to) && pawn_attacks(us, from).contains(to) {
            return self.may_take_in_passing(from, to);
        }
        let occupied = self.occupied();
        let pushed = to.file() == from.file()
            && !occupied.contains(to)
            && match to.to_u32() as i32 - from.to_u32() as i32 {
                8 => us.is_white(),
                -8 => us.is_black(),
                16 => us.is_white() && from.rank() == Rank::Second && !occupied.contains(from.xor(Square::A4)),
                -16 => us.is_black() && from.rank() == Rank::Seventh && !occupied.contains(from.xor(Square::A4)),
                _ => false,
            };
        let takes = pawn_attacks(us, from).contains(to) && self.side(us.other()).contains(to);
        (pushed || takes) && self.leaves_king_safe(from, to)
    }

    /// A piece other than the king goes from `from` to `to`: it answers a check, and does not leave a pin.
    #[inline]
    fn leaves_king_safe(&self, from: Square, to: Square) -> bool {
        let king = self.king(self.turn);
        (self.check_mask().contains(to)) && (!self.pinned.contains(from) || ray(king, from).contains(to))
    }

    /// Where a piece other than the king may go while the king is (or is not) in check.
    #[inline]
    #[must_use]
    pub fn check_mask(&self) -> Bitboard {
        match self.checkers.first() {
            None => Bitboard::FULL,
            Some(_) if self.checkers.more_than_one() => Bitboard::EMPTY,
            Some(checker) => between(self.king(self.turn), checker).with(checker),
        }
    }

    /// Whether this pawn may take in passing on `to` without leaving its king in check.
    #[must_use]
    pub fn may_take_in_passing(&self, from: Square, to: Square) -> bool {
        let us = self.turn;
        let victim = Square::from_coords(to.file(), from.rank());
        let occupied = self.occupied().toggled(from).toggled(victim).with(to);
        let threats = self.attackers(self.king(us), occupied) & self.side(us.other()).without(victim);
        threats.is_empty()
    }

    /// Whether the king on `king` may castle with the rook on `rook`, the right being there.
    #[must_use]
    pub fn may_castle(&self, side: CastlingSide, king: Square, rook: Square) -> bool {
        let us = self.turn;
        if self.is_check() {
            return false;
        }
        let (king_to, rook_to) = (side.king_to(us), side.rook_to(us));
        let others = self.occupied().without(king).without(rook);
        let walked = between(king, king_to).with(king_to);
        let cleared = walked | between(rook, rook_to).with(rook_to);
        if (cleared & others).any() {
            return false;
        }
        // The rook leaves its square: in Chess960 it may have shielded the king's goal.
        let after = others.with(rook_to);
        walked.into_iter().all(|square| !self.is_attacked(square, us.other(), others.with(rook)))
            && !self.is_attacked(king_to, us.other(), after)
    }
}
