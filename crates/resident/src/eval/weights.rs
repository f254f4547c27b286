//! Weights of the hand evaluation, in centipawns: middle game and endgame. Set by hand from general chess knowledge.

use super::tapered::{Tapered, t};

/// Pawn, knight, bishop, rook, queen, king.
pub const MATERIAL: [Tapered; 6] = [t(80, 105), t(330, 310), t(345, 330), t(470, 550), t(970, 1000), t(0, 0)];

/// How much of the middle game each piece brings; 24 is all of it.
pub const PHASE: [i32; 6] = [0, 1, 1, 2, 4, 0];

/// The phase of the full set.
pub const FULL_PHASE: i32 = 24;

/// For the side to move.
pub const TEMPO: Tapered = t(18, 10);

/// Piece squares for files a to d (mirrored on e to h), ranks from the eighth down to the first, seen from the piece's
/// own side: as a diagram with White below.
type Half = [[Tapered; 4]; 8];

/// Pawn, knight, bishop, rook, queen, king.
pub const SQUARES: [Half; 6] = [PAWN, KNIGHT, BISHOP, ROOK, QUEEN, KING];

const PAWN: Half = [
    [t(0, 0), t(0, 0), t(0, 0), t(0, 0)],
    [t(25, 35), t(30, 32), t(32, 30), t(34, 28)],
    [t(6, 20), t(12, 18), t(18, 16), t(22, 12)],
    [t(-2, 10), t(2, 8), t(8, 4), t(18, 0)],
    [t(-8, 4), t(-4, 3), t(6, 0), t(20, -3)],
    [t(-8, 0), t(-2, 0), t(0, 0), t(4, 0)],
    [t(-8, 2), t(2, 2), t(0, 2), t(-10, 2)],
    [t(0, 0), t(0, 0), t(0, 0), t(0, 0)],
];

const KNIGHT: Half = [
    [t(-70, -45), t(-35, -30), t(-25, -20), t(-15, -15)],
    [t(-30, -28), t(-15, -12), t(10, -8), t(12, 0)],
    [t(-8, -22), t(10, -6), t(24, 6), t(28, 12)],
    [t(-4, -16), t(8, 0), t(20, 12), t(24, 18)],
    [t(-10, -16), t(4, 0), t(14, 12), t(18, 18)],
    [t(-18, -22), t(0, -8), t(10, 2), t(12, 12)],
    [t(-28, -28), t(-20, -14), t(-6, -8), t(0, -2)],
    [t(-55, -38), t(-24, -30), t(-20, -20), t(-14, -14)],
];

const BISHOP: Half = [
    [t(-20, -10), t(-16, -8), t(-14, -6), t(-14, -4)],
    [t(-14, -6), t(-4, -2), t(-4, 0), t(-4, 0)],
    [t(-2, -2), t(8, 0), t(10, 2), t(10, 2)],
    [t(-4, -2), t(4, 2), t(10, 4), t(16, 6)],
    [t(-2, -4), t(4, 0), t(8, 4), t(16, 6)],
    [t(0, -4), t(10, -2), t(8, 2), t(8, 4)],
    [t(2, -8), t(14, -6), t(8, -4), t(2, 0)],
    [t(-14, -12), t(-6, -8), t(-14, -6), t(-10, -4)],
];

const ROOK: Half = [
    [t(4, 10), t(6, 10), t(6, 10), t(8, 10)],
    [t(8, 12), t(12, 12), t(16, 12), t(18, 10)],
    [t(-2, 8), t(4, 6), t(6, 6), t(8, 4)],
    [t(-8, 6), t(-2, 4), t(2, 4), t(4, 2)],
    [t(-14, 2), t(-8, 2), t(-4, 0), t(0, 0)],
    [t(-16, -2), t(-8, -2), t(-4, -4), t(0, -4)],
    [t(-18, -6), t(-8, -6), t(-4, -6), t(2, -6)],
    [t(-8, -6), t(-6, -4), t(4, -4), t(10, -6)],
];

const QUEEN: Half = [
    [t(-6, 0), t(0, 8), t(4, 12), t(8, 14)],
    [t(-4, 0), t(-14, 12), t(0, 16), t(4, 22)],
    [t(0, 0), t(2, 10), t(6, 18), t(8, 24)],
    [t(-6, 4), t(-4, 14), t(0, 20), t(2, 26)],
    [t(-4, 0), t(-2, 10), t(0, 16), t(0, 24)],
    [t(-4, -8), t(2, -4), t(0, 8), t(-2, 8)],
    [t(-8, -16), t(0, -16), t(6, -14), t(6, -8)],
    [t(-6, -22), t(-8, -20), t(-4, -18), t(6, -18)],
];

const KING: Half = [
    [t(-40, -60), t(-40, -32), t(-60, -20), t(-70, -16)],
    [t(-30, -26), t(-30, 2), t(-45, 12), t(-55, 14)],
    [t(-25, -8), t(-25, 18), t(-40, 26), t(-50, 26)],
    [t(-30, -14), t(-25, 12), t(-40, 24), t(-55, 28)],
    [t(-36, -22), t(-30, 2), t(-40, 16), t(-50, 24)],
    [t(-14, -24), t(-10, -4), t(-26, 6), t(-38, 14)],
    [t(14, -30), t(16, -14), t(-12, -2), t(-26, 4)],
    [t(16, -58), t(34, -38), t(4, -26), t(-10, -24)],
];

/// Knight, bishop, rook, queen: value of the number of squares they may safely go to.
pub const KNIGHT_MOBILITY: [Tapered; 9] =
    [t(-40, -50), t(-28, -30), t(-12, -14), t(-4, -4), t(3, 4), t(8, 10), t(13, 14), t(17, 17), t(20, 18)];
/// See [`KNIGHT_MOBILITY`].
pub const BISHOP_MOBILITY: [Tapered; 14] = [
    t(-34, -44),
    t(-22, -28),
    t(-8, -14),
    t(0, -4),
    t(6, 4),
    t(11, 10),
    t(15, 15),
    t(18, 19),
    t(20, 22),
    t(22, 24),
    t(24, 26),
    t(27, 26),
    t(30, 28),
    t(32, 28),
];
/// See [`KNIGHT_MOBILITY`].
pub const ROOK_MOBILITY: [Tapered; 15] = [
    t(-30, -50),
    t(-20, -28),
    t(-12, -12),
    t(-8, -2),
    t(-4, 6),
    t(-1, 12),
    t(2, 18),
    t(5, 24),
    t(8, 28),
    t(11, 32),
    t(14, 35),
    t(16, 38),
    t(18, 40),
    t(20, 42),
    t(22, 42),
];
/// See [`KNIGHT_MOBILITY`]; from sixteen squares on it stays the same.
pub const QUEEN_MOBILITY: [Tapered; 17] = [
    t(-24, -40),
    t(-16, -30),
    t(-10, -22),
    t(-7, -14),
    t(-4, -8),
    t(-2, -2),
    t(0, 3),
    t(2, 8),
    t(4, 12),
    t(6, 16),
    t(7, 19),
    t(8, 22),
    t(9, 25),
    t(10, 27),
    t(11, 29),
    t(12, 30),
    t(12, 31),
];

/// Both bishops.
pub const BISHOP_PAIR: Tapered = t(28, 48);
/// Each own pawn on the colour of a bishop.
pub const BISHOP_OWN_COLOUR: Tapered = t(-3, -6);
/// Knight on an outpost (a square on the fourth to sixth rank that a pawn guards and no enemy pawn can attack).
pub const KNIGHT_OUTPOST: Tapered = t(24, 16);
/// Bishop on an outpost.
pub const BISHOP_OUTPOST: Tapered = t(14, 6);
/// Rook on a file without pawns.
pub const ROOK_OPEN_FILE: Tapered = t(28, 10);
/// Rook on a file without own pawns.
pub const ROOK_HALF_OPEN_FILE: Tapered = t(13, 8);
/// Rook or queen on the seventh rank with the enemy king on the eighth or enemy pawns on the seventh.
pub const ON_SEVENTH: Tapered = t(8, 22);
/// Rook behind a passed pawn of either side.
pub const ROOK_BEHIND_PASSER: Tapered = t(4, 16);

/// Pawn without friends on the neighbouring files.
pub const ISOLATED: Tapered = t(-9, -12);
/// The same where no enemy pawn stands before it on its file.
pub const ISOLATED_OPEN: Tapered = t(-17, -16);
/// Pawn with another of its side before it on the file.
pub const DOUBLED: Tapered = t(-7, -20);
/// Pawn that cannot be guarded by a friend and cannot safely step forward.
pub const BACKWARD: Tapered = t(-7, -8);
/// The same on a file half open for the enemy.
pub const BACKWARD_OPEN: Tapered = t(-17, -12);
/// Pawn beside another or guarded by one, by its rank from its own side.
pub const CONNECTED: [Tapered; 8] = [t(0, 0), t(2, 0), t(6, 3), t(8, 5), t(16, 12), t(32, 28), t(50, 50), t(0, 0)];

/// Passed pawn by its rank.
pub const PASSED: [Tapered; 8] = [t(0, 0), t(-4, 8), t(-4, 14), t(0, 30), t(22, 54), t(52, 100), t(90, 160), t(0, 0)];
/// A passed pawn whose next square is free, by rank.
pub const PASSED_FREE: [Tapered; 8] = [t(0, 0), t(0, 2), t(0, 4), t(2, 10), t(6, 18), t(12, 34), t(20, 56), t(0, 0)];
/// A passed pawn whose whole way is neither occupied nor attacked by the enemy, by rank.
pub const PASSED_SAFE_WAY: [Tapered; 8] =
    [t(0, 0), t(0, 2), t(0, 6), t(2, 14), t(6, 26), t(12, 44), t(18, 70), t(0, 0)];
/// Passed pawn guarded by a pawn.
pub const PASSED_GUARDED: Tapered = t(6, 12);
/// For each step by which the enemy king is farther from the square before the pawn than the own king, by rank.
pub const PASSED_KING_DISTANCE: [i32; 8] = [0, 0, 1, 4, 8, 12, 15, 0];

/// A pawn attacks a piece.
pub const PAWN_THREAT: Tapered = t(52, 38);
/// A minor piece attacks a rook or queen.
pub const MINOR_THREAT: Tapered = t(36, 30);
/// A rook attacks a queen.
pub const ROOK_THREAT: Tapered = t(40, 20);
/// An attacked piece without any guard.
pub const HANGING: Tapered = t(26, 22);
/// A pawn that can step forward safely and attack a piece.
pub const PUSH_THREAT: Tapered = t(14, 10);
/// Each square on files c to f of the second to fourth rank, behind or beside own pawns and free of enemy pawn attacks.
pub const SPACE: Tapered = t(2, 0);

/// Pawn shield, by distance of the nearest own pawn before the king on each of three files (0: none).
pub const SHELTER: [i32; 8] = [-24, 24, 12, 2, -6, -12, -16, -20];
/// Enemy pawn's advance towards the king, by distance to the king's rank (0: none or passed by).
pub const STORM: [i32; 8] = [0, -14, -22, -10, -3, 0, 0, 0];
/// A storming pawn that is stopped by an own pawn does less.
pub const STORM_STOPPED: i32 = 2;
/// No own pawn on the king's file or a neighbouring one, and no enemy pawn either.
pub const SHELTER_OPEN_FILE: i32 = -12;

/// Weight in an attack on the king: knight, bishop, rook, queen.
pub const ATTACKER: [i32; 4] = [22, 20, 28, 40];
/// For each attack on a square beside the king.
pub const RING_ATTACK: i32 = 10;
/// For each square beside the king that is attacked and guarded at most by king or queen.
pub const WEAK_RING: i32 = 18;
/// A safe check: knight, bishop, rook, queen.
pub const SAFE_CHECK: [i32; 4] = [62, 40, 66, 52];
/// Without a queen an attack is worth less.
pub const NO_QUEEN: i32 = -110;
/// Shelter counts against danger by this share of eight.
pub const SHELTER_SHARE: i32 = 4;
