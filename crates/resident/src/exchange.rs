//! Static exchange evaluation: what a sequence of captures on one square gains, each side taking with its least piece
//! and free to stop. The swap algorithm is described by Reul, "Static Exchange Evaluation with αβ-Approach", 2010.

use shakmaty::{
    Bitboard, Role, Square,
    attacks::{bishop_attacks, rook_attacks},
};

use crate::{board::Board, moves::Move};

/// Least to most valuable, the order in which a side takes.
const BY_VALUE: [Role; 6] = [Role::Pawn, Role::Knight, Role::Bishop, Role::Rook, Role::Queen, Role::King];

/// Exchange value of a piece in centipawns. Minor pieces are equal here: a bishop for a knight loses nothing.
#[inline]
#[must_use]
pub const fn exchange_value(role: Role) -> i32 {
    match role {
        Role::Pawn => 100,
        Role::Knight | Role::Bishop => 325,
        Role::Rook => 500,
        Role::Queen => 975,
        Role::King => 0,
    }
}

/// What the legal move `m` itself gains, before it is answered, in centipawns: a captured piece, a promotion.
#[must_use]
pub fn gain_at_once(board: &Board, m: Move) -> i32 {
    let promoted = m.promotion().map_or(0, |role| exchange_value(role) - exchange_value(Role::Pawn));
    promoted + if board.is_castling(m) { 0 } else { board.captured(m).map_or(0, exchange_value) }
}

/// What the exchange that the legal move `m` begins gains for its side, in centipawns; negative where it loses.
#[must_use]
pub fn exchange_gain(board: &Board, m: Move) -> i32 {
    // Nothing is lost but the mover's piece, nothing won but the captured one and a promotion.
    let (mut least, mut most) = (-exchange_value(Role::Queen), 2 * exchange_value(Role::Queen));
    while least < most {
        let middle = least + (most - least + 1) / 2;
        if gains_at_least(board, m, middle) {
            least = middle;
        } else {
            most = middle - 1;
        }
    }
    least
}

/// Whether the exchange that the legal move `m` begins gains at least `threshold` centipawns for its side. Pins are not
/// looked at.
#[must_use]
pub fn gains_at_least(board: &Board, m: Move, threshold: i32) -> bool {
    if board.is_castling(m) {
        return threshold <= 0;
    }
    let (from, to) = (m.from(), m.to());
    let mut standing = board.role_on(from).expect("a legal move has a piece to move");
    let mut balance = board.captured(m).map_or(0, exchange_value) - threshold;
    if let Some(promoted) = m.promotion() {
        balance += exchange_value(promoted) - exchange_value(Role::Pawn);
        standing = promoted;
    }
    if balance < 0 {
        return false;
    }
    balance -= exchange_value(standing);
    if balance >= 0 && standing != Role::King {
        return true;
    }

    let mut occupied = board.occupied().without(from).with(to);
    if board.is_en_passant(m) {
        occupied.discard(Square::from_coords(to.file(), from.rank()));
    }
    let straight = board.role(Role::Rook) | board.role(Role::Queen);
    let slanted = board.role(Role::Bishop) | board.role(Role::Queen);
    let mut attackers = board.attackers(to, occupied);
    let mut side = board.turn().other();
    loop {
        attackers &= occupied;
        let ours = attackers & board.side(side);
        let Some(role) = BY_VALUE.into_iter().find(|&role| (ours & board.role(role)).any()) else { break };
        side = side.other();
        balance = -balance - 1 - exchange_value(role);
        if balance >= 0 {
            // A king may not take what is still guarded.
            if role == Role::King && (attackers & board.side(side)).any() {
                side = side.other();
            }
            break;
        }
        let taker: Bitboard = (ours & board.role(role)).isolate_first();
        occupied ^= taker;
        if matches!(role, Role::Pawn | Role::Bishop | Role::Queen) {
            attackers |= bishop_attacks(to, occupied) & slanted;
        }
        if matches!(role, Role::Rook | Role::Queen) {
            attackers |= rook_attacks(to, occupied) & straight;
        }
    }
    side != board.turn()
}
