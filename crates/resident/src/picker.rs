//! The order in which the moves of a node are tried: likely refutations first, later stages made only when reached.

use shakmaty::Role;

use crate::{
    board::Board,
    exchange::{exchange_value, gains_at_least},
    history::{Contexts, Memory},
    movegen::{Kind, Moves, moves_of_kind},
    moves::Move,
};

/// Moves with the scores that order them, each packed into one number: the score above, the move below. Kept and used
/// again from node to node, which spares clearing the memory.
#[derive(Default)]
pub struct Scored(Vec<i32>);

impl Moves for Scored {
    #[inline]
    fn push(&mut self, m: Move) {
        self.0.push(i32::from(m.0));
    }
}

impl Scored {
    fn score(&mut self, from: usize, mut judge: impl FnMut(Move) -> i32) {
        for entry in &mut self.0[from..] {
            let score = judge(Move(*entry as u16)).clamp(i32::from(i16::MIN), i32::from(i16::MAX));
            *entry |= score << 16;
        }
    }

    /// One step of selection sort: most nodes need only the first few moves.
    fn best_from(&mut self, start: usize) -> Option<Move> {
        let rest = self.0.get_mut(start..)?;
        let first = *rest.first()?;
        // Two passes without a branch each are faster than one with: the compiler looks at several entries at once.
        let greatest = rest.iter().fold(first, |greatest, &entry| greatest.max(entry));
        let best = rest.iter().position(|&entry| entry == greatest)?;
        rest.swap(0, best);
        Some(Move(greatest as u16))
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
    /// Captures and promotions that gain at least so many centipawns by exchange.
    Noisy,
    /// Captures and promotions that lose nothing, and quiet moves that give check from a safe square.
    NoisyAndChecks,
}

/// Gives the legal moves of a node one by one.
pub struct Picker {
    stage: Stage,
    scope: Scope,
    threshold: i32,
    table_move: Move,
    refutations: [Move; 3],
    refutation: usize,
    contexts: Contexts,
    skip_quiets: bool,
    scored: Scored,
    /// Entries before this one were given or put back.
    next: usize,
    /// So many entries at the front are captures that lose material, put back for the end.
    losing: usize,
    next_losing: usize,
}

impl Picker {
    /// All legal moves; `table_move` is tried first if it is legal here.
    #[must_use]
    pub fn all(
        board: &Board,
        memory: &Memory,
        list: Scored,
        table_move: Move,
        contexts: Contexts,
        ply: usize,
    ) -> Picker {
        Picker {
            refutations: memory.refutations(ply, contexts.last),
            contexts,
            ..Picker::new(board, list, table_move, Scope::All)
        }
    }

    /// Captures and promotions that gain at least `threshold` centipawns by exchange.
    #[must_use]
    pub fn noisy(board: &Board, list: Scored, table_move: Move, threshold: i32) -> Picker {
        let table_move = if board.is_quiet(table_move) { Move::NONE } else { table_move };
        Picker { threshold, ..Picker::new(board, list, table_move, Scope::Noisy) }
    }

    /// Captures and promotions that lose nothing, then quiet moves that give check from a square on which the piece is
    /// not lost.
    #[must_use]
    pub fn noisy_and_checks(board: &Board, list: Scored, table_move: Move) -> Picker {
        Picker::new(board, list, table_move, Scope::NoisyAndChecks)
    }

    fn new(board: &Board, mut list: Scored, table_move: Move, scope: Scope) -> Picker {
        list.0.clear();
        let table_move = if board.is_legal(table_move) { table_move } else { Move::NONE };
        Picker {
            stage: if table_move.is_none() { Stage::MakeNoisy } else { Stage::Table },
            scope,
            threshold: 0,
            table_move,
            refutations: [Move::NONE; 3],
            refutation: 0,
            contexts: Contexts::default(),
            skip_quiets: false,
            scored: list,
            next: 0,
            losing: 0,
            next_losing: 0,
        }
    }

    /// The list, to be used again.
    #[must_use]
    pub fn into_list(self) -> Scored {
        self.scored
    }

    /// Whether the moves given now are captures that lose material.
    #[must_use]
    pub fn is_losing(&self) -> bool {
        self.stage == Stage::Losing
    }

    /// Whether the move given last is a killer or counter move.
    #[must_use]
    pub fn is_refutation(&self) -> bool {
        self.stage == Stage::Refutations
    }

    /// Gives no further quiet moves.
    pub fn skip_quiets(&mut self) {
        self.skip_quiets = true;
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
                    moves_of_kind(board, Kind::Noisy, &mut self.scored);
                    self.scored.score(0, |m| noisy_score(board, memory, m));
                    self.stage = Stage::Winning;
                }
                Stage::Winning => match self.best_left() {
                    Some(m) if m == self.table_move => {}
                    Some(m) if !gains_at_least(board, m, self.threshold) => {
                        self.scored.0[self.losing] = i32::from(m.0);
                        self.losing += 1;
                    }
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
                    let Some(&m) = self.refutations.get(self.refutation).filter(|_| !self.skip_quiets) else {
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
                    if !self.skip_quiets {
                        let from = self.scored.0.len();
                        self.next = from;
                        let kind = if self.scope == Scope::All { Kind::Quiet } else { Kind::QuietChecks };
                        moves_of_kind(board, kind, &mut self.scored);
                        let contexts = &self.contexts;
                        self.scored.score(from, |m| memory.of_quiet(board, m, contexts) / 2);
                    }
                    self.stage = Stage::Quiet;
                }
                Stage::Quiet => match self.best_left().filter(|_| !self.skip_quiets) {
                    Some(m) if m == self.table_move || self.refutations.contains(&m) => {}
                    Some(m) if self.scope != Scope::All && !gains_at_least(board, m, 0) => {}
                    Some(m) => return Some(m),
                    None if self.scope != Scope::All => self.stage = Stage::Done,
                    None => self.stage = Stage::Losing,
                },
                Stage::Losing => {
                    if self.next_losing == self.losing {
                        self.stage = Stage::Done;
                        continue;
                    }
                    self.next_losing += 1;
                    return Some(Move(self.scored.0[self.next_losing - 1] as u16));
                }
                Stage::Done => return None,
            }
        }
    }

    fn best_left(&mut self) -> Option<Move> {
        let best = self.scored.best_from(self.next)?;
        self.next += 1;
        Some(best)
    }
}

/// Most valuable victim first, corrected by history; least valuable taker first among equals.
fn noisy_score(board: &Board, memory: &Memory, m: Move) -> i32 {
    let victim = board.captured(m).map_or(0, exchange_value);
    let promoted = match m.promotion() {
        Some(Role::Queen) => exchange_value(Role::Queen),
        // Underpromotions are for special cases: after everything else.
        Some(_) => -2000,
        None => 0,
    };
    (victim + promoted) * 8 + memory.of_noisy(board, m) / 8 - board.role_on(m.from()).map_or(0, |role| role as i32)
}
