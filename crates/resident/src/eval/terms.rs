//! The terms of the hand evaluation: which weights there are and where they stand in the table.

/// A run of weights in the table.
#[derive(Clone, Copy, Debug)]
pub struct Term(usize);

impl Term {
    /// Where weight number `index` of this run stands.
    #[inline]
    #[must_use]
    pub const fn at(self, index: usize) -> usize {
        self.0 + index
    }
}

/// Names runs of weights, one after the other, and lists them for whoever writes the table.
macro_rules! terms {
    ($table:ident, $count:ident: $($(#[$doc:meta])* $name:ident: $len:expr;)*) => {
        /// Names and lengths of the runs, in the order of the table.
        pub static $table: &[(&str, usize)] = &[$((stringify!($name), $len)),*];
        terms!(@ $count, 0; $($(#[$doc])* $name: $len;)*);
    };
    (@ $count:ident, $at:expr;) => {
        /// How many weights there are.
        pub const $count: usize = $at;
    };
    (@ $count:ident, $at:expr; $(#[$doc:meta])* $name:ident: $len:expr; $($rest:tt)*) => {
        $(#[$doc])*
        pub const $name: Term = Term($at);
        terms!(@ $count, $at + $len; $($rest)*);
    };
}

terms! { TERMS, COUNT:
    /// Pawn, knight, bishop, rook, queen.
    MATERIAL: 5;
    /// By role, row from the eighth rank down, and file a to d (mirrored on e to h), from the piece's own side.
    SQUARES: 6 * 32;
    /// By number of squares a piece may safely go to.
    KNIGHT_MOBILITY: 9;
    /// See above.
    BISHOP_MOBILITY: 14;
    /// See above.
    ROOK_MOBILITY: 15;
    /// See above.
    QUEEN_MOBILITY: 28;
    /// Both bishops.
    BISHOP_PAIR: 1;
    /// Each own pawn on the colour of a bishop; the same where the pawn is blocked.
    BISHOP_OWN_COLOUR: 2;
    /// On a square of the fourth to sixth rank that a pawn guards and no enemy pawn can attack.
    KNIGHT_OUTPOST: 1;
    /// A knight that can go to such a square in one move.
    KNIGHT_NEAR_OUTPOST: 1;
    /// See above.
    BISHOP_OUTPOST: 1;
    /// A minor piece right behind a pawn of its side.
    BEHIND_PAWN: 1;
    /// Steps of a minor piece from its own king.
    MINOR_FROM_KING: 1;
    /// On a file without pawns.
    ROOK_OPEN_FILE: 1;
    /// On a file without own pawns.
    ROOK_HALF_OPEN_FILE: 1;
    /// Rook or queen on the seventh rank with the enemy king on the eighth or enemy pawns on the seventh.
    ON_SEVENTH: 1;
    /// Rook behind a passed pawn of either side.
    ROOK_BEHIND_PASSER: 1;
    /// Pawn without friends on the neighbouring files, and the same with no enemy pawn before it.
    ISOLATED: 2;
    /// Pawn with another of its side before it on the file.
    DOUBLED: 1;
    /// Pawn that cannot be guarded by a friend nor safely step forward, and the same with no enemy pawn before it.
    BACKWARD: 2;
    /// Pawn guarded by a pawn, by rank.
    GUARDED: 8;
    /// Pawn beside a pawn, by rank.
    PHALANX: 8;
    /// Pawn stopped by an enemy pawn, by rank.
    STOPPED: 8;
    /// Pawn that would be passed but for enemy pawns that friends outnumber, by rank.
    CANDIDATE: 8;
    /// Passed pawn, by rank.
    PASSED: 8;
    /// Passed pawn whose next square is free, by rank.
    PASSED_FREE: 8;
    /// Passed pawn whose whole way is neither occupied nor attacked by the enemy, by rank.
    PASSED_SAFE_WAY: 8;
    /// Passed pawn guarded by a pawn.
    PASSED_GUARDED: 1;
    /// Steps of the own king from the square before a passed pawn, by rank.
    PASSED_OWN_KING: 8;
    /// Steps of the enemy king from it, by rank.
    PASSED_ENEMY_KING: 8;
    /// Own pawn before the king, by file from the edge and distance in ranks (0: none).
    SHELTER: 4 * 8;
    /// Enemy pawn coming at the king, by file from the edge and distance in ranks (0: none).
    STORM: 4 * 8;
    /// The same where an own pawn stops it, by distance.
    STORM_STOPPED: 8;
    /// A file at the king without pawns, and one without own pawns.
    KING_FILE: 2;
    /// A pawn attacks a piece: knight, bishop, rook, queen.
    PAWN_THREAT: 4;
    /// A minor piece attacks: pawn, knight, bishop, rook, queen that is not guarded by a pawn.
    MINOR_THREAT: 5;
    /// A rook attacks the same.
    ROOK_THREAT: 5;
    /// The king attacks something unguarded.
    KING_THREAT: 1;
    /// An attacked piece without any guard.
    HANGING: 1;
    /// A pawn that can step forward safely and attack a piece.
    PUSH_THREAT: 1;
    /// Squares that the enemy attacks and this side contests.
    RESTRICTED: 1;
    /// Squares on files c to f of the second to fourth rank that are free of enemy pawn attacks, those behind own pawns
    /// counted twice, by the pieces that want them.
    SPACE: 1;
    /// The side to move.
    TEMPO: 1;
}

terms! { DANGERS, DANGER_COUNT:
    /// Always.
    ALWAYS: 1;
    /// Pieces that attack squares beside the king: knight, bishop, rook, queen.
    ATTACKER: 4;
    /// Their attacks on such squares.
    RING_ATTACK: 1;
    /// Squares beside the king that are attacked and guarded at most by king or queen.
    WEAK_RING: 1;
    /// A safe check: knight, bishop, rook, queen.
    SAFE_CHECK: 4;
    /// Squares from which a check would not be safe.
    UNSAFE_CHECK: 1;
    /// The enemy has no queen.
    NO_QUEEN: 1;
    /// Eighths of a pawn of shelter.
    COVER: 1;
    /// Attacks on the king's wing, once and twice.
    WING_ATTACK: 2;
    /// Squares of that wing that are guarded.
    WING_GUARD: 1;
    /// Own pieces pinned to the king.
    PINNED: 1;
    /// A knight stands by.
    KNIGHT_GUARD: 1;
}
