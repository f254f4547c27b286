//! Scores inside the search and as they are reported.

use std::fmt;

/// No line of the search is longer.
pub const MAX_PLY: usize = 128;

/// Inside the search a score is an integer: centipawns for the side to move, or `MATE` less the plies to the mate.
pub const MATE: i32 = 30_000;

/// Scores beyond this, in either direction, are mates.
pub const MATE_BOUND: i32 = MATE - MAX_PLY as i32;

/// Beyond every score.
pub const INFINITE: i32 = 31_000;

/// A score as it is reported, from the point of view of the side to move at the root.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Score {
    /// Centipawns.
    Centipawns(i32),
    /// Mate in so many moves of the mating side; negative when the side to move is mated, 0 when it is mated already.
    Mate(i32),
}

impl Score {
    /// From the integer of the search.
    #[must_use]
    pub const fn from_value(value: i32) -> Score {
        if value >= MATE_BOUND {
            Score::Mate((MATE - value + 1) / 2)
        } else if value <= -MATE_BOUND {
            Score::Mate(-(MATE + value) / 2)
        } else {
            Score::Centipawns(value)
        }
    }

    /// The integer of the search at its root.
    #[must_use]
    pub const fn value(self) -> i32 {
        match self {
            Score::Centipawns(cp) => cp,
            Score::Mate(n) if n > 0 => MATE - 2 * n + 1,
            Score::Mate(n) => -MATE - 2 * n,
        }
    }
}

impl fmt::Display for Score {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Score::Centipawns(cp) => write!(f, "cp {cp}"),
            Score::Mate(n) => write!(f, "mate {n}"),
        }
    }
}
