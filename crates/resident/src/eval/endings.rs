//! How much of an endgame advantage counts, and how a bare king is mated.

use shakmaty::{Bitboard, Color, Role, Square};

use crate::board::Board;

/// How much of an endgame advantage can be expected to win, of 64.
pub fn end_scale(board: &Board, stronger: Color) -> i32 {
    let weaker = stronger.other();
    let pawns = board.of(stronger, Role::Pawn).count();
    let material = |color| {
        let minors = (board.of(color, Role::Knight) | board.of(color, Role::Bishop)).count();
        3 * minors + 5 * board.of(color, Role::Rook).count() + 9 * board.of(color, Role::Queen).count()
    };
    let (strong, weak) = (material(stronger), material(weaker));
    if pawns == 0 && strong <= weak + 3 {
        // A piece ahead and nothing to promote; two knights alone do not mate either.
        return if strong < 5 {
            0
        } else if weak == 0 {
            64
        } else {
            12
        };
    }
    let knights = board.of(stronger, Role::Knight).count();
    if pawns == 0 && weak == 0 && strong == 6 && knights == 2 {
        return 0;
    }
    let bishops = board.role(Role::Bishop);
    let opposite = [stronger, weaker].map(|color| bishops & board.side(color));
    let one_each = opposite.iter().all(|side| side.count() == 1);
    if one_each && (bishops & Bitboard::LIGHT_SQUARES).count() == 1 {
        let alone = strong == 3 && weak == 3;
        return if alone { 16 + 6 * (pawns as i32).min(4) } else { 46 };
    }
    // The fewer pawns, the harder to win; pawns on both wings help.
    (44 + 5 * pawns as i32).min(64)
}

/// Drives a bare king to the edge and the other king near it.
pub fn corner(board: &Board, stronger: Color) -> i32 {
    let weaker = stronger.other();
    if board.side(weaker).more_than_one() || board.of(stronger, Role::Pawn).any() {
        return 0;
    }
    let (hunted, hunter) = (board.king(weaker), board.king(stronger));
    let (file, rank) = (hunted.file().to_u32() as i32, hunted.rank().to_u32() as i32);
    let edge = (3 - file).max(file - 4) + (3 - rank).max(rank - 4);
    let mut drive = 15 * edge + 6 * (7 - hunted.distance(hunter) as i32);
    let bishops = board.of(stronger, Role::Bishop);
    if bishops.any() && (board.role(Role::Rook) | board.role(Role::Queen)).is_empty() {
        // Bishop and knight mate only in a corner of the bishop's colour.
        let light = (bishops & Bitboard::LIGHT_SQUARES).any();
        let corners = if light { [Square::H1, Square::A8] } else { [Square::A1, Square::H8] };
        let steps = corners.map(|corner| {
            let (f, r) = (corner.file().to_u32() as i32, corner.rank().to_u32() as i32);
            (file - f).abs() + (rank - r).abs()
        });
        drive += 12 * (14 - steps[0].min(steps[1]));
    }
    if stronger.is_white() { drive } else { -drive }
}
