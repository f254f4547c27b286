//! The words, each with its definition and where the literature has it from.

use shakmaty::{Board, Color};

use super::View;

const FILE_A: u64 = 0x0101_0101_0101_0101;
const FILE_H: u64 = FILE_A << 7;
/// Files c to f.
const CENTRE: u64 = FILE_A << 2 | FILE_A << 3 | FILE_A << 4 | FILE_A << 5;
const RANK_3: u64 = 0xff << 16;
const DARK: u64 = 0xaa55_aa55_aa55_aa55;

/// What is said of one side. Sets of squares are bits from a1, sets of files bits from a.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Language {
    /// Squares on its third to fifth rank, files b to g, that none of its pawns can guard any more without a capture: a pawn
    /// goes on as far as no enemy pawn stands on its file. No pawn stands there, and none of its own right in front of it.
    /// (Wilhelm Steinitz, The Modern Chess Instructor, 1889.)
    pub holes: u64,
    /// Holes of the other side, on its own fourth to sixth rank, that a pawn of its own guards or would guard after one
    /// step forward or two from its first square. (Aron Nimzowitsch, My System, 1925.)
    pub outposts: u64,
    /// Pawns without a friend on a neighbouring file. (Nimzowitsch, My System, 1925.)
    pub isolated: u64,
    /// Pawns, not isolated, without a friend beside or behind them on a neighbouring file, whose next square an enemy pawn
    /// guards. (Hans Kmoch, Pawn Power in Chess, 1959.)
    pub backward: u64,
    /// Pawns with a friend on their file. (Nimzowitsch, My System, 1925.)
    pub doubled: u64,
    /// Bishops on whose colour two or more of its pawns on files c to f, and at least half of those, are fixed, and that
    /// stand behind the foremost of them. A pawn is fixed where an enemy pawn holds or guards its next square. (Common
    /// practice, no source.)
    pub bad_bishops: u64,
    /// Squares to which a pawn can step so that it and an enemy pawn attack each other. (Kmoch, Pawn Power in Chess, 1959.)
    pub levers: u64,
    /// Files without pawns. (Nimzowitsch, My System, 1925.)
    pub open: u8,
    /// Files where only the other side has pawns. (Nimzowitsch, My System, 1925.)
    pub half_open: u8,
    /// How many squares on files c to f, its second to fourth rank, lie behind its foremost pawn of the file and are not
    /// attacked by an enemy pawn. (Common practice, no source.)
    pub space: u8,
}

/// White's and Black's words.
pub type Sides = [Language; 2];

/// What is said of both sides of a board.
#[must_use]
pub fn language(board: &Board) -> Sides {
    let [white, black] = [Color::White, Color::Black].map(|side| View::of(board, side));
    [seen(&white, &black), seen(&black, &white).turned()]
}

impl Language {
    fn turned(self) -> Language {
        Language {
            holes: self.holes.swap_bytes(),
            outposts: self.outposts.swap_bytes(),
            isolated: self.isolated.swap_bytes(),
            backward: self.backward.swap_bytes(),
            doubled: self.doubled.swap_bytes(),
            bad_bishops: self.bad_bishops.swap_bytes(),
            levers: self.levers.swap_bytes(),
            ..self
        }
    }
}

/// The words of the side that `view` belongs to, as it sees the board; `other` is the other side's view.
fn seen(view: &View, other: &View) -> Language {
    let View { own_pawns: own, their_pawns: their, .. } = *view;
    let attacked = attacks_down(their);
    let step = up(own) & !(view.own | view.their);
    let steps = step | up(step & RANK_3) & !(view.own | view.their);
    let isolated = own & !beside(up_fill(own) | down_fill(own));
    let supported = beside(up_fill(own));
    Language {
        holes: holes(view),
        outposts: holes(other).swap_bytes() & (attacks_up(own) | attacks_up(steps)),
        isolated,
        backward: own & !isolated & !supported & down(attacked),
        doubled: own & (up_fill(up(own)) | down_fill(down(own))),
        bad_bishops: bad_bishops(view),
        levers: steps & attacked,
        open: !(files(own) | files(their)),
        half_open: !files(own) & files(their),
        space: (CENTRE & 0xffff_ff00 & down_fill(down(own)) & !own & !attacked).count_ones() as u8,
    }
}

fn holes(view: &View) -> u64 {
    let mut reached = view.own_pawns;
    for _ in 0..5 {
        reached |= up(reached) & !view.their_pawns;
    }
    let squares = 0xff_ffff_0000 & !FILE_A & !FILE_H;
    squares & !attacks_up(reached) & !view.own_pawns & !view.their_pawns & !down(view.own_pawns)
}

fn bad_bishops(view: &View) -> u64 {
    let pawns = view.own_pawns & CENTRE;
    let fixed = pawns & down(view.their_pawns | attacks_down(view.their_pawns));
    [DARK, !DARK].into_iter().fold(0, |bad, colour| {
        let on_colour = fixed & colour;
        let number = on_colour.count_ones();
        if number < 2 || 2 * number < pawns.count_ones() {
            return bad;
        }
        let foremost = 7 - on_colour.leading_zeros() / 8;
        bad | view.own_bishops & colour & ((1u64 << (8 * foremost)) - 1)
    })
}

fn up(squares: u64) -> u64 {
    squares << 8
}

fn down(squares: u64) -> u64 {
    squares >> 8
}

fn up_fill(squares: u64) -> u64 {
    let mut filled = squares | squares << 8;
    filled |= filled << 16;
    filled | filled << 32
}

fn down_fill(squares: u64) -> u64 {
    up_fill(squares.swap_bytes()).swap_bytes()
}

/// The squares to the left and right.
pub(super) fn beside(squares: u64) -> u64 {
    (squares & !FILE_A) >> 1 | (squares & !FILE_H) << 1
}

/// What own pawns attack.
fn attacks_up(pawns: u64) -> u64 {
    beside(up(pawns))
}

/// What pawns of the other side attack.
pub(super) fn attacks_down(pawns: u64) -> u64 {
    beside(down(pawns))
}

fn files(squares: u64) -> u8 {
    (down_fill(squares) & 0xff) as u8
}
