//! Threats, passed pawns among pieces, space.

use shakmaty::{Bitboard, Color, Role};

use super::{
    pawns::PawnFeatures,
    pieces::Attacks,
    record::Record,
    squares::{ahead, forward, index, pawn_targets},
    sum::Sum,
    terms as w,
};
use crate::board::Board;

/// Files c to f.
const CENTRE_FILES: Bitboard = Bitboard(0x3c3c_3c3c_3c3c_3c3c);
const SPACE_RANKS: [Bitboard; 2] = [Bitboard(0x00ff_ffff_0000_0000), Bitboard(0x0000_0000_ffff_ff00)];

/// Adds what passed pawns gain from the pieces and kings around them.
pub fn add_passers<R: Record>(
    board: &Board,
    color: Color,
    pawns: &PawnFeatures,
    attacks: &Attacks,
    sum: &mut Sum<'_, R>,
) {
    let enemy = color.other();
    for pawn in pawns.passed & board.of(color, Role::Pawn) {
        let rank = color.relative_rank(pawn.rank()).to_usize();
        let way = ahead(color, pawn.into());
        let stop = forward(color, pawn.into());
        if (stop & board.occupied()).is_empty() {
            sum.add(w::PASSED_FREE, rank);
            if (way & (attacks.all[index(enemy)] | board.side(enemy))).is_empty() {
                sum.add(w::PASSED_SAFE_WAY, rank);
            }
        }
        if let Some(stop) = stop.first() {
            sum.add_times(w::PASSED_OWN_KING, rank, board.king(color).distance(stop).min(5) as i32);
            sum.add_times(w::PASSED_ENEMY_KING, rank, board.king(enemy).distance(stop).min(5) as i32);
        }
    }
}

/// Adds what attacks on pieces and pawns are worth.
pub fn add_threats<R: Record>(board: &Board, color: Color, attacks: &Attacks, sum: &mut Sum<'_, R>) {
    let enemy = color.other();
    let (us, them) = (index(color), index(enemy));
    let officers = board.officers(enemy);
    let by_pawns = attacks.of(color, Role::Pawn) & officers;
    for (number, role) in [Role::Knight, Role::Bishop, Role::Rook, Role::Queen].into_iter().enumerate() {
        sum.add_times(w::PAWN_THREAT, number, (by_pawns & board.role(role)).count() as i32);
    }
    let targets = board.side(enemy) & !attacks.of(enemy, Role::Pawn);
    // A guarded rook or queen is still a target of a minor piece, and a queen of a rook.
    let heavy = (board.role(Role::Rook) | board.role(Role::Queen)) & officers;
    let by_minors = (attacks.of(color, Role::Knight) | attacks.of(color, Role::Bishop)) & (targets | heavy);
    let by_rooks = attacks.of(color, Role::Rook) & (targets | (heavy & board.role(Role::Queen)));
    for (number, role) in [Role::Pawn, Role::Knight, Role::Bishop, Role::Rook, Role::Queen].into_iter().enumerate() {
        sum.add_times(w::MINOR_THREAT, number, (by_minors & board.role(role)).count() as i32);
        sum.add_times(w::ROOK_THREAT, number, (by_rooks & board.role(role)).count() as i32);
    }
    let unguarded = board.side(enemy).without(board.king(enemy)) & !attacks.all[them];
    sum.add_times(w::KING_THREAT, 0, (attacks.of(color, Role::King) & unguarded).count() as i32);
    sum.add_times(w::HANGING, 0, (officers & attacks.all[us] & !attacks.all[them]).count() as i32);
    let contested = attacks.all[them] & attacks.all[us] & !attacks.of(enemy, Role::Pawn) & !attacks.twice[them];
    sum.add_times(w::RESTRICTED, 0, contested.count() as i32);

    let steps = forward(color, board.of(color, Role::Pawn)) & !board.occupied();
    let safe_steps = steps & !attacks.of(enemy, Role::Pawn) & (attacks.all[us] | !attacks.all[them]);
    let pushed = pawn_targets(color, safe_steps) & officers & !attacks.of(color, Role::Pawn);
    sum.add_times(w::PUSH_THREAT, 0, pushed.count() as i32);
}

/// Adds the room behind the own pawns, worth more the more pieces want it.
pub fn add_space<R: Record>(board: &Board, color: Color, pawns: &PawnFeatures, sum: &mut Sum<'_, R>) {
    let pieces = board.officers(color).count() as i32;
    if pieces < 4 {
        return;
    }
    let own = board.of(color, Role::Pawn);
    let room = CENTRE_FILES & SPACE_RANKS[index(color)] & !own & !pawns.attacks[index(color.other())];
    let behind = room & ahead(color.other(), own);
    sum.add_times(w::SPACE, 0, (room.count() + behind.count()) as i32 * (pieces - 3) / 4);
}
