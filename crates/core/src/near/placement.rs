//! Where the units of a position stand, and how two placements differ.

use shakmaty::{Bitboard, Board, Color, Piece, Role};

/// A unit and its square in one number: kind of piece (0 to 5 White's, 6 to 11 Black's) times 64, plus the square.
pub type Unit = u16;

/// Kinds of pieces of both sides.
pub const KINDS: usize = 12;

/// "No unit".
pub const NONE: Unit = 0x3ff;

/// The squares of each kind of piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Placement(pub [u64; KINDS]);

/// Units of one placement that the other does not have, at most two on each side, and how many units differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Difference {
    /// Units of the first that the second does not have, ascending, then [`NONE`].
    pub here: [Unit; 2],
    /// Units of the second that the first does not have.
    pub there: [Unit; 2],
    /// Like units that stand elsewhere count once; units without a like one once each.
    pub units: u8,
}

impl Placement {
    /// The placement of `board`.
    #[must_use]
    pub fn new(board: &Board) -> Placement {
        let mut squares = [0; KINDS];
        for color in Color::ALL {
            for role in Role::ALL {
                let kind = role as usize - 1 + if color.is_black() { 6 } else { 0 };
                squares[kind] = board.by_piece(Piece { color, role }).into();
            }
        }
        Placement(squares)
    }

    /// With colours reversed and the board turned over.
    #[must_use]
    pub fn mirrored(&self) -> Placement {
        let mut squares = [0; KINDS];
        for (kind, own) in self.0.iter().enumerate() {
            squares[(kind + 6) % KINDS] = own.swap_bytes();
        }
        Placement(squares)
    }

    /// White's and Black's pawns; with `either` the same for the placement with colours reversed.
    #[must_use]
    pub fn pawns(&self, either: bool) -> (u64, u64) {
        let (own, turned) = ((self.0[0], self.0[6]), (self.0[6].swap_bytes(), self.0[0].swap_bytes()));
        if either { own.min(turned) } else { own }
    }

    /// Every unit, ascending.
    pub fn units(&self) -> impl Iterator<Item = Unit> + '_ {
        self.0.iter().enumerate().flat_map(|(kind, &squares)| {
            Bitboard(squares).into_iter().map(move |square| (kind * 64) as Unit + u16::from(square))
        })
    }
}

/// The same unit with colours reversed.
#[must_use]
pub fn mirrored(unit: Unit) -> Unit {
    if unit == NONE {
        return NONE;
    }
    let (kind, square) = (unit / 64, unit % 64);
    (kind + 6) % 12 * 64 + (square ^ 56)
}

/// How `there` differs from `here`; `None` where more than two units do.
#[must_use]
pub fn difference(here: &Placement, there: &Placement) -> Option<Difference> {
    let mut found = Difference { here: [NONE; 2], there: [NONE; 2], units: 0 };
    let (mut own, mut other) = (0, 0);
    for kind in 0..KINDS {
        let (mine, theirs) = (here.0[kind] & !there.0[kind], there.0[kind] & !here.0[kind]);
        if mine | theirs == 0 {
            continue;
        }
        let bishop = kind % 6 == Role::Bishop as usize - 1;
        for part in if bishop { [Bitboard::DARK_SQUARES.0, Bitboard::LIGHT_SQUARES.0] } else { [u64::MAX, 0] } {
            found.units += (mine & part).count_ones().max((theirs & part).count_ones()) as u8;
        }
        if found.units > 2 {
            return None;
        }
        for square in Bitboard(mine) {
            found.here[own] = (kind * 64) as Unit + u16::from(square);
            own += 1;
        }
        for square in Bitboard(theirs) {
            found.there[other] = (kind * 64) as Unit + u16::from(square);
            other += 1;
        }
    }
    Some(found)
}
