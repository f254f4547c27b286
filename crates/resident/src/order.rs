//! The order in which moves are tried, and what is learnt about it while searching: killer moves (Akl and Newborn, "The
//! Principal Continuation and the Killer Heuristic", 1977), the history heuristic (Schaeffer, "The History Heuristic and
//! Alpha-Beta Search Enhancements in Practice", 1989), counter moves (Uiterwijk, "The Countermove Heuristic", 1992).

use shakmaty::{Color, Role};

use crate::{
    board::Board,
    exchange::{exchange_value, gains_at_least},
    movegen::{Kind, moves_of_kind},
    moves::{Move, MoveList},
    score::MAX_PLY,
};

const HISTORY_LIMIT: i32 = 16_384;

/// What earlier nodes taught about good quiet moves.
pub struct Memory {
    killers: Vec<[Move; 2]>,
    /// By colour, origin and destination.
    history: Vec<i16>,
    /// The quiet answer that last refuted a move: by piece of the mover and destination.
    counters: Vec<Move>,
}

impl Default for Memory {
    fn default() -> Memory {
        Memory {
            killers: vec![[Move::NONE; 2]; MAX_PLY + 1],
            history: vec![0; 2 * 4096],
            counters: vec![Move::NONE; 2 * 6 * 64],
        }
    }
}

fn history_index(color: Color, m: Move) -> usize {
    color.is_white() as usize * 4096 + m.from_to()
}

fn counter_index(mover: Color, role: Role, m: Move) -> usize {
    (mover.is_white() as usize * 6 + role as usize - 1) * 64 + m.to().to_usize()
}

impl Memory {
    /// Forgets everything.
    pub fn clear(&mut self) {
        self.killers.fill([Move::NONE; 2]);
        self.history.fill(0);
        self.counters.fill(Move::NONE);
    }

    /// Keeps a fainter memory for the next search of a game.
    pub fn fade(&mut self) {
        self.killers.fill([Move::NONE; 2]);
        for value in &mut self.history {
            *value /= 4;
        }
    }

    /// How often a quiet move cut, less how often it did not; at most 16384 in size.
    #[inline]
    #[must_use]
    pub fn history(&self, color: Color, m: Move) -> i32 {
        i32::from(self.history[history_index(color, m)])
    }

    /// A quiet move refuted `previous` (moved by a piece of kind `previous_role`); `tried` are the quiet moves before it.
    pub fn refuted_by(&mut self, board: &Board, m: Move, tried: &[Move], previous: Previous, ply: usize, depth: i32) {
        let killers = &mut self.killers[ply];
        if killers[0] != m {
            *killers = [m, killers[0]];
        }
        if let Previous(Some(role), answered) = previous {
            self.counters[counter_index(board.turn().other(), role, answered)] = m;
        }
        let bonus = (depth * depth * 8 + depth * 16).min(1600);
        self.learn(history_index(board.turn(), m), bonus);
        for &other in tried {
            self.learn(history_index(board.turn(), other), -bonus);
        }
    }

    /// Moves towards the limit by a share of what is left, so that old lessons fade.
    fn learn(&mut self, index: usize, bonus: i32) {
        let value = i32::from(self.history[index]);
        self.history[index] = (value + bonus - value * bonus.abs() / HISTORY_LIMIT) as i16;
    }

    fn counter(&self, board: &Board, previous: Previous) -> Move {
        match previous {
            Previous(Some(role), m) => self.counters[counter_index(board.turn().other(), role, m)],
            Previous(None, _) => Move::NONE,
        }
    }
}

/// The move that led to a node and the kind of piece that made it; no kind at the root and after a null move.
#[derive(Clone, Copy, Debug)]
pub struct Previous(pub Option<Role>, pub Move);

impl Previous {
    /// Nothing to answer.
    pub const NOTHING: Previous = Previous(None, Move::NONE);

    /// The turn was passed. (No move has the bits of this one: a king never promotes.)
    pub const PASS: Previous = Previous(None, Move(u16::MAX));

    /// Whether the turn was passed.
    #[inline]
    #[must_use]
    pub fn is_pass(self) -> bool {
        self.1 == Previous::PASS.1
    }
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
enum Stage {
    Table,
    MakeNoisy,
    Winning,
    Refutations,
    MakeQuiet,
    Quiet,
    Losing,
    Done,
}

/// Which moves a picker gives.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Scope {
    All,
    /// Captures and promotions that lose nothing by exchange.
    Noisy,
    /// These, and quiet moves that give check from a safe square.
    NoisyAndChecks,
}

/// Gives the legal moves of a node one by one, likely refutations first; later stages are made only when they are reached.
pub struct Picker {
    stage: Stage,
    table_move: Move,
    /// Two killers and the counter move.
    refutations: [Move; 3],
    refutation: usize,
    scope: Scope,
    list: MoveList,
    scores: [i32; 256],
    next: usize,
    losing: MoveList,
    next_losing: usize,
}

impl Picker {
    /// All legal moves; `table_move` is tried first if it is legal here.
    #[must_use]
    pub fn all(board: &Board, memory: &Memory, table_move: Move, previous: Previous, ply: usize) -> Picker {
        let [first, second] = memory.killers[ply];
        let counter = memory.counter(board, previous);
        Picker::new(board, table_move, [first, second, counter], Scope::All)
    }

    /// Captures and promotions that lose nothing by exchange.
    #[must_use]
    pub fn noisy(board: &Board, table_move: Move) -> Picker {
        let table_move = if board.is_quiet(table_move) { Move::NONE } else { table_move };
        Picker::new(board, table_move, [Move::NONE; 3], Scope::Noisy)
    }

    /// The same, then quiet moves that give check from a square on which the piece is not lost.
    #[must_use]
    pub fn noisy_and_checks(board: &Board, table_move: Move) -> Picker {
        Picker::new(board, table_move, [Move::NONE; 3], Scope::NoisyAndChecks)
    }

    fn new(board: &Board, table_move: Move, refutations: [Move; 3], scope: Scope) -> Picker {
        let table_move = if board.is_legal(table_move) { table_move } else { Move::NONE };
        Picker {
            stage: if table_move.is_none() { Stage::MakeNoisy } else { Stage::Table },
            table_move,
            refutations,
            refutation: 0,
            scope,
            list: MoveList::default(),
            scores: [0; 256],
            next: 0,
            losing: MoveList::default(),
            next_losing: 0,
        }
    }

    /// Whether the moves given now are captures that lose material.
    #[must_use]
    pub fn is_losing(&self) -> bool {
        self.stage == Stage::Losing
    }

    /// The next move, or `None` when all were given.
    pub fn next(&mut self, board: &Board, memory: &Memory) -> Option<Move> {
        loop {
            match self.stage {
                Stage::Table => {
                    self.stage = Stage::MakeNoisy;
                    return Some(self.table_move);
                }
                Stage::MakeNoisy => {
                    moves_of_kind(board, Kind::Noisy, &mut self.list);
                    for (score, &m) in self.scores.iter_mut().zip(self.list.as_slice()) {
                        *score = victim_score(board, m);
                    }
                    self.stage = Stage::Winning;
                }
                Stage::Winning => match self.best_left() {
                    Some(m) if m == self.table_move => {}
                    Some(m) if !gains_at_least(board, m, 0) => self.losing.push(m),
                    Some(m) => return Some(m),
                    None => {
                        self.stage = match self.scope {
                            Scope::All => Stage::Refutations,
                            Scope::Noisy => Stage::Done,
                            Scope::NoisyAndChecks => Stage::MakeQuiet,
                        }
                    }
                },
                Stage::Refutations => {
                    let Some(&m) = self.refutations.get(self.refutation) else {
                        self.stage = Stage::MakeQuiet;
                        continue;
                    };
                    self.refutation += 1;
                    let given = self.refutations[..self.refutation - 1].contains(&m) || m == self.table_move;
                    if !given && board.is_legal(m) && board.is_quiet(m) {
                        return Some(m);
                    }
                }
                Stage::MakeQuiet => {
                    self.list.clear();
                    self.next = 0;
                    moves_of_kind(board, Kind::Quiet, &mut self.list);
                    for (score, &m) in self.scores.iter_mut().zip(self.list.as_slice()) {
                        *score = memory.history(board.turn(), m);
                    }
                    self.stage = Stage::Quiet;
                }
                Stage::Quiet => match self.best_left() {
                    Some(m) if m == self.table_move || self.refutations.contains(&m) => {}
                    Some(m) if self.scope != Scope::All => {
                        if board.gives_direct_check(m) && gains_at_least(board, m, 0) {
                            return Some(m);
                        }
                    }
                    Some(m) => return Some(m),
                    None if self.scope != Scope::All => self.stage = Stage::Done,
                    None => self.stage = Stage::Losing,
                },
                Stage::Losing => match self.losing.as_slice().get(self.next_losing) {
                    Some(&m) => {
                        self.next_losing += 1;
                        return Some(m);
                    }
                    None => self.stage = Stage::Done,
                },
                Stage::Done => return None,
            }
        }
    }

    /// One step of selection sort: most nodes need only the first few moves.
    fn best_left(&mut self) -> Option<Move> {
        let moves = self.list.as_mut_slice();
        let start = self.next;
        let best = (start..moves.len()).reduce(|a, b| if self.scores[b] > self.scores[a] { b } else { a })?;
        moves.swap(start, best);
        self.scores.swap(start, best);
        self.next += 1;
        Some(moves[start])
    }
}

/// Most valuable victim first, least valuable taker first among equals.
fn victim_score(board: &Board, m: Move) -> i32 {
    let victim = board.captured(m).map_or(0, exchange_value);
    let promoted = match m.promotion() {
        Some(Role::Queen) => exchange_value(Role::Queen),
        // Underpromotions are for special cases: after everything else.
        Some(_) => -2000,
        None => 0,
    };
    (victim + promoted) * 8 - board.role_on(m.from()).map_or(0, |role| role as i32)
}
