//! The short way from the usual spelling of a move to the move. What it cannot read, or cannot settle at once, is left
//! to [`crate::parse::parse_move`], with which it always agrees.

use shakmaty::{Bitboard, CastlingSide, Chess, Color, File, Move, Position, Rank, Role, Square, attacks};

/// The legal move that `word` names in exact SAN, a capture sign more or less and signs of check not minded. `None`
/// says nothing: the word may still be a move.
#[must_use]
pub fn plain_san(position: &Chess, word: &[u8]) -> Option<Move> {
    let word = match word {
        [rest @ .., b'+' | b'#'] => rest,
        _ => word,
    };
    let role = match word.first()? {
        b'a'..=b'h' => return pawn_move(position, word),
        b'N' => Role::Knight,
        b'B' => Role::Bishop,
        b'R' => Role::Rook,
        b'Q' => Role::Queen,
        b'K' => Role::King,
        b'O' => return castling(position, word),
        _ => return None,
    };
    let (from, to) = match word[1..] {
        [file, rank] => (Bitboard::FULL, square(file, rank)?),
        [b'x', file, rank] => (Bitboard::FULL, square(file, rank)?),
        [part, file, rank] | [part, b'x', file, rank] => (line(part)?, square(file, rank)?),
        // Of three units that could go there each may need both.
        [from_file, from_rank, file, rank] | [from_file, from_rank, b'x', file, rank] => {
            (Bitboard::from(square(from_file, from_rank)?), square(file, rank)?)
        }
        _ => return None,
    };
    let board = position.board();
    if position.us().contains(to) {
        return None;
    }
    let reach = match role {
        Role::Knight => attacks::knight_attacks(to),
        Role::Bishop => attacks::bishop_attacks(to, board.occupied()),
        Role::Rook => attacks::rook_attacks(to, board.occupied()),
        Role::Queen => attacks::queen_attacks(to, board.occupied()),
        _ => attacks::king_attacks(to),
    };
    let capture = board.role_at(to);
    let mut found = None;
    for from in reach & from & position.our(role) {
        if leaves_king_safe(position, role, from, to, to) {
            if found.is_some() {
                return None;
            }
            found = Some(Move::Normal { role, from, capture, to, promotion: None });
        }
    }
    found
}

fn square(file: u8, rank: u8) -> Option<Square> {
    Square::from_ascii(&[file, rank]).ok()
}

/// All squares of a file or of a rank.
fn line(name: u8) -> Option<Bitboard> {
    let name = char::from(name);
    File::from_char(name).map(Bitboard::from_file).or_else(|| Rank::from_char(name).map(Bitboard::from_rank))
}

/// Whether the king of the side to move is not attacked after its unit goes from one square to another and takes what
/// stands on `captured`.
#[inline]
fn leaves_king_safe(position: &Chess, role: Role, from: Square, to: Square, captured: Square) -> bool {
    let board = position.board();
    let us = position.turn();
    let king = if role == Role::King { Some(to) } else { board.king_of(us) };
    let occupied = board.occupied().without(from).without(captured).with(to);
    king.is_some_and(|king| (board.attacks_to(king, !us, occupied).without(captured)).is_empty())
}

fn pawn_move(position: &Chess, word: &[u8]) -> Option<Move> {
    let (word, promotion) = match *word {
        [ref rest @ .., b'=', role] => (rest, Some(promotion(role)?)),
        _ => (word, None),
    };
    let board = position.board();
    let us = position.turn();
    let role = Role::Pawn;
    let backward = us.fold_wb(-8, 8);
    let (from, to, captured) = match *word {
        [file, rank] => {
            let to = square(file, rank)?;
            let one = to.offset(backward)?;
            let from = if position.our(role).contains(one) {
                one
            } else if to.rank() == us.fold_wb(Rank::Fourth, Rank::Fifth) && !board.occupied().contains(one) {
                one.offset(backward)?
            } else {
                return None;
            };
            if board.occupied().contains(to) {
                return None;
            }
            (from, to, to)
        }
        [from, b'x', file, rank] => {
            let to = square(file, rank)?;
            let from = File::from_char(char::from(from))?;
            let from = (attacks::pawn_attacks(!us, to) & Bitboard::from_file(from)).first()?;
            let captured = if position.them().contains(to) {
                to
            } else if position.maybe_ep_square() == Some(to) {
                to.offset(backward)?
            } else {
                return None;
            };
            (from, to, captured)
        }
        _ => return None,
    };
    if !position.our(role).contains(from)
        || Bitboard::BACKRANKS.contains(to) != promotion.is_some()
        || !leaves_king_safe(position, role, from, to, captured)
    {
        return None;
    }
    Some(if captured == to {
        Move::Normal { role, from, capture: board.role_at(to), to, promotion }
    } else {
        Move::EnPassant { from, to }
    })
}

fn promotion(letter: u8) -> Option<Role> {
    match letter {
        b'N' => Some(Role::Knight),
        b'B' => Some(Role::Bishop),
        b'R' => Some(Role::Rook),
        b'Q' => Some(Role::Queen),
        _ => None,
    }
}

/// The laws, article 3.8: nothing stands between, and the king passes over no attacked square.
fn castling(position: &Chess, word: &[u8]) -> Option<Move> {
    let side = match word {
        b"O-O" => CastlingSide::KingSide,
        b"O-O-O" => CastlingSide::QueenSide,
        _ => return None,
    };
    let us: Color = position.turn();
    let board = position.board();
    let rook = position.castles().rook(us, side)?;
    let king = board.king_of(us)?;
    // In Chess960 a rook that leaves may open a line to the king: left to the full reader.
    let usual = king.file() == File::E && matches!(rook.file(), File::A | File::H);
    if !usual || (position.castles().path(us, side) & board.occupied()).any() {
        return None;
    }
    let target = side.king_to(us);
    let safe = |square| board.attacks_to(square, !us, board.occupied()).is_empty();
    (safe(king) && attacks::between(king, target).into_iter().all(safe) && safe(target))
        .then_some(Move::Castle { king, rook })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::parse::parse_move;

    #[test]
    fn a_unit_may_need_its_whole_square() {
        let fen: shakmaty::fen::Fen = "7k/8/8/8/8/N3N3/8/N5K1 w - - 0 1".parse().unwrap();
        let position: Chess = fen.into_position(shakmaty::CastlingMode::Standard).unwrap();
        for (word, from) in [("Na3c2", Square::A3), ("Na1c2", Square::A1), ("Nec2", Square::E3), ("Ne3c2", Square::E3)]
        {
            let read = plain_san(&position, word.as_bytes()).map(|found| (found.from(), found.to()));
            assert_eq!(read, Some((Some(from), Square::C2)), "{word}");
        }
    }

    proptest! {
        #[test]
        fn agrees_with_the_full_reader(choices in prop::collection::vec(any::<prop::sample::Index>(), 1..160)) {
            let mut position = Chess::default();
            for choice in choices {
                let moves = position.legal_moves();
                if moves.is_empty() {
                    break;
                }
                for &candidate in &moves {
                    let san = shakmaty::san::SanPlus::from_move(position.clone(), candidate).to_string();
                    prop_assert_eq!(plain_san(&position, san.as_bytes()), Some(candidate), "{}", san);
                }
                // Also for words that are no moves here, or not spelt so.
                for role in ["", "N", "B", "R", "Q", "K"] {
                    for square in Square::ALL {
                        let word = format!("{role}{square}");
                        if let Some(read) = plain_san(&position, word.as_bytes()) {
                            prop_assert_eq!(parse_move(&position, word.as_bytes()), Ok(read), "{}", word);
                        }
                    }
                }
                position.play_unchecked(moves[choice.index(moves.len())]);
            }
        }
    }
}
