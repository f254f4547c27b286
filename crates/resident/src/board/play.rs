//! From one position to the next.

use shakmaty::{
    Bitboard, CastlingSide, Color, Role, Square,
    attacks::{between, bishop_attacks, knight_attacks, pawn_attacks, rook_attacks},
};

use super::Board;
use crate::{keys, moves::Move};

impl Board {
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

    /// The key of the position after a legal move, where the move neither castles, takes in passing nor changes rights:
    /// a guess that is right nearly always.
    #[inline]
    #[must_use]
    pub fn likely_key_after(&self, m: Move) -> u64 {
        let (us, from, to) = (self.turn, m.from(), m.to());
        let role = self.on_square[from.to_usize()].expect("a legal move has a piece to move");
        let moved = keys::piece(us, role, from) ^ keys::piece(us, m.promotion().unwrap_or(role), to);
        let taken = self.on_square[to.to_usize()].map_or(0, |victim| keys::piece(us.other(), victim, to));
        let passed = self.en_passant.map_or(0, keys::en_passant);
        self.key ^ keys::BLACK_TO_MOVE ^ moved ^ taken ^ passed
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

    pub(super) fn put(&mut self, color: Color, role: Role, square: Square) {
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
        if role != Role::Pawn {
            self.piece_keys[color.is_white() as usize] ^= number;
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

    pub(super) fn look_for_checks(&mut self) {
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
}
