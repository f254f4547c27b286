//! Identity of a position: see methods, section 1.

use shakmaty::{
    CastlingSide, Chess, Color, EnPassantMode, Move, Position, Role, Square,
    zobrist::{Zobrist64, ZobristValue},
};

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

/// Plays the legal move `played` and gives the key of the position after it; `key` is the key before it. Equal to
/// [`key_of`] the new position, and cheaper.
pub fn play_keyed(position: &mut Chess, key: PositionKey, played: Move) -> PositionKey {
    let us = position.turn();
    let mut key = Zobrist64(key.0) ^ Zobrist64::zobrist_for_white_turn();
    let mut toggle = |square: Square, role: Role, color: Color| {
        key ^= Zobrist64::zobrist_for_piece(square, role.of(color));
    };
    let touches_rights = match played {
        Move::Normal { role, from, capture, to, promotion } => {
            toggle(from, role, us);
            toggle(to, promotion.unwrap_or(role), us);
            if let Some(captured) = capture {
                toggle(to, captured, !us);
            }
            matches!(role, Role::King | Role::Rook) || capture == Some(Role::Rook)
        }
        Move::EnPassant { from, to } => {
            toggle(from, Role::Pawn, us);
            toggle(to, Role::Pawn, us);
            toggle(Square::from_coords(to.file(), from.rank()), Role::Pawn, !us);
            false
        }
        Move::Castle { king, rook } => {
            let side = CastlingSide::from_king_side(king < rook);
            toggle(king, Role::King, us);
            toggle(rook, Role::Rook, us);
            toggle(Square::from_coords(side.king_to_file(), king.rank()), Role::King, us);
            toggle(Square::from_coords(side.rook_to_file(), rook.rank()), Role::Rook, us);
            true
        }
        Move::Put { .. } => unreachable!("no such move in chess"),
    };
    if touches_rights {
        key ^= rights_key(position);
    }
    key ^= en_passant_key(position);
    position.play_unchecked(played);
    if touches_rights {
        key ^= rights_key(position);
    }
    PositionKey((key ^ en_passant_key(position)).0)
}

fn rights_key(position: &Chess) -> Zobrist64 {
    let mut key = Zobrist64::default();
    for color in Color::ALL {
        for side in CastlingSide::ALL {
            if position.castles().has(color, side) {
                key ^= Zobrist64::zobrist_for_castling_right(color, side);
            }
        }
    }
    key
}

#[inline]
fn en_passant_key(position: &Chess) -> Zobrist64 {
    let square = position.maybe_ep_square().and_then(|_| position.ep_square(EN_PASSANT));
    square.map_or_else(Zobrist64::default, |square| Zobrist64::zobrist_for_en_passant_file(square.file()))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use shakmaty::CastlingMode;

    use super::*;
    use crate::fen::read_fen;

    const STARTS: [&str; 3] = [
        "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1",
        "rkbqnbrn/pppppppp/8/8/8/8/PPPPPPPP/RKBQNBRN w KQkq - 0 1",
        "r3k2r/p1ppqpb1/bn2pnp1/3PN3/1p2P3/2N2Q1p/PPPBBPPP/R3K2R w KQkq - 0 1",
    ];

    proptest! {
        #[test]
        fn keys_kept_up_are_keys_made_anew(
            start in 0..STARTS.len(),
            choices in prop::collection::vec(any::<prop::sample::Index>(), 1..200),
        ) {
            let mut position = read_fen(STARTS[start].as_bytes(), CastlingMode::Chess960).unwrap();
            let mut key = key_of(&position);
            for choice in choices {
                let moves = position.legal_moves();
                if moves.is_empty() {
                    break;
                }
                key = play_keyed(&mut position, key, moves[choice.index(moves.len())]);
                prop_assert_eq!(key, key_of(&position));
            }
        }
    }
}
