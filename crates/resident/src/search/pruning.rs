//! What is not searched, or less deeply: margins and reductions, all in integers. Margins are in centipawns.

use super::{
    node::Expect,
    window::Window,
    worker::{Shared, Worker},
};
use crate::{
    board::Board,
    history::{Context, HISTORY_LIMIT},
    moves::Move,
    picker::Picker,
    score::MATE_BOUND,
};

/// Deepest nodes of which a hopeless one is left to the quiescence search (razoring).
const RAZOR_DEPTH: i32 = 3;
/// Deepest nodes that are cut because static evaluation is far above beta.
const AHEAD_DEPTH: i32 = 4;
/// Shallowest node at which a capture that gains much may stand for a deep search.
const GAIN_DEPTH: i32 = 5;
const GAIN_MARGIN: i32 = 170;

/// So far below alpha a node of this depth is hopeless.
fn razor_margin(depth: i32) -> i32 {
    280 + 200 * depth * depth
}

/// So far above beta a node of this depth is won.
fn ahead_margin(depth: i32, improving: bool) -> i32 {
    130 * (depth - i32::from(improving)).max(0) + 40
}

/// After so many moves the quiet ones of a shallow node are not tried.
pub fn quiet_limit(depth: i32, improving: bool) -> i32 {
    let limit = 8 + 2 * depth * depth;
    if improving { limit } else { limit * 2 / 3 }
}

/// A quiet move at a node whose static evaluation is farther below alpha does not help.
pub fn quiet_margin(depth: i32) -> i32 {
    90 + 95 * depth
}

/// Plies taken off a late move's depth, in sixteenths: grows with the logarithms of depth and of the move's number.
pub fn late_reduction(depth: i32, count: i32) -> i32 {
    10 + log2_eighths(depth as u32) * log2_eighths(count as u32) / 15
}

/// Eight times the binary logarithm, rounded down to what linear interpolation between powers of two gives.
fn log2_eighths(n: u32) -> i32 {
    let whole = n.ilog2();
    let part = ((n << 3) >> whole) & 7;
    (8 * whole + part) as i32
}

/// A node about to be searched, as the rules that may spare it see it.
#[derive(Clone, Copy)]
pub struct Look {
    pub depth: i32,
    pub ply: usize,
    /// Static evaluation, bettered by what the table knows.
    pub estimate: i32,
    pub improving: bool,
    pub expect: Expect,
    pub table_move: Move,
}

impl Worker {
    /// A value for a node without an open window that need not be searched move by move.
    pub fn spare(&mut self, shared: &Shared<'_>, board: &Board, window: Window, look: Look) -> Option<i32> {
        let Look { depth, ply, estimate, improving, .. } = look;
        let Window { alpha, beta } = window;
        if depth <= RAZOR_DEPTH && alpha < MATE_BOUND && estimate + razor_margin(depth) <= alpha {
            let value = self.quiesce(shared, board, Window::null(alpha + 1), ply, super::Rest::WithChecks);
            if value <= alpha || self.stopped {
                return Some(value);
            }
        }
        if depth <= AHEAD_DEPTH
            && estimate - ahead_margin(depth, improving) >= beta
            && estimate < MATE_BOUND
            && beta > -MATE_BOUND
        {
            return Some(i32::midpoint(estimate, beta));
        }
        self.try_passing(shared, board, beta, look).or_else(|| self.try_gains(shared, board, beta, look))
    }

    /// If even passing the turn keeps the value above beta, a move will (Donninger, "Null Move and Deep Search", 1993).
    /// Passing may be the best of bad choices (zugzwang): never without pieces, and with few pieces or in a deep search
    /// only after a check by a search that does not pass.
    fn try_passing(&mut self, shared: &Shared<'_>, board: &Board, beta: i32, look: Look) -> Option<i32> {
        let Look { depth, ply, estimate, .. } = look;
        let officers = board.officers(board.turn());
        if depth < 2
            || estimate < beta
            || self.frames[ply].evaluation + 25 * depth < beta + 100
            || self.frames[ply].context.is_pass()
            || officers.is_empty()
            || beta <= -MATE_BOUND
        {
            return None;
        }
        let left = depth - 3 - depth / 3 - ((estimate - beta) / 180).min(3);
        let next = board.pass();
        shared.table.prefetch(next.key());
        self.enter(&next, Context::PASS, ply);
        let value = -self.search_node(shared, &next, Window::null(1 - beta), left, ply + 1, look.expect.below());
        self.leave();
        if self.stopped || value < beta {
            return None;
        }
        // A mate found by passing is not proved.
        let value = if value >= MATE_BOUND { beta } else { value };
        if officers.more_than_one() && depth < 12 {
            return Some(value);
        }
        let context = std::mem::replace(&mut self.frames[ply].context, Context::PASS);
        let checked = self.search_node(shared, board, Window::null(beta), left, ply, look.expect);
        self.frames[ply].context = context;
        self.frames[ply].line.clear();
        (!self.stopped && checked >= beta).then_some(value)
    }

    /// If a capture keeps the value well above beta in a shallower search, the deeper one will agree (in the manner of
    /// Buro, "ProbCut: An Effective Selective Extension of the Alpha-Beta Algorithm", 1995).
    fn try_gains(&mut self, shared: &Shared<'_>, board: &Board, beta: i32, look: Look) -> Option<i32> {
        let Look { depth, ply, .. } = look;
        let raised = beta + GAIN_MARGIN;
        if depth < GAIN_DEPTH || raised.abs() >= MATE_BOUND {
            return None;
        }
        let threshold = raised - self.frames[ply].evaluation;
        let mut picker = Picker::noisy(board, self.take_list(), look.table_move, threshold);
        let mut found = None;
        while let Some(m) = picker.next(board, &self.memory) {
            let next = board.play(m);
            self.enter(&next, Context::of(board, m), ply);
            let narrow = Window::null(1 - raised);
            let mut value = -self.quiesce(shared, &next, narrow, ply + 1, super::Rest::CapturesOnly);
            if value >= raised && !self.stopped {
                value = -self.search_node(shared, &next, narrow, depth - 4, ply + 1, look.expect.below());
            }
            self.leave();
            if self.stopped || value >= raised {
                found = Some(value - GAIN_MARGIN);
                break;
            }
        }
        self.keep_list(picker);
        found
    }

    /// Plies taken off the depth of a late first move.
    pub fn first_move_reduction(&self, board: &Board, next: &Board, m: Move, depth: i32, index: usize) -> i32 {
        if depth < 3 || index < 3 || board.is_check() || next.is_check() || !board.is_quiet(m) {
            return 0;
        }
        let learnt = self.memory.of_quiet(board, m, &self.contexts(0));
        let sixteenths = late_reduction(depth, index as i32 + 1) - 24 - 16 * learnt / HISTORY_LIMIT;
        (sixteenths / 16).clamp(0, depth - 2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reductions_grow_with_depth_and_number() {
        for depth in 1..60 {
            for count in 1..200 {
                assert!(late_reduction(depth + 1, count) >= late_reduction(depth, count));
                assert!(late_reduction(depth, count + 1) >= late_reduction(depth, count));
            }
        }
    }
}
