//! The hand evaluation: material, piece squares, mobility, pawns, passed pawns, threats, space and the kings' safety,
//! blended from middle game to endgame by the pieces that are left.

use shakmaty::{
    Bitboard, Color, Rank, Role, Square,
    attacks::{bishop_attacks, king_attacks, knight_attacks, rook_attacks},
};

use super::{
    Evaluator,
    pawns::{PawnFeatures, PawnTable, ahead, forward, pawn_targets},
    tapered::{Tapered, t},
    weights as w,
};
use crate::board::Board;

/// Files c to f.
const CENTRE_FILES: Bitboard = Bitboard(0x3c3c_3c3c_3c3c_3c3c);
const OUTPOST_RANKS: [Bitboard; 2] = [Bitboard(0x0000_00ff_ffff_0000), Bitboard(0x0000_ffff_ff00_0000)];
const SPACE_RANKS: [Bitboard; 2] = [Bitboard(0x00ff_ffff_0000_0000), Bitboard(0x0000_0000_ffff_ff00)];

const fn index(color: Color) -> usize {
    color.is_white() as usize
}

/// The evaluator that Variorum brings along.
#[derive(Default)]
pub struct HandEvaluation {
    pawns: PawnTable,
}

/// What both sides attack, gathered while the pieces are looked at. Indexed by colour, Black first.
#[derive(Default)]
struct Attacks {
    all: [Bitboard; 2],
    twice: [Bitboard; 2],
    by_role: [[Bitboard; 6]; 2],
    ring: [Bitboard; 2],
    danger: [i32; 2],
    attackers: [i32; 2],
}

impl Attacks {
    fn add(&mut self, color: Color, role: Role, squares: Bitboard) {
        let side = index(color);
        self.twice[side] |= self.all[side] & squares;
        self.all[side] |= squares;
        self.by_role[side][role as usize - 1] |= squares;
    }

    fn of(&self, color: Color, role: Role) -> Bitboard {
        self.by_role[index(color)][role as usize - 1]
    }
}

impl Evaluator for HandEvaluation {
    fn evaluate(&mut self, board: &Board) -> i32 {
        let pawns = *self.pawns.features(board);
        let mut attacks = Attacks::default();
        for color in Color::ALL {
            let king = board.king(color);
            attacks.ring[index(color)] = king_attacks(king).with(king);
            attacks.add(color, Role::King, king_attacks(king));
            attacks.add(color, Role::Pawn, pawns.attacks[index(color)]);
        }
        let mut phase = 0;
        let mut total = pawns.value;
        total += pieces(board, Color::White, &pawns, &mut attacks, &mut phase);
        total -= pieces(board, Color::Black, &pawns, &mut attacks, &mut phase);
        for color in Color::ALL {
            let value =
                passers(board, color, &pawns, &attacks) + threats(board, color, &attacks) + space(board, color, &pawns)
                    - king_danger(board, color, &pawns, &attacks);
            total += if color.is_white() { value } else { -value };
        }
        total += if board.turn().is_white() { w::TEMPO } else { -w::TEMPO };

        let phase = phase.min(w::FULL_PHASE);
        let stronger = Color::from_white(total.end() > 0);
        let scale = end_scale(board, stronger);
        let end = if scale == 0 { 0 } else { total.end() * scale / 64 + corner(board, stronger) };
        let blended = (total.middle() * phase + end * (w::FULL_PHASE - phase)) / w::FULL_PHASE;
        if board.turn().is_white() { blended } else { -blended }
    }
}

/// Material, piece squares, mobility and the pieces' own terms; pawns and king by material and squares only.
fn pieces(board: &Board, color: Color, pawns: &PawnFeatures, attacks: &mut Attacks, phase: &mut i32) -> Tapered {
    let enemy = color.other();
    let occupied = board.occupied();
    let own_pawns = board.of(color, Role::Pawn);
    let enemy_pawns = board.of(enemy, Role::Pawn);
    let king = board.king(color);
    // Squares a piece may use: not its own pawns or king, not under an enemy pawn.
    let usable = !(own_pawns.with(king) | pawns.attacks[index(enemy)]);
    let straight_through = occupied ^ (board.role(Role::Queen) | board.of(color, Role::Rook));
    let slanted_through = occupied ^ board.role(Role::Queen);
    let outposts = OUTPOST_RANKS[index(color)] & pawns.attacks[index(color)] & !pawns.reach[index(enemy)];
    let ring = attacks.ring[index(enemy)];
    let mut total = Tapered::ZERO;

    for square in own_pawns {
        total += w::MATERIAL[0] + square_value(color, Role::Pawn, square);
    }
    total += square_value(color, Role::King, king);

    for square in board.officers(color) {
        let Some(role) = board.role_on(square) else { continue };
        let number = role as usize - 1;
        total += w::MATERIAL[number] + square_value(color, role, square);
        *phase += w::PHASE[number];
        let reach = match role {
            Role::Knight => knight_attacks(square),
            Role::Bishop => bishop_attacks(square, slanted_through),
            Role::Rook => rook_attacks(square, straight_through),
            _ => rook_attacks(square, occupied) | bishop_attacks(square, occupied),
        };
        attacks.add(color, role, reach);
        let near = reach & ring;
        if near.any() {
            attacks.attackers[index(enemy)] += 1;
            attacks.danger[index(enemy)] += w::ATTACKER[number - 1] + w::RING_ATTACK * near.count() as i32;
        }
        let mobility = (reach & usable).count();
        total += match role {
            Role::Knight => {
                let outpost = if outposts.contains(square) { w::KNIGHT_OUTPOST } else { Tapered::ZERO };
                w::KNIGHT_MOBILITY[mobility] + outpost
            }
            Role::Bishop => {
                let outpost = if outposts.contains(square) { w::BISHOP_OUTPOST } else { Tapered::ZERO };
                let colour = if square.is_light() { Bitboard::LIGHT_SQUARES } else { Bitboard::DARK_SQUARES };
                let hindered = w::BISHOP_OWN_COLOUR * (own_pawns & colour).count() as i32;
                w::BISHOP_MOBILITY[mobility.min(13)] + outpost + hindered
            }
            Role::Rook => {
                w::ROOK_MOBILITY[mobility.min(14)]
                    + rook_file(square, own_pawns, enemy_pawns)
                    + seventh(board, color, square)
                    + behind_passer(square, pawns.passed, color, own_pawns)
            }
            _ => w::QUEEN_MOBILITY[mobility.min(16)] + seventh(board, color, square),
        };
    }
    if board.of(color, Role::Bishop).more_than_one() {
        total += w::BISHOP_PAIR;
    }
    total
}

fn square_value(color: Color, role: Role, square: Square) -> Tapered {
    let row = 7 - color.relative_rank(square.rank()).to_usize();
    let file = square.file().to_usize();
    w::SQUARES[role as usize - 1][row][file.min(7 - file)]
}

fn rook_file(square: Square, own_pawns: Bitboard, enemy_pawns: Bitboard) -> Tapered {
    let file = Bitboard::from_file(square.file());
    match ((file & own_pawns).any(), (file & enemy_pawns).any()) {
        (false, false) => w::ROOK_OPEN_FILE,
        (false, true) => w::ROOK_HALF_OPEN_FILE,
        _ => Tapered::ZERO,
    }
}

fn seventh(board: &Board, color: Color, square: Square) -> Tapered {
    let enemy = color.other();
    let worthwhile = color.relative_rank(square.rank()) == Rank::Seventh
        && (color.relative_rank(board.king(enemy).rank()) == Rank::Eighth
            || (board.of(enemy, Role::Pawn) & Bitboard::from_rank(square.rank())).any());
    if worthwhile { w::ON_SEVENTH } else { Tapered::ZERO }
}

fn behind_passer(square: Square, passed: Bitboard, color: Color, own_pawns: Bitboard) -> Tapered {
    let file = passed & Bitboard::from_file(square.file());
    let own = file & own_pawns & ahead(color, square.into());
    let enemy = file & !own_pawns & ahead(color.other(), square.into());
    if (own | enemy).any() { w::ROOK_BEHIND_PASSER } else { Tapered::ZERO }
}

/// What passed pawns gain from the pieces and kings around them.
fn passers(board: &Board, color: Color, pawns: &PawnFeatures, attacks: &Attacks) -> Tapered {
    let enemy = color.other();
    let mut total = Tapered::ZERO;
    for pawn in pawns.passed & board.of(color, Role::Pawn) {
        let rank = color.relative_rank(pawn.rank()).to_usize();
        let way = ahead(color, pawn.into());
        let stop = forward(color, pawn.into());
        if (stop & board.occupied()).is_empty() {
            total += w::PASSED_FREE[rank];
            if (way & (attacks.all[index(enemy)] | board.side(enemy))).is_empty() {
                total += w::PASSED_SAFE_WAY[rank];
            }
        }
        if let Some(stop) = stop.first() {
            let own = board.king(color).distance(stop).min(5) as i32;
            let theirs = board.king(enemy).distance(stop).min(5) as i32;
            total += t(0, w::PASSED_KING_DISTANCE[rank] * (theirs - own));
        }
    }
    total
}

fn threats(board: &Board, color: Color, attacks: &Attacks) -> Tapered {
    let enemy = color.other();
    let targets = board.officers(enemy);
    let minor_attacks = attacks.of(color, Role::Knight) | attacks.of(color, Role::Bishop);
    let heavy = (board.role(Role::Rook) | board.role(Role::Queen)) & targets;
    let hanging = targets & attacks.all[index(color)] & !attacks.all[index(enemy)];
    let steps = forward(color, board.of(color, Role::Pawn)) & !board.occupied();
    let safe_steps = steps & !attacks.of(enemy, Role::Pawn) & (attacks.all[index(color)] | !attacks.all[index(enemy)]);
    let pushed = pawn_targets(color, safe_steps) & targets & !attacks.of(color, Role::Pawn);

    w::PAWN_THREAT * (attacks.of(color, Role::Pawn) & targets).count() as i32
        + w::MINOR_THREAT * (minor_attacks & heavy).count() as i32
        + w::ROOK_THREAT * (attacks.of(color, Role::Rook) & heavy & board.role(Role::Queen)).count() as i32
        + w::HANGING * hanging.count() as i32
        + w::PUSH_THREAT * pushed.count() as i32
}

/// Room behind the own pawns, worth more the more pieces want it.
fn space(board: &Board, color: Color, pawns: &PawnFeatures) -> Tapered {
    let pieces = board.officers(color).count() as i32;
    if pieces < 4 {
        return Tapered::ZERO;
    }
    let own = board.of(color, Role::Pawn);
    let room = CENTRE_FILES & SPACE_RANKS[index(color)] & !own & !pawns.attacks[index(color.other())];
    let behind = room & ahead(color.other(), own);
    w::SPACE * ((room.count() + behind.count()) as i32 * (pieces - 3) / 4)
}

/// What the enemy's attack on the king of `color` is worth to the enemy.
fn king_danger(board: &Board, color: Color, pawns: &PawnFeatures, attacks: &Attacks) -> Tapered {
    let enemy = color.other();
    let (us, them) = (index(color), index(enemy));
    let attackers = attacks.attackers[us];
    let queens = board.of(enemy, Role::Queen);
    if attackers < 2 && queens.is_empty() {
        return Tapered::ZERO;
    }
    let king = board.king(color);
    let occupied = board.occupied();
    // Squares that only king or queen guard, or nobody.
    let poorly_guarded =
        !attacks.all[us] | (!attacks.twice[us] & (attacks.of(color, Role::King) | attacks.of(color, Role::Queen)));
    let weak = attacks.all[them] & poorly_guarded;
    let safe = !board.side(enemy) & (!attacks.all[us] | (weak & attacks.twice[them]));
    let straight = rook_attacks(king, occupied ^ board.of(color, Role::Queen));
    let slanted = bishop_attacks(king, occupied ^ board.of(color, Role::Queen));
    let checks = [
        knight_attacks(king) & attacks.of(enemy, Role::Knight),
        slanted & attacks.of(enemy, Role::Bishop),
        straight & attacks.of(enemy, Role::Rook),
        (straight | slanted) & attacks.of(enemy, Role::Queen),
    ];
    let mut danger = attacks.danger[us] * attackers / 2;
    danger += w::WEAK_RING * (attacks.ring[us] & weak).count() as i32;
    for (check, worth) in checks.into_iter().zip(w::SAFE_CHECK) {
        match (check & safe).count() {
            0 => {}
            1 => danger += worth,
            _ => danger += worth * 3 / 2,
        }
    }
    if queens.is_empty() {
        danger += w::NO_QUEEN;
    }
    danger -= pawns.shelter[us] * w::SHELTER_SHARE / 8;
    let danger = danger.clamp(0, 900);
    t(danger * danger / 1000, danger / 10)
}

/// How much of an endgame advantage can be expected to win, of 64.
fn end_scale(board: &Board, stronger: Color) -> i32 {
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
fn corner(board: &Board, stronger: Color) -> i32 {
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
