//! Danger to a king from the pieces around it.

use shakmaty::{
    Bitboard, Color, Role,
    attacks::{bishop_attacks, knight_attacks, rook_attacks},
};

use super::{
    pawns::PawnFeatures,
    pieces::Attacks,
    record::Record,
    squares::index,
    sum::Danger,
    tapered::{Tapered, t},
    terms as w,
};
use crate::board::Board;

/// The square of danger is divided by this: dangers strengthen one another.
pub const DANGER_SQUARE: i32 = 1000;
/// In the endgame danger itself, divided by this.
pub const DANGER_STRAIGHT: i32 = 10;
/// Danger counts no further.
const MOST: i32 = 1000;
/// Files a to d, c to f, e to h: where a king on each file lives.
const WINGS: [Bitboard; 8] = {
    let (queenside, centre, kingside) =
        (Bitboard(0x0f0f_0f0f_0f0f_0f0f), Bitboard(0x3c3c_3c3c_3c3c_3c3c), Bitboard(0xf0f0_f0f0_f0f0_f0f0));
    [queenside, queenside, queenside, centre, centre, kingside, kingside, kingside]
};
/// The own half and one rank more: Black's, White's.
const HOME: [Bitboard; 2] = [Bitboard(0xffff_ffff_ff00_0000), Bitboard(0x0000_00ff_ffff_ffff)];

/// What the enemy's attack on the king of `color` is worth to the enemy.
pub fn danger<R: Record>(
    board: &Board,
    color: Color,
    pawns: &PawnFeatures,
    attacks: &Attacks,
    record: &mut R,
) -> Tapered {
    let enemy = color.other();
    let (us, them) = (index(color), index(enemy));
    let attackers = attacks.attackers[us];
    let queens = board.of(enemy, Role::Queen);
    if attackers.iter().sum::<i32>() < 2 && queens.is_empty() {
        return Tapered::ZERO;
    }
    let king = board.king(color);
    // Squares that only king or queen guard, or nobody.
    let poorly_guarded =
        !attacks.all[us] | (!attacks.twice[us] & (attacks.of(color, Role::King) | attacks.of(color, Role::Queen)));
    let weak = attacks.all[them] & poorly_guarded;
    let safe = !board.side(enemy) & (!attacks.all[us] | (weak & attacks.twice[them]));
    let through = board.occupied() ^ board.of(color, Role::Queen);
    let (straight, slanted) = (rook_attacks(king, through), bishop_attacks(king, through));
    let checks = [
        knight_attacks(king) & attacks.of(enemy, Role::Knight),
        slanted & attacks.of(enemy, Role::Bishop),
        straight & attacks.of(enemy, Role::Rook),
        (straight | slanted) & attacks.of(enemy, Role::Queen),
    ];
    let mut danger = Danger::new(color, record);
    danger.add(w::ALWAYS, 0, 1);
    let mut unsafe_checks = Bitboard::EMPTY;
    for (number, check) in checks.into_iter().enumerate() {
        danger.add(w::ATTACKER, number, attackers[number]);
        danger.add(w::SAFE_CHECK, number, (check & safe).count().min(2) as i32);
        unsafe_checks |= check & !safe & !board.side(enemy);
    }
    danger.add(w::UNSAFE_CHECK, 0, unsafe_checks.count() as i32);
    danger.add(w::RING_ATTACK, 0, attacks.ring_attacks[us]);
    danger.add(w::WEAK_RING, 0, (attacks.ring[us] & weak).count() as i32);
    danger.add(w::NO_QUEEN, 0, i32::from(queens.is_empty()));
    danger.add(w::COVER, 0, pawns.shelter[us] / 8);
    let wing = WINGS[king.file().to_usize()] & HOME[us];
    danger.add(w::WING_ATTACK, 0, (wing & attacks.all[them]).count() as i32);
    danger.add(w::WING_ATTACK, 1, (wing & attacks.twice[them]).count() as i32);
    danger.add(w::WING_GUARD, 0, (wing & attacks.all[us]).count() as i32);
    if board.turn() == color {
        danger.add(w::PINNED, 0, board.pinned().count() as i32);
    }
    danger.add(w::KNIGHT_GUARD, 0, i32::from((attacks.of(color, Role::Knight) & attacks.ring[us]).any()));
    let danger = danger.total.clamp(0, MOST);
    t(danger * danger / DANGER_SQUARE, danger / DANGER_STRAIGHT)
}
