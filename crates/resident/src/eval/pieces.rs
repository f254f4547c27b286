//! Pieces: material, squares, mobility, and what each kind likes.

use shakmaty::{
    Bitboard, Color, Rank, Role, Square,
    attacks::{bishop_attacks, king_attacks, knight_attacks, rook_attacks},
};

use super::{
    pawns::PawnFeatures,
    record::Record,
    squares::{ahead, forward, index},
    sum::Sum,
    terms as w,
};
use crate::board::Board;

/// How much of the middle game each piece brings; 24 is all of it.
const PHASE: [i32; 6] = [0, 1, 1, 2, 4, 0];
const OUTPOST_RANKS: [Bitboard; 2] = [Bitboard(0x0000_00ff_ffff_0000), Bitboard(0x0000_ffff_ff00_0000)];

/// What both sides attack, gathered while the pieces are looked at. Indexed by colour, Black first.
#[derive(Default)]
pub struct Attacks {
    pub all: [Bitboard; 2],
    pub twice: [Bitboard; 2],
    by_role: [[Bitboard; 6]; 2],
    /// The king's square and those beside it.
    pub ring: [Bitboard; 2],
    /// Pieces that attack the ring of this king: knight, bishop, rook, queen.
    pub attackers: [[i32; 4]; 2],
    /// Their attacks on it.
    pub ring_attacks: [i32; 2],
}

impl Attacks {
    /// What kings and pawns attack.
    pub fn of_kings_and_pawns(board: &Board, pawns: &PawnFeatures) -> Attacks {
        let mut attacks = Attacks::default();
        for color in Color::ALL {
            let king = board.king(color);
            attacks.ring[index(color)] = king_attacks(king).with(king);
            attacks.add(color, Role::King, king_attacks(king));
            attacks.add(color, Role::Pawn, pawns.attacks[index(color)]);
        }
        attacks
    }

    fn add(&mut self, color: Color, role: Role, squares: Bitboard) {
        let side = index(color);
        self.twice[side] |= self.all[side] & squares;
        self.all[side] |= squares;
        self.by_role[side][role as usize - 1] |= squares;
    }

    /// Squares that pieces of one kind attack.
    #[inline]
    pub fn of(&self, color: Color, role: Role) -> Bitboard {
        self.by_role[index(color)][role as usize - 1]
    }
}

/// Where in its term the weight of a piece on a square stands.
#[inline]
pub fn square_index(color: Color, role: Role, square: Square) -> usize {
    let row = 7 - color.relative_rank(square.rank()).to_usize();
    let file = square.file().to_usize();
    (role as usize - 1) * 32 + row * 4 + file.min(7 - file)
}

/// Adds all pieces of one side other than pawns and king; how much of the middle game they bring.
pub fn add<R: Record>(
    board: &Board,
    color: Color,
    pawns: &PawnFeatures,
    attacks: &mut Attacks,
    sum: &mut Sum<'_, R>,
) -> i32 {
    let enemy = color.other();
    let occupied = board.occupied();
    let own_pawns = board.of(color, Role::Pawn);
    let enemy_pawns = board.of(enemy, Role::Pawn);
    let king = board.king(color);
    let stuck = own_pawns & forward(enemy, occupied);
    // Squares a piece may use: not its own king or a pawn that cannot move away, not under an enemy pawn.
    let usable = !(stuck.with(king) | pawns.attacks[index(enemy)]);
    let straight_through = occupied ^ (board.role(Role::Queen) | board.of(color, Role::Rook));
    let slanted_through = occupied ^ board.role(Role::Queen);
    let outposts = OUTPOST_RANKS[index(color)] & pawns.attacks[index(color)] & !pawns.reach[index(enemy)];
    let sheltered = forward(enemy, own_pawns);
    let ring = attacks.ring[index(enemy)];
    let pinned = if board.turn() == color { board.pinned() } else { Bitboard::EMPTY };
    let mut phase = 0;

    for square in board.officers(color) {
        let Some(role) = board.role_on(square) else { continue };
        let number = role as usize - 1;
        sum.add(w::MATERIAL, number);
        sum.add(w::SQUARES, square_index(color, role, square));
        phase += PHASE[number];
        let mut reach = match role {
            Role::Knight => knight_attacks(square),
            Role::Bishop => bishop_attacks(square, slanted_through),
            Role::Rook => rook_attacks(square, straight_through),
            _ => rook_attacks(square, occupied) | bishop_attacks(square, occupied),
        };
        if pinned.contains(square) {
            reach &= shakmaty::attacks::ray(king, square);
        }
        attacks.add(color, role, reach);
        let near = reach & ring;
        if near.any() {
            attacks.attackers[index(enemy)][number - 1] += 1;
            attacks.ring_attacks[index(enemy)] += near.count() as i32;
        }
        let mobility = (reach & usable).count();
        match role {
            Role::Knight | Role::Bishop => {
                let is_knight = role == Role::Knight;
                sum.add(if is_knight { w::KNIGHT_MOBILITY } else { w::BISHOP_MOBILITY }, mobility.min(13));
                if outposts.contains(square) {
                    sum.add(if is_knight { w::KNIGHT_OUTPOST } else { w::BISHOP_OUTPOST }, 0);
                } else if is_knight && (reach & outposts & !board.side(color)).any() {
                    sum.add(w::KNIGHT_NEAR_OUTPOST, 0);
                }
                if sheltered.contains(square) {
                    sum.add(w::BEHIND_PAWN, 0);
                }
                sum.add_times(w::MINOR_FROM_KING, 0, king.distance(square) as i32);
                if !is_knight {
                    let colour = if square.is_light() { Bitboard::LIGHT_SQUARES } else { Bitboard::DARK_SQUARES };
                    sum.add_times(w::BISHOP_OWN_COLOUR, 0, (own_pawns & colour).count() as i32);
                    sum.add_times(w::BISHOP_OWN_COLOUR, 1, (stuck & colour).count() as i32);
                }
            }
            Role::Rook => {
                sum.add(w::ROOK_MOBILITY, mobility.min(14));
                let file = Bitboard::from_file(square.file());
                if (file & own_pawns).is_empty() {
                    let half_open = (file & enemy_pawns).any();
                    sum.add(if half_open { w::ROOK_HALF_OPEN_FILE } else { w::ROOK_OPEN_FILE }, 0);
                }
                let passers = pawns.passed & file;
                let own = passers & own_pawns & ahead(color, square.into());
                if (own | (passers & enemy_pawns & ahead(enemy, square.into()))).any() {
                    sum.add(w::ROOK_BEHIND_PASSER, 0);
                }
            }
            _ => sum.add(w::QUEEN_MOBILITY, mobility.min(27)),
        }
        if matches!(role, Role::Rook | Role::Queen) && is_on_seventh(board, color, square) {
            sum.add(w::ON_SEVENTH, 0);
        }
    }
    if board.of(color, Role::Bishop).more_than_one() {
        sum.add(w::BISHOP_PAIR, 0);
    }
    phase
}

fn is_on_seventh(board: &Board, color: Color, square: Square) -> bool {
    let enemy = color.other();
    color.relative_rank(square.rank()) == Rank::Seventh
        && (color.relative_rank(board.king(enemy).rank()) == Rank::Eighth
            || (board.of(enemy, Role::Pawn) & Bitboard::from_rank(square.rank())).any())
}
