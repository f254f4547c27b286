//! The root of the search: first moves, iterations, lines.

use std::{cmp::Reverse, ops::ControlFlow};

use super::{
    DRAW, MAX_DEPTH,
    node::Expect,
    window::Window,
    worker::{Shared, Worker},
};
use crate::{
    board::Board,
    exchange::{exchange_gain, gain_at_once},
    game::Game,
    history::Context,
    movegen::all_moves,
    moves::{Move, MoveList},
    report::{Iteration, Line, Question, Report},
    score::{INFINITE, MATE, MATE_BOUND, Score},
};

/// Half the width of the first window around the value of the iteration before, in centipawns.
const ASPIRATION: i32 = 16;
/// Iterations below this depth search with an open window.
const ASPIRATION_DEPTH: u32 = 5;
/// A window that had to grow wider than this is opened.
const WIDEST: i32 = 600;

/// A first move with what is known of it.
struct RootMove {
    first: Move,
    /// Value in the present iteration, `-INFINITE` until it is the best so far.
    value: i32,
    line: Vec<Move>,
}

impl Worker {
    /// Searches deeper and deeper and answers.
    pub fn answer(
        &mut self,
        shared: &Shared<'_>,
        game: &Game,
        question: &Question,
        on_iteration: &mut dyn FnMut(&Iteration) -> ControlFlow<()>,
    ) -> Report {
        self.begin(game.keys());
        let board = game.board();
        let mut roots = self.first_moves(board, &question.only);
        if roots.is_empty() {
            let score = if board.is_check() { Score::Mate(0) } else { Score::Centipawns(DRAW) };
            let line = Line { score, moves: Vec::new(), depth: 0 };
            return Report { lines: vec![line], nodes: 0, depth: 0, iterations: Vec::new() };
        }
        let wanted = question.lines.clamp(1, roots.len());
        let mut lines = lines_of(&roots[..wanted], 0);
        let mut iterations: Vec<Iteration> = Vec::new();
        let deepest = question.limits.depth.unwrap_or(MAX_DEPTH).min(MAX_DEPTH);

        for depth in 1..=deepest {
            self.iterate(shared, board, &mut roots, wanted, depth);
            if self.stopped {
                // A better move found in an unfinished iteration is good when the old best move was searched before it.
                if wanted == 1 && roots[0].value > -INFINITE {
                    lines = lines_of(&roots[..1], depth);
                }
                break;
            }
            lines = lines_of(&roots[..wanted], depth);
            let finished = Iteration { depth, nodes: self.nodes_of_all(shared), lines: lines.clone() };
            let flow = on_iteration(&finished);
            iterations.push(finished);
            if flow.is_break() || is_settled(roots[0].value, depth) {
                break;
            }
        }
        let depth = iterations.last().map_or(0, |iteration| iteration.depth);
        Report { lines, nodes: self.nodes_of_all(shared), depth, iterations }
    }

    /// Searches along with the first thread until that has its answer; what is found is left in the table.
    pub fn help(&mut self, shared: &Shared<'_>, game: &Game, question: &Question, index: usize) {
        self.begin(game.keys());
        let board = game.board();
        let mut roots = self.first_moves(board, &question.only);
        if roots.is_empty() {
            return;
        }
        let wanted = question.lines.clamp(1, roots.len());
        // Half of the helpers are one iteration ahead, so that not all search the same.
        for depth in 1 + (index as u32 + 1) % 2..=MAX_DEPTH {
            self.iterate(shared, board, &mut roots, wanted, depth);
            if self.stopped {
                break;
            }
        }
    }

    /// Nodes of all threads; those of other threads up to their last looks at the clock.
    fn nodes_of_all(&self, shared: &Shared<'_>) -> u64 {
        if shared.threads == 1 {
            self.nodes
        } else {
            self.nodes.max(shared.visited.load(std::sync::atomic::Ordering::Relaxed))
        }
    }

    /// One iteration: afterwards the `wanted` best first moves are in front, best first.
    fn iterate(&mut self, shared: &Shared<'_>, board: &Board, roots: &mut [RootMove], wanted: usize, depth: u32) {
        self.iteration = depth;
        let before: Vec<i32> = roots[..wanted].iter().map(|root| root.value).collect();
        for (index, &before) in before.iter().enumerate() {
            self.search_in_growing_window(shared, board, &mut roots[index..], depth, before);
            if self.stopped {
                return;
            }
        }
        roots[..wanted].sort_by_key(|root| Reverse(root.value));
    }

    /// Searches the first moves in a small window around `before` that grows until the value is inside.
    fn search_in_growing_window(
        &mut self,
        shared: &Shared<'_>,
        board: &Board,
        roots: &mut [RootMove],
        depth: u32,
        before: i32,
    ) {
        let mut width = ASPIRATION;
        let mut window = if depth >= ASPIRATION_DEPTH && before.abs() < MATE_BOUND {
            Window::new(before - width, before + width)
        } else {
            Window::new(-INFINITE, INFINITE)
        };
        loop {
            let value = self.search_first_moves(shared, board, roots, depth as i32, window);
            if self.stopped {
                return;
            }
            width += width / 2;
            let limitless = width > WIDEST || value.abs() >= MATE_BOUND;
            if value <= window.alpha && window.alpha > -INFINITE {
                window.beta = i32::midpoint(window.alpha, window.beta);
                window.alpha = if limitless { -INFINITE } else { value - width };
            } else if value >= window.beta && window.beta < INFINITE {
                window.beta = if limitless { INFINITE } else { value + width };
            } else {
                return;
            }
        }
    }

    /// The first moves in the order of what static evaluation and exchange say of them.
    fn first_moves(&mut self, board: &Board, only: &[Move]) -> Vec<RootMove> {
        let mut list = MoveList::default();
        all_moves(board, &mut list);
        let considered = list.as_slice().iter().filter(|m| only.is_empty() || only.contains(m));
        let mut roots: Vec<RootMove> = considered
            .map(|&first| {
                self.nodes += 1;
                let next = board.play(first);
                // A static look sees a capture and not the answer to it; under the smallest limits nothing else does.
                let value = if next.is_dead() {
                    DRAW
                } else {
                    exchange_gain(board, first) - gain_at_once(board, first) - self.evaluator.evaluate(&next)
                };
                RootMove { first, value, line: vec![first] }
            })
            .collect();
        roots.sort_by_key(|root| Reverse(root.value));
        roots
    }

    /// Searches the given first moves and puts the best in front; the value found, which may be a bound.
    fn search_first_moves(
        &mut self,
        shared: &Shared<'_>,
        board: &Board,
        roots: &mut [RootMove],
        depth: i32,
        window: Window,
    ) -> i32 {
        for root in roots.iter_mut() {
            root.value = -INFINITE;
        }
        self.memory.forget_killers(1);
        let Window { mut alpha, beta } = window;
        let mut best = -INFINITE;
        for (index, root) in roots.iter_mut().enumerate() {
            let next = board.play(root.first);
            self.enter(&next, Context::of(board, root.first), 0);
            let mut value = alpha + 1;
            if index > 0 {
                let reduction = self.first_move_reduction(board, &next, root.first, depth, index);
                value = -self.search_node(shared, &next, Window::null(-alpha), depth - 1 - reduction, 1, Expect::Cut);
                if value > alpha && reduction > 0 {
                    value = -self.search_node(shared, &next, Window::null(-alpha), depth - 1, 1, Expect::Cut);
                }
            }
            if index == 0 || value > alpha {
                value = -self.search_node(shared, &next, Window::new(-beta, -alpha), depth - 1, 1, Expect::Exact);
            }
            self.leave();
            if self.stopped {
                break;
            }
            best = best.max(value);
            if value > alpha {
                alpha = value;
                root.value = value;
                root.line.truncate(1);
                root.line.extend_from_slice(&self.frames[1].line);
                if value >= beta {
                    break;
                }
            }
        }
        roots.sort_by_key(|root| Reverse(root.value));
        best
    }
}

/// A mate searched to twice its length will not be improved.
fn is_settled(value: i32, depth: u32) -> bool {
    value.abs() >= MATE_BOUND && depth as i32 >= 2 * (MATE - value.abs()) + 2
}

fn lines_of(roots: &[RootMove], depth: u32) -> Vec<Line> {
    roots.iter().map(|root| Line { score: Score::from_value(root.value), moves: root.line.clone(), depth }).collect()
}
