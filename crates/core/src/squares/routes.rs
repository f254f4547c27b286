//! How knights and bishops come to a square.

use shakmaty::{Bitboard, Board, Color, Role, Square, attacks};

use super::{View, language::attacks_down};

/// Longer ways are not looked for.
pub const MOST_MOVES: u8 = 4;

/// A knight or bishop that can come to a square.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Route {
    /// Where it would go.
    pub to: Square,
    /// In how many moves; 0 where it is there.
    pub moves: u8,
    /// Knight or bishop.
    pub role: Role,
    /// Where it stands.
    pub from: Square,
}

/// The knights and bishops of `side` that can come to each of `targets` in [`MOST_MOVES`] while nothing else moves: over
/// empty squares that no enemy pawn attacks; only the last move may be a capture. Sorted by target, moves and kind.
#[must_use]
pub fn routes(board: &Board, side: Color, targets: u64) -> Vec<Route> {
    let view = View::of(board, side);
    let targets = side.fold_wb(targets, targets.swap_bytes());
    let occupied = view.own | view.their;
    let closed = occupied | attacks_down(view.their_pawns);
    let mut found = Vec::new();
    for (role, units) in [(Role::Knight, view.own_knights), (Role::Bishop, view.own_bishops)] {
        for from in Bitboard(units) {
            // Its own square is empty once it has left.
            let blockers = Bitboard(occupied).without(from);
            let mut met = Bitboard::from(from);
            let mut at = met;
            for moves in 0..=MOST_MOVES {
                found.extend((at & Bitboard(targets)).into_iter().map(|to| Route { to, moves, role, from }));
                let next = at.into_iter().filter(|&square| square == from || !Bitboard(closed).contains(square));
                let reach = next.fold(Bitboard::EMPTY, |reach, square| {
                    reach
                        | match role {
                            Role::Knight => attacks::knight_attacks(square),
                            _ => attacks::bishop_attacks(square, blockers),
                        }
                });
                at = reach & !met & !Bitboard(view.own);
                met |= at;
            }
        }
    }
    for route in &mut found {
        if side.is_black() {
            route.to = route.to.flip_vertical();
            route.from = route.from.flip_vertical();
        }
    }
    found.sort_unstable();
    found
}
