//! Legal moves of the search's board.

use shakmaty::{
    Bitboard, CastlingSide, Color, Rank, Role, Square,
    attacks::{bishop_attacks, king_attacks, knight_attacks, pawn_attacks, ray, rook_attacks},
};

use crate::{
    board::Board,
    moves::{Move, MoveList},
};

/// Where made moves go.
pub trait Moves {
    /// Takes a move.
    fn push(&mut self, m: Move);
}

impl Moves for MoveList {
    #[inline]
    fn push(&mut self, m: Move) {
        MoveList::push(self, m);
    }
}

/// Which moves are asked for.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Kind {
    /// Captures and promotions.
    Noisy,
    /// All other moves.
    Quiet,
    /// Those of them with which the moved piece itself gives check.
    QuietChecks,
}

/// Appends every legal move.
pub fn all_moves(board: &Board, list: &mut impl Moves) {
    moves_of_kind(board, Kind::Noisy, list);
    moves_of_kind(board, Kind::Quiet, list);
}

/// Appends the legal moves of one kind.
pub fn moves_of_kind(board: &Board, kind: Kind, list: &mut impl Moves) {
    let us = board.turn();
    let king = board.king(us);
    let occupied = board.occupied();
    let targets = match kind {
        Kind::Noisy => board.side(us.other()),
        Kind::Quiet | Kind::QuietChecks => !occupied,
    };

    if kind != Kind::QuietChecks {
        for to in king_attacks(king) & targets {
            if !board.is_attacked(to, us.other(), occupied.without(king)) {
                list.push(Move::new(king, to));
            }
        }
    }
    if board.checkers().more_than_one() {
        return;
    }

    let allowed = board.check_mask();
    let targets = targets & allowed;
    let aims = |role| if kind == Kind::QuietChecks { targets & board.checking_squares(role) } else { targets };
    let (slanted_aims, straight_aims) = (aims(Role::Bishop), aims(Role::Rook));
    let queen_aims = slanted_aims | straight_aims;
    let may_reach = |from: Square, reach: Bitboard| {
        if board.pinned().contains(from) { reach & ray(king, from) } else { reach }
    };
    for from in board.of(us, Role::Knight) & !board.pinned() {
        push_all(list, from, knight_attacks(from) & aims(Role::Knight));
    }
    let queens = board.role(Role::Queen);
    for from in (board.role(Role::Bishop) | queens) & board.side(us) {
        let aims = if queens.contains(from) { queen_aims } else { slanted_aims };
        push_all(list, from, may_reach(from, bishop_attacks(from, occupied) & aims));
    }
    for from in (board.role(Role::Rook) | queens) & board.side(us) {
        let aims = if queens.contains(from) { queen_aims } else { straight_aims };
        push_all(list, from, may_reach(from, rook_attacks(from, occupied) & aims));
    }
    let pawn_aims = if kind == Kind::QuietChecks { allowed & aims(Role::Pawn) } else { allowed };
    pawn_moves(board, kind, king, pawn_aims, list);

    if kind == Kind::Quiet {
        for side in CastlingSide::ALL {
            if let Some(rook) = board.castling_rook(us, side)
                && board.may_castle(side, king, rook)
            {
                list.push(Move::new(king, rook));
            }
        }
    }
}

#[inline]
fn push_all(list: &mut impl Moves, from: Square, targets: Bitboard) {
    for to in targets {
        list.push(Move::new(from, to));
    }
}

fn pawn_moves(board: &Board, kind: Kind, king: Square, allowed: Bitboard, list: &mut impl Moves) {
    let us = board.turn();
    let pawns = board.of(us, Role::Pawn);
    let empty = !board.occupied();
    let (forward, last, third) = match us {
        Color::White => (8, Bitboard::from_rank(Rank::Eighth), Bitboard::from_rank(Rank::Third)),
        Color::Black => (-8, Bitboard::from_rank(Rank::First), Bitboard::from_rank(Rank::Sixth)),
    };
    let origin = |to: Square, steps: i32| Square::new((to.to_u32() as i32 - steps * forward) as u32);
    let is_free = |from: Square, to: Square| !board.pinned().contains(from) || ray(king, from).contains(to);

    let single = pawns.shift(forward) & empty;
    match kind {
        Kind::Noisy => {
            let theirs = board.side(us.other()) & allowed;
            for from in pawns {
                for to in pawn_attacks(us, from) & theirs {
                    if is_free(from, to) {
                        push_pawn(list, from, to, last);
                    }
                }
            }
            for to in single & last & allowed {
                if is_free(origin(to, 1), to) {
                    push_pawn(list, origin(to, 1), to, last);
                }
            }
            if let Some(to) = board.en_passant() {
                for from in pawn_attacks(us.other(), to) & pawns {
                    if board.may_take_in_passing(from, to) {
                        list.push(Move::new(from, to));
                    }
                }
            }
        }
        Kind::Quiet | Kind::QuietChecks => {
            for to in single & !last & allowed {
                if is_free(origin(to, 1), to) {
                    list.push(Move::new(origin(to, 1), to));
                }
            }
            for to in (single & third).shift(forward) & empty & allowed {
                if is_free(origin(to, 2), to) {
                    list.push(Move::new(origin(to, 2), to));
                }
            }
        }
    }
}

fn push_pawn(list: &mut impl Moves, from: Square, to: Square, last: Bitboard) {
    if last.contains(to) {
        for role in [Role::Queen, Role::Knight, Role::Rook, Role::Bishop] {
            list.push(Move::promoting(from, to, role));
        }
    } else {
        list.push(Move::new(from, to));
    }
}

/// Number of legal move paths of `depth` plies, the usual proof of a move generator.
#[must_use]
pub fn path_count(board: &Board, depth: u32) -> u64 {
    let mut list = MoveList::default();
    all_moves(board, &mut list);
    match depth {
        0 => 1,
        1 => list.as_slice().len() as u64,
        _ => list.as_slice().iter().map(|&m| path_count(&board.play(m), depth - 1)).sum(),
    }
}

#[cfg(test)]
mod tests {
    use shakmaty::Chess;

    use super::*;
    use crate::random::Random;

    /// Plays by chance from the first position and shows each position that comes.
    fn wander(games: u64, mut look: impl FnMut(&Board)) {
        for seed in 0..games {
            let mut random = Random::new(seed);
            let mut board = Board::from(&Chess::default());
            for _ in 0..120 {
                let mut list = MoveList::default();
                all_moves(&board, &mut list);
                if list.as_slice().is_empty() {
                    break;
                }
                look(&board);
                board = board.play(*random.pick(list.as_slice()));
            }
        }
    }

    #[test]
    fn quiet_checks_are_the_quiet_moves_whose_piece_checks_from_its_new_square() {
        let mut checks = 0;
        wander(60, |board| {
            let (mut quiet, mut made) = (MoveList::default(), MoveList::default());
            moves_of_kind(board, Kind::Quiet, &mut quiet);
            moves_of_kind(board, Kind::QuietChecks, &mut made);
            let checking = |m: &Move| board.play(*m).checkers().contains(m.to());
            let mut wanted: Vec<Move> = quiet.as_slice().iter().copied().filter(checking).collect();
            assert!(quiet.as_slice().iter().all(|m| board.gives_direct_check(*m) == checking(m)));
            let mut made = made.as_slice().to_vec();
            wanted.sort_unstable();
            made.sort_unstable();
            assert_eq!(made, wanted);
            checks += made.len();
        });
        assert!(checks > 200, "too few to say anything: {checks}");
    }

    #[test]
    fn the_key_after_a_move_is_guessed_right_for_all_but_special_moves() {
        let (mut right, mut all) = (0, 0);
        wander(20, |board| {
            let mut list = MoveList::default();
            all_moves(board, &mut list);
            for &m in list.as_slice() {
                all += 1;
                right += usize::from(board.likely_key_after(m) == board.play(m).key());
            }
        });
        assert!(right * 100 >= all * 95, "{right} of {all}");
    }
}
