//! Which moves are legal.

use shakmaty::{
    Bitboard, CastlingSide, Rank, Role, Square,
    attacks::{between, bishop_attacks, king_attacks, knight_attacks, pawn_attacks, ray, rook_attacks},
};

use super::Board;
use crate::moves::Move;

impl Board {
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
