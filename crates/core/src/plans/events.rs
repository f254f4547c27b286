//! What happens in one game after a position.

use shakmaty::{Board, ByColor, CastlingSide, Chess, Color, Move, Position, Role, Square, attacks::pawn_attacks};

use crate::moves::PackedMove;
use crate::structures::{Catalogue, NO_STRUCTURE, code_of, pawns_of};

/// Plies are told in one byte, 0 for "never".
pub const MOST_PLIES: usize = 254;

/// Something that a game shows, and at which ply after the position, from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Event {
    /// Ply after the position, from 1.
    pub ply: u8,
    /// What.
    pub what: What,
}

/// What a plan is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// A unit goes on by one square of its itinerary.
    Step {
        /// Which unit.
        unit: Unit,
        /// Where it goes.
        to: Square,
        /// Whether it takes something there.
        capture: bool,
        /// What it becomes there.
        promotion: Option<Role>,
    },
    /// A lever is played: a pawn advances to where it attacks an enemy pawn, which then attacks it.
    Break {
        /// Whose.
        side: Color,
        /// From where.
        from: Square,
        /// To where.
        to: Square,
    },
    /// A side castles.
    Castle {
        /// Whose.
        side: Color,
        /// To which side.
        towards: CastlingSide,
    },
    /// Two units are taken for one another, one of each side, in captures that follow one another.
    Exchange {
        /// The side that took first.
        side: Color,
        /// What that side gave.
        own: Role,
        /// What it got for it.
        other: Role,
    },
    /// The pawns come to stand in another named structure.
    Structure {
        /// Its code in the catalogue.
        code: u16,
    },
    /// So many units of a side or more, the king apart, attack an isolated pawn; more than attacked it in the position.
    Pressure {
        /// Whose units.
        side: Color,
        /// Where the pawn stands.
        pawn: Square,
        /// How many of them, at least.
        units: u8,
    },
}

/// A unit by where it stood in the position, or by where castling put it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unit {
    /// Whose.
    pub side: Color,
    /// What it was there.
    pub role: Role,
    /// Where it stood.
    pub home: Square,
    /// Whether castling put it there.
    pub castled: bool,
}

/// Who stands where, by identity.
struct Units([Option<Unit>; 64]);

impl Units {
    fn of(board: &Board) -> Units {
        let mut units = [None; 64];
        for (home, piece) in board.iter() {
            units[usize::from(home)] = Some(Unit { side: piece.color, role: piece.role, home, castled: false });
        }
        Units(units)
    }

    fn take(&mut self, square: Square) -> Option<Unit> {
        self.0[usize::from(square)].take()
    }

    fn put(&mut self, square: Square, unit: Unit) {
        self.0[usize::from(square)] = Some(unit);
    }

    /// King and rook find new homes (methods, section 5); gives the side to which.
    fn castle(&mut self, side: Color, king: Square, rook: Square) -> CastlingSide {
        let towards = CastlingSide::from_king_side(king < rook);
        // In Chess960 the one may go to where the other stands: both leave first.
        self.take(king);
        self.take(rook);
        for (role, file) in [(Role::King, towards.king_to_file()), (Role::Rook, towards.rook_to_file())] {
            let home = Square::from_coords(file, king.rank());
            self.put(home, Unit { side, role, home, castled: true });
        }
        towards
    }
}

/// Units lost in captures that follow one another without another move between them.
#[derive(Default)]
struct Captures {
    /// What each side lost.
    lost: ByColor<Vec<Role>>,
    /// Who took first, and the ply of the last capture.
    begun: Option<(Color, u8)>,
}

impl Captures {
    /// The side to move takes a unit.
    fn add(&mut self, side: Color, taken: Role, ply: u8) {
        self.lost[!side].push(taken);
        self.begun = Some((self.begun.map_or(side, |(first, _)| first), ply));
    }

    /// Tells what was taken for what, and begins anew: first like for like, then knight for bishop, then the rest, the
    /// greater first. What one side lost more often than the other was won, not exchanged.
    fn end(&mut self, out: &mut Vec<Event>) {
        let Some((side, ply)) = self.begun.take() else { return };
        let mut own = std::mem::take(&mut self.lost[side]);
        let mut others = std::mem::take(&mut self.lost[!side]);
        own.sort_unstable_by(|one, other| other.cmp(one));
        others.sort_unstable_by(|one, other| other.cmp(one));
        let is_minor = |role| matches!(role, Role::Knight | Role::Bishop);
        let alike: [&dyn Fn(Role, Role) -> bool; 3] =
            [&|one, other| one == other, &|one, other| is_minor(one) && is_minor(other), &|_, _| true];
        for fits in alike {
            own.retain(|&own| {
                let Some(at) = others.iter().position(|&other| fits(own, other)) else { return true };
                let other = others.remove(at);
                out.push(Event { ply, what: What::Exchange { side, own, other } });
                false
            });
        }
    }
}

/// Fewest units that are pressure on a pawn, and most that are counted.
const PRESSURE: std::ops::RangeInclusive<u32> = 2..=4;

/// How many units of `side`, the king apart, attack the pawn on `pawn`.
fn attackers(board: &Board, side: Color, pawn: Square) -> u32 {
    let units = board.by_color(side) & !board.kings();
    (board.attacks_to(pawn, side, board.occupied()) & units).count() as u32
}

/// The pawns of `side` without one of their own on a neighbouring file (methods, section 8).
fn isolated(board: &Board, side: Color) -> impl Iterator<Item = Square> {
    let pawns = board.by_piece(Role::Pawn.of(side));
    pawns.into_iter().filter(move |pawn| {
        [-1, 1].iter().all(|&step| pawn.file().offset(step).is_none_or(|file| (pawns & file).is_empty()))
    })
}

/// How many units attack each isolated pawn of a position, by its square.
#[must_use]
pub fn pressure_on(board: &Board) -> [u32; 64] {
    let mut found = [0; 64];
    for side in Color::ALL {
        for pawn in isolated(board, !side) {
            found[usize::from(pawn)] = attackers(board, side, pawn);
        }
    }
    found
}

/// Tells the pressure on isolated pawns after a move of `side`, where it is more than `before`.
fn tell_pressure(before: &[u32; 64], board: &Board, side: Color, ply: u8, out: &mut Vec<Event>) {
    for pawn in isolated(board, !side) {
        let now = attackers(board, side, pawn);
        for units in PRESSURE.filter(|&units| before[usize::from(pawn)] < units && units <= now) {
            out.push(Event { ply, what: What::Pressure { side, pawn, units: units as u8 } });
        }
    }
}

/// Reads what happens in the first `horizon` plies of `moves` after `place` into `out`, in the order in which it
/// happens, but that exchanges are told when captures are over. Structures are those of `catalogue`. Gives the number of plies read: fewer where the game ends, passes, or cannot be played on.
pub fn read_events(
    place: &Chess,
    moves: impl Iterator<Item = PackedMove>,
    horizon: usize,
    catalogue: &Catalogue,
    out: &mut Vec<Event>,
) -> usize {
    let structure = |board: &Board| {
        let (white, black) = pawns_of(board);
        code_of(catalogue.recognise(white, black))
    };
    let mut known = structure(place.board());
    let before = pressure_on(place.board());
    let mut position = place.clone();
    let mut units = Units::of(place.board());
    let mut captures = Captures::default();
    let mut plies = 0;
    for packed in moves.take(horizon.min(MOST_PLIES)) {
        let Some(played) = packed.unpack(&position) else { break };
        plies += 1;
        let ply = plies as u8;
        let side = position.turn();
        if !played.is_capture() {
            captures.end(out);
        }
        if let Move::Castle { king, rook } = played {
            out.push(Event { ply, what: What::Castle { side, towards: units.castle(side, king, rook) } });
        } else {
            let (from, to) = (packed.from(), packed.to());
            let unit = units.take(from).expect("a legal move starts from a unit");
            let taken_on = if played.is_en_passant() { Square::from_coords(to.file(), from.rank()) } else { to };
            let taken = played.capture();
            if taken.is_some() {
                units.take(taken_on);
            }
            units.put(to, unit);
            let capture = taken.is_some();
            out.push(Event { ply, what: What::Step { unit, to, capture, promotion: played.promotion() } });
            if let Some(role) = taken {
                captures.add(side, role, ply);
            } else if played.role() == Role::Pawn && meets_pawn(position.board(), side, to) {
                out.push(Event { ply, what: What::Break { side, from, to } });
            }
        }
        let moves_pawns = played.role() == Role::Pawn || played.capture() == Some(Role::Pawn);
        position.play_unchecked(played);
        if moves_pawns {
            let code = structure(position.board());
            if code != NO_STRUCTURE && code != known {
                out.push(Event { ply, what: What::Structure { code } });
            }
            known = code;
        }
        tell_pressure(&before, position.board(), side, ply, out);
    }
    captures.end(out);
    plies
}

/// Whether a pawn of `side` on `square` attacks a pawn; that pawn then attacks it.
fn meets_pawn(board: &Board, side: Color, square: Square) -> bool {
    let enemies = board.by_piece(Role::Pawn.of(!side));
    (pawn_attacks(side, square) & enemies).any()
}
