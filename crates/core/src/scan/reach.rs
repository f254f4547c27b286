//! Whether a game can still reach a root. Every rule gives up too rarely, never too often: it looks at what no move
//! can undo, so a game that is given up would not have reached the root by any moves.
//!
//! From a position P, with R the root, for each side:
//!
//! - castling rights of R are rights of P, and a king that has one in R stands in P where it stands in R (rights do
//!   not return, and a king that moves loses them);
//! - P has at least as many units and at least as many pawns as R (neither returns);
//! - officers that R has and P has not (bishops by colour of square) must be promoted: no more of them than pawns of P
//!   that R has not;
//! - each pawn of R comes from a pawn of P on the same file or on one nearby, behind it by at least as many ranks as
//!   files away (a pawn changes file by a capture and goes a rank forward with it), and the files to change are in all
//!   no more than the units the other side has still to lose;
//! - pawns of P from which no pawn of R can come are no more than those that P has and R has not.

use shakmaty::{Bitboard, Board, ByColor, Chess, Color, Position, Role, Square};

use crate::key::{PositionKey, key_of};

/// Positions to be reached, in the caller's order.
#[derive(Debug)]
pub struct Roots {
    goals: Vec<Goal>,
    by_key: Vec<(u64, u16)>,
    /// One bit for the last six bits of each key: most positions are told from all roots by it.
    hints: u64,
}

/// Which roots can still be reached: bit i stands for the roots whose number is i modulo 64.
pub type Alive = u64;

impl Roots {
    /// At most 65,535 roots; further ones are left out.
    #[must_use]
    pub fn new(positions: &[Chess]) -> Roots {
        let positions = &positions[..positions.len().min(usize::from(u16::MAX))];
        let goals: Vec<Goal> = positions.iter().map(Goal::new).collect();
        let mut by_key: Vec<(u64, u16)> =
            positions.iter().zip(0..).map(|(position, number)| (key_of(position).0, number)).collect();
        by_key.sort_unstable();
        let hints = by_key.iter().fold(0, |hints, (key, _)| hints | 1 << (key & 63));
        Roots { goals, by_key, hints }
    }

    /// The first root that `position` is. Keys find it, the positions decide.
    #[inline]
    #[must_use]
    pub fn found(&self, position: &Chess, key: PositionKey) -> Option<u16> {
        if self.hints >> (key.0 & 63) & 1 == 0 {
            return None;
        }
        let from = self.by_key.partition_point(|&(other, _)| other < key.0);
        let same = self.by_key[from..].iter().take_while(|(other, _)| *other == key.0);
        same.map(|&(_, number)| number).find(|&number| self.goals[usize::from(number)].position == *position)
    }

    /// All roots.
    #[must_use]
    pub fn all(&self) -> Alive {
        let count = self.goals.len();
        if count >= 64 { u64::MAX } else { (1 << count) - 1 }
    }

    /// Those of `alive` that can be reached from `position`.
    #[must_use]
    pub fn reachable(&self, position: &Chess, alive: Alive) -> Alive {
        let here = Standing::of(position);
        let (mut left, mut reachable) = (alive, 0);
        while left != 0 {
            let bit = left.trailing_zeros();
            left &= left - 1;
            let mut group = self.goals.iter().skip(bit as usize).step_by(64);
            if group.any(|goal| goal.can_come_from(&here)) {
                reachable |= 1 << bit;
            }
        }
        reachable
    }
}

/// What the rules ask of a position.
#[derive(Debug)]
struct Standing {
    board: Board,
    rights: Bitboard,
    side: ByColor<Count>,
}

#[derive(Debug, Clone, Copy)]
struct Count {
    units: u32,
    pawns: Bitboard,
    /// Knights, bishops on light and on dark squares, rooks, queens.
    officers: [u32; 5],
}

impl Standing {
    fn of(position: &Chess) -> Standing {
        let board = position.board().clone();
        let side = ByColor::new_with(|color| {
            let own = board.by_color(color);
            let of = |role: Role, squares: Bitboard| (own & board.by_role(role) & squares).count() as u32;
            Count {
                units: own.count() as u32,
                pawns: own & board.pawns(),
                officers: [
                    of(Role::Knight, Bitboard::FULL),
                    of(Role::Bishop, Bitboard::LIGHT_SQUARES),
                    of(Role::Bishop, Bitboard::DARK_SQUARES),
                    of(Role::Rook, Bitboard::FULL),
                    of(Role::Queen, Bitboard::FULL),
                ],
            }
        });
        Standing { rights: position.castles().castling_rights(), board, side }
    }
}

#[derive(Debug)]
struct Goal {
    position: Chess,
    standing: Standing,
    /// Kings that have a castling right.
    rooted_kings: Bitboard,
}

impl Goal {
    fn new(position: &Chess) -> Goal {
        let standing = Standing::of(position);
        let rooted_kings = Color::ALL
            .into_iter()
            .filter(|&color| position.castles().has_color(color))
            .filter_map(|color| standing.board.king_of(color))
            .collect();
        Goal { position: position.clone(), standing, rooted_kings }
    }

    fn can_come_from(&self, here: &Standing) -> bool {
        let there = &self.standing;
        let kings = here.board.kings();
        there.rights.is_subset(here.rights)
            && self.rooted_kings.is_subset(kings)
            && Color::ALL.into_iter().all(|color| enough_units(&here.side[color], &there.side[color]))
            && Color::ALL.into_iter().all(|color| {
                let captures = here.side[!color].units - there.side[!color].units;
                pawns_can_go(color, here.side[color].pawns, there.side[color].pawns, captures)
            })
    }
}

fn enough_units(here: &Count, there: &Count) -> bool {
    let (pawns_here, pawns_there) = (here.pawns.count(), there.pawns.count());
    if here.units < there.units || pawns_here < pawns_there {
        return false;
    }
    let missing: u32 = here.officers.iter().zip(there.officers).map(|(&has, needs)| needs.saturating_sub(has)).sum();
    missing as usize <= pawns_here - pawns_there
}

/// Squares from which a pawn of a side comes to a square, by the number of files it changes at most.
fn cone(color: Color, to: Square, files: u32) -> Bitboard {
    CONES[color as usize][files.min(MOST_FILES) as usize][usize::from(to)]
}

/// A pawn comes from its second rank and changes no more files than it goes forward ranks; after six it is no pawn.
const MOST_FILES: u32 = 5;

/// Index: the side (as `Color as usize`, Black first), files at most, square of arrival.
static CONES: [[[Bitboard; 64]; MOST_FILES as usize + 1]; 2] = cones();

const fn cones() -> [[[Bitboard; 64]; MOST_FILES as usize + 1]; 2] {
    let mut table = [[[Bitboard::EMPTY; 64]; MOST_FILES as usize + 1]; 2];
    let mut index = 0;
    while index < 2 * (MOST_FILES as usize + 1) * 64 {
        let (color, files) = (index / 64 / (MOST_FILES as usize + 1), index / 64 % (MOST_FILES as usize + 1));
        let to = (index % 64) as i32;
        let mut from = 0;
        while from < 64 {
            let apart = (from % 8 - to % 8).abs();
            let forward = if color == Color::White as usize { to / 8 - from / 8 } else { from / 8 - to / 8 };
            if apart <= forward && apart <= files as i32 {
                table[color][files][to as usize] = Bitboard(table[color][files][to as usize].0 | 1 << from);
            }
            from += 1;
        }
        index += 1;
    }
    table
}

fn pawns_can_go(color: Color, here: Bitboard, there: Bitboard, captures: u32) -> bool {
    let mut files_to_change = 0;
    for to in there & !here {
        let Some(files) = (0..=captures.min(MOST_FILES)).find(|&files| (cone(color, to, files) & here).any()) else {
            return false;
        };
        files_to_change += files;
    }
    if files_to_change > captures {
        return false;
    }
    let spare = here.count() - there.count();
    let lost = (here & !there).into_iter().filter(|&from| (cone(!color, from, captures) & there).is_empty()).count();
    lost <= spare
}

#[cfg(test)]
mod tests {
    use shakmaty::CastlingMode;

    use super::*;
    use crate::fen::read_fen;

    fn position(fen: &str) -> Chess {
        read_fen(fen.as_bytes(), CastlingMode::Standard).unwrap()
    }

    fn can(from: &str, to: &str) -> bool {
        Roots::new(&[position(to)]).reachable(&position(from), 1) == 1
    }

    const START: &str = "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1";

    #[test]
    fn what_no_move_can_undo() {
        let panov = "rnbqkb1r/pp2pppp/5n2/3p4/2PP4/8/PP3PPP/RNBQKBNR w KQkq - 1 5";
        assert!(can(START, panov));
        assert!(can(panov, panov));
        assert!(!can(panov, START), "pawns never go back");
        // The king has moved and come back.
        assert!(!can("rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w kq - 4 3", panov));
        // A pawn of White's has gone past its place: 1.e4 with a root that has it on e3.
        let e3 = "rnbqkbnr/pppppppp/8/8/8/4P3/PPPP1PPP/RNBQKBNR b KQkq - 0 1";
        assert!(!can("rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq - 0 1", e3));
        // Captures that the root has not.
        assert!(!can("rnbqkbnr/ppp1pppp/8/3P4/8/8/PPPP1PPP/RNBQKBNR b KQkq - 0 2", e3));
    }

    #[test]
    fn promotions_bring_units_back() {
        let three_knights = "4k3/8/8/8/8/8/8/NNN1K3 w - - 0 1";
        assert!(can("4k3/P7/8/8/8/8/8/NN2K3 w - - 0 1", three_knights));
        assert!(!can("4k3/8/8/8/8/8/8/NN2K2B w - - 0 1", three_knights));
    }

    #[test]
    fn pawns_change_files_by_captures_only() {
        let doubled = "4k3/8/8/8/3P4/3P4/8/4K3 w - - 0 1";
        assert!(
            can("4k3/8/8/8/8/2n5/2PP4/4K3 w - - 0 1", doubled) == can("4k3/8/8/8/8/3n4/2PP4/4K3 w - - 0 1", doubled)
        );
        assert!(can("4k3/8/8/8/8/3n4/2PP4/4K3 w - - 0 1", doubled));
        assert!(!can("4k3/8/8/8/8/8/2PP4/4K3 w - - 0 1", doubled), "nothing to capture");
        assert!(!can("4k3/8/8/8/8/3n4/1P1P4/4K3 w - - 0 1", doubled), "two files, one capture");
    }

    #[test]
    fn more_than_sixty_four_roots_share_bits() {
        let here = position(START);
        let mut positions = vec![position("4k3/8/8/8/8/8/8/4K2Q w - - 0 1"); 70];
        positions[66] = here.clone();
        let roots = Roots::new(&positions);
        assert_eq!(roots.found(&here, key_of(&here)), Some(66));
        assert_eq!(roots.all(), u64::MAX);
        assert_eq!(roots.reachable(&here, roots.all()) >> 2 & 1, 1);
    }
}
