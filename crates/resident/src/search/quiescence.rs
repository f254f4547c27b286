//! The end of each line: captures until the position is at rest.

use super::{
    DRAW,
    window::Window,
    worker::{Shared, Worker},
};
use crate::{
    board::Board,
    exchange::{exchange_value, gains_at_least},
    history::{Context, Contexts},
    moves::Move,
    picker::Picker,
    score::{INFINITE, MATE, MATE_BOUND, MAX_PLY},
    table::{Entry, NO_EVALUATION},
};

/// A capture that with this many centipawns more does not reach alpha is not tried.
const MARGIN: i32 = 140;

/// What a position has to come to rest from.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Rest {
    /// Captures and promotions.
    CapturesOnly,
    /// On its first ply also safe checks.
    WithChecks,
}

impl Worker {
    /// Captures and promotions until the position is quiet; all moves out of a check.
    pub fn quiesce(&mut self, shared: &Shared<'_>, board: &Board, window: Window, ply: usize, rest: Rest) -> i32 {
        let Window { mut alpha, beta } = window;
        self.frames[ply].line.clear();
        if self.must_stop(shared) || board.is_dead() {
            return DRAW;
        }
        if ply >= MAX_PLY - 1 {
            return if board.is_check() { DRAW } else { self.evaluator.evaluate(board) };
        }
        let known = shared.table.probe(board.key(), ply);
        if let Some(entry) = &known
            && !window.is_open()
            && window.is_answered_by(entry)
        {
            return entry.value;
        }
        let in_check = board.is_check();
        let mut best = -INFINITE;
        let mut raw = NO_EVALUATION;
        let mut estimate = NO_EVALUATION;
        if !in_check {
            raw = match &known {
                Some(entry) if entry.evaluation != NO_EVALUATION => entry.evaluation,
                _ => self.evaluator.evaluate(board),
            };
            estimate = self.corrected(board, raw);
            best = estimate;
            if let Some(entry) = &known
                && entry.value.abs() < MATE_BOUND
                && entry.is_nearer_than(best)
            {
                best = entry.value;
            }
            if best >= beta {
                return best;
            }
        }
        self.frames[ply].evaluation = estimate;
        alpha = alpha.max(best);
        let table_move = known.map_or(Move::NONE, |entry| entry.best);
        let list = self.take_list();
        let mut picker = if in_check {
            Picker::all(board, &self.memory, list, table_move, Contexts::default(), ply)
        } else if rest == Rest::WithChecks {
            Picker::noisy_and_checks(board, list, table_move)
        } else {
            Picker::noisy(board, list, table_move, 0)
        };
        let mut best_move = Move::NONE;
        let mut count = 0;
        while let Some(m) = picker.next(board, &self.memory) {
            shared.table.prefetch(board.likely_key_after(m));
            count += 1;
            if best > -MATE_BOUND {
                if in_check {
                    // One good way out is enough; the others only if they win something back.
                    if board.is_quiet(m) {
                        picker.skip_quiets();
                        continue;
                    }
                } else if let Some(most) = most_gained(board, m, estimate, alpha)
                    && !board.gives_direct_check(m)
                {
                    best = best.max(most);
                    continue;
                }
            }
            let next = board.play(m);
            self.enter(&next, Context::of(board, m), ply);
            let rest = if in_check { rest } else { Rest::CapturesOnly };
            let value = -self.quiesce(shared, &next, Window::new(-beta, -alpha), ply + 1, rest);
            self.leave();
            if self.stopped {
                break;
            }
            if value > best {
                best = value;
                if value > alpha {
                    best_move = m;
                    alpha = value;
                    if window.is_open() {
                        self.extend_line(ply, m);
                    }
                    if value >= beta {
                        break;
                    }
                }
            }
        }
        self.keep_list(picker);
        if self.stopped {
            return DRAW;
        }
        if in_check && count == 0 {
            return -MATE + ply as i32;
        }
        let bound = window.bound_of(best);
        shared.table.store(board.key(), ply, Entry { best: best_move, value: best, evaluation: raw, depth: 0, bound });
        best
    }
}

/// What a capture can reach at most, if that is not more than alpha.
fn most_gained(board: &Board, m: Move, estimate: i32, alpha: i32) -> Option<i32> {
    if m.promotion().is_some() {
        return None;
    }
    let reached = estimate + board.captured(m).map_or(0, exchange_value) + MARGIN;
    if reached <= alpha {
        return Some(reached);
    }
    (estimate + MARGIN <= alpha && !gains_at_least(board, m, 1)).then_some(estimate + MARGIN)
}
